//! All ways of going on with whole runs, from the beginning of a repeat.

use std::ops::Range;

use super::periodic::PeriodicHeap;
use crate::knot::Knot;

/// A change of the working thread, against one of the kind: there are never so many of these.
pub(super) const THREAD_CHANGE: i64 = 1 << 32;

/// What a run costs: a change of thread before it, and its changes of kind.
pub(super) fn cost(run: &[Knot]) -> i64 {
    let pairs = run.iter().zip(&run[1..]);
    let kinds = pairs.filter(|(a, b)| a.kind() != b.kind()).count();
    THREAD_CHANGE + i64::try_from(kinds).expect("MAX_KNOTS fits")
}

/// A run from one state to another.
#[derive(Clone, Copy, Debug)]
pub(super) struct RunWay {
    /// The state that it leads to.
    pub(super) to: u32,
    /// Whether it ends in the next repeat: there the states are the same, so many knots later.
    pub(super) crosses: bool,
    pub(super) cost: i64,
    /// The column of its first knot, from 0.
    pub(super) column: u32,
    pub(super) knots: u32,
}

/// States, each of which says how many knots of every column are tied, and the runs between them. A
/// state stands for all that have whole repeats more.
#[derive(Debug)]
pub(super) struct RunGraph {
    columns: usize,
    counts: Vec<i32>,
    /// For each state how many of the knots of a repeat are tied, columns that are ahead and
    /// columns that are behind taken together.
    ranks: Vec<u32>,
    ways: Vec<RunWay>,
    /// Where the ways of each state begin; one entry more says where they end.
    first_ways: Vec<usize>,
    slots: Vec<u32>,
    ends: RunEnds,
}

/// Where runs may end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum RunEnds {
    /// Where the thread can tie no more, or before a change of kind. What is found has no fewer
    /// changes than with runs that end anywhere, but for a circle that cannot be reached so; bounds by
    /// what comes of many repeats hold for all.
    Whole,
    /// After every knot: every state is there.
    Anywhere,
}

const FREE: u32 = u32::MAX;

impl RunGraph {
    /// All states that whole runs lead to from the beginning of a repeat; nothing where there are
    /// more than `most`, or more runs than eight times as many.
    ///
    /// Runs that begin outside the `counted` columns cost nothing. Runs that end before a change of kind are among them. Every order that comes again with
    /// each repeat can be tied after what comes before it, and with its runs made whole it goes
    /// through these states alone, with no more changes.
    pub(super) fn new(
        heap: &PeriodicHeap,
        most: usize,
        ends: RunEnds,
        counted: &Range<usize>,
    ) -> Option<Self> {
        let nothing = heap.nothing();
        let mut graph = Self {
            columns: nothing.len(),
            counts: Vec::new(),
            ranks: Vec::new(),
            ways: Vec::new(),
            first_ways: Vec::new(),
            slots: vec![FREE; 1024],
            ends,
        };
        graph.state(heap, &nothing);
        let mut next = 0;
        let mut counts = nothing.clone();
        while next < graph.ranks.len() {
            if graph.ranks.len() > most || graph.ways.len() > 8 * most {
                return None;
            }
            graph.first_ways.push(graph.ways.len());
            for column in 0..graph.columns {
                let is_counted = counted.contains(&column);
                graph.add_ways(heap, (next, column), is_counted, &mut counts);
            }
            next += 1;
        }
        graph.first_ways.push(graph.ways.len());
        Some(graph)
    }

    /// The runs from a state that begin in a column.
    fn add_ways(
        &mut self,
        heap: &PeriodicHeap,
        (from, column): (usize, usize),
        is_counted: bool,
        counts: &mut [i32],
    ) {
        counts.copy_from_slice(self.counts(from));
        let mut ends: Vec<(Vec<i32>, i64, u32)> = Vec::new();
        let mut last: Option<Knot> = None;
        heap.run(counts, column, |counts, run| {
            let same = last.replace(*run.last().expect("at least the first"));
            let goes_on = same.is_some_and(|before| {
                run.last().expect("at least the first").kind() == before.kind()
            });
            // Whoever goes on with another kind could have ended before.
            if goes_on && self.ends == RunEnds::Whole {
                ends.pop();
            }
            let knots = u32::try_from(run.len()).expect("MAX_KNOTS fits");
            let cost = if is_counted { cost(run) } else { 0 };
            ends.push((counts.to_vec(), cost, knots));
            false
        });
        for (counts, cost, knots) in ends {
            let (to, crosses) = self.state(heap, &counts);
            self.ways.push(RunWay {
                to,
                crosses: crosses > 0,
                cost,
                column: u32::try_from(column).expect("MAX_THREADS fits"),
                knots,
            });
        }
    }

    /// The number of a state, and how many repeats were taken away for it.
    fn state(&mut self, heap: &PeriodicHeap, counts: &[i32]) -> (u32, i32) {
        let per_repeat = i32::try_from(heap.knots()).expect("MAX_KNOTS fits");
        let tied: i32 = counts.iter().sum();
        let repeats = tied.div_euclid(per_repeat);
        let counts = heap.later(counts, -repeats);
        let slot = self.slot(&counts);
        if self.slots[slot] != FREE {
            return (self.slots[slot], repeats);
        }
        let number = u32::try_from(self.ranks.len()).expect("fewer than the most states");
        self.slots[slot] = number;
        self.counts.extend(&counts);
        let rank = tied.rem_euclid(per_repeat);
        self.ranks.push(u32::try_from(rank).expect("a remainder"));
        if 2 * self.ranks.len() > self.slots.len() {
            self.slots = vec![FREE; 2 * self.slots.len()];
            for known in 0..number + 1 {
                let counts = self.counts(known as usize).to_vec();
                let slot = self.slot(&counts);
                self.slots[slot] = known;
            }
        }
        (number, repeats)
    }

    /// Where a state stands in the table, or would: the first free slot from where its digest
    /// points (Fowler, Noll & Vo 1991).
    fn slot(&self, counts: &[i32]) -> usize {
        let mut digest: u64 = 0xcbf2_9ce4_8422_2325;
        for count in counts {
            digest =
                (digest ^ u64::from(count.cast_unsigned())).wrapping_mul(0x0000_0100_0000_01b3);
        }
        let mask = self.slots.len() - 1;
        let high = usize::try_from(digest >> 32).expect("half of the digest");
        let mut slot = high & mask;
        while self.slots[slot] != FREE && self.counts(self.slots[slot] as usize) != counts {
            slot = (slot + 1) & mask;
        }
        slot
    }

    pub(super) fn len(&self) -> usize {
        self.ranks.len()
    }

    pub(super) fn counts(&self, state: usize) -> &[i32] {
        &self.counts[state * self.columns..(state + 1) * self.columns]
    }

    pub(super) fn rank(&self, state: usize) -> u32 {
        self.ranks[state]
    }

    pub(super) fn ways(&self, state: usize) -> &[RunWay] {
        &self.ways[self.first_ways[state]..self.first_ways[state + 1]]
    }
}
