//! The steps are proved: whoever ties what is written gets the band that was simulated.

use std::collections::BTreeMap;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::{End, Shape};
use hitchwork_core::fabric::{Fabric, TiedKnot};
use hitchwork_core::knot::Kind;
use hitchwork_core::steps::RowSteps;
use hitchwork_draw::text;
use hitchwork_rules::{Rules, Settings, built_in_names};
use hitchwork_tests::{by_chance, follower, made};
use proptest::prelude::*;

/// The knots of a band in the order of its rows.
fn simulated(band: &Band) -> Vec<follower::FollowedKnot> {
    let followed = |knot: TiedKnot| follower::FollowedKnot {
        column: knot.column.number().into(),
        kind: knot.kind.to_string(),
        working: knot.working.number(),
        core: knot.core.number(),
    };
    Fabric::of(band).knots().map(followed).collect()
}

/// Asserts that a follower of the written sheet ties the simulated fabric.
fn followed(band: &Band) -> Result<(), TestCaseError> {
    let sheet = text::sheet(&made::tied(band));
    let tied =
        follower::tie(&sheet).map_err(|why| TestCaseError::fail(format!("{why}\n{sheet}")))?;
    let simulated = simulated(band);
    // Where a row is written by its positions, its knots are in no particular turn.
    if sheet.contains("\nAt position") {
        prop_assert_eq!(in_layers(tied), in_layers(simulated));
    } else {
        prop_assert_eq!(tied, simulated);
    }
    Ok(())
}

/// Asserts that a follower of the sheet in the easiest order ties the fabric of the band as it is
/// written, of the same threads.
fn followed_in_easiest_order(band: &Band) -> Result<(), TestCaseError> {
    let sheet = text::sheet(&made::tied(band).in_easiest_order());
    let tied =
        follower::tie(&sheet).map_err(|why| TestCaseError::fail(format!("{why}\n{sheet}")))?;
    prop_assert_eq!(in_layers(tied), in_layers(simulated(band)));
    Ok(())
}

/// Knots in layers, in each from left to right: the same for all turns in which the same fabric
/// can be tied (the normal form of Cartier & Foata 1969, from memory).
fn in_layers(knots: Vec<follower::FollowedKnot>) -> Vec<(usize, follower::FollowedKnot)> {
    let mut heights: BTreeMap<usize, usize> = BTreeMap::new();
    let mut layered: Vec<(usize, follower::FollowedKnot)> = Vec::new();
    for knot in knots {
        let threads = [knot.column, knot.column + 1];
        let below = threads.map(|thread| heights.get(&thread).copied().unwrap_or(0));
        let layer = below[0].max(below[1]) + 1;
        heights.extend(threads.map(|thread| (thread, layer)));
        layered.push((layer, knot));
    }
    layered.sort_by_key(|(layer, knot)| (*layer, knot.column));
    layered
}

#[test]
fn every_built_in_rule_can_be_tied_from_its_sheet() {
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("built in");
        let band = rules
            .make(&rule, &Settings::new())
            .unwrap_or_else(|error| panic!("{name}: {error}"))
            .band;
        followed(&band).unwrap_or_else(|why| panic!("{name}: {why}"));
        followed_in_easiest_order(&band)
            .unwrap_or_else(|why| panic!("{name} in the easiest order: {why}"));
        followed(&band.mirrored()).unwrap_or_else(|why| panic!("{name} for the other hand: {why}"));
    }
}

proptest! {
    #![proptest_config(by_chance::cases(60))]

    /// Whatever the rows, the colours and the ends.
    #[test]
    fn any_band_can_be_tied_from_its_sheet(band in by_chance::band()) {
        followed(&band)?;
        followed(&band.mirrored())?;
        followed_in_easiest_order(&band)?;
        followed_in_easiest_order(&band.mirrored())?;
    }
}

/// The edge threads of a bordered band work in every repeat: what leads is the stripe
/// between them, a thread of another place each time.
#[test]
fn what_leads_a_repeat_is_never_the_border() {
    let rules = Rules::new();
    let rule = rules.built_in("bordered_stripes").expect("built in");
    let band = rules.make(&rule, &Settings::new()).expect("a band").band;
    let steps = made::steps(&band);
    let begins = steps.rows[0].runs[0].thread;
    let leaders: Vec<u16> = steps
        .next_repeats
        .iter()
        .map(|next| next.leader.number)
        .collect();
    assert!(
        leaders.len() > 1 && !leaders.contains(&begins),
        "{leaders:?}"
    );
    let mut each_once = leaders.clone();
    each_once.sort_unstable();
    each_once.dedup();
    assert_eq!(
        each_once.len(),
        leaders.len(),
        "another thread leads each time"
    );
    // Each stands with the position at which it hangs, for it does not tie the first knot.
    for next in &steps.next_repeats {
        assert!(!next.begins);
        assert_eq!(
            next.order[usize::from(next.position) - 1],
            next.leader.number
        );
    }
    let sheet = text::sheet(&made::tied(&band));
    assert!(
        sheet
            .contains("\nRepeat 2: at position 3 hangs thread 4, crimson. Order before it: 1 2 4 "),
        "{sheet}"
    );
}

/// Where the first thread to work is another each time, it leads, and nothing more is said.
#[test]
fn in_a_plain_stripe_the_first_to_work_leads() {
    let stripe = made::band(5, vec![made::run(Kind::Forward, 1..5)], 9);
    let steps = made::steps(&stripe);
    let leaders: Vec<u16> = steps
        .next_repeats
        .iter()
        .map(|next| next.leader.number)
        .collect();
    assert_eq!(leaders, [2, 3, 4, 5]);
    assert_eq!(
        steps.again,
        "Tie the same row again by position, 9 repeats in all. Other threads hang at the positions now:"
    );
    assert_eq!(
        steps.comes_round,
        "After 5 repeats the colours hang as at the start, and it begins again."
    );
}

/// A sheet that lists no order does not announce one.
#[test]
fn where_nothing_moves_nothing_is_listed() {
    let turning = made::band(4, vec![made::run(Kind::ForwardBackward, 1..4)], 9);
    let steps = made::steps(&turning);
    assert_eq!(
        steps.again,
        "Tie the same row again by position, 9 repeats in all."
    );
    assert!(steps.next_repeats.is_empty());
    assert_eq!(
        steps.comes_round,
        "After every repeat each thread hangs where it hung before."
    );
    // Two threads of one colour change places: by the colours nothing has changed.
    let exchanged = Band::new(BandParts {
        palette: made::colours(2),
        threads: vec![0, 0, 1],
        repeat: vec![made::run(Kind::Forward, [1])],
        repeats: 4,
        ..BandParts::default()
    })
    .expect("a band");
    let steps = made::steps(&exchanged);
    assert!(
        steps
            .comes_round
            .contains("only threads of one colour have changed places"),
        "{}",
        steps.comes_round
    );
    for band in [turning, exchanged] {
        followed(&band).expect("it can be tied");
    }
}

/// The lead-in carries the colours to other positions, and it is from there that they come
/// round: hung 1 1 2, the first two change places unseen; after the lead-in they hang 2 1 1
/// and then 1 2 1.
#[test]
fn colours_come_round_from_where_the_lead_in_leaves_them() {
    let band = Band::new(BandParts {
        palette: made::colours(2),
        threads: vec![0, 0, 1],
        lead_in: vec![made::run(Kind::Backward, [2, 1])],
        repeat: vec![made::run(Kind::Forward, [1])],
        repeats: 4,
        ..BandParts::default()
    })
    .expect("a band");
    let steps = made::steps(&band);
    assert_eq!(steps.comes_round_after, 2);
    assert_eq!(steps.next_repeats.len(), 1);
    assert_eq!(
        steps.comes_round,
        "After 2 repeats the colours hang as before the first, and it begins again."
    );
    followed(&band).expect("it can be tied");
}

/// More repeats until the colours come round than are listed: 60
/// threads in one cycle take 60.
#[test]
fn a_long_way_round_is_cut_short_and_says_so() {
    let stripe = made::band(60, vec![made::run(Kind::Forward, 1..60)], 70);
    let steps = made::steps(&stripe);
    assert_eq!(steps.next_repeats.len(), 47);
    assert_eq!(
        steps.comes_round,
        "The repeats after these go on in the same way. After 60 repeats the colours hang as at the start, and it begins again."
    );
    followed(&stripe).expect("it can be tied");
}

#[test]
fn a_wrong_sheet_is_noticed() {
    let rules = Rules::new();
    let rule = rules.built_in("drift").expect("built in");
    let band = rules.make(&rule, &Settings::new()).expect("a band").band;
    let sheet = text::sheet(&made::tied(&band));
    follower::tie(&sheet).expect("the sheet is right");
    for (right, wrong) in [
        ("Order now: 2 3", "Order now: 3 2"),
        ("1. Position 1, thread 1", "1. Position 2, thread 1"),
        (
            "forward knots over the next 2 threads (2, 3)",
            "forward knots over the next 2 threads (3, 2)",
        ),
        (
            "forward-backward knot over thread 4",
            "forward knot over thread 4",
        ),
        ("to position 3", "to position 4"),
        (
            "Repeat 3 begins with thread 3, light goldenrod.",
            "Repeat 3 begins with thread 3, coral.",
        ),
        (
            "Repeat 3 begins with thread 3, light goldenrod.",
            "Repeat 3 begins with thread 4, rose.",
        ),
        (
            "After 10 repeats the colours",
            "After 20 repeats the colours",
        ),
    ] {
        assert!(sheet.contains(right), "{right}");
        assert!(
            follower::tie(&sheet.replacen(right, wrong, 1)).is_err(),
            "{wrong}"
        );
    }
}

/// A picture is tied in turning knots: each row of it is one line, and a row that comes again
/// is not written twice. A wrong one is noticed.
#[test]
fn a_row_of_turning_knots_is_one_line_and_the_same_row_is_written_once() {
    let band = made::band(
        6,
        vec![
            made::run(Kind::BackwardForward, [1, 3]).then(&made::run(Kind::ForwardBackward, [5])),
            made::run(Kind::ForwardBackward, [2, 4]),
            made::run(Kind::BackwardForward, [1, 3]).then(&made::run(Kind::ForwardBackward, [5])),
            // The second knot waits for the first.
            made::run(Kind::ForwardBackward, [1, 2, 3]),
        ],
        3,
    );
    let steps = made::steps(&band);
    let short: Vec<Option<String>> = steps.rows.iter().map(RowSteps::in_short).collect();
    let first = "At position 2, buoy 2: a backward-forward knot over the thread to the left; at position 4, buoy 4: a backward-forward knot over the thread to the left; at position 5, buoy 5: a forward-backward knot over the thread to the right. Every thread stays in its place.";
    assert_eq!(
        short,
        [
            Some(first.to_owned()),
            None,
            Some("As row 1.".to_owned()),
            None
        ]
    );
    followed(&band).expect("it can be tied");
    followed(&band.mirrored()).expect("it can be tied");
    let sheet = text::sheet(&made::tied(&band));
    for (right, wrong) in [
        ("As row 1.", "As row 2."),
        (
            "At position 2, buoy 2: a backward",
            "At position 2, buoy 4: a backward",
        ),
        ("position 4, buoy 4", "position 7, buoy 4"),
        ("thread to the left; at", "thread to the right; at"),
    ] {
        assert!(sheet.contains(right), "{right}");
        let spoilt = sheet.replacen(right, wrong, 1);
        let simulated: Vec<u16> = Fabric::of(&band)
            .knots()
            .map(|knot| knot.working.number())
            .collect();
        let tied = follower::tie(&spoilt)
            .map(|knots| knots.iter().map(|knot| knot.working).collect::<Vec<_>>());
        assert_ne!(tied.ok(), Some(simulated), "{wrong}");
    }
}

/// A row that moves threads is never told as an earlier one with other threads in it.
#[test]
fn a_row_is_as_another_only_thread_by_thread() {
    let row = made::run(Kind::Forward, 1..4);
    let steps = made::steps(&made::band(4, vec![row.clone(), row], 3));
    assert!(steps.rows.iter().all(|row| row.in_short().is_none()));
}

/// The kinds that a band is tied in, in its rows and its ends, each in a sentence, and no other;
/// for the mirror image those of its own rows.
#[test]
fn a_sheet_says_how_its_knots_are_tied_and_no_others() {
    let band = made::band(4, vec![made::run(Kind::ForwardBackward, 1..4)], 3);
    let of = |band: &Band| made::steps(band).knots;
    assert_eq!(
        of(&band),
        [
            "Forward-backward: the left of two threads is wrapped twice round the right one, once each way, and stays on its left."
        ]
    );
    assert_eq!(
        of(&band.mirrored()),
        [
            "Backward-forward: the right of two threads is wrapped twice round the left one, once each way, and stays on its right."
        ]
    );
    // The knots round a bundle at a half triangle are told of, too.
    let half = End {
        shape: Shape::HalfTriangleLeft,
        ..End::default()
    };
    let ended = Band::new(BandParts {
        finish: half,
        ..band.clone().into_parts()
    })
    .expect("a band");
    let begun = Band::new(BandParts {
        start: half.mirrored(),
        ..band.into_parts()
    })
    .expect("a band");
    assert!(
        of(&ended)[0].starts_with("Backward: the right of two threads"),
        "{:?}",
        of(&ended)
    );
    assert!(
        of(&begun)[0].starts_with("Forward: the left of two threads"),
        "{:?}",
        of(&begun)
    );
    assert_eq!((of(&ended).len(), of(&begun).len()), (2, 2));
}

/// Common practice, no source: at a half triangle every thread but the last ties a knot
/// round those still in the bundle; with backward knots the first brought out ends at the
/// left edge, with forward knots at the right.
#[test]
fn a_half_triangle_brings_the_threads_out_in_their_hanging_order() {
    let rules = Rules::new();
    let rule = rules.built_in("drift").expect("built in");
    let band = rules
        .make(&rule, &Settings::new().set("threads", 8))
        .expect("a band")
        .band;
    for (band, kind, from_left) in [
        (band.mirrored(), "forward", false),
        (band, "backward", true),
    ] {
        let start = made::steps(&band).start.join(" ");
        assert!(
            start.contains(&format!("Each of the first 7 ties one {kind} knot")),
            "{start}"
        );
        assert!(start.contains("it ties none"), "{start}");
        let (_, order) = start.split_once("in this order: ").expect("an order");
        let order = order.split('.').next().expect("a sentence");
        let brought_out: Vec<u16> = order
            .split(", ")
            .map(|thread| {
                thread
                    .split(' ')
                    .next()
                    .and_then(|word| word.parse().ok())
                    .expect("a number")
            })
            .collect();
        // The bundle keeps to the other side, so each thread comes to hang inside the
        // one before it.
        let mut hanging = Vec::new();
        for thread in brought_out {
            let inside = if from_left { hanging.len() } else { 0 };
            hanging.insert(inside, thread);
        }
        assert_eq!(hanging, (1..=8).collect::<Vec<u16>>());
    }
}
