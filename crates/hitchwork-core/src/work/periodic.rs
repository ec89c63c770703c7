//! The endless repeat as a heap of knots, of which any lower part may have been tied.

use std::ops::Range;

use crate::knot::Knot;
use crate::proof::growth;
use crate::row::Row;

/// One knot of the repeat as the heap has it.
#[derive(Clone, Copy, Debug)]
pub(super) struct HeapKnot {
    pub(super) knot: Knot,
    /// How many knots of the column to its left, and of the one to its right, it waits for, in
    /// the first repeat.
    waits_for: [i32; 2],
    /// How high it lies in the first repeat, in units of which a half row has
    /// [`units`](PeriodicHeap::units).
    level: i64,
}

/// The endless repeat. Which of its knots are tied is said by how many are in each column,
/// counted from the beginning of a repeat: columns have an order of their own, and each knot
/// waits for the last ones before it in both neighbouring columns (a heap of pieces; Viennot
/// 1986). In the next repeat every column has as many more as a repeat has there.
#[derive(Debug)]
pub(super) struct PeriodicHeap {
    columns: Vec<Vec<HeapKnot>>,
    knots: usize,
    /// By how many units a repeat rises.
    rise: i64,
    units: i64,
    /// How many units a knot may lie above the lowest that is not tied yet.
    ahead: i64,
}

/// Which of a column's knots comes after so many: its index, and in which repeat it is.
fn indexed(count: i32, per_repeat: usize) -> (usize, i32) {
    let per_repeat = i32::try_from(per_repeat).expect("MAX_KNOTS fits");
    let index = usize::try_from(count.rem_euclid(per_repeat)).expect("a remainder");
    (index, count.div_euclid(per_repeat))
}

/// How many knots of each column are tied.
fn counted_knots(rows: &[Row], threads: u16) -> Vec<Vec<HeapKnot>> {
    let count = |columns: &[Vec<HeapKnot>], at: Option<usize>| {
        let knots = at.and_then(|at| columns.get(at)).map_or(0, Vec::len);
        i32::try_from(knots).expect("MAX_KNOTS fits")
    };
    let mut columns: Vec<Vec<HeapKnot>> = vec![Vec::new(); usize::from(threads) - 1];
    for knot in rows.iter().flat_map(Row::knots) {
        let at = knot.column().index();
        let waits_for = [
            count(&columns, at.checked_sub(1)),
            count(&columns, Some(at + 1)),
        ];
        columns[at].push(HeapKnot {
            knot: *knot,
            waits_for,
            level: 0,
        });
    }
    columns
}

impl PeriodicHeap {
    /// The heap of a repeat, in which nobody works further ahead than so many half rows, or than
    /// the rows do as they are written.
    pub(super) fn new(rows: &[Row], threads: u16, half_rows_ahead: u32) -> Self {
        let (rise, units) = growth(rows, threads).fraction();
        let whole = |number: u64| i64::try_from(number).expect("MAX_KNOTS bounds it");
        let mut heap = Self {
            columns: counted_knots(rows, threads),
            knots: rows.iter().map(Row::len).sum(),
            rise: whole(rise),
            units: whole(units),
            ahead: i64::MAX,
        };
        heap.find_levels(rows);
        let written = heap.written_ahead(rows);
        heap.ahead = written.max(i64::from(half_rows_ahead) * heap.units);
        heap
    }

    /// The lowest levels that are the same in every repeat but for what it rises. The growth is
    /// the greatest of all circles of knots that wait for each other, so no circle lifts itself
    /// and this comes to an end (Baccelli et al. 1992).
    fn find_levels(&mut self, rows: &[Row]) {
        let mut raised = true;
        while std::mem::take(&mut raised) {
            let mut counts = self.nothing();
            for knot in rows.iter().flat_map(Row::knots) {
                let at = knot.column().index();
                let here = counts[at];
                let lowest = self.lowest_level(at, here);
                let index = indexed(here, self.columns[at].len()).0;
                let level = &mut self.columns[at][index].level;
                if lowest > *level {
                    *level = lowest;
                    raised = true;
                }
                counts[at] += 1;
            }
        }
    }

    /// How high the knot after so many of its column must lie at least.
    fn lowest_level(&self, at: usize, count: i32) -> i64 {
        let own = self.level(at, count - 1) + 2 * self.units;
        let (index, repeat) = indexed(count, self.columns[at].len());
        let beside = [at.checked_sub(1), Some(at + 1)];
        let waits_for = self.waits_for(at, index, repeat);
        let levels = beside
            .into_iter()
            .zip(waits_for)
            .filter_map(|(column, waits)| {
                let column = column.filter(|_| waits != i32::MIN)?;
                Some(self.level(column, waits - 1) + self.units)
            });
        levels.fold(own, i64::max)
    }

    /// How far the rows as they are written go ahead.
    fn written_ahead(&self, rows: &[Row]) -> i64 {
        let mut counts = self.nothing();
        let mut ahead = 0;
        for knot in rows.iter().flat_map(Row::knots) {
            let at = knot.column().index();
            ahead = ahead.max(self.level(at, counts[at]) - self.lowest_left(&counts));
            counts[at] += 1;
        }
        ahead
    }

    /// Which of a column's knots comes after so many: its index, and in which repeat it is; nothing
    /// where the column has none.
    pub(super) fn indexed(&self, at: usize, count: i32) -> Option<(usize, i32)> {
        let knots = self.columns[at].len();
        match usize::try_from(count) {
            _ if knots == 0 => None,
            Ok(index) if index < knots => Some((index, 0)),
            _ => Some(indexed(count, knots)),
        }
    }

    /// How many knots of a repeat a column has.
    pub(super) fn column(&self, at: usize) -> usize {
        self.columns[at].len()
    }

    pub(super) fn knot(&self, at: usize, index: usize) -> &HeapKnot {
        &self.columns[at][index]
    }

    /// How many units a knot may lie above the lowest that is not tied yet.
    pub(super) fn ahead(&self) -> i64 {
        self.ahead
    }

    /// How many knots of the column to its left, and of the one to its right, must be tied before
    /// a knot of a later repeat; any number where that column has none.
    pub(super) fn waits_for(&self, at: usize, index: usize, repeat: i32) -> [i32; 2] {
        let [left, right] = self.columns[at][index].waits_for;
        let in_repeat = |column: Option<usize>, waits: i32| {
            let knots = column
                .and_then(|at| self.columns.get(at))
                .map_or(0, Vec::len);
            match i32::try_from(knots).expect("MAX_KNOTS fits") {
                0 => i32::MIN,
                knots => waits + repeat * knots,
            }
        };
        [
            in_repeat(at.checked_sub(1), left),
            in_repeat(Some(at + 1), right),
        ]
    }

    /// How high a knot of a later repeat lies.
    pub(super) fn level_of(&self, at: usize, index: usize, repeat: i32) -> i64 {
        self.columns[at][index].level + i64::from(repeat) * self.rise
    }

    /// How high the knot lies that comes after so many in a column.
    fn level(&self, at: usize, count: i32) -> i64 {
        let (index, repeat) = indexed(count, self.columns[at].len());
        self.level_of(at, index, repeat)
    }

    /// How high the lowest knot lies that is not tied.
    fn lowest_left(&self, counts: &[i32]) -> i64 {
        let tied = (0..self.columns.len()).filter(|at| !self.columns[*at].is_empty());
        let levels = tied.map(|at| self.level(at, counts[at]));
        levels.min().expect("a repeat has knots")
    }

    /// The same with the knots of these columns alone, as high as they lie among the others.
    pub(super) fn only(&self, columns: Range<usize>) -> Self {
        let mut kept = vec![Vec::new(); self.columns.len()];
        kept[columns.clone()].clone_from_slice(&self.columns[columns]);
        Self {
            knots: kept.iter().map(Vec::len).sum(),
            columns: kept,
            ..*self
        }
    }

    /// How many knots a repeat has.
    pub(super) fn knots(&self) -> usize {
        self.knots
    }

    /// Nothing tied of the repeat: where it begins as it is written.
    pub(super) fn nothing(&self) -> Vec<i32> {
        vec![0; self.columns.len()]
    }

    /// How many knots each column has so many repeats later.
    pub(super) fn later(&self, counts: &[i32], repeats: i32) -> Vec<i32> {
        let columns = counts.iter().zip(&self.columns);
        let more = |knots: usize| repeats * i32::try_from(knots).expect("MAX_KNOTS fits");
        columns
            .map(|(count, knots)| count + more(knots.len()))
            .collect()
    }

    /// The fewest repeats in which so many knots can be tied.
    pub(super) fn repeats_begun(&self, counts: &[i32]) -> i32 {
        let columns = counts.iter().zip(&self.columns);
        let begun = columns.filter(|(_, knots)| !knots.is_empty());
        let begun = begun.map(|(count, knots)| indexed(count - 1, knots.len()).1 + 1);
        begun.max().unwrap_or(0)
    }

    /// How many repeats are tied whole where so many knots are; fewer than none where knots are missing.
    pub(super) fn whole_repeats(&self, counts: &[i32]) -> i32 {
        let columns = counts.iter().zip(&self.columns);
        let whole = columns.filter(|(_, knots)| !knots.is_empty());
        let whole = whole.map(|(count, knots)| indexed(*count, knots.len()).1);
        whole.min().unwrap_or(0)
    }
}
