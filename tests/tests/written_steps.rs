//! The steps are proved: whoever ties what is written gets the band that was simulated.

use std::collections::BTreeMap;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::{End, Shape};
use hitchwork_core::fabric::{Fabric, TiedKnot};
use hitchwork_core::knot::Kind;
use hitchwork_core::row::Row;
use hitchwork_core::steps::{Run, SaidRows};
use hitchwork_core::tied::Tied;
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
    if sheet.contains("Where a row names positions") {
        prop_assert_eq!(in_layers(tied), in_layers(simulated));
    } else {
        prop_assert_eq!(tied, simulated);
    }
    Ok(())
}

/// Asserts that a follower of the sheet in the easiest order ties the fabric of the band as it is
/// written, of the same threads.
fn followed_in_easiest_order(band: &Band) -> Result<(), TestCaseError> {
    let sheet = text::sheet(&Tied::of(band.clone()));
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

    /// However often its rows come again.
    #[test]
    fn a_band_whose_rows_come_again_can_be_tied_from_its_sheet(band in rows_that_recur()) {
        followed(&band)?;
        followed(&band.mirrored())?;
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

/// The rows as a sheet tells them: what stands over them, what is said, and the order.
fn said(band: &Band) -> Vec<(String, String, String)> {
    let steps = made::steps(band);
    let told = |said: &SaidRows| {
        let runs = steps.rows_of(said).flat_map(|row| &row.runs);
        let in_full = || runs.map(Run::words).collect::<Vec<_>>().join(" ");
        let order = said.order_after.iter().flatten();
        let order: Vec<String> = order.map(ToString::to_string).collect();
        let heading = said.heading().replace(" (repeat)", "");
        (
            heading,
            said.words.clone().unwrap_or_else(in_full),
            order.join(" "),
        )
    };
    steps.said.iter().map(told).collect()
}

/// Asserts that a sheet can be tied, and that none can in which a word is another, or that it makes
/// another band.
fn only_these_words(band: &Band, wrong: &[(&str, &str)]) {
    followed(band).expect("it can be tied");
    followed(&band.mirrored()).expect("it can be tied");
    let sheet = follower::unwrapped(&text::sheet(&made::tied(band))).join("\n");
    let right = in_layers(simulated(band));
    for (word, other) in wrong {
        assert!(sheet.contains(word), "{word} in {sheet}");
        let tied = follower::tie(&sheet.replacen(word, other, 1));
        assert_ne!(tied.map(in_layers).ok().as_ref(), Some(&right), "{other}");
    }
}

/// A picture is tied in turning knots: each row of it is one line, and a row that comes again
/// is not written twice, unless it is as short. No order is given, since none changes.
#[test]
fn a_row_of_turning_knots_is_one_line_and_the_same_row_is_written_once() {
    let turning = |left: &[u16], right: &[u16]| {
        let left = made::run(Kind::BackwardForward, left.iter().copied());
        left.then(&made::run(Kind::ForwardBackward, right.iter().copied()))
    };
    let long = turning(&[1, 3, 5], &[7, 9, 11]);
    let short = turning(&[], &[4]);
    // The second knot waits for the first.
    let waits = turning(&[], &[1, 2, 3]);
    let rows = [&long, &short, &long, &waits, &short];
    let band = made::band(12, rows.map(Clone::clone).to_vec(), 3);
    let first = "Positions 2, 4 and 6: backward-forward; 7, 9 and 11: forward-backward.";
    let orders: Vec<_> = said(&band)
        .into_iter()
        .map(|(_, words, order)| (words, order))
        .collect();
    let all = (1..=12)
        .map(|thread: u32| thread.to_string())
        .collect::<Vec<_>>()
        .join(" ");
    let none = String::new();
    assert_eq!(orders[0], (first.to_owned(), none.clone()));
    assert_eq!(
        orders[1],
        ("Position 4: forward-backward.".to_owned(), none.clone())
    );
    assert_eq!(orders[2], ("As row 1.".to_owned(), none.clone()));
    assert_eq!(orders[3].1, all);
    assert!(
        orders[3].0.starts_with("Position 1, thread 1, "),
        "{}",
        orders[3].0
    );
    assert_eq!(orders[4], orders[1]);
    let reading = made::steps(&band).reading;
    assert_eq!(
        reading,
        "Positions count from the left edge and stay; threads keep their numbers and move. Where a row names positions, the thread at each ties one knot: forward-backward over the thread to its right, backward-forward over the thread to its left. Where no order is given, all threads hang as before."
    );
    only_these_words(
        &band,
        &[
            ("As row 1.", "As row 2."),
            ("Positions 2, 4 and 6", "Positions 2, 4 and 7"),
            (
                "; 7, 9 and 11: forward-backward",
                "; 7, 9 and 11: backward-forward",
            ),
            (
                "backward-forward over the thread to its left",
                "backward-forward over the thread to its right",
            ),
        ],
    );
}

/// Rows that come again are told together: once or several times over, forwards or back.
#[test]
fn rows_that_come_again_are_told_together() {
    let row = |first: u16| made::run(Kind::ForwardBackward, [first, first + 2]);
    let of = |firsts: &[u16]| made::band(12, firsts.iter().copied().map(row).collect(), 2);
    let words = |firsts: &[u16]| {
        let band = of(firsts);
        followed(&band).expect("it can be tied");
        let told = said(&band).into_iter().map(|(heading, words, order)| {
            assert_eq!(order, "");
            format!("{heading}: {words}")
        });
        told.filter(|words| !words.contains("osition"))
            .collect::<Vec<_>>()
    };
    assert_eq!(
        words(&[1, 2, 3, 4, 1, 2, 3]),
        ["Rows 5 to 7 of 7: As rows 1 to 3."]
    );
    assert_eq!(
        words(&[1, 2, 1, 2, 1, 2, 1, 2]),
        ["Rows 3 to 8 of 8: As rows 1 and 2, 3 times over."]
    );
    assert_eq!(
        words(&[1, 5, 5, 5, 5]),
        ["Rows 3 to 5 of 5: Each as row 2."]
    );
    assert_eq!(
        words(&[1, 2, 3, 4, 5, 4, 3, 2]),
        ["Rows 6 to 8 of 8: As rows 4 back to 2."]
    );
    assert_eq!(
        words(&[1, 2, 9, 2, 1]),
        ["Rows 4 and 5 of 5: As row 2, then row 1."]
    );
    // Others may lie between.
    assert_eq!(
        words(&[1, 2, 9, 1, 2, 1, 2, 9]),
        ["Rows 4 to 7 of 8: As rows 1 and 2, 2 times over.",]
    );
    assert_eq!(
        words(&[3, 9, 5, 3, 3, 3]),
        ["Rows 4 to 6 of 6: Each as row 1."]
    );
    // What comes again once fits into a line as it is.
    assert_eq!(words(&[1, 2, 9, 2]), [""; 0]);
    only_these_words(
        &of(&[1, 2, 3, 4, 5, 4, 3, 2]),
        &[
            ("back to 2", "back to 3"),
            ("rows 4 back to 2", "rows 2 to 4"),
            ("Rows 6 to 8", "Rows 6 to 9"),
        ],
    );
    only_these_words(
        &of(&[1, 2, 1, 2, 1, 2, 1, 2]),
        &[
            ("3 times over", "2 times over"),
            ("rows 1 and 2", "rows 2 and 3"),
        ],
    );
}

/// A thread round which the others tie takes one step, with those that it ties itself.
#[test]
fn the_way_of_a_leader_is_one_step() {
    let over = made::run(Kind::Backward, [1, 2, 3]).then(&made::run(Kind::Forward, [4]));
    let over = over.then(&made::run(Kind::Backward, [5]));
    let back = made::run(Kind::Forward, [5, 4]).then(&made::run(Kind::Backward, [3, 2]));
    let back = back.then(&made::run(Kind::Forward, [1]));
    let band = made::band(6, vec![over.clone(), back.clone(), over, back], 2);
    let name = |thread: u16| {
        made::steps(&band).threads[usize::from(thread) - 1]
            .colour
            .name
            .clone()
    };
    let leader = format!("thread 1, {}, leads", name(1));
    assert_eq!(
        said(&band),
        [
            (
                "Row 1 of 4".to_owned(),
                format!(
                    "Position 1, {leader} to the right edge: each of the next 3 threads (2, 3, 4) ties a backward knot round it, then it ties a forward knot over thread 5, then thread 6 ties a backward knot round it."
                ),
                "2 3 4 5 6 1".to_owned(),
            ),
            (
                "Row 2 of 4".to_owned(),
                format!(
                    "Position 6, {leader} to the left edge: each of the next 2 threads to its left (6, 5) ties a forward knot round it, then it ties backward knots over the next 2 threads to its left (4, 3), then thread 2 ties a forward knot round it."
                ),
                "1 2 3 4 5 6".to_owned(),
            ),
            (
                "Rows 3 and 4 of 4".to_owned(),
                "As rows 1 and 2.".to_owned(),
                "1 2 3 4 5 6".to_owned()
            ),
        ]
    );
    only_these_words(
        &band,
        &[
            ("each of the next 3", "each of the next 2"),
            ("(2, 3, 4) ties a backward", "(2, 3, 4) ties a forward"),
            (
                "it ties a forward knot over thread 5",
                "thread 5 ties a forward knot round it",
            ),
            ("leads to the right edge", "leads to position 5"),
            ("As rows 1 and 2.", "As row 2, then row 1."),
        ],
    );
    assert!(
        made::steps(&band)
            .reading
            .contains("A thread that leads is held taut")
    );
    // Two that work one after another over the same thread, which goes back, are no followers.
    let zigzag = made::run(Kind::Forward, [1]).then(&made::run(Kind::Backward, [1]));
    assert!(
        !made::steps(&made::band(3, vec![zigzag], 2))
            .reading
            .contains("leads")
    );
}

/// Rows in which threads move are told as others only where the same threads come to hang at the same
/// places; by positions a row goes for whatever hangs there, and its order is given.
#[test]
fn the_order_is_given_wherever_it_changes() {
    let brick = made::brick(Kind::Forward, 8);
    let band = made::band(8, [brick.clone(), brick].concat(), 2);
    assert_eq!(
        said(&band),
        [
            (
                "Row 1 of 4",
                "Positions 1, 3, 5 and 7: forward.",
                "2 1 4 3 6 5 8 7"
            ),
            (
                "Row 2 of 4",
                "Positions 2, 4 and 6: forward.",
                "2 4 1 6 3 8 5 7"
            ),
            (
                "Row 3 of 4",
                "Positions 1, 3, 5 and 7: forward.",
                "4 2 6 1 8 3 7 5"
            ),
            (
                "Row 4 of 4",
                "Positions 2, 4 and 6: forward.",
                "4 6 2 8 1 7 3 5"
            ),
        ]
        .map(|(heading, words, order)| (
            heading.to_owned(),
            words.to_owned(),
            order.to_owned()
        ))
    );
    only_these_words(
        &band,
        &[
            ("Order now: 4 2 6 1", "Order now: 4 2 1 6"),
            ("4 and 6: forward", "4 and 6: backward"),
        ],
    );
    // A lead-out whose threads come to hang as after the first repeat has its order all the same.
    let away = made::run(Kind::Forward, [1]);
    let parts = made::band(2, vec![away.clone()], 2).into_parts();
    let led_out = Band::new(BandParts {
        lead_out: vec![away],
        ..parts
    })
    .expect("a band");
    assert_eq!(said(&led_out)[1].2, "2 1");
    only_these_words(&led_out, &[]);
    // Step by step the threads are named, and others hang there the second time.
    let row = made::run(Kind::Forward, 1..4);
    let steps = made::steps(&made::band(4, vec![row.clone(), row], 3));
    assert!(steps.said.iter().all(|said| said.words.is_none()));
}

/// Few rows in many turns, so that many come again: of knots apart, over a leader there and back, and
/// any.
fn rows_that_recur() -> impl Strategy<Value = Band> {
    let size = (
        4_u16..=9,
        prop::collection::vec(0_usize..5, 1..12),
        1_u32..4,
    );
    let pool = size.prop_flat_map(|(threads, turns, repeats)| {
        let columns = usize::from(threads) - 1;
        let kinds = prop::collection::vec(by_chance::kind(), columns);
        let over = [(); 2].map(|()| prop::collection::vec(any::<bool>(), columns));
        let any = by_chance::rows(threads, 2..=2, 6);
        (Just((threads, turns, repeats)), kinds, over, any)
    });
    pool.prop_map(|((threads, turns, repeats), kinds, over, any)| {
        let apart = (1..threads).step_by(2).zip(&kinds);
        let apart = Row::new(apart.map(|(column, kind)| made::knot(*kind, column)));
        let led = |columns: Vec<u16>, [works, led]: [Kind; 2], choices: &[bool]| {
            let kind = |works_here: &bool| if *works_here { works } else { led };
            let knots = columns.into_iter().zip(choices);
            Row::new(knots.map(|(column, choice)| made::knot(kind(choice), column)))
        };
        let out = led(
            (1..threads).collect(),
            [Kind::Forward, Kind::Backward],
            &over[0],
        );
        let back = led(
            (1..threads).rev().collect(),
            [Kind::Backward, Kind::Forward],
            &over[1],
        );
        let pool = [apart, out, back, any[0].clone(), any[1].clone()];
        let rows = turns.into_iter().map(|turn| pool[turn].clone()).collect();
        made::band(threads, rows, repeats)
    })
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
