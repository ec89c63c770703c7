//! The owned threads that make the smoothest cyclic gradient.

use serde::Serialize;

use super::order::{Distances, EXACT_UP_TO, exact_tour, improve};
use super::{Owned, Sight, Vision};
use crate::error::{Error, Problem};
use crate::limits::MAX_COLOURS;

/// The most threads among which is chosen; of more, those are looked at that are most
/// unlike each other.
const MOST_LOOKED_AT: usize = 400;

/// How much work may go into trying every choice.
const EXACT_WORK: f64 = 3e7;

/// How many choices are begun, each with another thread.
const STARTS: usize = 60;

/// How much work may go into beginning with every pair of threads as well.
const PAIRS_WORK: usize = 20_000_000;

/// How unlike each other the chosen threads must be.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Apart {
    /// Told apart at this size by normal vision.
    AtSight(Sight),
    /// At least so far by CIEDE2000.
    By(f64),
}

/// Threads that were chosen, in the order of their gradient.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ThreadChoice {
    /// The threads; the last leads back to the first.
    pub threads: Vec<Owned>,
    /// The sum of the CIEDE2000 differences between neighbours.
    pub total: f64,
    /// The greatest of them.
    pub worst: f64,
    /// No choice at all has a smaller sum than this. Equal to the total where the best
    /// choice was found exactly.
    pub at_least: f64,
    /// Whether this is the best choice there is.
    pub exact: bool,
}

struct ThreadSearch {
    distances: Distances,
    apart: Vec<bool>,
}

impl ThreadSearch {
    fn new(owned: &[&Owned], apart: Apart) -> Self {
        let colours: Vec<_> = owned.iter().map(|thread| thread.srgb).collect();
        let distances = Distances::of(&colours);
        let count = colours.len();
        let mut allowed = vec![false; count * count];
        for a in 0..count {
            for b in 0..a {
                let apart = match apart {
                    Apart::AtSight(sight) => {
                        sight.tells_apart(colours[a], colours[b], Vision::Normal)
                    }
                    Apart::By(least) => distances.between(a, b) >= least,
                };
                (allowed[a * count + b], allowed[b * count + a]) = (apart, apart);
            }
        }
        Self {
            distances,
            apart: allowed,
        }
    }

    fn len(&self) -> usize {
        self.distances.len()
    }

    fn allowed(&self, a: usize, b: usize) -> bool {
        self.apart[a * self.len() + b]
    }

    fn fits(&self, thread: usize, chosen: &[usize], except: Option<usize>) -> bool {
        chosen
            .iter()
            .enumerate()
            .all(|(at, other)| Some(at) == except || self.allowed(thread, *other))
    }

    /// No choice of `count` threads is shorter: each thread of a cyclic order has two
    /// neighbours, no nearer than its two nearest allowed ones.
    fn bound(&self, count: usize) -> f64 {
        let neighbours = if count > 2 { 2 } else { 1 };
        let mut halves: Vec<f64> = (0..self.len())
            .filter_map(|thread| {
                let mut near: Vec<f64> = (0..self.len())
                    .filter(|other| self.allowed(thread, *other))
                    .map(|other| self.distances.between(thread, other))
                    .collect();
                near.sort_by(f64::total_cmp);
                (near.len() >= neighbours).then(|| (near[0] + near[neighbours - 1]) / 2.0)
            })
            .collect();
        halves.sort_by(f64::total_cmp);
        halves.iter().take(count).sum()
    }

    /// Adds the thread that makes the tour least longer, again and again.
    fn fill(&self, mut tour: Vec<usize>, count: usize) -> Option<Vec<usize>> {
        while tour.len() < count {
            let mut best = (f64::INFINITY, 0, 0);
            for thread in (0..self.len()).filter(|thread| self.fits(*thread, &tour, None)) {
                let (longer, at) = self.cheapest(&tour, thread);
                if longer < best.0 {
                    best = (longer, thread, at);
                }
            }
            if best.0 == f64::INFINITY {
                return None;
            }
            tour.insert(best.2, best.1);
        }
        Some(tour)
    }

    /// By how much a thread makes a tour longer at least, and where it then goes.
    fn cheapest(&self, tour: &[usize], thread: usize) -> (f64, usize) {
        let mut best = (f64::INFINITY, 0);
        for at in 0..tour.len() {
            let longer = self.detour(tour[at], thread, tour[(at + 1) % tour.len()]);
            if longer < best.0 {
                best = (longer, at + 1);
            }
        }
        best
    }

    /// Adds the thread that is too like the fewest others still free, again and again: the
    /// way to a choice where there is hardly one.
    fn fill_sparingly(&self, mut tour: Vec<usize>, count: usize) -> Option<Vec<usize>> {
        while tour.len() < count {
            let fits = |thread: &usize| self.fits(*thread, &tour, None);
            let free: Vec<usize> = (0..self.len()).filter(fits).collect();
            let in_the_way = |thread: &usize| {
                let too_like = |other: &&usize| !self.allowed(*thread, **other);
                free.iter().filter(too_like).count()
            };
            tour.push(*free.iter().min_by_key(|thread| in_the_way(thread))?);
        }
        Some(tour)
    }

    fn detour(&self, before: usize, thread: usize, after: usize) -> f64 {
        self.distances.between(before, thread) + self.distances.between(thread, after)
            - self.distances.between(before, after)
    }

    /// Puts better threads in the place of others, and the tour in order, until neither
    /// helps.
    fn improve(&self, tour: &mut Vec<usize>) {
        let count = tour.len();
        loop {
            let places = self.distances.among(tour);
            let mut order: Vec<usize> = (0..count).collect();
            improve(&places, &mut order);
            *tour = order.into_iter().map(|at| tour[at]).collect();
            if !self.exchange(tour) {
                return;
            }
        }
    }

    /// Takes one thread out and another in, where that is best, if it helps.
    fn exchange(&self, tour: &mut Vec<usize>) -> bool {
        let count = tour.len();
        if count < 3 {
            return false;
        }
        let mut best = (1e-9, 0, 0, 0);
        for out in 0..count {
            let (before, after) = (tour[(out + count - 1) % count], tour[(out + 1) % count]);
            let freed = self.detour(before, tour[out], after);
            let rest: Vec<usize> = (1..count)
                .map(|offset| tour[(out + offset) % count])
                .collect();
            for thread in (0..self.len()).filter(|thread| !tour.contains(thread)) {
                if !self.fits(thread, &rest, None) {
                    continue;
                }
                for at in 0..rest.len() {
                    let cost = self.detour(rest[at], thread, rest[(at + 1) % rest.len()]);
                    if freed - cost > best.0 {
                        best = (freed - cost, out, thread, at);
                    }
                }
            }
        }
        let (gain, out, thread, at) = best;
        if gain <= 1e-9 {
            return false;
        }
        let mut rest: Vec<usize> = (1..count)
            .map(|offset| tour[(out + offset) % count])
            .collect();
        rest.insert(at + 1, thread);
        *tour = rest;
        true
    }

    /// What choices are begun with: threads, and pairs of them where there are few.
    fn starts(&self, count: usize) -> Vec<Vec<usize>> {
        let few = STARTS.min(self.len());
        let threads = (0..few).map(|start| vec![start * self.len() / few]);
        let pairs: Vec<Vec<usize>> = (0..self.len())
            .flat_map(|a| (0..a).map(move |b| vec![b, a]))
            .filter(|pair| self.allowed(pair[0], pair[1]))
            .collect();
        let affordable = PAIRS_WORK / (self.len() * count * count * count);
        let some = affordable.min(pairs.len());
        let pairs = (0..some).map(|nth| pairs[nth * pairs.len() / some].clone());
        threads.chain(pairs).collect()
    }

    fn shortest(&self, tours: impl Iterator<Item = Vec<usize>>) -> Option<Vec<usize>> {
        let length = |tour: &Vec<usize>| self.distances.length(tour);
        let improved = tours.map(|mut tour| {
            self.improve(&mut tour);
            tour
        });
        improved.min_by(|a, b| length(a).total_cmp(&length(b)))
    }

    fn good(&self, count: usize) -> Option<Vec<usize>> {
        let begun = self.starts(count).into_iter();
        let filled = begun.filter_map(|start| self.fill(start, count));
        let mut best = self.shortest(filled).or_else(|| {
            let begun = (0..self.len()).map(|start| vec![start]);
            self.shortest(begun.filter_map(|start| self.fill_sparingly(start, count)))
        })?;
        while let Some(better) = self.through_another(&best) {
            best = better;
        }
        Some(best)
    }

    /// A shorter tour through a thread that is too like several of this one, if there is
    /// one: these make room, and others come in their places.
    fn through_another(&self, tour: &[usize]) -> Option<Vec<usize>> {
        let others = (0..self.len()).filter(|thread| !tour.contains(thread));
        let through = others.filter_map(|thread| {
            let stays = |other: &usize| self.allowed(thread, *other);
            let mut kept: Vec<usize> = tour.iter().copied().filter(stays).collect();
            // To take out one thread was tried before.
            if kept.len() + 1 >= tour.len() {
                return None;
            }
            let (_, at) = self.cheapest(&kept, thread);
            kept.insert(at, thread);
            self.fill(kept, tour.len())
        });
        let shorter = self.distances.length(tour) - 1e-9;
        self.shortest(through)
            .filter(|best| self.distances.length(best) < shorter)
    }

    /// Tries every choice.
    fn best(&self, count: usize) -> Option<Vec<usize>> {
        let mut best: Option<(f64, Vec<usize>)> = None;
        self.try_all(&mut Vec::new(), 0, count, &mut best);
        best.map(|(_, tour)| tour)
    }

    fn try_all(
        &self,
        chosen: &mut Vec<usize>,
        from: usize,
        count: usize,
        best: &mut Option<(f64, Vec<usize>)>,
    ) {
        if chosen.len() == count {
            let tour = exact_tour(&self.distances.among(chosen));
            let tour: Vec<usize> = tour.into_iter().map(|at| chosen[at]).collect();
            let length = self.distances.length(&tour);
            if best.as_ref().is_none_or(|(shortest, _)| length < *shortest) {
                *best = Some((length, tour));
            }
            return;
        }
        for thread in from..self.len() {
            if self.fits(thread, chosen, None) {
                chosen.push(thread);
                self.try_all(chosen, thread + 1, count, best);
                chosen.pop();
            }
        }
    }
}

/// How much work it is to try every choice of `count` out of `threads`.
#[allow(clippy::cast_precision_loss, reason = "an estimate")]
fn exact_work(threads: usize, count: usize) -> f64 {
    if count > EXACT_UP_TO {
        return f64::INFINITY;
    }
    let choices: f64 = (0..count)
        .map(|taken| (threads - taken) as f64 / (taken + 1) as f64)
        .product();
    choices * (1_u64 << count) as f64 * (count * count) as f64
}

/// The threads that are most unlike each other: the first, then again and again the one
/// furthest from those taken.
fn most_unlike(owned: &[Owned], most: usize) -> Vec<&Owned> {
    use super::space::{distance, oklab};
    if owned.len() <= most {
        return owned.iter().collect();
    }
    let colours: Vec<_> = owned.iter().map(|thread| oklab(thread.srgb)).collect();
    let mut nearest = vec![f64::INFINITY; owned.len()];
    let mut taken = Vec::with_capacity(most);
    let mut next = 0;
    while taken.len() < most {
        taken.push(next);
        for (near, colour) in nearest.iter_mut().zip(&colours) {
            *near = near.min(distance(*colour, colours[next]));
        }
        next = (0..owned.len())
            .rev()
            .max_by(|a, b| nearest[*a].total_cmp(&nearest[*b]))
            .unwrap_or(0);
    }
    taken.sort_unstable();
    taken.into_iter().map(|at| &owned[at]).collect()
}

/// The `count` owned threads that make the smoothest cyclic gradient: with the least sum
/// of CIEDE2000 differences between neighbours, where every two of the chosen are as
/// unlike as `apart` asks. (Without that, threads of one colour would be the smoothest.)
///
/// Where there are few enough choices, all are tried. Otherwise many are begun, improved
/// by exchanging threads, turning stretches and moving them until nothing helps, and a
/// lower bound is stated. Of more than 400 threads, the 400 most unlike each other are
/// looked at, and the bound is for those.
///
/// ```
/// use hitchwork_core::{colour::{Apart, Owned, Sight, Srgb, choose_threads}, craft::Gauge};
/// let owned: Vec<Owned> = ["#c2352b", "#d8902f", "#e0c53a", "#5f9e4a", "#2e7f96", "#55489a", "#c43a31"]
///     .iter().zip(1..).map(|(hex, number)| Owned::new(format!("skein {number}"), hex.parse().expect("a colour"))).collect();
/// let choice = choose_threads(&owned, 6, Apart::AtSight(Sight::of_knot(&Gauge::default())))?;
/// assert!(choice.exact);
/// // Two of the seven are as good as one colour, so only one of them is chosen.
/// let reds = choice.threads.iter().filter(|thread| ["skein 1", "skein 7"].contains(&thread.name.as_str()));
/// assert_eq!(reds.count(), 1);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When fewer than 2 or more than 1,000 are asked for, there are fewer threads than that,
/// or not that many were found that are unlike enough.
pub fn choose_threads(owned: &[Owned], count: usize, apart: Apart) -> Result<ThreadChoice, Error> {
    if !(2..=MAX_COLOURS).contains(&count) {
        return Err(Problem::ChooseCount { found: count }.into());
    }
    if let Apart::By(found) = apart
        && !(0.0..=1000.0).contains(&found)
    {
        return Err(Problem::Difference { found }.into());
    }
    if owned.len() < count {
        return Err(Problem::TooFewThreads {
            have: owned.len(),
            need: count,
        }
        .into());
    }
    let looked_at = most_unlike(owned, MOST_LOOKED_AT.max(count));
    let search = ThreadSearch::new(&looked_at, apart);
    let exact = exact_work(search.len(), count) <= EXACT_WORK;
    let tour = if exact {
        search.best(count)
    } else {
        search.good(count)
    };
    let Some(mut tour) = tour else {
        return Err(Problem::NotApart {
            asked: count,
            exact,
        }
        .into());
    };
    let first = tour.iter().enumerate().min_by_key(|(_, thread)| **thread);
    let first = first.map_or(0, |(at, _)| at);
    tour.rotate_left(first);
    if tour[1] > tour[tour.len() - 1] {
        tour[1..].reverse();
    }
    let total = search.distances.length(&tour);
    let steps = (0..count).map(|at| search.distances.between(tour[at], tour[(at + 1) % count]));
    Ok(ThreadChoice {
        worst: steps.fold(0.0, f64::max),
        threads: tour.iter().map(|at| looked_at[*at].clone()).collect(),
        total,
        at_least: match exact && looked_at.len() == owned.len() {
            true => total,
            false => search.bound(count).min(total),
        },
        exact: exact && looked_at.len() == owned.len(),
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::colour::Srgb;

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(60) })]

        /// The search against trying everything, on stashes that are small enough.
        #[test]
        fn the_search_comes_close_to_the_best_choice(
            values in prop::collection::vec(any::<[u8; 3]>(), 9..=12),
            count in 3_usize..=5,
            apart in 5.0..15.0,
        ) {
            let owned: Vec<Owned> = values
                .iter()
                .map(|[red, green, blue]| Owned::new("skein", Srgb::new(*red, *green, *blue)))
                .collect();
            let all: Vec<&Owned> = owned.iter().collect();
            let search = ThreadSearch::new(&all, Apart::By(apart));
            let length = |tour: Vec<usize>| search.distances.length(&tour);
            let (best, good) = (search.best(count).map(length), search.good(count).map(length));
            if let (Some(best), Some(good)) = (best, good) {
                prop_assert!(search.bound(count) <= best + 1e-9);
                prop_assert!(good >= best - 1e-9);
                prop_assert!(good <= best * 1.1 + 1e-9, "{} against {}", good, best);
            }
        }
    }
}
