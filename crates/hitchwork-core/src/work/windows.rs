//! A bound for repeats with more states than can be looked at, from a few columns at a time.
//!
//! Every run begins somewhere, so the changes of thread in a repeat are as many as the runs
//! that begin in the first columns, and those that begin in the next, and so on. How many begin in
//! some of the columns at least is found by looking at these and at the columns beside them
//! alone, as if nothing else were tied: what is left of an order is an order of what is left, in which no
//! knot waits for more and nobody is further ahead. A run that goes on into these columns comes from
//! the columns beside them, since a thread moves one position at a time, and is not counted there. So
//! the sum of what is found is a bound. Runs may end anywhere here, since which of them are
//! counted depends on where they begin.

use super::circles::{bounds, thread_changes_at_least};
use super::graph::{RunEnds, RunGraph};
use super::periodic::PeriodicHeap;

/// So many columns are looked at together (our own judgement: a full fabric then has a thousand
/// states for every second row).
const WIDTH: usize = 11;
/// So many of them on either side are not counted (our own judgement: what is further away
/// hardly matters).
const BESIDE: usize = 3;

/// No order of a repeat has fewer changes of the working thread; columns that have too many states
/// add nothing.
pub(super) fn least_changes(heap: &PeriodicHeap, most_states: usize) -> usize {
    let columns = heap.nothing().len();
    let (mut counted_from, mut least) = (0, 0);
    while counted_from < columns {
        let seen_from = counted_from.saturating_sub(BESIDE);
        let seen_to = (seen_from + WIDTH).min(columns);
        let counted_to = match seen_to == columns {
            true => columns,
            false => seen_to - BESIDE,
        };
        let window = heap.only(seen_from..seen_to);
        let counted = counted_from..counted_to;
        if window.knots() > 0
            && let Some(graph) = RunGraph::new(&window, most_states, RunEnds::Anywhere, &counted)
        {
            least += thread_changes_at_least(bounds(&graph).least, window.knots());
        }
        counted_from = counted_to;
    }
    least
}
