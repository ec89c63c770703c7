//! A lead-in carries the threads to other places before the first repeat begins. What is
//! said of the colours of the repeats counts from there: held against the naive second
//! model, and against the same repeat on a band whose threads hang so from the start.

use std::sync::LazyLock;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::chance::nearby;
use hitchwork_core::proof::{CanonicalForm, ColoursCount, Disguises, Drift, Look, Texture};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Rules, Settings};
use hitchwork_tests::naive;
use hitchwork_tests::{by_chance, made};
use proptest::prelude::*;

static RULES: LazyLock<Rules> = LazyLock::new(Rules::new);

/// Rows in the words of a rule.
fn said(rows: &[Row]) -> String {
    let knot = |knot: &hitchwork_core::knot::Knot| {
        format!(
            "{}({})",
            knot.kind().name().replace('-', "_"),
            knot.column().number()
        )
    };
    let row = |row: &Row| row.knots().iter().map(knot).collect::<Vec<_>>().join(" + ");
    let rows: Vec<String> = rows.iter().map(row).collect();
    format!("[{}]", rows.join(", "))
}

/// A band whose rule asks for a drift; nothing where none can be.
fn drifting(
    threads: u16,
    [lead_in, repeat]: [&[Row]; 2],
    [colours, first, steps]: [usize; 3],
) -> Option<Band> {
    let gradient: Vec<String> = (0..colours)
        .map(|number| format!("colour(\"buoy {number}\", \"#{number:02x}5a78\")"))
        .collect();
    let text = format!(
        "band({threads}).lead_in({}).repeat({}).repeats(3).drift([{}], {first}, {steps})",
        said(lead_in),
        said(repeat),
        gradient.join(", ")
    );
    let rule = RULES.compile("drifting", &text).expect("a rule");
    match RULES.make(&rule, &Settings::new()) {
        Ok(made) => Some(made.band),
        Err(error) => {
            assert_eq!(error.diagnostics()[0].code, "no-drift", "{text}: {error}");
            None
        }
    }
}

/// The colours by position when the first repeat begins, found by tying the lead-in.
fn at_first_repeat(band: &Band) -> Vec<u16> {
    let lead_in = naive::ties(band.rows(Part::LeadIn));
    naive::carried(&lead_in, band.thread_colours(), 1)
}

/// The band without its lead-in, whose threads hang as the lead-in would have left them.
fn without_lead_in(band: &Band) -> Band {
    let mut parts = band.clone().into_parts();
    parts.threads = at_first_repeat(band);
    parts.lead_in.clear();
    Band::new(parts).expect("a band")
}

fn check_drift(band: &Band, [colours, first, steps]: [usize; 3]) -> Result<(), TestCaseError> {
    let ties = naive::ties(band.repeat());
    let start = at_first_repeat(band);
    prop_assert_eq!(usize::from(start[0]), first - 1);
    let hung = band.used_colours().len();
    prop_assert_eq!(hung, colours.min(usize::from(band.thread_count())));
    for repeats in 0..2 * start.len() {
        let before = naive::carried(&ties, &start, repeats);
        let after = naive::carried(&ties, &before, 1);
        for (before, after) in before.iter().zip(&after) {
            prop_assert_eq!(
                (usize::from(*before) + steps) % colours,
                usize::from(*after)
            );
        }
    }
    if hung == colours {
        let drift = Drift {
            colours,
            steps_per_repeat: steps,
        };
        prop_assert_eq!(Drift::of_band(band), Some(drift));
        prop_assert_eq!(Tied::of(band.clone()).report().drift, Some(drift));
    }
    Ok(())
}

fn parts() -> impl Strategy<Value = (u16, Vec<Row>, Vec<Row>)> {
    (3_u16..=9).prop_flat_map(|threads| {
        let lead_in = by_chance::rows(threads, 1..=3, 8);
        let turns: Vec<u16> = (1..threads).collect();
        let slanted = prop::sample::subsequence(turns, 0..usize::from(threads) - 1)
            .prop_map(move |turns| made::slanted_with_turns(threads, &turns));
        let repeat = prop_oneof![slanted, by_chance::rows(threads, 1..=3, 8)];
        (Just(threads), lead_in, repeat)
    })
}

proptest! {
    #![proptest_config(by_chance::cases(400))]

    #[test]
    fn a_drift_begins_when_the_lead_in_is_tied(
        (threads, lead_in, repeat) in parts(),
        first in 1_usize..9,
        steps in 1_usize..9,
        fewer in 0_u16..3,
    ) {
        let colours = usize::from((threads - fewer.min(threads - 2)).max(2));
        let asked = [colours, (first - 1) % colours + 1, (steps - 1) % (colours - 1) + 1];
        if let Some(band) = drifting(threads, [&lead_in, &repeat], asked) {
            check_drift(&band, asked)?;
            for seed in 0..4 {
                // A changed repeat drifts as the band does, or its threads hang as they did.
                let near = nearby(&band, seed, 2).expect("a band");
                prop_assert!(Drift::of_band(&near).is_some_and(|near| Some(near) == Drift::of_band(&band))
                    || near.thread_colours() == band.thread_colours());
            }
        }
    }

    #[test]
    fn what_is_said_of_the_repeats_is_the_same_where_threads_hang_so_from_the_start(
        (threads, lead_in, repeat) in parts(),
        colours in prop::collection::vec(0_u16..3, 9),
    ) {
        let mut parts = made::band(threads, repeat, 3).into_parts();
        parts.threads = colours[..usize::from(threads)].to_vec();
        parts.lead_in = lead_in;
        let band = Band::new(parts).expect("a band");
        let plain = without_lead_in(&band);
        prop_assert_eq!(Drift::of_band(&band), Drift::of_band(&plain));
        prop_assert_eq!(Look::of(&band), Look::of(&plain));
        prop_assert_eq!(Texture::of(&band), Texture::of(&plain));
        for count in [ColoursCount::ByValue, ColoursCount::ByLikeness] {
            let form = |band| CanonicalForm::of(band, Disguises::ALL, count).expect("comes round");
            prop_assert_eq!(form(&band), form(&plain));
        }
        let [with, without] = [Tied::of(band), Tied::of(plain)];
        let [with, without] = [with.report(), without.report()];
        prop_assert_eq!(with.colour_repeats_to_close, without.colour_repeats_to_close);
        prop_assert_eq!(with.drift, without.drift);
        prop_assert_eq!(&with.symmetry, &without.symmetry);
    }
}

/// Worked by hand: the lead-in takes the first thread to the right edge, so the thread that
/// leads the first repeat hung second. The repeat takes the first thread to the right edge
/// as well, so every colour moves one place to the left at each repeat; the colours hang in
/// the order of the gradient when it begins: 1, 2, 3, 4 from the left. Before the lead-in the
/// fourth of them hung at the left edge.
#[test]
fn the_lead_in_is_undone_by_hand() {
    let travels = [made::run(hitchwork_core::knot::Kind::Forward, 1..4)];
    let band = drifting(4, [&travels, &travels], [4, 1, 1]).expect("it drifts");
    assert_eq!(at_first_repeat(&band), [0, 1, 2, 3]);
    assert_eq!(band.thread_colours(), [3, 0, 1, 2]);
    let drift = Drift {
        colours: 4,
        steps_per_repeat: 1,
    };
    assert_eq!(Drift::of_band(&band), Some(drift));
}
