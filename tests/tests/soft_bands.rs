//! A soft band is measured as it lies: rows over a leader and bands that bend, worked out by hand.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::{Gauge, Shape};
use hitchwork_core::knot::Kind;
use hitchwork_core::lay::Unsolved;
use hitchwork_core::proof::{Code, EdgeShape, Severity};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_tests::made::{colours, knot};

/// A band whose rows have knots of this kind in these columns.
fn band(threads: u16, kind: Kind, lead_in: &[&[u16]], repeat: &[&[u16]], repeats: u32) -> Band {
    let rows = |rows: &[&[u16]]| {
        let row = |columns: &&[u16]| {
            Row::new(
                columns
                    .iter()
                    .map(|column| knot(kind, *column))
                    .collect::<Vec<_>>(),
            )
        };
        rows.iter().map(row).collect()
    };
    Band::new(BandParts {
        palette: colours(1),
        threads: vec![0; threads.into()],
        lead_in: rows(lead_in),
        repeat: rows(repeat),
        repeats,
        ..BandParts::default()
    })
    .expect("a sound band")
}

/// Rows to and fro over one leader, which is hidden: the others tie their knots round it.
fn over_a_leader(threads: u16, repeats: u32) -> Band {
    let row = |kind, columns: Vec<u16>| {
        Row::new(
            columns
                .into_iter()
                .map(|column| knot(kind, column))
                .collect::<Vec<_>>(),
        )
    };
    Band::new(BandParts {
        palette: colours(1),
        threads: vec![0; threads.into()],
        repeat: vec![
            row(Kind::Backward, (1..threads).collect()),
            row(Kind::Forward, (1..threads).rev().collect()),
        ],
        repeats,
        ..BandParts::default()
    })
    .expect("a sound band")
}

fn knot_mm() -> f64 {
    Gauge::default().knot_mm()
}

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found}, and not {expected} within {within}"
    );
}

fn codes(tied: &Tied) -> Vec<Code> {
    tied.report()
        .findings
        .iter()
        .map(|finding| finding.code)
        .collect()
}

/// 16 rows over 10 threads: each row is a knot high and each column a knot wide (common practice,
/// no source: a hitch over a leader is about as high as wide), so 16 knots long and 9 wide.
#[test]
fn rows_over_a_leader_are_as_long_as_their_rows_and_as_wide_as_their_columns() {
    let tied = Tied::of(over_a_leader(10, 8));
    let size = tied.report().size_mm;
    near(size.length, 16.0 * knot_mm(), 0.051);
    near(size.width, 9.0 * knot_mm(), 0.051);
    near(size.repeat, 2.0 * knot_mm(), 0.051);
    assert_eq!(size.widest, None, "it is as wide everywhere");
    // Its knots lie in no columns and half rows that a swatch could count.
    assert_eq!(tied.report().swatch, None);
    // On the lattice it would be a ladder of 17 half rows for each of its rows.
    let lattice = Gauge::default().length_mm(f64::from(tied.fabric().longest_column()));
    assert!(lattice > 6.0 * size.length, "{lattice}");
    // Nothing is open, nothing puckers, and it does not bend.
    for code in [
        Code::OpenGaps,
        Code::FloatingThread,
        Code::UnevenColumns,
        Code::Bends,
        Code::RoughSize,
    ] {
        assert!(!codes(&tied).contains(&code), "{code}");
    }
}

/// Both ends of rows over a leader are straight across, where the lattice has a slant.
#[test]
fn ends_of_rows_over_a_leader_are_level() {
    let tied = Tied::of(over_a_leader(10, 8));
    let edges = &tied.report().edges;
    for edge in [&edges.start, &edges.finish] {
        assert_eq!(edge.shape, EdgeShape::Level);
        assert_eq!(edge.lies_back, vec![Some(0); 9]);
        assert_eq!(edge.suits.first(), Some(&Shape::Flat));
    }
}

/// Of all threads only the leader lies open: where it turns, from the side of one knot to that of
/// the next, a knot below. As a cubic curve that leaves and arrives square to the edge with
/// tangents of a third of the way, that is the integral of
/// sqrt((1 - 2t)^2 + (6t - 6t^2)^2) from 0 to 1 = 1.22128 knots (Simpson's rule).
#[test]
fn only_the_leader_lies_open_where_it_turns() {
    let steps = 1_000;
    let speed = |t: f64| libm::hypot(1.0 - 2.0 * t, 6.0 * t - 6.0 * t * t);
    let weight = |at: u32| match at {
        0 => 1.0,
        at if at == steps => 1.0,
        at if at % 2 == 1 => 4.0,
        _ => 2.0,
    };
    let sum: f64 = (0..=steps)
        .map(|at| weight(at) * speed(f64::from(at) / f64::from(steps)))
        .sum();
    let turn = sum / (3.0 * f64::from(steps));
    near(turn, 1.221_28, 1e-5);
    let tied = Tied::of(over_a_leader(10, 8));
    let lengths = tied.thread_lengths();
    near(
        lengths[0].passages,
        15.0 * turn * knot_mm(),
        0.02 * knot_mm(),
    );
    for (at, length) in lengths.iter().enumerate().skip(1) {
        near(length.passages, 0.0, 0.01 * knot_mm());
        // Each hangs between two knots of its column's neighbours in every row.
        assert!(length.working > 0.0, "thread {}", at + 1);
    }
}

/// The threads fan out from a knot half a band's width before the edge: the outermost ones stand
/// half a knot within the edges, so (9 / 2 - 1 / 2 / sqrt(2) ..) is not needed: all are as far
/// from the middle as they hang, one knot apart, the first and the last 9 knots.
#[test]
fn threads_fan_out_from_where_they_hang() {
    let tied = Tied::of(over_a_leader(10, 8));
    let lengths = tied.thread_lengths();
    // In a row the leader comes in from the side, and so at the height of its knots' middle: half a
    // knot further back than those that come down to them.
    let runs: Vec<f64> = lengths
        .iter()
        .map(|length| length.start.run / knot_mm())
        .collect();
    let half = (8.5 + std::f64::consts::FRAC_1_SQRT_2) / 2.0;
    for (at, run) in runs.iter().enumerate().skip(1) {
        let middle = 8.5 / 2.0;
        let aside = 0.5 + (at as f64 - 1.0) - middle;
        near(*run, libm::hypot(half, aside), 0.02);
    }
    near(runs[0], libm::hypot(half, 8.5 / 2.0) + 0.5, 0.02);
}

/// As many rows as a length takes, and no more: two rows are two knots.
#[test]
fn a_length_takes_as_many_rows_as_it_has_knots() {
    for length_mm in [30.0, 100.0, 165.0] {
        let sized = over_a_leader(10, 1)
            .at_least_mm(length_mm)
            .expect("it fits");
        let repeats = (length_mm / (2.0 * knot_mm())).ceil();
        near(f64::from(sized.repeats()), repeats, 0.0);
    }
}

/// Three more knots in the left columns of every repeat: the band bends away from them, and the
/// edges differ by what the finding says.
#[test]
fn a_band_that_bends_says_to_which_side_and_by_how_much() {
    let all: Vec<u16> = (1..8).collect();
    let rows: [&[u16]; 2] = [&all, &[1, 2, 3]];
    let mirrored: Vec<u16> = all.iter().rev().copied().collect();
    let turned: [&[u16]; 2] = [&mirrored, &[7, 6, 5]];
    for (rows, towards, longer) in [(rows, "right", "left"), (turned, "left", "right")] {
        let tied = Tied::of(band(8, Kind::Forward, &[], &rows, 60));
        let finding = tied
            .report()
            .findings
            .iter()
            .find(|finding| finding.code == Code::Bends);
        let finding = finding.expect("it bends");
        assert!(
            finding
                .message
                .contains(&format!("to the {towards} by itself")),
            "{}",
            finding.message
        );
        assert!(
            finding.message.contains(&format!("its {longer} edge")),
            "{}",
            finding.message
        );
        assert!(
            finding
                .help
                .contains(&format!("more rows at the {towards} edge")),
            "{}",
            finding.help
        );
        assert_eq!(finding.severity, Severity::Warning);
        let said: f64 = finding
            .message
            .rsplit("edge ")
            .next()
            .and_then(|rest| rest.split(' ').next())
            .and_then(|number| number.parse().ok())
            .expect("a length in mm");
        // By the knots themselves: how long both outermost columns are over forty repeats in the
        // middle, from knot to knot, and how much more the edges differ, half a knot further out.
        let lay = tied.lay();
        let mut columns = vec![Vec::new(); 7];
        for knot in lay.knots(tied.fabric()) {
            columns[usize::from(knot.knot.column.number()) - 1].push(knot.centre);
        }
        let length = |column: usize| {
            let knots = &columns[column];
            let each = knots.len() / 60;
            let middle = &knots[10 * each..=50 * each];
            let steps = middle
                .chunks(each)
                .map(|repeat| repeat[0])
                .collect::<Vec<_>>();
            steps
                .windows(2)
                .map(|pair| {
                    libm::hypot(
                        pair[1].across_mm - pair[0].across_mm,
                        pair[1].along_mm - pair[0].along_mm,
                    )
                })
                .sum::<f64>()
                / 40.0
        };
        let difference = (length(0) - length(6)).abs();
        let width = tied.report().size_mm.width;
        assert!(difference > 0.0);
        // The edges of the band are about 8 columns apart, the outermost knots 6 of them.
        let expected = difference * width / (width - 2.0 * Gauge::default().column_mm);
        near(said, expected, 0.15 * expected);
    }
}

/// A bend that hardly shows is a note: rows over a leader with one row in forty that goes only
/// half way.
#[test]
fn a_slight_bend_is_only_noted() {
    let all: Vec<u16> = (1..8).collect();
    let back: Vec<u16> = (1..8).rev().collect();
    let mut rows: Vec<&[u16]> = Vec::new();
    for _ in 0..15 {
        rows.extend([&all[..], &back[..]]);
    }
    rows.extend([&[1_u16, 2, 3][..], &[3, 2, 1]]);
    let tied = Tied::of(band(8, Kind::Forward, &[], &rows, 3));
    let bend = tied.lay().bend();
    let finding = tied
        .report()
        .findings
        .iter()
        .find(|finding| finding.code == Code::Bends);
    if let (Some(bend), Some(finding)) = (bend, finding) {
        let aside = tied.report().size_mm.length / (8.0 * bend.radius_mm);
        assert_eq!(finding.severity == Severity::Note, aside < 0.1, "{aside}");
    }
}

/// Both edges get seven knots for each one of the middle, and two knots have no room where one is:
/// the lay gives up, says so, and what is said of the size is the lattice's.
#[test]
fn knots_without_room_are_not_laid() {
    let all: Vec<u16> = (1..8).collect();
    let edges: &[u16] = &[1, 7];
    let rows: [&[u16]; 7] = [edges, edges, edges, edges, edges, edges, &all];
    let tied = Tied::of(band(8, Kind::Forward, &[], &rows, 10));
    assert_eq!(tied.lay().unsolved(), Some(Unsolved::Crowded));
    let said = tied.lay().said();
    assert!(!said.solved && !said.settled);
    let size = tied.report().size_mm;
    let gauge = Gauge::default();
    near(size.width, gauge.width_mm(8), 0.051);
    near(
        size.length,
        gauge.length_mm(f64::from(tied.fabric().longest_column())),
        0.051,
    );
    assert!(tied.report().swatch.is_some());
    // One word for it, and nothing else about how it lies.
    let found = codes(&tied);
    for code in [
        Code::RoughSize,
        Code::FloatingThread,
        Code::UnevenColumns,
        Code::Bends,
    ] {
        assert!(!found.contains(&code), "{code}");
    }
    let findings = &tied.report().findings;
    let finding = findings
        .iter()
        .find(|finding| finding.code == Code::OpenGaps);
    let message = &finding.expect("it is said").message;
    let expected = "column 1 gets 7 knots per repeat and column 2 only 1";
    assert!(message.starts_with(expected), "{message}");
}

/// What is too large to be laid says so, and is measured on the lattice.
#[test]
fn what_is_too_large_to_be_laid_says_so() {
    let odd: Vec<u16> = (1..100).step_by(2).collect();
    let even: Vec<u16> = (2..100).step_by(2).collect();
    let half: Vec<u16> = (1..50).collect();
    let mut rows: Vec<&[u16]> = [&odd[..], &even[..]].repeat(200);
    rows.push(&half);
    let tied = Tied::of(band(100, Kind::Forward, &[], &rows, 2));
    assert_eq!(tied.lay().unsolved(), Some(Unsolved::TooLarge));
    assert!(codes(&tied).contains(&Code::RoughSize) && !codes(&tied).contains(&Code::OpenGaps));
    near(
        tied.report().size_mm.width,
        Gauge::default().width_mm(100),
        0.051,
    );
}

/// The edges of a lattice go on while its middle waits, and bulge: where a thread turns there the
/// way is the longer, the more knots there are. The fabric closes all that is open inside.
#[test]
fn threads_that_turn_over_more_than_a_knot_float() {
    let odd: Vec<u16> = (1..12).step_by(2).collect();
    let even: Vec<u16> = (2..12).step_by(2).collect();
    let waits = |times: usize| {
        let mut lead_in: Vec<&[u16]> = vec![&odd, &even];
        for _ in 0..times {
            lead_in.extend([&[1_u16, 3, 9, 11][..], &[2, 10]]);
        }
        Tied::of(band(12, Kind::Forward, &lead_in, &[&odd, &even], 20))
    };
    for times in 0..=5 {
        let tied = waits(times);
        assert_eq!(tied.lay().is_solved(), times > 0);
        // By the lay: the longest straight way of each thread between two of its knots.
        let mut longest = [0.0_f64; 12];
        if times > 0 {
            for stretch in tied.lay().stretches(tied.fabric()) {
                let [from, .., to] = stretch.course;
                let way = libm::hypot(to.across_mm - from.across_mm, to.along_mm - from.along_mm);
                let at_an_edge = [1, 12].contains(&stretch.position);
                assert!(at_an_edge || way < 1.05 * knot_mm(), "{stretch:?}");
                let longest = &mut longest[usize::from(stretch.thread.number()) - 1];
                *longest = longest.max(way);
            }
        }
        let floats: Vec<u16> = (1..)
            .zip(longest)
            .filter(|(_, way)| *way > 1.2 * knot_mm())
            .map(|(thread, _)| thread)
            .collect();
        let said = tied
            .report()
            .findings
            .iter()
            .filter(|finding| finding.code == Code::FloatingThread);
        let said: Vec<u16> = said.filter_map(|finding| finding.place.thread).collect();
        assert_eq!(said, floats, "{times}");
        assert_eq!(floats.len(), if times == 5 { 2 } else { 0 }, "{times}");
    }
}

/// Two rows that wind the band into a ring of less than two centimetres.
const WINDING: [&[u16]; 2] = [&[1, 2, 3, 4, 5, 6, 7], &[1, 2, 3]];

/// A maker who ties on ties a longer band, however often it has gone round by then; and each
/// repeat takes its own part of the circle.
#[test]
fn a_band_that_winds_grows_with_every_repeat() {
    let one = |repeats| Tied::of(band(8, Kind::Forward, &[], &WINDING, repeats));
    let lengths: Vec<f64> = (10..40)
        .map(|repeats| one(repeats).lay().length_mm())
        .collect();
    let each = one(40).lay().repeat_mm().expect("it is soft");
    for pair in lengths.windows(2) {
        near(pair[1] - pair[0], each, 0.25 * each);
    }
    near(lengths[29] - lengths[0], 29.0 * each, 0.06 * 29.0 * each);
}

/// The same knots are the same fabric, however many rows of it are called a repeat: also where
/// one repeat goes more than once round.
#[test]
fn what_is_called_a_repeat_does_not_change_the_circle() {
    let of = |rows: usize| {
        let rows_of_one = WINDING.repeat(rows);
        Tied::of(band(
            8,
            Kind::Forward,
            &[],
            &rows_of_one,
            120 / u32::try_from(rows).expect("few"),
        ))
    };
    let plain = of(1);
    let bend = plain.lay().bend().expect("it bends");
    let each = plain.lay().repeat_mm().expect("it is soft");
    for times in [2, 3, 4, 6, 8, 12] {
        let tied = of(times);
        let found = tied.lay().bend().expect("it bends");
        assert_eq!(found.towards, bend.towards, "{times}");
        near(found.radius_mm, bend.radius_mm, 0.02 * bend.radius_mm);
        let found = tied.lay().repeat_mm().expect("it is soft");
        near(found, times as f64 * each, 0.02 * found);
        near(
            tied.lay().length_mm(),
            plain.lay().length_mm(),
            0.08 * plain.lay().length_mm(),
        );
    }
}

/// Straight across, a band is as wide as its knots, also where its edges lean and its rows step
/// from side to side: eight rows to and fro, each but the first of a rise one knot further out.
#[test]
fn stepping_edges_do_not_make_a_band_narrow() {
    let right: Vec<u16> = (1..12).collect();
    let left: Vec<u16> = (1..12).rev().collect();
    let rows: Vec<&[u16]> = [vec![&*right; 6], vec![&*left; 6]].concat();
    let tied = Tied::of(band(12, Kind::Backward, &[], &rows, 8));
    let lay = tied.lay();
    assert!(
        lay.said().settled && lay.bend().is_none(),
        "{:?}",
        lay.said()
    );
    // Eleven knots beside each other in each row, and as long as it has rows.
    near(lay.median_width_mm(), 11.0 * knot_mm(), 0.6 * knot_mm());
    near(
        lay.length_mm(),
        (lay.length_knots() + 1.0) * knot_mm(),
        1.5 * knot_mm(),
    );
}

/// A band of a few knots is as wide as they reach.
#[test]
fn a_very_short_band_has_a_width() {
    for repeats in [1, 2] {
        let rows: [&[u16]; 2] = [&[3], &[1, 2, 3, 4, 5, 6, 7]];
        let tied = Tied::of(band(8, Kind::Forward, &[], &rows, repeats));
        let width = tied.report().size_mm.width;
        assert!((6.0..=13.0).contains(&width), "{width}");
    }
}

/// Rows over a leader lie dense and straight at any width: a hundred threads need no more rows
/// for a wrist than ten.
#[test]
fn rows_over_a_leader_of_a_hundred_threads_are_no_lattice() {
    let lay = |threads| {
        let tied = Tied::of(over_a_leader(threads, 50));
        tied.lay().clone()
    };
    for threads in [10, 48, 100] {
        let lay = lay(threads);
        assert!(
            lay.is_solved() && lay.said().settled,
            "{threads}: {:?}",
            lay.said()
        );
        near(lay.length_knots(), 99.0, 1e-2);
        near(lay.width_knots(), f64::from(threads) - 2.0, 1e-2);
    }
}

/// Two parts that nothing joins, each the mirror image of the other: they bend away from each
/// other, and no side can be named for both.
#[test]
fn parts_that_bend_apart_are_not_said_to_bend_to_one_side() {
    let mirrored = |columns: &[u16]| columns.iter().map(|column| 16 - column).collect::<Vec<_>>();
    let rows: Vec<Vec<u16>> = WINDING
        .iter()
        .map(|columns| [columns.to_vec(), mirrored(columns)].concat())
        .collect();
    let rows: Vec<&[u16]> = rows.iter().map(Vec::as_slice).collect();
    let tied = Tied::of(band(16, Kind::Forward, &[], &rows, 20));
    let codes = codes(&tied);
    assert!(codes.contains(&Code::SplitsApart), "{codes:?}");
    assert!(!codes.contains(&Code::Bends), "{codes:?}");
}

/// Where only the knots before the repeats are uneven, the repeat is not blamed.
#[test]
fn an_even_repeat_is_not_called_uneven_by_its_lead_in() {
    let lead_in: Vec<&[u16]> = vec![&[1]; 10];
    let courses: [&[u16]; 2] = [&[1, 3, 5], &[2, 4]];
    let tied = Tied::of(band(6, Kind::Forward, &lead_in, &courses, 10));
    let gaps = tied
        .report()
        .findings
        .iter()
        .find(|finding| finding.code == Code::OpenGaps);
    let message = &gaps
        .expect("a column of ten knots beside one of one")
        .message;
    assert!(
        message.starts_with("before or after the repeats"),
        "{message}"
    );
}
