//! The drift law: the starting order is computed from the repeat, and the colours then
//! move the same number of steps at every repeat.

use std::collections::BTreeSet;

use hitchwork_core::knot::Kind;
use hitchwork_core::proof::{Drift, Permutation, drifting_order, drifting_order_through};
use hitchwork_core::row::Row;
use hitchwork_tests::naive::{self, Tie};
use hitchwork_tests::{by_chance, made};
use proptest::prelude::*;

/// Whether the colours have moved `steps` steps at every position after each of the
/// first repeats, seen by tying them.
fn moves(ties: &[Tie], start: &[usize], colours: usize, steps: usize) -> bool {
    (1..=2 * start.len()).all(|repeats| {
        let now = naive::carried(ties, start, repeats);
        let moved = |(before, after): (&usize, &usize)| {
            (before + repeats * steps) % colours == *after % colours
        };
        start.iter().zip(&now).all(moved)
    })
}

/// The order in which a slanted gradient band with turns hangs, by a rule of thumb: after
/// each turn (of several in a row, the last) hang, from left to right, the gradient's last
/// colour, the last but one, and so on; all others hang in the gradient's order.
fn rule_of_thumb(threads: u16, turns: &[u16]) -> Vec<usize> {
    let hangs_after_a_turn =
        |position: u16| turns.contains(&(position - 1)) && !turns.contains(&position);
    let (mut next, mut last) = (0, usize::from(threads));
    (1..=threads)
        .map(|position| {
            if hangs_after_a_turn(position) {
                last -= 1;
                last
            } else {
                next += 1;
                next - 1
            }
        })
        .collect()
}

fn threads_and_turns() -> impl Strategy<Value = (u16, Vec<u16>)> {
    (4_u16..=40).prop_flat_map(|threads| {
        let columns: Vec<u16> = (2..=threads - 2).collect();
        let most = columns.len();
        (Just(threads), prop::sample::subsequence(columns, 1..=most))
    })
}

fn check_slanted(threads: u16, turns: &[u16]) -> Result<(), TestCaseError> {
    let rows = made::slanted_with_turns(threads, turns);
    let repeat = Permutation::of_rows(&rows, threads);
    prop_assert_eq!(repeat.cycles().len(), 1, "one cycle");
    let count = usize::from(threads);
    let order = drifting_order(&repeat, count, 1, 0).expect("one cycle drifts");
    prop_assert!(moves(&naive::ties(&rows), &order, count, 1));
    prop_assert_eq!(order, rule_of_thumb(threads, turns));
    Ok(())
}

proptest! {
    #![proptest_config(by_chance::cases(256))]

    #[test]
    fn a_slanted_band_with_any_turns_drifts_through_all_its_colours((threads, turns) in threads_and_turns()) {
        check_slanted(threads, &turns)?;
    }

    #[test]
    fn any_first_colour_will_do_and_every_step_that_passes_all_colours(
        (threads, turns) in threads_and_turns(),
        steps in 0_usize..100,
        first in 0_usize..100,
    ) {
        let rows = made::slanted_with_turns(threads, &turns);
        let count = usize::from(threads);
        let repeat = Permutation::of_rows(&rows, threads);
        let solved = drifting_order(&repeat, count, steps, first);
        // On one cycle all colours hang where the steps pass by all of them.
        let passes_all: BTreeSet<usize> = (0..count).map(|repeats| repeats * steps % count).collect();
        prop_assert_eq!(solved.is_ok(), passes_all.len() == count);
        let Ok(order) = solved else { return Ok(()) };
        prop_assert_eq!(order[0], first % count);
        prop_assert_eq!(different(&order), count);
        prop_assert!(moves(&naive::ties(&rows), &order, count, steps));
        let found = Drift::of(&repeat, &order, count).map(|drift| drift.steps_per_repeat);
        prop_assert_eq!(found, Some(steps % count).filter(|steps| *steps > 0));
    }

    #[test]
    fn what_is_solved_drifts_when_tied(
        (threads, rows) in by_chance::threads_and_rows(10),
        colours in 1_usize..=10,
        steps in 0_usize..=10,
        first in 0_usize..10,
    ) {
        let repeat = Permutation::of_rows(&rows, threads);
        if let Ok(order) = drifting_order(&repeat, colours, steps, first) {
            prop_assert!(order.iter().all(|step| *step < colours));
            prop_assert_eq!(order[0], first % colours);
            prop_assert!(moves(&naive::ties(&rows), &order, colours, steps));
            prop_assert_eq!(different(&order), colours.min(usize::from(threads)));
        }
    }

    /// Rotations by a chance number of places fall into cycles of one length; the colours
    /// that come there and back hang too, each at least once.
    #[test]
    fn what_hangs_hangs_whole_on_many_threads(
        threads in 6_u16..=60,
        rows in 1_usize..12,
        steps in 1_usize..60,
        back: bool,
    ) {
        let turn = made::run(Kind::Forward, 1..threads);
        let rows = vec![turn; rows];
        let repeat = Permutation::of_rows(&rows, threads);
        let count = usize::from(threads);
        let gradient: Vec<usize> = (0..count).map(|step| if back { step.min(count - step) } else { step }).collect();
        if let Ok(order) = drifting_order_through(&repeat, &gradient, steps, 0) {
            prop_assert!(moves_once(&naive::ties(&rows), &order, count, steps));
            let hung: Vec<usize> = order.iter().map(|step| gradient[*step]).collect();
            prop_assert_eq!(different(&hung), different(&gradient));
        } else if !back {
            // As many cycles as classes would do: neither is less than the other can fill.
            let cycles = repeat.cycles();
            let classes = (1..=count).rev().find(|d| count.is_multiple_of(*d) && steps.is_multiple_of(*d)).expect("1 does");
            let fits = cycles.iter().all(|cycle| cycle.len().is_multiple_of(count / classes));
            prop_assert!(!fits || cycles.len() < classes);
        }
    }
}

fn different(colours: &[usize]) -> usize {
    colours.iter().collect::<BTreeSet<_>>().len()
}

/// Six rows that run all the way make six pairs of threads, and four rows four groups of
/// ten: as many as there are classes of colours.
#[test]
fn rows_that_run_all_the_way_hang_the_whole_gradient() {
    for (threads, rows) in [(12_u16, 6_usize), (40, 4)] {
        let tied = vec![made::run(Kind::Forward, 1..threads); rows];
        let repeat = Permutation::of_rows(&tied, threads);
        let count = usize::from(threads);
        let order = drifting_order(&repeat, count, rows, 0).expect("an order exists");
        // Worked by hand: thread p goes rows places to the left, and finds the colour there
        // that lies so many steps before its own.
        assert_eq!(order, (0..count).collect::<Vec<_>>());
    }
}

#[test]
fn every_choice_of_turns_on_few_threads_drifts() {
    for threads in 4_u16..=10 {
        let columns: Vec<u16> = (2..=threads - 2).collect();
        for chosen in 1_u32..1 << columns.len() {
            let is_chosen = |at: &usize| chosen >> at & 1 == 1;
            let turns: Vec<u16> = (0..columns.len())
                .filter(is_chosen)
                .map(|at| columns[at])
                .collect();
            check_slanted(threads, &turns).expect("the law holds");
        }
    }
}

#[test]
fn with_one_turn_all_hang_in_order_but_the_one_at_the_turn() {
    // Common practice, no source: at the turn hangs the gradient's predecessor of the
    // first.
    for threads in 4_u16..=40 {
        for turn in 2..=threads - 2 {
            let rows = made::slanted_with_turns(threads, &[turn]);
            let repeat = Permutation::of_rows(&rows, threads);
            let count = usize::from(threads);
            let mut order = drifting_order(&repeat, count, 1, 0).expect("one cycle drifts");
            assert_eq!(order.remove(usize::from(turn)), count - 1);
            let in_order: Vec<usize> = (0..count - 1).collect();
            assert_eq!(order, in_order, "{threads} threads, turn at {turn}");
        }
    }
}

/// How the start edge reads: how far each colour is from the one that should follow its
/// left neighbour, the shorter way round.
fn roughness(order: &[usize], colours: usize) -> usize {
    let missed = |pair: &[usize]| {
        let wanted = (pair[0] + 1) % colours;
        let difference = pair[1].abs_diff(wanted);
        difference.min(colours - difference)
    };
    order.windows(2).map(missed).sum()
}

/// Every way of colouring `threads` threads with `colours` colours, the first one given.
fn colourings(threads: usize, colours: usize) -> impl Iterator<Item = Vec<usize>> {
    let count = (1..threads).fold(1, |all, _| all * colours);
    (0..count).map(move |mut number| {
        let mut order = vec![0];
        for _ in 1..threads {
            order.push(number % colours);
            number /= colours;
        }
        order
    })
}

/// All arrangements of 1 to n, as permutations carried by knots.
fn all_carried(threads: u16) -> Vec<Vec<Row>> {
    fn extend(places: &mut Vec<u16>, threads: u16, all: &mut Vec<Vec<u16>>) {
        if places.len() == usize::from(threads) {
            all.push(places.clone());
        }
        for place in 1..=threads {
            if !places.contains(&place) {
                places.push(place);
                extend(places, threads, all);
                places.pop();
            }
        }
    }
    let mut all = Vec::new();
    extend(&mut Vec::new(), threads, &mut all);
    let carried = |places: Vec<u16>| made::rows_carrying(&places, Kind::Forward);
    all.into_iter().map(carried).collect()
}

/// Compares the solver with a search through all colourings that hang all colours. `alike` says which steps of the gradient have the same colour.
fn check_against_all_colourings(threads: u16, rows: &[Row], alike: &[usize], steps: usize) {
    let (ties, colours) = (naive::ties(rows), alike.len());
    let repeat = Permutation::of_rows(rows, threads);
    let hung =
        |order: &[usize]| different(&order.iter().map(|step| alike[*step]).collect::<Vec<_>>());
    let wanted = different(alike);
    let best = colourings(usize::from(threads), colours)
        .filter(|order| moves_once(&ties, order, colours, steps))
        .filter(|order| hung(order) == wanted)
        .map(|order| roughness(&order, colours))
        .min();
    let solved = drifting_order_through(&repeat, alike, steps, 0);
    if let Ok(order) = &solved {
        assert_eq!(hung(order), wanted);
    }
    let found = solved.ok().map(|order| roughness(&order, colours));
    assert_eq!(
        found,
        best,
        "{:?}, colours {alike:?}, {steps} steps",
        repeat.cycles()
    );
}

fn unlike(colours: usize) -> Vec<usize> {
    (0..colours).collect()
}

#[test]
fn a_drift_is_found_exactly_where_some_colouring_has_one_and_reads_as_well_as_any() {
    for threads in 2_u16..=5 {
        for rows in all_carried(threads) {
            for colours in 1..=usize::from(threads) + 1 {
                for steps in 0..colours {
                    check_against_all_colourings(threads, &rows, &unlike(colours), steps);
                }
            }
        }
    }
}

#[test]
fn a_gradient_that_passes_colours_twice_hangs_each_of_them_where_it_can() {
    let gradients: [&[usize]; 6] = [
        &[0, 1, 2, 1],
        &[0, 1, 0, 2],
        &[0, 1, 2, 3, 2, 1],
        &[0, 0, 1, 1, 2, 2],
        &[0, 1, 0, 1, 2, 1],
        &[0, 1, 2, 0, 1, 3],
    ];
    for threads in 2_u16..=5 {
        for rows in all_carried(threads) {
            for gradient in gradients {
                for steps in 0..gradient.len() {
                    check_against_all_colourings(threads, &rows, gradient, steps);
                }
            }
        }
    }
}

#[test]
fn cycles_of_six_threads_are_set_against_each_other_as_well_as_can_be() {
    // Two cycles of three, or three of two: the choice between them is free.
    for rows in all_carried(6) {
        let cycles = Permutation::of_rows(&rows, 6).cycles();
        let length = cycles[0].len();
        if !(2..=3).contains(&length) || cycles.iter().any(|cycle| cycle.len() != length) {
            continue;
        }
        for (colours, steps) in [(2, 1), (3, 1), (3, 2), (4, 2), (6, 2), (6, 3), (6, 4)] {
            check_against_all_colourings(6, &rows, &unlike(colours), steps);
        }
    }
}

fn moves_once(ties: &[Tie], start: &[usize], colours: usize, steps: usize) -> bool {
    let now = naive::carried(ties, start, 1);
    start
        .iter()
        .zip(&now)
        .all(|(before, after)| (before + steps) % colours == *after)
}

fn said(threads: u16, rows: &[Row], colours: usize, steps: usize) -> (String, String) {
    let repeat = Permutation::of_rows(rows, threads);
    let error = drifting_order(&repeat, colours, steps, 0).expect_err("no order");
    assert!(error.is_drift());
    (error.to_string(), error.help().expect("a mend"))
}

#[test]
fn a_drift_that_cannot_be_says_why_and_what_could() {
    // Two threads and four threads that wander apart from each other: 2 colours fit both.
    let apart = [made::run(Kind::Forward, [1, 3, 4, 5])];
    assert_eq!(
        said(6, &apart, 6, 1),
        (
            "the colours cannot drift 1 step of 6 at every repeat: the 2 threads at positions 1, 2 only change \
             places among themselves; after 2 repeats they are back, but their colours have moved 2 steps and are \
             not back at the colour that they began with"
                .to_owned(),
            "keep to 1 step and give 2 colours".to_owned()
        )
    );
    // One row that runs all the way is one group of threads: each place passes two colours.
    let row = [made::run(Kind::Forward, 1..12)];
    assert_eq!(
        said(12, &row, 12, 6),
        (
            "the colours cannot drift 6 steps of 12 at every repeat: moving 6 steps at a time, a place passes 2 \
             of the 12, and all threads change places with each other, so only 2 of 12 colours could hang"
                .to_owned(),
            "drift these 12 by 1, 5, 7 or 11 steps at a time".to_owned()
        )
    );
    // Not all colours hang where there are fewer threads: the others would go in silence.
    let (why, help) = said(3, &[made::run(Kind::Forward, 1..3)], 6, 4);
    assert!(
        why.ends_with("6 colours cannot all hang on 3 threads"),
        "{why}"
    );
    assert_eq!(help, "give 3 colours and drift by 1 step");
    let stays = [made::run(Kind::ForwardBackward, [1, 2])];
    let (_, help) = said(3, &stays, 3, 1);
    assert!(help.starts_with("change the repeat"), "{help}");
}

/// What the help line offers works, and nothing else does.
#[test]
fn the_steps_and_numbers_that_are_offered_work_and_no_others() {
    for threads in 2_u16..=6 {
        for rows in all_carried(threads) {
            let repeat = Permutation::of_rows(&rows, threads);
            let works = |colours: usize, steps: usize| {
                !steps.is_multiple_of(colours) && drifting_order(&repeat, colours, steps, 0).is_ok()
            };
            for colours in 2..=usize::from(threads) + 1 {
                for steps in 1..colours {
                    let Err(error) = drifting_order(&repeat, colours, steps, 0) else {
                        continue;
                    };
                    let help = error.help().expect("a mend");
                    let other_steps: Vec<usize> = (1..colours)
                        .filter(|other| works(colours, *other))
                        .collect();
                    let other_colours: Vec<usize> = (2..=usize::from(threads))
                        .filter(|other| *other > steps && works(*other, steps))
                        .collect();
                    if let Some(pair) = help.strip_prefix("give ") {
                        let pair: Vec<usize> = pair
                            .split(' ')
                            .filter_map(|word| word.parse().ok())
                            .collect();
                        assert!(works(pair[0], pair[1]), "{help}");
                        assert!(other_steps.is_empty() && other_colours.is_empty(), "{help}");
                        continue;
                    }
                    assert_eq!(
                        numbers_between(&help, "by ", " step"),
                        other_steps,
                        "{help}"
                    );
                    assert_eq!(
                        numbers_between(&help, "and give ", " colours"),
                        other_colours,
                        "{help}"
                    );
                }
            }
        }
    }
}

/// The numbers of a help line between two words of it; none where they do not stand there.
fn numbers_between(help: &str, before: &str, after: &str) -> Vec<usize> {
    let Some((_, rest)) = help.split_once(before) else {
        return Vec::new();
    };
    let (listed, _) = rest.split_once(after).expect("it goes on");
    listed
        .split([',', ' '])
        .filter_map(|word| word.parse().ok())
        .collect()
}
