//! The simulator against a second model that ties knot by knot.

use hitchwork_core::fabric::{Fabric, TiedRow};
use hitchwork_tests::by_chance;
use hitchwork_tests::naive::{self, TiedBand};
use proptest::prelude::*;

fn numbers(order: &[hitchwork_core::fabric::Thread]) -> Vec<usize> {
    order
        .iter()
        .map(|thread| usize::from(thread.number()) - 1)
        .collect()
}

fn outermost(
    tied: &TiedBand,
    columns: usize,
    choose: fn(usize, usize) -> usize,
) -> Vec<Option<u32>> {
    let of_column = |column| {
        let levels = tied
            .knots
            .iter()
            .filter(|knot| knot.tie.column == column)
            .map(|knot| knot.level);
        levels
            .reduce(choose)
            .map(|level| u32::try_from(level).expect("small"))
    };
    (0..columns).map(of_column).collect()
}

proptest! {
    #![proptest_config(by_chance::cases(400))]

    #[test]
    fn every_knot_of_the_simulator_is_as_a_maker_ties_it(band in by_chance::band()) {
        let fabric = Fabric::of(&band);
        let tied = naive::tie_band(&band);
        prop_assert_eq!(fabric.knots().count(), tied.knots.len());
        prop_assert_eq!(band.knot_count(), tied.knots.len() as u64);
        for (knot, expected) in fabric.knots().zip(&tied.knots) {
            prop_assert_eq!(usize::from(knot.column.number()) - 1, expected.tie.column);
            prop_assert_eq!(knot.level as usize, expected.level);
            prop_assert_eq!(usize::from(knot.working.number()) - 1, expected.working);
            prop_assert_eq!(usize::from(knot.core.number()) - 1, expected.core);
            prop_assert_eq!(usize::from(fabric.colour(knot.working)), expected.colour);
        }
    }

    #[test]
    fn the_order_after_every_row_is_as_a_maker_sees_it(band in by_chance::band()) {
        let fabric = Fabric::of(&band);
        let tied = naive::tie_band(&band);
        let rows: Vec<TiedRow> = fabric.rows().collect();
        prop_assert_eq!(rows.len(), tied.orders.len());
        let mut before: Vec<usize> = (0..usize::from(band.thread_count())).collect();
        for (row, after) in rows.iter().zip(&tied.orders) {
            prop_assert_eq!(&numbers(&row.order_before), &before);
            prop_assert_eq!(&numbers(&row.order_after), after);
            before.clone_from(after);
        }
        prop_assert_eq!(numbers(fabric.final_order()), before);
    }

    #[test]
    fn rows_passes_and_knots_tell_the_same_story(band in by_chance::band()) {
        let fabric = Fabric::of(&band);
        let by_knot: Vec<_> = fabric.knots().collect();
        let by_row: Vec<_> = fabric.rows().flat_map(|row| row.knots).collect();
        prop_assert_eq!(&by_knot, &by_row);
        for pass in fabric.passes() {
            let rows = pass.rows();
            let first = rows.first().map(|row| row.order_before.clone());
            prop_assert_eq!(first.as_deref(), Some(pass.order_before()));
            let last = rows.last().map(|row| row.order_after.clone());
            prop_assert_eq!(last, Some(pass.order_after()));
            let numbered = rows.iter().zip(1..).all(|(row, number)| row.row == number);
            prop_assert!(numbered && rows.iter().all(|row| (row.pass, row.part) == (pass.number(), pass.part())));
        }
    }

    #[test]
    fn the_edges_and_the_height_are_those_of_the_knots(band in by_chance::band()) {
        let fabric = Fabric::of(&band);
        let tied = naive::tie_band(&band);
        let columns = usize::from(band.column_count());
        prop_assert_eq!(fabric.first_levels(), outermost(&tied, columns, usize::min));
        prop_assert_eq!(fabric.last_levels(), outermost(&tied, columns, usize::max));
        // The highest knot covers its own half row and the one above.
        let highest = tied.knots.iter().map(|knot| knot.level).max().expect("a band has knots");
        prop_assert_eq!(fabric.half_rows() as usize, highest + 2);
    }

    #[test]
    fn many_repeats_are_no_different_from_few(
        (threads, rows) in by_chance::threads_and_rows(6),
        repeats in 30_u32..60,
    ) {
        // Long enough that levels and orders come round several times.
        let band = hitchwork_tests::made::band(threads, rows, repeats);
        let tied = naive::tie_band(&band);
        for (knot, expected) in Fabric::of(&band).knots().zip(&tied.knots) {
            prop_assert_eq!(knot.level as usize, expected.level);
            prop_assert_eq!(usize::from(knot.working.number()) - 1, expected.working);
        }
    }
}
