//! What holds for all rows and bands, whatever their knots.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::{Growth, Permutation, growth, normal_form, same_fabric};
use hitchwork_core::row::{self, Row};
use hitchwork_tests::naive::{self, Tie};
use hitchwork_tests::{by_chance, made};
use proptest::prelude::*;

/// The layers of the normal form in the words of the second model.
fn layers(rows: &[Row]) -> Vec<Vec<Tie>> {
    normal_form(rows)
        .into_iter()
        .map(|layer| naive::ties(&[Row::new(layer)]))
        .collect()
}

proptest! {
    #![proptest_config(by_chance::cases(256))]

    #[test]
    fn every_knot_has_one_thread_that_works_and_one_inside(band in by_chance::band()) {
        let report = made::report(&band);
        let working: u64 = report.thread_use.iter().map(|thread| thread.working_knots).sum();
        let core: u64 = report.thread_use.iter().map(|thread| thread.core_knots).sum();
        prop_assert_eq!(working, band.knot_count());
        prop_assert_eq!(core, band.knot_count());
        prop_assert!(Fabric::of(&band).knots().all(|knot| knot.working != knot.core));
    }

    #[test]
    fn each_thread_works_as_often_as_a_maker_counts(band in by_chance::band()) {
        let tied = naive::tie_band(&band);
        for (at, thread) in made::report(&band).thread_use.iter().enumerate() {
            let works = tied.knots.iter().filter(|knot| knot.working == at).count();
            let is_inside = tied.knots.iter().filter(|knot| knot.core == at).count();
            prop_assert_eq!((thread.working_knots, thread.core_knots), (works as u64, is_inside as u64));
        }
    }

    #[test]
    fn a_row_permutes_threads(band in by_chance::band()) {
        for row in Fabric::of(&band).rows() {
            let (mut before, mut after) = (row.order_before, row.order_after);
            before.sort_unstable();
            after.sort_unstable();
            prop_assert_eq!(before, after);
        }
    }

    #[test]
    fn mirror_upside_down_and_half_turn_undo_themselves((threads, rows) in by_chance::threads_and_rows(12)) {
        let mirrored = |rows: &[Row]| row::mirrored(rows, threads).expect("knots lie inside");
        let turned = |rows: &[Row]| row::half_turned(rows, threads).expect("knots lie inside");
        prop_assert_eq!(&mirrored(&mirrored(&rows)), &rows);
        prop_assert_eq!(&row::upside_down(&row::upside_down(&rows)), &rows);
        prop_assert_eq!(&turned(&turned(&rows)), &rows);
    }

    #[test]
    fn any_two_of_mirror_upside_down_and_half_turn_make_the_third((threads, rows) in by_chance::threads_and_rows(12)) {
        let mirrored = |rows: &[Row]| row::mirrored(rows, threads).expect("knots lie inside");
        let turned = |rows: &[Row]| row::half_turned(rows, threads).expect("knots lie inside");
        let flipped = row::upside_down(&rows);
        prop_assert_eq!(mirrored(&flipped), turned(&rows));
        prop_assert_eq!(row::upside_down(&mirrored(&rows)), turned(&rows));
        prop_assert_eq!(mirrored(&turned(&rows)), flipped.clone());
        prop_assert_eq!(turned(&mirrored(&rows)), flipped.clone());
        prop_assert_eq!(row::upside_down(&turned(&rows)), mirrored(&rows));
        prop_assert_eq!(turned(&flipped), mirrored(&rows));
    }

    #[test]
    fn inverting_undoes_itself_and_does_not_mind_mirror_and_turns((threads, rows) in by_chance::threads_and_rows(12)) {
        let mirrored = |rows: &[Row]| row::mirrored(rows, threads).expect("knots lie inside");
        let inverted = row::inverted(&rows);
        prop_assert_eq!(&row::inverted(&inverted), &rows);
        prop_assert_eq!(row::inverted(&mirrored(&rows)), mirrored(&inverted));
        prop_assert_eq!(row::inverted(&row::upside_down(&rows)), row::upside_down(&inverted));
        prop_assert_eq!(Permutation::of_rows(&inverted, threads), Permutation::of_rows(&rows, threads));
        prop_assert_eq!(growth(&inverted, threads), growth(&rows, threads));
    }

    #[test]
    fn inverting_lets_the_core_of_every_knot_work(band in by_chance::band()) {
        let parts = band.clone().into_parts();
        let other = Band::new(BandParts {
            lead_in: row::inverted(&parts.lead_in),
            repeat: row::inverted(&parts.repeat),
            lead_out: row::inverted(&parts.lead_out),
            ..parts
        }).expect("the same columns");
        let (fabric, inverse) = (Fabric::of(&band), Fabric::of(&other));
        for (knot, seen) in fabric.knots().zip(inverse.knots()) {
            prop_assert_eq!((seen.working, seen.core), (knot.core, knot.working));
        }
    }

    #[test]
    fn a_grid_read_again_makes_the_same_fabric((threads, rows) in by_chance::threads_and_rows(12)) {
        let text = row::grid_of(&rows, threads);
        let read = row::grid(&text).expect("it was just written");
        prop_assert!(same_fabric(&read, &rows));
        prop_assert_eq!(row::grid_of(&read, threads), text);
    }

    #[test]
    fn bands_beside_each_other_keep_to_themselves_when_only_held(
        (left_threads, left) in by_chance::threads_and_rows(8),
        (right_threads, right) in by_chance::threads_and_rows(8),
    ) {
        let (left, right) = row::in_step(&left, &right).expect("few rows");
        let joining = Row::run(Kind::ForwardBackward, [left_threads]).expect("from 1");
        let both = row::beside(&left, left_threads, &right, &joining).expect("knots lie inside");
        prop_assert_eq!(both.len(), left.len());
        let order = Permutation::of_rows(&both, left_threads + right_threads).order_after();
        let (alone, other) = (Permutation::of_rows(&left, left_threads), Permutation::of_rows(&right, right_threads));
        let beyond = other.order_after().into_iter().map(|thread| thread + left_threads);
        let expected: Vec<u16> = alone.order_after().into_iter().chain(beyond).collect();
        prop_assert_eq!(order, expected);
        prop_assert!(both.iter().flat_map(Row::knots).any(|knot| knot.column().number() == left_threads));
    }

    #[test]
    fn upside_down_carries_every_thread_back((threads, rows) in by_chance::threads_and_rows(12)) {
        let there = Permutation::of_rows(&rows, threads);
        let back = Permutation::of_rows(&row::upside_down(&rows), threads);
        prop_assert!((1..=threads).all(|position| back.goes_to(there.goes_to(position)) == position));
    }

    #[test]
    fn a_thread_that_works_upside_down_is_the_one_that_worked((threads, rows) in by_chance::threads_and_rows(12)) {
        // The finished band, turned round and read back, shows the same colours.
        let order: Vec<usize> = (0..usize::from(threads)).collect();
        let shown = |rows: &[Row], order: &[usize]| {
            let mut order = order.to_vec();
            let mut shown = Vec::new();
            for tie in naive::ties(rows) {
                shown.push(order[tie.column + usize::from(!tie.left_works)]);
                if tie.swaps {
                    order.swap(tie.column, tie.column + 1);
                }
            }
            (shown, order)
        };
        let (colours, after) = shown(&rows, &order);
        let (mut read_back, before) = shown(&row::upside_down(&rows), &after);
        read_back.reverse();
        prop_assert_eq!(colours, read_back);
        prop_assert_eq!(order, before);
    }

    #[test]
    fn the_other_hand_makes_the_mirrored_fabric(band in by_chance::band()) {
        let threads = band.thread_count();
        let other = band.mirrored();
        let twice = other.mirrored();
        prop_assert_eq!(twice.thread_colours(), band.thread_colours());
        prop_assert_eq!(twice.repeat(), band.repeat());
        let (fabric, mirror) = (Fabric::of(&band), Fabric::of(&other));
        for (knot, seen) in fabric.knots().zip(mirror.knots()) {
            prop_assert_eq!(seen.column.number(), threads - knot.column.number());
            prop_assert_eq!(seen.kind, knot.kind.mirrored());
            prop_assert_eq!(seen.level, knot.level);
            prop_assert_eq!(seen.working.number(), threads + 1 - knot.working.number());
            prop_assert_eq!(seen.core.number(), threads + 1 - knot.core.number());
            prop_assert_eq!(mirror.colour(seen.working), fabric.colour(knot.working));
        }
        prop_assert_eq!(mirror.half_rows(), fabric.half_rows());
    }

    #[test]
    fn knots_that_do_not_touch_may_be_tied_in_either_order(
        (threads, rows) in by_chance::threads_and_rows(12),
        chances in prop::collection::vec(any::<prop::sample::Index>(), 40),
    ) {
        let tied: Vec<_> = rows.iter().flat_map(Row::knots).copied().collect();
        let mut exchanged = tied.clone();
        for chance in chances.iter().filter(|_| tied.len() > 1) {
            let at = chance.index(tied.len() - 1);
            let apart = exchanged[at].column().number().abs_diff(exchanged[at + 1].column().number());
            if apart > 1 {
                exchanged.swap(at, at + 1);
            }
        }
        let exchanged = [Row::new(exchanged)];
        prop_assert_eq!(normal_form(&exchanged), normal_form(&rows));
        prop_assert!(same_fabric(&exchanged, &rows));
        prop_assert_eq!(growth(&exchanged, threads), growth(&rows, threads));
        prop_assert_eq!(Permutation::of_rows(&exchanged, threads), Permutation::of_rows(&rows, threads));
    }

    #[test]
    fn exchanging_knots_that_touch_makes_another_fabric(
        (_, rows) in by_chance::threads_and_rows(5),
        chance in any::<prop::sample::Index>(),
    ) {
        let tied: Vec<_> = rows.iter().flat_map(Row::knots).copied().collect();
        prop_assume!(tied.len() > 1);
        let at = chance.index(tied.len() - 1);
        let (one, other) = (tied[at], tied[at + 1]);
        prop_assume!(one != other && one.column().number().abs_diff(other.column().number()) <= 1);
        let mut exchanged = tied.clone();
        exchanged.swap(at, at + 1);
        prop_assert!(!same_fabric(&[Row::new(exchanged)], &[Row::new(tied)]));
    }

    #[test]
    fn the_normal_form_is_what_peeling_off_the_lowest_knots_gives((_, rows) in by_chance::threads_and_rows(12)) {
        prop_assert_eq!(layers(&rows), naive::peeled(naive::ties(&rows)));
    }

    #[test]
    fn growth_is_what_a_long_band_shows((threads, rows) in by_chance::threads_and_rows(12)) {
        let (half_rows, repeats) = naive::measured_growth(&naive::ties(&rows), usize::from(threads) - 1);
        prop_assert_eq!(growth(&rows, threads), Growth::new(half_rows, repeats));
    }

    #[test]
    fn growth_is_a_whole_number_of_half_rows((threads, rows) in by_chance::threads_and_rows(12)) {
        // A chain of touching knots that comes back to its column after several repeats
        // meets the same chain one repeat later, and changing over where they meet closes
        // a chain as steep after a single repeat. (Argument our own.)
        prop_assert_eq!(growth(&rows, threads).fraction().1, 1);
    }

    #[test]
    fn a_closed_band_has_every_thread_in_its_place((threads, rows) in by_chance::threads_and_rows(12)) {
        let closes = Permutation::of_rows(&rows, threads).order();
        let natural: Vec<u16> = (0..threads).collect();
        prop_assert_eq!(closes, naive::repeats_until_as_before(&naive::ties(&rows), &natural));
    }

    #[test]
    fn colours_close_first_where_they_first_hang_as_at_the_start(
        (threads, rows) in by_chance::threads_and_rows(12),
        colours in prop::collection::vec(0_u16..3, 12),
    ) {
        let permutation = Permutation::of_rows(&rows, threads);
        let colours = &colours[..usize::from(threads)];
        let closes = permutation.colour_order(colours);
        prop_assert_eq!(closes, naive::repeats_until_as_before(&naive::ties(&rows), colours));
        prop_assert!(permutation.order().is_multiple_of(closes));
    }
}

#[test]
fn a_brick_lattice_grows_two_half_rows_with_every_pair_of_rows() {
    // By hand: the second row lies half a knot above the first, the next first row half a
    // knot above that; every column gets one knot, which is two half rows high.
    for threads in 3..=40 {
        let rows = made::brick(Kind::Forward, threads);
        assert_eq!(
            growth(&rows, threads),
            Growth::new(2, 1),
            "{threads} threads"
        );
    }
}

#[test]
fn a_slanted_row_grows_two_half_rows() {
    // By hand: each row lies on the slant of the one before, one knot higher.
    for threads in 2..=40 {
        let row = made::run(Kind::Forward, 1..threads);
        assert_eq!(
            growth(&[row], threads),
            Growth::new(2, 1),
            "{threads} threads"
        );
    }
}

#[test]
fn a_row_back_against_the_slant_waits_for_all_of_the_row_out() {
    // By hand: over c columns every knot lies half a knot above the one beside it, c - 1
    // half rows out and as many back, and at either edge a whole knot on the last.
    for threads in 2..=40 {
        let out = made::run(Kind::Forward, 1..threads);
        let back = made::run(Kind::Backward, (1..threads).rev());
        let columns = u64::from(threads) - 1;
        let expected = Growth::new(2 * columns + 2, 1);
        assert_eq!(growth(&[out, back], threads), expected, "{threads} threads");
    }
}

#[test]
fn a_candy_stripe_closes_after_as_many_repeats_as_threads() {
    for threads in 2..=40 {
        let stripe = Permutation::of_rows(&[made::run(Kind::Forward, 1..threads)], threads);
        assert_eq!(stripe.order(), u64::from(threads));
        assert_eq!(stripe.cycles().len(), 1);
    }
}

#[test]
fn alternating_full_rows_close_after_as_many_pairs_as_threads() {
    // A product of all exchanges of neighbours in any order is one n-cycle (a Coxeter
    // element; Humphreys 1990, section from memory), for odd and even n alike.
    for threads in 2..=40 {
        let lattice = Permutation::of_rows(&made::brick(Kind::Forward, threads), threads);
        assert_eq!(lattice.order(), u64::from(threads));
        assert_eq!(lattice.cycles().len(), 1);
    }
}

#[test]
fn as_many_alternating_full_rows_as_threads_reverse_the_order() {
    // Odd-even transposition sort of the reversed order exchanges every pair it compares.
    for threads in 2_u16..=40 {
        let pair = [
            made::run(Kind::Backward, (1..threads).step_by(2)),
            made::run(Kind::Backward, (2..threads).step_by(2)),
        ];
        let rows: Vec<Row> = pair
            .iter()
            .cycle()
            .take(usize::from(threads))
            .cloned()
            .collect();
        let reversed: Vec<u16> = (1..=threads).rev().collect();
        assert_eq!(
            Permutation::of_rows(&rows, threads).order_after(),
            reversed,
            "{threads} threads"
        );
    }
}
