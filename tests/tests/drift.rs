//! The drift law: the starting order is computed from the repeat, and the colours then
//! move the same number of steps at every repeat.

use hitchwork_core::proof::{Drift, Permutation, drifting_order};
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
    fn any_first_colour_and_any_step_will_do(
        (threads, turns) in threads_and_turns(),
        steps in 0_usize..100,
        first in 0_usize..100,
    ) {
        let rows = made::slanted_with_turns(threads, &turns);
        let count = usize::from(threads);
        let repeat = Permutation::of_rows(&rows, threads);
        let order = drifting_order(&repeat, count, steps, first).expect("one cycle drifts");
        prop_assert_eq!(order[0], first % count);
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
        }
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
    let carried =
        |places: Vec<u16>| made::rows_carrying(&places, hitchwork_core::knot::Kind::Forward);
    all.into_iter().map(carried).collect()
}

/// Compares the solver with a search through all colourings.
fn check_against_all_colourings(threads: u16, rows: &[Row], colours: usize, steps: usize) {
    let ties = naive::ties(rows);
    let repeat = Permutation::of_rows(rows, threads);
    let best = colourings(usize::from(threads), colours)
        .filter(|order| moves_once(&ties, order, colours, steps))
        .map(|order| roughness(&order, colours))
        .min();
    let solved = drifting_order(&repeat, colours, steps, 0);
    let found = solved.ok().map(|order| roughness(&order, colours));
    assert_eq!(
        found,
        best,
        "{:?}, {colours} colours, {steps} steps",
        repeat.cycles()
    );
}

#[test]
fn a_drift_is_found_exactly_where_some_colouring_has_one_and_reads_as_well_as_any() {
    for threads in 2_u16..=5 {
        for rows in all_carried(threads) {
            for colours in 1..=usize::from(threads) {
                for steps in 0..colours {
                    check_against_all_colourings(threads, &rows, colours, steps);
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
            check_against_all_colourings(6, &rows, colours, steps);
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

#[test]
fn a_drift_that_cannot_be_says_which_numbers_of_colours_could() {
    // Two threads and four threads that wander apart from each other: 2 colours fit both.
    let rows = [made::run(hitchwork_core::knot::Kind::Forward, [1, 3, 4, 5])];
    let repeat = Permutation::of_rows(&rows, 6);
    let error = drifting_order(&repeat, 6, 1, 0).expect_err("six do not fit two");
    assert!(error.is_drift());
    assert_eq!(
        error.to_string(),
        "the colours cannot drift 1 step of 6 at every repeat: the 2 threads at positions 1, 2 change places \
         among themselves and are back after 2 repeats, but 2 times 1 step is no whole number of turns round 6 colours"
    );
    assert_eq!(
        error.help().as_deref(),
        Some("this repeat can drift with 2 colours")
    );
}
