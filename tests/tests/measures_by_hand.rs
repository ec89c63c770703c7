//! Every measure of the table, worked out by hand on a small band on which no neighbouring
//! measure has the same value: a row that reads the wrong thing, or half of it, fails.
//!
//! Thread of 1 mm, columns of 3 mm and half rows of 4 mm. A knot rises one half row above one
//! in a neighbouring column, and two above one in its own.

use std::collections::BTreeSet;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::craft::Gauge;
use hitchwork_core::knot::Kind;
use hitchwork_core::measures::{MEASURES, Measure, MeasureValue};
use hitchwork_core::proof::Severity;
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_tests::made;

use MeasureValue::{Flag, Number, Text, Whole};

fn band(threads: &[u16], repeat: Vec<Row>, repeats: u32, palette: Vec<Colour>) -> Tied {
    let parts = BandParts {
        palette,
        threads: threads.to_vec(),
        repeat,
        repeats,
        gauge: Gauge {
            thread_mm: 1.0,
            column_mm: 3.0,
            half_row_mm: 4.0,
            take_up: 1.0,
        },
        ..BandParts::default()
    };
    Tied::of(Band::new(parts).expect("a sound band"))
}

fn greys<const N: usize>(values: [u8; N]) -> Vec<Colour> {
    Colour::spoken(values.map(|value| Srgb::new(value, value, value)))
}

fn stripe(threads: u16) -> Row {
    made::run(Kind::Forward, 1..threads)
}

/// Four threads, each row led by the leftmost: stripes of which two neighbours share a colour.
/// The row is written twice in each of five repeats.
fn tide() -> Tied {
    band(
        &[0, 0, 1, 2],
        vec![stripe(4), stripe(4)],
        5,
        made::colours(3),
    )
}

/// Stripes of black and white in turn.
fn signal() -> Tied {
    band(&[0, 1, 0, 1], vec![stripe(4)], 4, greys([0, 255]))
}

/// Each of three threads has its own grey, and takes the place of the next at every repeat.
fn dusk() -> Tied {
    band(&[0, 1, 2], vec![stripe(3)], 9, greys([0, 119, 255]))
}

/// Both edge threads run to the middle, and the left one goes over the right one there.
fn bow() -> Tied {
    let rows = vec![
        made::run(Kind::Forward, 1..3),
        made::run(Kind::Backward, (4..6).rev()),
        made::run(Kind::Forward, [3]),
    ];
    band(&[0; 6], rows, 3, made::colours(1))
}

/// Three knots in the left column for each in the right one. In the first repeat they lie at
/// half rows 0, 2 and 4, and 5; in the second at 6, 8 and 10, and 11.
fn pennant() -> Tied {
    let rows = [1, 1, 1, 2].map(|column| made::run(Kind::Forward, [column]));
    band(&[0, 0, 1], rows.to_vec(), 2, made::colours(2))
}

/// A band, what it is called here, and what it has of measures, by their names.
type WorkedOut = (&'static str, Tied, Vec<(&'static str, MeasureValue)>);

/// What each band has of each measure, and why.
fn by_hand() -> Vec<WorkedOut> {
    vec![
        (
            "tide",
            tide(),
            vec![
                ("threads", Whole(4)),
                ("colours", Whole(3)),
                ("rows_per_repeat", Whole(2)),
                ("knots_per_repeat", Whole(6)),
                ("repeats", Whole(5)),
                ("knots", Whole(30)),
                // Two rows move every thread two places on: two pairs change places.
                ("repeats_to_close", Whole(2)),
                ("cycles", Whole(2)),
                ("drifts", Flag(false)),
                ("gradient_step", Number(-1.0)),
                // A row lies two half rows after the one before; the knots come again with
                // every row, the colours with every fourth, when each thread has led.
                ("half_rows_per_repeat", Number(4.0)),
                ("knot_period_half_rows", Number(2.0)),
                ("colour_period_half_rows", Number(8.0)),
                // Turned by half a circle, forward knots are forward knots still. Of the
                // stripes a a b c, turned round, come c b a a, and those are others.
                ("knot_symmetry", Text("half turns")),
                ("colour_symmetry", Text("none")),
                // Four columns' worth of 3 mm; ten rows of two half rows of 4 mm; beyond them
                // half the width and a tie of 100 mm at both ends.
                ("width_mm", Number(12.0)),
                ("length_mm", Number(80.0)),
                ("repeat_mm", Number(16.0)),
                ("total_mm", Number(292.0)),
                // 30 knots of 12 seconds, 4 threads of 24 seconds, two ties of 3 minutes make
                // 13.6, to the nearest minute.
                ("minutes", Number(14.0)),
                // 4 of 24 threads: 0.3. Another working thread at every third knot: 0.7.
                ("difficulty", Number(1.0)),
                ("working_changes", Whole(2)),
                // The two rows of one colour hang together.
                ("regions", Whole(3)),
                // Shares of 1/2, 1/4 and 1/4: entropy 1.0397, of at most ln 3 = 1.0986.
                ("colour_balance", Number(0.95)),
            ],
        ),
        (
            "signal",
            signal(),
            vec![
                ("repeats_to_close", Whole(4)),
                ("colour_repeats_to_close", Whole(2)),
                ("cycles", Whole(1)),
                // From row to row black meets white, which CIEDE2000 puts 100 apart; within a
                // row there is no difference. A knot of the left column touches two of the row
                // above, one of the middle two and one of its own, one of the right column one
                // and one: 5 of 7.
                ("contrast", Number(71.43)),
                ("colour_balance", Number(1.0)),
                ("regions", Whole(2)),
                ("working_changes", Whole(1)),
                // By `the_pieces_of_four_threads` of the craft by hand: four of 50 cm.
                ("thread_m", Number(2.0)),
                ("longest_cm", Number(50.0)),
            ],
        ),
        (
            "dusk",
            dusk(),
            vec![
                ("drifts", Flag(true)),
                // Black to grey and grey to white are less than white to black again.
                ("gradient_step", Number(100.0)),
            ],
        ),
        (
            "haze",
            band(&[0, 1, 2], vec![stripe(3)], 9, greys([80, 130, 180])),
            vec![
                // Greys of L* 34.03 and 73.31: 39.28, over S_L = 1 + 0.015 * 3.67^2 /
                // sqrt(20 + 3.67^2) = 1.0349 (ISO/CIE 11664-6), is 37.957.
                ("gradient_step", Number(38.0)),
            ],
        ),
        (
            "bow",
            bow(),
            vec![
                // The outer columns are first tied at half row 0, the middle at 2; at the other
                // end the middle comes last.
                ("start_edge", Text("notched")),
                ("finish_edge", Text("pointed")),
                // Forward on the left is backward on the right, but for the middle: a forward
                // knot there has no mirror image.
                ("knot_symmetry", Text("none")),
                ("knot_symmetry_apart", Text("mirror along")),
            ],
        ),
        (
            "pennant",
            pennant(),
            vec![
                ("fewest_knots", Whole(1)),
                ("most_knots", Whole(3)),
                // Three knots for one are too many to lie beside each other, so it is shown on the
                // lattice, where the thread at the right edge goes from half row 5 to half row 11.
                ("longest_float", Whole(6)),
                ("half_rows_per_repeat", Number(6.0)),
                ("errors", Whole(0)),
            ],
        ),
    ]
}

#[test]
fn every_figure_is_what_it_is_by_hand() {
    let mut worked_out = BTreeSet::new();
    for (band, tied, measures) in by_hand() {
        for (name, by_hand) in measures {
            let found = tied.measure(name);
            let is_it = match (found, by_hand) {
                (Some(Number(found)), Number(by_hand)) => (found - by_hand).abs() < 1e-9,
                (found, by_hand) => found == Some(by_hand),
            };
            assert!(is_it, "{name} of {band}: {found:?}, by hand {by_hand:?}");
            worked_out.insert(name);
        }
    }
    let by_the_report = ["errors", "warnings", "notes"];
    for measure in MEASURES {
        assert!(
            worked_out.contains(measure.name) || by_the_report.contains(&measure.name),
            "{} is worked out on no band: do so here",
            measure.name
        );
    }
}

/// Each finding is counted once, under its own severity.
#[test]
fn findings_are_counted_by_their_severity() {
    for (name, tied, _) in by_hand() {
        let count = |severity| {
            let findings = tied.report().findings.iter();
            findings.filter(|found| found.severity == severity).count()
        };
        for (measure, severity) in [
            ("errors", Severity::Error),
            ("warnings", Severity::Warning),
            ("notes", Severity::Note),
        ] {
            let expected = i64::try_from(count(severity)).expect("few");
            assert_eq!(
                tied.measure(measure),
                Some(Whole(expected)),
                "{measure} of {name}"
            );
        }
    }
    let of_pennant = |measure: &str| pennant().measure(measure);
    assert_ne!(of_pennant("warnings"), of_pennant("notes"));
    assert_ne!(of_pennant("warnings"), Some(Whole(0)));
    assert_ne!(of_pennant("notes"), Some(Whole(0)));
}

/// A sign that stands for something that a band does not have is not a value of it.
#[test]
fn what_a_band_does_not_have_is_not_known_of_it() {
    let step = Measure::named("gradient_step").expect("a measure");
    assert_eq!(
        (step.of(&tide()), step.known(&tide())),
        (Number(-1.0), None)
    );
    assert_eq!(step.known(&dusk()), Some(Number(100.0)));
    // Colours that do not drift have no step either, however many there are.
    let still = band(
        &[0, 1, 2, 0],
        vec![
            made::run(Kind::Forward, [1, 3]),
            made::run(Kind::Forward, [2]),
        ],
        4,
        greys([0, 119, 255]),
    );
    assert_eq!(still.measure("drifts"), Some(Flag(false)));
    assert_eq!(step.of(&still), Number(-1.0));
}
