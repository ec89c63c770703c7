//! The circle of runs that takes the fewest changes.
//!
//! **The bound.** Let `v` say something of each state, and `(T v)(x)` be the least that leads from
//! `x` through one repeat, with `v` of the state there added. On a circle of cost `c` through one
//! repeat, `(T v)(x) <= c + v(x)` for the first state `x` that it has in a repeat, so
//! `c >= min (T v - v)`; and tied `i` times it is a circle through `i` repeats, so
//! `c >= min (T^i v - v) / i`. Only states that are first in a repeat are asked.
//!
//! **The search.** From such a state `s`, whatever leads from `x` back to `s` one repeat later
//! costs at least `(T v)(x) - v(s)`. So a start with `(T v)(s) - v(s)` no less than what has been found
//! is never tried, and of the others only the states that can still be better are.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::graph::{RunGraph, RunWay, THREAD_CHANGE};

/// How often the bounds are taken one repeat further (our own judgement: then they rise no more).
const REPEATS_LOOKED_BACK: usize = 12;

const UNREACHED: i64 = i64::MAX / 4;

/// What has been found.
pub(super) struct FoundCircle {
    /// The best circle: its first state, and its runs as how the graph has them. Nothing where none is
    /// better than what was asked.
    pub(super) best: Option<(u32, Vec<RunWay>)>,
    /// The cost of the best, or what was asked.
    pub(super) cost: i64,
    /// No circle costs less than this.
    pub(super) bound: i64,
    /// Whether all starts were tried that could have been better.
    pub(super) all_tried: bool,
}

/// Bounds and starts of the search in one graph.
struct CircleSearch<'a> {
    graph: &'a RunGraph,
    /// The least that leads from a state to the end of its repeat, and what is said of the state
    /// there.
    onward: Vec<i64>,
    /// What is said of a state that is first in its repeat.
    said: Vec<i64>,
    costs: Vec<i64>,
    touched: Vec<u32>,
    /// How many runs may still be looked at.
    left: u64,
}

/// The best circle through one repeat that costs less than `asked`, with at most so many runs
/// looked at; of equal ones the first that begins where the fewest knots are tied before
/// (`begins_with` says how many).
pub(super) fn best_circle(
    graph: &RunGraph,
    asked: i64,
    work: u64,
    begins_with: impl Fn(&[i32]) -> Option<i64>,
) -> FoundCircle {
    let CircleBounds {
        least: bound,
        onward,
        said,
    } = bounds(graph);
    let states = graph.len();
    let mut search = CircleSearch {
        graph,
        onward,
        said,
        costs: vec![UNREACHED; states],
        touched: Vec::new(),
        left: work,
    };
    let all = first_in_repeat(graph).count();
    let allowed = first_in_repeat(graph).filter_map(|state| {
        let begins_with = begins_with(graph.counts(state as usize))?;
        Some((search.least_through(state), begins_with, state))
    });
    let mut starts: Vec<(i64, i64, u32)> = allowed.collect();
    starts.sort_unstable();
    // Where the repeat begins as written, nothing is to be tied before: it comes first.
    let from_beginning = (search.least_through(0), 0, 0);
    let (mut best, mut cost, mut all_tried) = (None, asked, starts.len() == all);
    for (least, _, start) in std::iter::once(from_beginning).chain(starts) {
        if least.max(bound) >= cost {
            continue;
        }
        let Some(found) = search.from(start, cost) else {
            all_tried = false;
            break;
        };
        if found < cost {
            cost = found;
            best = Some(start);
        }
    }
    let best = best.map(|start| (start, search.most_alike(start, cost)));
    FoundCircle {
        best,
        cost,
        bound,
        all_tried,
    }
}

const NO_RUN: RunWay = RunWay {
    to: 0,
    crosses: false,
    cost: 0,
    column: 0,
    knots: 0,
};

/// The states in which a repeat can be begun.
fn first_in_repeat(graph: &RunGraph) -> impl Iterator<Item = u32> {
    let mut first = vec![false; graph.len()];
    for state in 0..graph.len() {
        for way in graph.ways(state).iter().filter(|way| way.crosses) {
            first[way.to as usize] = true;
        }
    }
    (0..)
        .zip(first)
        .filter(|(_, first)| *first)
        .map(|(state, _)| state)
}

/// What value iteration says of all circles.
pub(super) struct CircleBounds {
    /// No circle costs less.
    pub(super) least: i64,
    /// The least that leads from a state to the end of its repeat, and what is said of the state
    /// there.
    onward: Vec<i64>,
    /// What is said of a state that is first in its repeat.
    said: Vec<i64>,
}

/// The bounds on all circles of a graph.
pub(super) fn bounds(graph: &RunGraph) -> CircleBounds {
    let mut by_rank: Vec<u32> = (0..).take(graph.len()).collect();
    by_rank.sort_by_key(|state| Reverse(graph.rank(*state as usize)));
    let first: Vec<u32> = first_in_repeat(graph).collect();
    let mut steps: Vec<Vec<i64>> = vec![vec![0; graph.len()]];
    let mut bound = 0;
    for step in 1..=REPEATS_LOOKED_BACK {
        let said = &steps[step - 1];
        let mut onward = vec![UNREACHED; graph.len()];
        for &state in &by_rank {
            let costs = graph.ways(state as usize).iter().map(|way| {
                let after = if way.crosses { said } else { &onward };
                way.cost + after[way.to as usize]
            });
            onward[state as usize] = costs.min().unwrap_or(UNREACHED);
        }
        for (back, before) in steps.iter().enumerate() {
            let repeats = i64::try_from(step - back).expect("a few");
            let gained = first.iter().map(|state| {
                let state = *state as usize;
                onward[state] - before[state]
            });
            let least = gained.min().unwrap_or(0);
            bound = bound.max(-(-least).div_euclid(repeats));
        }
        steps.push(onward);
    }
    CircleBounds {
        least: bound,
        onward: steps.pop().unwrap_or_default(),
        said: steps.pop().unwrap_or_default(),
    }
}

impl CircleSearch<'_> {
    /// No circle through this state, first in its repeat, costs less.
    fn least_through(&self, start: u32) -> i64 {
        self.onward[start as usize] - self.said[start as usize]
    }

    /// The least cost of a circle from a start, if it is less than `below`, which is given else;
    /// nothing where there was too much to look at.
    fn from(&mut self, start: u32, below: i64) -> Option<i64> {
        for state in self.touched.drain(..) {
            self.costs[state as usize] = UNREACHED;
        }
        let mut waiting = BinaryHeap::from([Reverse((self.graph.rank(start as usize), start))]);
        self.costs[start as usize] = 0;
        self.touched.push(start);
        let mut best = below;
        while let Some(Reverse((_, state))) = waiting.pop() {
            let cost = self.costs[state as usize];
            let ways = self.graph.ways(state as usize);
            self.left = self.left.checked_sub(ways.len() as u64)?;
            for way in ways {
                let (to, cost) = (way.to as usize, cost + way.cost);
                if way.crosses {
                    if way.to == start && cost < best {
                        best = cost;
                    }
                    continue;
                }
                let least = cost + self.onward[to] - self.said[start as usize];
                if least >= best || cost >= self.costs[to] {
                    continue;
                }
                if self.costs[to] == UNREACHED {
                    self.touched.push(way.to);
                    waiting.push(Reverse((self.graph.rank(to), way.to)));
                }
                self.costs[to] = cost;
            }
        }
        Some(best)
    }

    /// Of all circles from a start that have this cost, one whose runs are like those before them:
    /// each as long and with as many changes of kind, then begun near the one before, then far
    /// to the left.
    fn most_alike(&mut self, start: u32, cost: i64) -> Vec<RunWay> {
        self.left = u64::MAX;
        self.from(start, cost + 1);
        let mut reached = self.touched.clone();
        reached.sort_by_key(|state| Reverse(self.graph.rank(*state as usize)));
        let mut back = vec![UNREACHED; self.graph.len()];
        let after = |way: &RunWay, back: &[i64]| match way.crosses {
            true if way.to == start => 0,
            true => UNREACHED,
            false => back[way.to as usize],
        };
        for &state in &reached {
            let ways = self.graph.ways(state as usize).iter();
            let costs = ways.map(|way| way.cost + after(way, &back));
            back[state as usize] = costs.min().unwrap_or(UNREACHED);
        }
        let mut circle: Vec<RunWay> = Vec::new();
        let (mut state, mut left) = (start, cost);
        loop {
            let before = circle.last().copied().unwrap_or(NO_RUN);
            let ways = self.graph.ways(state as usize).iter();
            let good = ways.filter(|way| way.cost + after(way, &back) == left);
            let unlike = |way: &&RunWay| {
                let is_other = (way.knots, way.cost) != (before.knots, before.cost);
                (is_other, way.column.abs_diff(before.column), way.column)
            };
            let way = *good.min_by_key(unlike).expect("the circle that was found");
            circle.push(way);
            left -= way.cost;
            state = way.to;
            if way.crosses {
                return circle;
            }
        }
    }
}

/// How many changes of thread a cost holds at least, whatever else is in it: an order of so many
/// knots has no more changes of kind than knots.
pub(super) fn thread_changes_at_least(cost: i64, knots: usize) -> usize {
    let knots = i64::try_from(knots).expect("MAX_KNOTS fits");
    let changes = -(knots - cost).div_euclid(THREAD_CHANGE);
    usize::try_from(changes.max(0)).expect("not below nothing")
}
