//! Which of the knots that would do is tied: the one that is easiest for the hand.

use super::PlannedKnot;
use crate::knot::{Kind, Side};

/// A start order with the knots that follow, and which of them show a wrong colour.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct KnotPath {
    pub(super) start: Vec<u8>,
    pub(super) end: Vec<u8>,
    pub(super) kinds: Vec<Kind>,
    /// Which knots show a wrong colour, and which colour.
    pub(super) missed: Vec<(usize, u8)>,
}

/// Ties a path knot by knot, and remembers which threads worked.
pub(super) struct EasyHand {
    path: KnotPath,
    /// Which thread hangs at each position.
    threads: Vec<usize>,
    /// For each thread, whether it worked in the last knot that it took part in.
    worked: Vec<bool>,
}

impl EasyHand {
    pub(super) fn new(start: Vec<u8>) -> Self {
        Self {
            threads: (0..start.len()).collect(),
            worked: vec![false; start.len()],
            path: KnotPath {
                end: start.clone(),
                start,
                kinds: Vec::new(),
                missed: Vec::new(),
            },
        }
    }

    /// The colours as they hang now.
    pub(super) fn colours(&self) -> &[u8] {
        &self.path.end
    }

    /// Ties the next knot: of the kinds that cost least in the end the easiest, given what
    /// follows if the two threads stay and if they change places, or nothing where either is
    /// out of the question.
    pub(super) fn tie(
        &mut self,
        (column, wanted): PlannedKnot,
        staying: Option<usize>,
        changing: Option<usize>,
    ) {
        let cost = |kind: Kind| {
            let follows = if kind.changes_places() {
                changing
            } else {
                staying
            };
            let miss = wanted.is_some_and(|wanted| wanted != self.shown(column, kind));
            follows.map(|follows| follows + usize::from(miss))
        };
        let costs = Kind::ALL.map(|kind| cost(kind).unwrap_or(usize::MAX));
        let least = costs.iter().min().copied().unwrap_or_default();
        let last = self.path.kinds.last().copied();
        let hard = |kind: Kind| {
            let at = column + usize::from(kind.working_side() == Side::Right);
            (!self.worked[self.threads[at]], last != Some(kind), kind)
        };
        let would_do = Kind::ALL
            .into_iter()
            .zip(costs)
            .filter(|(_, cost)| *cost == least);
        let easiest = would_do
            .map(|(kind, _)| kind)
            .min_by_key(|kind| hard(*kind));
        let kind = easiest.unwrap_or(Kind::Forward);
        let shown = self.shown(column, kind);
        if wanted.is_some_and(|wanted| wanted != shown) {
            self.path.missed.push((self.path.kinds.len(), shown));
        }
        self.path.kinds.push(kind);
        let right_works = kind.working_side() == Side::Right;
        self.worked[self.threads[column]] = !right_works;
        self.worked[self.threads[column + 1]] = right_works;
        if kind.changes_places() {
            self.threads.swap(column, column + 1);
            self.path.end.swap(column, column + 1);
        }
    }

    fn shown(&self, column: usize, kind: Kind) -> u8 {
        self.path.end[column + usize::from(kind.working_side() == Side::Right)]
    }

    pub(super) fn path(self) -> KnotPath {
        self.path
    }
}
