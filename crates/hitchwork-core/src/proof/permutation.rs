//! Where a repeat sends each position, and when that comes round.

use super::divisor::lowest_common_multiple;
use crate::band::{Band, Part};
use crate::knot::{Kind, Knot};
use crate::row::Row;

/// A rearrangement of the positions of a band.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::Permutation, row::Row};
/// // One slanted row: the first thread travels to the right edge.
/// let stripe = Permutation::of_rows(&[Row::run(Kind::Forward, 1..4)?], 4);
/// assert_eq!(stripe.order_after(), [2, 3, 4, 1]);
/// assert_eq!(stripe.cycles(), [vec![1, 4, 3, 2]]);
/// assert_eq!(stripe.order(), 4);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Permutation {
    /// For each position, the position to which its thread goes.
    goes_to: Vec<u16>,
}

impl Permutation {
    /// What the rows do to the order of `threads` threads. Knots outside are left out.
    #[must_use]
    pub fn of_rows(rows: &[Row], threads: u16) -> Self {
        let inside = |knot: &&Knot| knot.column().number() < threads;
        let knots = rows.iter().flat_map(Row::knots).filter(inside);
        Self::of_knots(
            knots.map(|knot| (knot.column().index(), knot.kind())),
            threads,
        )
    }

    /// What knots do, given by the index of their column and their kind.
    pub(super) fn of_knots(knots: impl Iterator<Item = (usize, Kind)>, threads: u16) -> Self {
        let mut order: Vec<u16> = (0..threads).collect();
        for (column, kind) in knots {
            // Kinds come in no order that a processor could guess: no branch here.
            let changes = usize::from(kind.changes_places());
            let pair = [order[column], order[column + 1]];
            order[column] = pair[changes];
            order[column + 1] = pair[1 - changes];
        }
        let mut goes_to = vec![0; order.len()];
        for (position, &from) in (0..threads).zip(&order) {
            goes_to[usize::from(from)] = position;
        }
        Self { goes_to }
    }

    /// What one repeat of the band does.
    #[must_use]
    pub fn of_repeat(band: &Band) -> Self {
        Self::of_rows(band.repeat(), band.thread_count())
    }

    /// How many positions there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.goes_to.len()
    }

    /// Whether there are no positions at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.goes_to.is_empty()
    }

    /// To which position the thread at `position` goes; both count from 1.
    ///
    /// # Panics
    /// When there is no such position.
    #[must_use]
    pub fn goes_to(&self, position: u16) -> u16 {
        self.goes_to[usize::from(position) - 1] + 1
    }

    /// The numbers of the threads by position afterwards, if they hung 1, 2, 3… before.
    #[must_use]
    pub fn order_after(&self) -> Vec<u16> {
        let mut order = vec![0; self.goes_to.len()];
        for (thread, &position) in (1..).zip(&self.goes_to) {
            order[usize::from(position)] = thread;
        }
        order
    }

    /// What hangs at each position before, if `after` is what hangs there afterwards: so a
    /// lead-in is undone, to know how the threads must hang at the start that hang in a
    /// wanted order when the first repeat begins.
    ///
    /// ```
    /// # use hitchwork_core::{knot::Kind, proof::Permutation, row::Row};
    /// let travels = Permutation::of_rows(&[Row::run(Kind::Forward, 1..4)?], 4);
    /// assert_eq!(travels.before(&["ebb", "slack", "flood", "gale"]), ["gale", "ebb", "slack", "flood"]);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Panics
    /// When `after` has not as many entries as there are positions.
    #[must_use]
    pub fn before<T: Clone>(&self, after: &[T]) -> Vec<T> {
        assert_eq!(after.len(), self.len(), "one entry for each position");
        let carried = self.goes_to.iter();
        carried
            .map(|position| after[usize::from(*position)].clone())
            .collect()
    }

    /// The cycles as lists of positions from 1, each beginning at its leftmost and going
    /// on to where that goes; a thread that stays is a cycle of one.
    #[must_use]
    pub fn cycles(&self) -> Vec<Vec<u16>> {
        let mut seen = vec![false; self.goes_to.len()];
        let mut cycles = Vec::new();
        for start in 0..self.goes_to.len() {
            let mut cycle = Vec::new();
            let mut at = start;
            while !std::mem::replace(&mut seen[at], true) {
                cycle.push(u16::try_from(at + 1).expect("MAX_THREADS fits"));
                at = usize::from(self.goes_to[at]);
            }
            if !cycle.is_empty() {
                cycles.push(cycle);
            }
        }
        cycles
    }

    /// After how many repeats every thread is back: the least common multiple of the
    /// lengths of the cycles. It never exceeds Landau's function of the number of
    /// threads, which fits for [`MAX_THREADS`](crate::band::MAX_THREADS).
    #[must_use]
    pub fn order(&self) -> u64 {
        self.cycles().iter().fold(1, |closes, cycle| {
            lowest_common_multiple(closes, cycle.len() as u64)
        })
    }

    /// After how many repeats the *colours* first hang in their starting order again.
    /// `colours` are those of the positions at the start; the answer divides
    /// [`order`](Self::order).
    ///
    /// ```
    /// # use hitchwork_core::{knot::Kind, proof::Permutation, row::Row};
    /// let stripe = Permutation::of_rows(&[Row::run(Kind::Forward, 1..4)?], 4);
    /// assert_eq!(stripe.colour_order(&[0, 1, 0, 1]), 2);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn colour_order(&self, colours: &[u16]) -> u64 {
        let smallest_period = |cycle: &Vec<u16>| {
            let along: Vec<_> = cycle
                .iter()
                .filter_map(|&position| colours.get(usize::from(position) - 1))
                .collect();
            let length = along.len();
            let comes_again = |period: &usize| {
                length.is_multiple_of(*period)
                    && (0..length).all(|at| along[at] == along[(at + period) % length])
            };
            (1..=length).find(comes_again).unwrap_or(1) as u64
        };
        self.cycles()
            .iter()
            .map(smallest_period)
            .fold(1, lowest_common_multiple)
    }
}

/// What the threads have, by position when the first repeat begins: `hung` says it by
/// position at the start, and the lead-in carries the threads from there.
pub(crate) fn at_first_repeat<T: Copy>(band: &Band, hung: &[T]) -> Vec<T> {
    Permutation::of_rows(band.rows(Part::LeadIn), band.thread_count())
        .order_after()
        .into_iter()
        .map(|thread| hung[usize::from(thread) - 1])
        .collect()
}
