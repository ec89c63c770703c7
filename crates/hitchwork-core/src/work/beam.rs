//! A good order where there are more states than can be looked at, with a bound, and for what is tied
//! once.

use super::edge::HeapEdge;
use super::graph::cost;
use super::periodic::PeriodicHeap;
use crate::knot::{Kind, Knot, Side};

/// A state on the way, and the run that led to it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Waypoint {
    counts: Vec<i32>,
    cost: i64,
    from: usize,
    run: Vec<Knot>,
}

/// The runs that begin in a column and stay below `most` knots of each, with how much is tied then:
/// the whole run and those that end before a change of kind.
fn runs(edge: &mut HeapEdge, column: usize, most: &[i32]) -> Vec<(Vec<i32>, Vec<Knot>)> {
    let mut ends: Vec<(Vec<i32>, Vec<Knot>)> = Vec::new();
    edge.run(column, |counts, run| {
        if counts.iter().zip(most).any(|(count, most)| count > most) {
            return true;
        }
        let last = run.last().map(|knot| knot.kind());
        let is_longer =
            |(_, before): &mut (_, Vec<Knot>)| before.last().map(|knot| knot.kind()) == last;
        ends.pop_if(is_longer);
        ends.push((counts.to_vec(), run.to_vec()));
        false
    });
    ends
}

/// From some tied knots to more of them, in runs: at every number of knots only the `width`
/// cheapest states are kept.
pub(super) fn kept_few(
    heap: &PeriodicHeap,
    from: &[i32],
    to: &[i32],
    width: usize,
) -> Vec<Vec<Knot>> {
    let knots = to.iter().sum::<i32>() - from.iter().sum::<i32>();
    let knots = usize::try_from(knots).expect("there are more");
    let mut waiting: Vec<Vec<Waypoint>> = vec![Vec::new(); knots + 1];
    let mut kept: Vec<Waypoint> = Vec::new();
    let mut edge = HeapEdge::new(heap, from);
    waiting[0].push(Waypoint {
        counts: from.to_vec(),
        cost: 0,
        from: 0,
        run: Vec::new(),
    });
    for rank in 0..=knots {
        let mut here = std::mem::take(&mut waiting[rank]);
        here.sort_unstable();
        here.dedup_by(|next, first| next.counts == first.counts);
        here.sort_by_key(|waypoint| waypoint.cost);
        here.truncate(width);
        for waypoint in here {
            let from = kept.len();
            edge.go_to(&waypoint.counts);
            for column in 0..to.len() {
                for (counts, run) in runs(&mut edge, column, to) {
                    waiting[rank + run.len()].push(Waypoint {
                        counts,
                        cost: waypoint.cost + cost(&run),
                        from,
                        run,
                    });
                }
            }
            kept.push(waypoint);
        }
    }
    let mut runs = Vec::new();
    // The lowest knot that is left waits for none, so some state goes on to the end.
    let mut last = kept.pop().expect("the beginning at least");
    while !last.run.is_empty() {
        runs.push(last.run);
        last = kept.swap_remove(last.from);
    }
    runs.reverse();
    runs
}

/// No order of a repeat has fewer changes of the working thread.
///
/// The knots in which one thread works come one after another in every order. Between two of
/// them that follow each other the thread must change if the thread is core in between, or if
/// some other knot waits for the first while the second waits for it: each such pair is a change
/// of its own, right after its first knot's run.
pub(super) fn kept_apart(knots: &[Knot]) -> usize {
    let apart = |first: &usize| {
        let knot = knots[*first];
        let column = knot.column().number();
        let mut position = match knot.kind() {
            Kind::Forward | Kind::BackwardForward => column + 1,
            Kind::Backward | Kind::ForwardBackward => column,
        };
        // The thread at a position is the right one of the column before, the left one of its own.
        let next = (first + 1..=first + knots.len()).find(|at| {
            let column = knots[at % knots.len()].column().number();
            column == position || column + 1 == position
        });
        let Some(next) = next else {
            return false;
        };
        let after = knots[next % knots.len()];
        position -= after.column().number();
        let works = match after.kind().working_side() {
            Side::Left => position == 0,
            Side::Right => position == 1,
        };
        !works || lies_between(knots, *first, next)
    };
    (0..knots.len()).filter(apart).count()
}

/// Whether some knot waits for the first and is waited for by the last of these.
fn lies_between(knots: &[Knot], first: usize, last: usize) -> bool {
    let column = |at: usize| knots[at % knots.len()].column().number();
    let mut waited_for = vec![column(last)];
    for at in (first + 1..last).rev() {
        let here = column(at);
        if waited_for.iter().any(|column| column.abs_diff(here) <= 1) {
            if here.abs_diff(column(first)) <= 1 {
                return true;
            }
            waited_for.push(here);
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::row::Row;

    fn apart(rows: &[Row]) -> usize {
        let knots: Vec<Knot> = rows.iter().flat_map(Row::knots).copied().collect();
        kept_apart(&knots)
    }

    fn run(kind: Kind, columns: &[u16]) -> Row {
        Row::run(kind, columns.iter().copied()).expect("columns")
    }

    #[test]
    fn threads_that_are_core_in_between_are_kept_apart() {
        // The first thread goes across and is core in the next rows: a change a row.
        assert_eq!(apart(&[run(Kind::Forward, &[1, 2, 3])]), 1);
        // It goes on from row to row.
        assert_eq!(
            apart(&[run(Kind::Forward, &[1]), run(Kind::Backward, &[1])]),
            0
        );
        assert_eq!(
            apart(&[
                run(Kind::ForwardBackward, &[1]),
                run(Kind::BackwardForward, &[1])
            ]),
            2
        );
    }

    #[test]
    fn knots_that_wait_in_between_keep_a_thread_apart() {
        let thread_stays = |column: u16| run(Kind::ForwardBackward, &[column]);
        // Nothing is tied beside the first column.
        assert_eq!(apart(&[thread_stays(1), thread_stays(3)]), 0);
        // Each waits for the knot beside it.
        assert_eq!(apart(&[thread_stays(1), thread_stays(2)]), 2);
    }
}
