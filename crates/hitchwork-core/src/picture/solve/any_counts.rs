//! The search where how many threads of each colour hang is looked for too.
//!
//! All counts are looked at where they are few enough, those first that are best with open ends.
//! How good that is takes a pass over all orders of each. Most are spared it by a bound: of two
//! colours that are taken for one, a knot may show either, so a picture never misses more knots
//! for having colours taken together. With only two left there are few orders, and that bound
//! is nearly always what the colours themselves say.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::PlannedKnot;
use super::counts::{in_proportion, neighbours, shares};
use super::meter::SearchHalt;
use super::orders::number_of_orders;
use super::painting::Painting;
use super::search::{FoundKnots, PaintingSearch};

/// The fewest misses with open ends when each colour is taken for one of two.
struct TwoGroups {
    /// For each colour whether it belongs to the first.
    is_first: Vec<bool>,
    /// The misses by how many threads the first has.
    misses: Vec<usize>,
}

impl TwoGroups {
    fn first(&self, counts: &[u16]) -> u16 {
        let counts = counts.iter().zip(&self.is_first);
        counts
            .filter_map(|(count, is_first)| is_first.then_some(*count))
            .sum()
    }

    fn bound(&self, counts: &[u16]) -> usize {
        let at = usize::from(self.first(counts));
        self.misses.get(at).copied().unwrap_or_default()
    }
}

/// Every way to part so many colours into two groups; none for two colours, which are two.
fn partings(colours: u8) -> impl Iterator<Item = Vec<bool>> {
    // The last colour belongs to the second group, or each parting would come twice.
    let sets = if colours > 2 {
        1_u32 << (colours - 1)
    } else {
        1
    };
    (1..sets).map(move |set| (0..colours).map(|colour| set >> colour & 1 == 1).collect())
}

impl PaintingSearch<'_, '_> {
    /// The knots for the counts that miss fewest.
    pub(super) fn with_any_counts(&mut self, enough: usize) -> Result<FoundKnots, SearchHalt> {
        let Painting {
            threads, colours, ..
        } = *self.painting;
        // All orders of all counts together are no more than this.
        let orders = u64::from(colours).checked_pow(u32::from(threads));
        let steps = orders.and_then(|orders| orders.checked_mul(self.knots.len() as u64));
        match steps.is_some_and(|steps| steps <= self.meter.left() / 4) {
            true => self.with_all_counts(enough),
            false => self.with_climbing_counts(enough),
        }
    }

    /// Tries all counts, those first that are best with open ends, and of equally good ones in the
    /// order of [`shares`].
    fn with_all_counts(&mut self, enough: usize) -> Result<FoundKnots, SearchHalt> {
        let groups = partings(self.painting.colours);
        let groups: Vec<TwoGroups> = groups
            .map(|is_first| self.two_groups(is_first))
            .collect::<Result<_, _>>()?;
        let mut all = shares(self.painting.threads, self.painting.colours);
        all.retain(|counts| self.painting.may_hang(counts));
        // What is nearest: how many knots it misses, or a bound for that; which counts; and
        // whether it is known. A bound that comes before all that is known is made known, so
        // that the counts come as if all were known.
        let bound = |counts: &[u16]| groups.iter().map(|two| two.bound(counts)).max();
        let nearest = (0..).zip(&all);
        let nearest = nearest.map(|(at, counts)| (bound(counts).unwrap_or_default(), at, false));
        let mut nearest: BinaryHeap<_> = nearest.map(Reverse).collect();
        let mut best: Option<FoundKnots> = None;
        let mut least = usize::MAX;
        while let Some(Reverse((misses, at, is_known))) = nearest.pop() {
            let known = best.as_ref().map_or(usize::MAX, FoundKnots::misses);
            if misses >= known {
                least = least.min(misses);
                break;
            }
            let counts: &Vec<u16> = &all[at];
            if !is_known {
                let misses = self.open_misses(counts)?.unwrap_or(misses);
                nearest.push(Reverse((misses, at, true)));
                continue;
            }
            let found = match self.with_counts(counts, enough.min(known - 1)) {
                Err(SearchHalt::Steps) if best.is_some() => {
                    least = least.min(misses);
                    break;
                }
                found => found?,
            };
            least = least.min(found.least.max(misses));
            if best.is_none() || found.misses() < known {
                best = Some(found);
            }
        }
        let mut best = best.ok_or(SearchHalt::Steps)?;
        best.least = least.min(best.misses());
        Ok(best)
    }

    fn two_groups(&mut self, is_first: Vec<bool>) -> Result<TwoGroups, SearchHalt> {
        let group = |colour: u8| u8::from(!is_first[usize::from(colour)]);
        let knots = self.knots.iter();
        let knots: Vec<PlannedKnot> = knots
            .map(|(column, colour)| (*column, colour.map(group)))
            .collect();
        // Each colour has a thread at least.
        let colours = is_first.iter().filter(|is_first| **is_first).count();
        let others = is_first.len() - colours;
        let threads = self.painting.threads;
        let mut misses = vec![0; usize::from(threads)];
        for (first, misses) in (0..threads).zip(&mut misses) {
            let second = threads - first;
            if usize::from(first) >= colours && usize::from(second) >= others {
                let found = self.open_misses_of(&knots, &[first, second])?;
                *misses = found.unwrap_or_default();
            }
        }
        Ok(TwoGroups { is_first, misses })
    }

    /// Begins with the share of each colour in the picture, and exchanges one thread after
    /// another as long as fewer knots miss with open ends.
    fn with_climbing_counts(&mut self, enough: usize) -> Result<FoundKnots, SearchHalt> {
        let painting = self.painting;
        let mut counts = in_proportion(painting.threads, painting.colours, self.knots);
        if !painting.may_hang(&counts) {
            return Err(SearchHalt::Steps);
        }
        let least = self.windows()?.least();
        // Half of the steps are for the search itself.
        let half = self.meter.left() / 2;
        let mut misses = self.open_misses(&counts)?;
        while let Some(most) = misses.filter(|misses| *misses > least) {
            let mut better = None;
            for other in neighbours(&counts) {
                let dear = number_of_orders(&other).is_none_or(|orders| {
                    orders.saturating_mul(self.knots.len() as u64)
                        > self.meter.left().saturating_sub(half)
                });
                if dear || !painting.may_hang(&other) {
                    continue;
                }
                if let Some(misses) = self.open_misses(&other)? {
                    let so_far = better.as_ref().map_or(most, |(misses, _)| *misses);
                    if misses < so_far {
                        better = Some((misses, other));
                    }
                }
            }
            let Some((fewer, other)) = better else { break };
            (misses, counts) = (Some(fewer), other);
        }
        let found = self.with_counts(&counts, enough)?;
        let least = least.min(found.misses());
        Ok(FoundKnots { least, ..found })
    }
}
