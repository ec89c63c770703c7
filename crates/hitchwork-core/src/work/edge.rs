//! The growing edge: how many knots of each column are tied, and which comes next there.

use super::periodic::{HeapKnot, PeriodicHeap};
use crate::knot::{Kind, Knot, Side};

/// The edge of a heap of which some knots are tied. What comes next in each column is kept at hand: a
/// search asks for it millions of times, and each knot changes one column.
pub(super) struct HeapEdge<'a> {
    heap: &'a PeriodicHeap,
    counts: Vec<i32>,
    next: Vec<NextKnot>,
    /// How high the lowest knot lies that is not tied.
    lowest: i64,
    /// What was tied when a run began.
    begun: Vec<i32>,
    /// What a run has tied: each column with what came next there before, for going back.
    tied: Vec<(usize, NextKnot)>,
    run: Vec<Knot>,
}

/// What comes next in a column.
#[derive(Clone, Copy, Debug)]
struct NextKnot {
    /// Which knot of the repeat it is in its column.
    index: usize,
    /// How many repeats after the first.
    repeat: i32,
    /// How high it lies; above everything where the column has no knots.
    level: i64,
    /// How many knots of the columns beside it must be tied before.
    waits_for: [i32; 2],
}

impl NextKnot {
    /// What comes next in a column without knots.
    const NONE: Self = Self {
        index: 0,
        repeat: 0,
        level: i64::MAX,
        waits_for: [0; 2],
    };
}

impl<'a> HeapEdge<'a> {
    pub(super) fn new(heap: &'a PeriodicHeap, counts: &[i32]) -> Self {
        let mut edge = Self {
            heap,
            counts: counts.to_vec(),
            next: vec![NextKnot::NONE; counts.len()],
            lowest: i64::MAX,
            begun: Vec::new(),
            tied: Vec::new(),
            run: Vec::new(),
        };
        edge.go_to(counts);
        edge
    }

    /// So many knots of each column are tied now.
    pub(super) fn go_to(&mut self, counts: &[i32]) {
        self.counts.copy_from_slice(counts);
        for (at, count) in counts.iter().enumerate() {
            if let Some((index, repeat)) = self.heap.indexed(at, *count) {
                self.next[at] = self.next_knot(at, index, repeat);
            }
        }
        self.lowest = self.lowest_left();
    }

    fn next_knot(&self, at: usize, index: usize, repeat: i32) -> NextKnot {
        NextKnot {
            index,
            repeat,
            level: self.heap.level_of(at, index, repeat),
            waits_for: self.heap.waits_for(at, index, repeat),
        }
    }

    fn lowest_left(&self) -> i64 {
        let levels = self.next.iter().map(|next| next.level);
        levels.min().unwrap_or(i64::MAX)
    }

    fn knot(&self, at: usize) -> &HeapKnot {
        self.heap.knot(at, self.next[at].index)
    }

    /// The knot that comes next in a column, if it waits for none, and nobody would be too far
    /// ahead who tied it.
    fn ready(&self, at: usize) -> Option<Knot> {
        let next = self.next.get(at).filter(|next| next.level != i64::MAX)?;
        let is_tied = |beside: Option<usize>, waits: i32| {
            beside
                .and_then(|beside| self.counts.get(beside))
                .is_none_or(|count| *count >= waits)
        };
        let [left, right] = next.waits_for;
        let waits_for_none = is_tied(at.checked_sub(1), left) && is_tied(Some(at + 1), right);
        let is_near = next.level - self.lowest <= self.heap.ahead();
        (waits_for_none && is_near).then(|| self.knot(at).knot)
    }

    fn tie(&mut self, at: usize) {
        let before = self.next[at];
        self.tied.push((at, before));
        self.counts[at] += 1;
        let (index, repeat) = match before.index + 1 {
            index if index == self.heap.column(at) => (0, before.repeat + 1),
            index => (index, before.repeat),
        };
        self.next[at] = self.next_knot(at, index, repeat);
        if before.level == self.lowest {
            self.lowest = self.lowest_left();
        }
    }

    /// Ties the next knot of a column and all that its working thread can tie after it without
    /// another, and calls for each how many are tied then, with the knots of this run so far. No
    /// knot comes twice, in two repeats. What the call says to end, ends. Afterwards the edge is where
    /// it was.
    ///
    /// A thread hangs between two columns, and these wait for each other: so there is never a
    /// choice of what it ties next.
    pub(super) fn run(&mut self, at: usize, mut each: impl FnMut(&[i32], &[Knot]) -> bool) {
        let Some(first) = self.ready(at) else {
            return;
        };
        let lowest = self.lowest;
        self.begun.clone_from(&self.counts);
        let (mut at, mut knot) = (at, first);
        loop {
            self.tie(at);
            self.run.push(knot);
            if each(&self.counts, &self.run) {
                break;
            }
            let position = match knot.kind() {
                Kind::Forward | Kind::BackwardForward => at + 1,
                Kind::Backward | Kind::ForwardBackward => at,
            };
            let next = (position.checked_sub(1))
                .and_then(|column| self.works(column, Side::Right))
                .or_else(|| self.works(position, Side::Left));
            match next {
                Some(next) => (at, knot) = next,
                None => break,
            }
        }
        while let Some((at, before)) = self.tied.pop() {
            self.counts[at] -= 1;
            self.next[at] = before;
        }
        self.lowest = lowest;
        self.run.clear();
    }

    /// The next knot of a column, if it can be tied with the thread on that side and this run has
    /// not tied it in an earlier repeat.
    fn works(&self, column: usize, side: Side) -> Option<(usize, Knot)> {
        let next = self.ready(column)?;
        let works = next.kind().working_side() == side;
        let tied = self.counts[column] - self.begun[column];
        let again = usize::try_from(tied) == Ok(self.heap.column(column));
        (works && !again).then_some((column, next))
    }
}
