//! Pieces of thread that are cut from others, and lengths of thread as people say them.

use std::collections::BTreeMap;

use crate::colour::Owned;

/// A length in hundredths of a millimetre, in which lengths are added without a rest.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "lengths from 0 on, far below 2^53 hundredths"
)]
pub(super) fn hundredths(mm: f64) -> u64 {
    (mm * 100.0).round() as u64
}

#[allow(clippy::cast_precision_loss, reason = "far below 2^53 hundredths")]
pub(super) fn millimetres(hundredths: u64) -> f64 {
    hundredths as f64 / 100.0
}

/// What is left of an owned thread, in hundredths of a millimetre; without end where nobody
/// has said how much that is.
pub(super) fn rest(owned: &Owned) -> u64 {
    owned
        .left_m
        .map_or(u64::MAX, |metres| hundredths(metres * 1000.0))
}

/// Pieces to be cut: how many of each length, in hundredths of a millimetre.
#[derive(Clone, Debug, Default)]
pub(super) struct Pieces(BTreeMap<u64, usize>);

impl Pieces {
    pub(super) fn add(&mut self, mm: f64, count: usize) {
        *self.0.entry(hundredths(mm)).or_default() += count;
    }

    pub(super) fn count(&self) -> usize {
        self.0.values().sum()
    }

    pub(super) fn longest(&self) -> Option<u64> {
        self.0.keys().next_back().copied()
    }

    /// The length of all of them together.
    pub(super) fn together(&self) -> u64 {
        let all = self.0.iter();
        all.map(|(length, count)| length * *count as u64).sum()
    }

    /// Cuts the longest first, each from the first rest that still has enough, and keeps
    /// those for which there is none.
    pub(super) fn cut_from(&mut self, rests: &mut [u64]) {
        for (&length, count) in self.0.iter_mut().rev() {
            for rest in &mut *rests {
                let fit = *rest / length.max(1);
                let cut = usize::try_from(fit).map_or(*count, |fit| fit.min(*count));
                *rest -= length * cut as u64;
                *count -= cut;
            }
        }
        self.0.retain(|_, count| *count > 0);
    }

    /// Cuts all from these rests if there is a way, and else from the shortest rests first; keeps
    /// those for which there is none. In which order the rests are given makes no difference.
    pub(super) fn cut_from_stash(&mut self, mut rests: Vec<u64>) {
        rests.sort_unstable();
        let there = rests
            .iter()
            .fold(0_u64, |sum, rest| sum.saturating_add(*rest));
        let depth = rests.len() * self.0.len();
        let may_be = self.together() <= there && depth <= DEEPEST_CUTTING;
        if may_be && Cutting::of(&rests, self).succeeds() {
            self.0.clear();
            return;
        }
        self.cut_from(&mut rests);
    }

    /// First fit decreasing: how many skeins of a length they take, of which none is longer than
    /// that.
    pub(super) fn skeins(mut self, skein: u64) -> usize {
        let mut opened: Vec<u64> = Vec::new();
        while let Some((length, count)) = self.0.pop_last() {
            let mut of_it = Self(BTreeMap::from([(length, count)]));
            of_it.cut_from(&mut opened);
            let left = of_it.count();
            let each = usize::try_from(skein / length.max(1)).unwrap_or(usize::MAX);
            for begun in 0..left.div_ceil(each.max(1)) {
                let taken = each.min(left - begun * each);
                opened.push(skein - length * taken as u64);
            }
        }
        opened.len()
    }
}

/// The most ways of cutting that are tried (our own judgement: a moment; of the pieces of a
/// band, which have few lengths, all ways are tried long before).
const MOST_WAYS: u32 = 100_000;

/// Threads of one colour times lengths of pieces for which ways are tried at all (our own
/// judgement: nobody owns so many rests of one colour).
const DEEPEST_CUTTING: usize = 500;

/// A search for a way to cut all pieces: each thread in turn gives pieces of each length, in every
/// way in which none of what is missing would still come out of it.
struct Cutting<'a> {
    rests: &'a [u64],
    lengths: Vec<u64>,
    left: Vec<usize>,
    ways_left: u32,
}

impl<'a> Cutting<'a> {
    fn of(rests: &'a [u64], pieces: &Pieces) -> Self {
        let (lengths, left) = pieces.0.iter().rev().unzip();
        Self {
            rests,
            lengths,
            left,
            ways_left: MOST_WAYS,
        }
    }

    fn succeeds(&mut self) -> bool {
        self.cut(0, 0, self.rests.first().copied().unwrap_or(0))
    }

    /// Cuts from the thread of that number, of which so much is left, pieces from that length
    /// on.
    fn cut(&mut self, thread: usize, length: usize, rest: u64) -> bool {
        if self.left.iter().all(|left| *left == 0) {
            return true;
        }
        if thread == self.rests.len() || self.ways_left == 0 {
            return false;
        }
        self.ways_left -= 1;
        if length == self.lengths.len() {
            let mut missing = self.lengths.iter().zip(&self.left);
            if missing.any(|(piece, left)| *left > 0 && *piece <= rest) {
                return false;
            }
            let next = self.rests.get(thread + 1).copied().unwrap_or(0);
            return self.cut(thread + 1, 0, next);
        }
        let (piece, all) = (self.lengths[length], self.left[length]);
        let fit = rest / piece.max(1);
        let most = usize::try_from(fit).map_or(all, |fit| fit.min(all));
        for count in (0..=most).rev() {
            self.left[length] = all - count;
            if self.cut(thread, length + 1, rest - piece * count as u64) {
                return true;
            }
        }
        self.left[length] = all;
        false
    }
}

/// What is there, never more than it is.
pub(crate) fn metres(mm: f64) -> String {
    format!("{:.1} m", (mm / 100.0 + SLACK).floor() / 10.0)
}

/// What is needed, in metres to the tenth and never less than it is: who buys by the words has
/// enough.
///
/// ```
/// use hitchwork_core::craft::metres_at_least;
/// assert_eq!(metres_at_least(12_950.0), "13.0 m");
/// assert_eq!(metres_at_least(12_900.0), "12.9 m");
/// ```
#[must_use]
pub fn metres_at_least(mm: f64) -> String {
    format!("{:.1} m", (mm / 100.0 - SLACK).ceil() / 10.0)
}

/// So much of a tenth of a metre is nothing but the rounding of sums: our own judgement, far
/// above what sums of floats are out by and far below a thread's thickness.
const SLACK: f64 = 1e-6;
