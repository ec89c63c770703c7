//! What shows of a band, knot by knot, until its colours come round.

use super::Permutation;
use super::permutation::at_first_repeat;
use crate::band::Band;
use crate::knot::{Kind, Side};
use crate::row::Row;

/// Above this many knots, counted until the colours come round, the colours that show on a band
/// are not looked into.
pub const MOST_KNOTS_SEEN: u64 = 1_000_000;

/// One knot: its column's index, its kind and the index of the thread that shows, counted
/// as they hang when the first repeat begins.
pub(super) struct ShownKnot {
    pub(super) column: usize,
    pub(super) kind: Kind,
    pub(super) thread: usize,
}

/// What changes from knot to knot while a repeat is tied, from its first knot to the first
/// of the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct KnotChanges {
    /// How many knots the repeat has.
    pub(crate) knots: usize,
    /// How often another thread works than in the knot before.
    pub(crate) of_thread: usize,
    /// How often the same thread works as in the knot before, in another kind of knot.
    pub(crate) of_kind: usize,
}

impl KnotChanges {
    pub(crate) fn of(band: &Band) -> Self {
        let knots = band.repeat().iter().map(Row::len).sum();
        let mut changes = Self {
            knots,
            of_thread: 0,
            of_kind: 0,
        };
        for (before, knot) in shown(band).zip(shown(band).skip(1)).take(knots) {
            if before.thread != knot.thread {
                changes.of_thread += 1;
            } else if before.kind != knot.kind {
                changes.of_kind += 1;
            }
        }
        changes
    }
}

/// All knots until the colours come round.
pub(super) struct Round {
    /// After how many repeats they do.
    pub(super) repeats: u64,
    /// For each thread, as they hang when the first repeat begins, the index of its colour; colours of the palette with the same value
    /// look the same, and the first of them stands for all.
    pub(super) colours: Vec<u16>,
    pub(super) knots: Vec<ShownKnot>,
}

impl Round {
    /// Nothing where there are more than [`MOST_KNOTS_SEEN`] knots.
    pub(super) fn of(band: &Band) -> Option<Self> {
        let colours = at_first_repeat(band, &band.thread_values());
        let repeats = Permutation::of_repeat(band).colour_order(&colours);
        let in_repeat: usize = band.repeat().iter().map(Row::len).sum();
        if repeats.checked_mul(in_repeat as u64)? > MOST_KNOTS_SEEN {
            return None;
        }
        let total = usize::try_from(repeats).ok()? * in_repeat;
        let knots = shown(band).take(total).collect();
        Some(Self {
            repeats,
            colours,
            knots,
        })
    }

    /// The index of the colour that shows at a knot.
    pub(super) fn colour(&self, knot: &ShownKnot) -> u16 {
        self.colours[knot.thread]
    }

    /// Calls for every knot, by its number, with the last ones before it in the column to
    /// its left, its own and the one to its right. Before the first of a column comes the
    /// last, of the round before.
    pub(super) fn each_with_those_before(
        &self,
        columns: u16,
        mut each: impl FnMut(u32, [Option<u32>; 3]),
    ) {
        let mut last: Vec<Option<u32>> = vec![None; usize::from(columns) + 2];
        for (number, knot) in (0..).zip(&self.knots) {
            last[knot.column + 1] = Some(number);
        }
        for (number, knot) in (0..).zip(&self.knots) {
            let at = knot.column;
            each(number, [last[at], last[at + 1], last[at + 2]]);
            last[at + 1] = Some(number);
        }
    }
}

/// Every knot of the endless repeat.
pub(super) fn shown(band: &Band) -> impl Iterator<Item = ShownKnot> + '_ {
    let mut order: Vec<usize> = (0..usize::from(band.thread_count())).collect();
    let knots = band.repeat().iter().flat_map(Row::knots).cycle();
    knots.map(move |knot| {
        let left = knot.column().index();
        let works = match knot.kind().working_side() {
            Side::Left => left,
            Side::Right => left + 1,
        };
        let thread = order[works];
        if knot.kind().changes_places() {
            order.swap(left, left + 1);
        }
        ShownKnot {
            column: left,
            kind: knot.kind(),
            thread,
        }
    })
}
