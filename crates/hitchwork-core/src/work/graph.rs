//! All ways of going on with whole runs, from the beginning of a repeat.

use std::ops::Range;

use super::edge::HeapEdge;
use super::periodic::PeriodicHeap;
use crate::knot::{Kind, Knot};

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
    /// How many knots of a repeat each column has.
    per_repeat: Vec<i32>,
    counts: Vec<i32>,
    /// For each state how many of the knots of a repeat are tied, columns that are ahead and
    /// columns that are behind taken together.
    ranks: Vec<u32>,
    ways: Vec<RunWay>,
    /// Where the ways of each state begin; one entry more says where they end.
    first_ways: Vec<usize>,
    digests: Vec<u64>,
    /// The digest of a whole repeat.
    repeat_digest: u64,
    slots: Vec<u32>,
    ends: RunEnds,
}

/// What a knot of a column adds to the digest of a state: a sum of products with odd numbers that have
/// nothing to do with each other (Carter & Wegman 1979), drawn as SplitMix64 draws them (Steele, Lea &
/// Flood 2014). So a knot more, or a repeat less, is one addition.
fn digest_of_knot(column: usize) -> u64 {
    let mut mixed = (column as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (mixed ^ (mixed >> 31)) | 1
}

/// Where a run ends.
#[derive(Clone, Copy, Debug)]
struct RunEnd {
    digest: u64,
    cost: i64,
    knots: u32,
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
    /// Runs that begin outside the `counted` columns cost nothing. Runs that end before a change of
    /// kind are among them. Every order that comes again with each repeat can be tied after what comes
    /// before it, and with its runs made whole it goes through these states alone, with no more
    /// changes.
    pub(super) fn new(
        heap: &PeriodicHeap,
        most: usize,
        ends: RunEnds,
        counted: &Range<usize>,
    ) -> Option<Self> {
        let nothing = heap.nothing();
        let columns = nothing.len();
        let per_repeat = heap.later(&nothing, 1);
        let digests = per_repeat.iter().zip(0..);
        let digests = digests.map(|(knots, column)| {
            digest_of_knot(column).wrapping_mul(u64::from(knots.unsigned_abs()))
        });
        let mut graph = Self {
            repeat_digest: digests.fold(0, u64::wrapping_add),
            per_repeat,
            counts: Vec::new(),
            ranks: Vec::new(),
            ways: Vec::new(),
            first_ways: Vec::new(),
            digests: Vec::new(),
            slots: vec![FREE; 1024],
            ends,
        };
        let knots = u32::try_from(heap.knots()).expect("MAX_KNOTS fits");
        let mut edge = HeapEdge::new(heap, &nothing);
        graph.state(&nothing, 0, 0);
        let (mut next, mut ended) = (0, (Vec::new(), Vec::new()));
        while next < graph.ranks.len() {
            if graph.ranks.len() > most || graph.ways.len() > 8 * most {
                return None;
            }
            graph.first_ways.push(graph.ways.len());
            edge.go_to(graph.counts(next));
            for column in 0..columns {
                let is_counted = counted.contains(&column);
                graph.find_ends((&mut edge, next, column), is_counted, &mut ended);
                let (ends, counts) = &mut ended;
                for (end, counts) in ends.iter().zip(counts.chunks_exact_mut(columns)) {
                    graph.add_way(next, column, *end, counts, knots);
                }
            }
            next += 1;
        }
        graph.first_ways.push(graph.ways.len());
        Some(graph)
    }

    /// Where the runs from a state that begin in a column end, and how many knots of each column are
    /// tied there, one end after another.
    fn find_ends(
        &self,
        (edge, from, column): (&mut HeapEdge, usize, usize),
        is_counted: bool,
        (ends, tied): &mut (Vec<RunEnd>, Vec<i32>),
    ) {
        ends.clear();
        tied.clear();
        let mut digest = self.digests[from];
        let (mut kind_changes, mut last): (i64, Option<Kind>) = (0, None);
        edge.run(column, |counts, run| {
            let knot = run.last().expect("at least the first");
            digest = digest.wrapping_add(digest_of_knot(knot.column().index()));
            let goes_on = last.is_some_and(|before| before == knot.kind());
            kind_changes += i64::from(last.is_some() && !goes_on);
            last = Some(knot.kind());
            // Whoever goes on with another kind could have ended before.
            if goes_on && self.ends == RunEnds::Whole {
                ends.pop();
                tied.truncate(tied.len() - counts.len());
            }
            ends.push(RunEnd {
                digest,
                cost: i64::from(is_counted) * (THREAD_CHANGE + kind_changes),
                knots: u32::try_from(run.len()).expect("MAX_KNOTS fits"),
            });
            tied.extend_from_slice(counts);
            false
        });
    }

    fn add_way(
        &mut self,
        from: usize,
        column: usize,
        end: RunEnd,
        counts: &mut [i32],
        per_repeat: u32,
    ) {
        let (mut rank, mut digest) = (self.ranks[from] + end.knots, end.digest);
        // No run ties a knot twice, so it never gets further than into the next repeat.
        let crosses = rank >= per_repeat;
        if crosses {
            rank -= per_repeat;
            digest = digest.wrapping_sub(self.repeat_digest);
            for (count, knots) in counts.iter_mut().zip(&self.per_repeat) {
                *count -= knots;
            }
        }
        let to = self.state(counts, digest, rank);
        self.ways.push(RunWay {
            to,
            crosses,
            cost: end.cost,
            column: u32::try_from(column).expect("MAX_THREADS fits"),
            knots: end.knots,
        });
    }

    /// The number of a state.
    fn state(&mut self, counts: &[i32], digest: u64, rank: u32) -> u32 {
        let slot = self.slot(digest, |known| self.counts(known) == counts);
        if self.slots[slot] != FREE {
            return self.slots[slot];
        }
        let number = u32::try_from(self.ranks.len()).expect("fewer than the most states");
        self.slots[slot] = number;
        self.counts.extend_from_slice(counts);
        self.ranks.push(rank);
        self.digests.push(digest);
        if 2 * self.ranks.len() > self.slots.len() {
            self.slots = vec![FREE; 2 * self.slots.len()];
            for known in 0..=number {
                let slot = self.slot(self.digests[known as usize], |_| false);
                self.slots[slot] = known;
            }
        }
        number
    }

    /// Where a state stands in the table, or would: the first free slot from where its digest
    /// points.
    fn slot(&self, digest: u64, is_it: impl Fn(usize) -> bool) -> usize {
        let mask = self.slots.len() - 1;
        let high = usize::try_from(digest >> 32).expect("half of the digest");
        let mut slot = high & mask;
        loop {
            let known = self.slots[slot];
            if known == FREE || self.digests[known as usize] == digest && is_it(known as usize) {
                return slot;
            }
            slot = (slot + 1) & mask;
        }
    }

    pub(super) fn len(&self) -> usize {
        self.ranks.len()
    }

    pub(super) fn counts(&self, state: usize) -> &[i32] {
        let columns = self.per_repeat.len();
        &self.counts[state * columns..(state + 1) * columns]
    }

    pub(super) fn rank(&self, state: usize) -> u32 {
        self.ranks[state]
    }

    pub(super) fn ways(&self, state: usize) -> &[RunWay] {
        &self.ways[self.first_ways[state]..self.first_ways[state + 1]]
    }
}
