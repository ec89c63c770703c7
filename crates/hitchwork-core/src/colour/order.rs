//! The smoothest order of some colours.

use palette::color_difference::Ciede2000;
use serde::Serialize;

use super::Srgb;
use super::space::cielab;
use crate::chance::{Chance, Purpose};
use crate::error::{Error, Problem};
use crate::limits::MAX_ORDERED;

/// Up to this many colours the best order is found exactly.
pub const EXACT_UP_TO: usize = 16;

/// An order of colours.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Order {
    /// The colours, as indices into those given.
    pub order: Vec<usize>,
    /// The sum of the CIEDE2000 differences between neighbours; of the last and the first
    /// too, if the order is cyclic.
    pub total: f64,
    /// The greatest of them.
    pub worst: f64,
    /// No order at all has a smaller sum than this. Equal to the total where the best
    /// order was found exactly.
    pub at_least: f64,
    /// Whether this is the best order there is.
    pub exact: bool,
}

/// Differences between all pairs of some colours.
#[derive(Clone, Debug)]
pub(super) struct Distances {
    count: usize,
    all: Vec<f64>,
}

impl Distances {
    pub(super) fn of(colours: &[Srgb]) -> Self {
        let colours: Vec<_> = colours.iter().map(|colour| cielab(*colour)).collect();
        let count = colours.len();
        let mut all = vec![0.0; count * count];
        for a in 0..count {
            for b in a + 1..count {
                let apart = colours[a].difference(colours[b]);
                (all[a * count + b], all[b * count + a]) = (apart, apart);
            }
        }
        Self { count, all }
    }

    pub(super) fn len(&self) -> usize {
        self.count
    }

    pub(super) fn between(&self, a: usize, b: usize) -> f64 {
        self.all[a * self.count + b]
    }

    /// Those among some of the colours.
    pub(super) fn among(&self, chosen: &[usize]) -> Self {
        let row = |&a: &usize| chosen.iter().map(move |b| self.between(a, *b));
        Self {
            count: chosen.len(),
            all: chosen.iter().flat_map(row).collect(),
        }
    }

    /// With one more place that lies at no distance from any: a tour through it is an
    /// open order of the others.
    fn with_gap(&self) -> Self {
        let count = self.count + 1;
        let mut all = vec![0.0; count * count];
        for a in 0..self.count {
            for b in 0..self.count {
                all[a * count + b] = self.between(a, b);
            }
        }
        Self { count, all }
    }

    pub(super) fn length(&self, tour: &[usize]) -> f64 {
        (0..tour.len())
            .map(|at| self.between(tour[at], tour[(at + 1) % tour.len()]))
            .sum()
    }
}

/// The smoothest order of the colours, open or cyclic: with the least sum of CIEDE2000
/// differences between neighbours, beginning with the first colour if it is cyclic.
///
/// Up to 16 colours it is exact (dynamic programming over subsets; Held and Karp 1962).
/// Beyond, an order is improved by turning stretches round and moving short ones until
/// nothing helps, then shaken and improved again (iterated local search; Lourenço, Martin
/// and Stützle 2003), and a lower bound is stated (one-trees with node weights; Held and
/// Karp 1970). How far it is from the best, at most, is what the bound says; nothing more
/// is promised.
///
/// ```
/// use hitchwork_core::colour::{Srgb, smoothest_order};
/// let greys = [10, 200, 90, 150].map(|level| Srgb::new(level, level, level));
/// let order = smoothest_order(&greys, false)?;
/// assert_eq!(order.order, [0, 2, 3, 1]);
/// assert!(order.exact);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When there are no colours, or more than 1,000.
pub fn smoothest_order(colours: &[Srgb], cyclic: bool) -> Result<Order, Error> {
    if colours.is_empty() || colours.len() > MAX_ORDERED {
        let found = colours.len();
        return Err(Problem::OrderCount { found }.into());
    }
    let distances = Distances::of(colours);
    let gap = (!cyclic).then_some(colours.len());
    let places = match gap {
        Some(_) => distances.with_gap(),
        None => distances.clone(),
    };
    let exact = colours.len() <= EXACT_UP_TO;
    let mut tour = if exact {
        exact_tour(&places)
    } else {
        good_tour(&places)
    };
    let total = places.length(&tour);
    let at_least = if exact {
        total
    } else {
        one_tree_bound(&places, total).min(total)
    };
    let first = gap.unwrap_or(0);
    let start = tour.iter().position(|place| *place == first).unwrap_or(0);
    tour.rotate_left(start);
    if gap.is_some() {
        tour.remove(0);
        if tour.first() > tour.last() {
            tour.reverse();
        }
    } else if tour.len() > 2 && tour[1] > tour[tour.len() - 1] {
        tour[1..].reverse();
    }
    let steps = tour.windows(2).map(|two| distances.between(two[0], two[1]));
    let back = cyclic.then(|| distances.between(tour[tour.len() - 1], tour[0]));
    let worst = steps.chain(back).fold(0.0, f64::max);
    Ok(Order {
        order: tour,
        total,
        worst,
        at_least,
        exact,
    })
}

/// The shortest tour, beginning at the last place.
pub(super) fn exact_tour(places: &Distances) -> Vec<usize> {
    let others = places.len().saturating_sub(1);
    let root = others;
    if others == 0 {
        return vec![0; places.len()];
    }
    // For each set of the others, and each place in it: the shortest way from the root
    // through the whole set that ends there, and the place before that end.
    let sets = 1_usize << others;
    let mut shortest = vec![f64::INFINITY; sets * others];
    let mut before = vec![0_u8; sets * others];
    for place in 0..others {
        shortest[(1 << place) * others + place] = places.between(root, place);
    }
    for set in 1..sets {
        for end in (0..others).filter(|end| set & (1 << end) != 0) {
            let so_far = shortest[set * others + end];
            for next in (0..others).filter(|next| set & (1 << next) == 0) {
                let there = (set | (1 << next)) * others + next;
                let length = so_far + places.between(end, next);
                if length < shortest[there] {
                    shortest[there] = length;
                    before[there] = u8::try_from(end).expect("few places");
                }
            }
        }
    }
    let all = sets - 1;
    let whole = |end: &usize| shortest[all * others + end] + places.between(*end, root);
    let mut end = (0..others)
        .min_by(|a, b| whole(a).total_cmp(&whole(b)))
        .expect("there are others");
    let (mut set, mut tour) = (all, Vec::with_capacity(places.len()));
    while set != 0 {
        tour.push(end);
        let earlier = usize::from(before[set * others + end]);
        set &= !(1 << end);
        end = earlier;
    }
    tour.push(root);
    tour.reverse();
    tour
}

/// How many tours are begun, each at another place.
const STARTS: usize = 24;

/// This many shakings are paid for by this much work; one costs about the square of the places.
const SHAKING: usize = 400_000;
/// More shakings than these find nothing new among few places.
const MOST_SHAKINGS: usize = 600;

/// A tour that no turning of a stretch and no moving of up to three places shortens, the
/// best from several starts, and from what comes of shaking it.
fn good_tour(places: &Distances) -> Vec<usize> {
    let count = places.len();
    let starts = STARTS.min(count);
    let tours = (0..starts).map(|start| {
        let mut tour = nearest_first(places, start * count / starts);
        improve(places, &mut tour);
        tour
    });
    let mut best = tours
        .min_by(|a, b| places.length(a).total_cmp(&places.length(b)))
        .expect("there is a start");
    if count >= 8 {
        let mut chance = Chance::new(0, Purpose::Rule);
        for _ in 0..(SHAKING / (count * count)).min(MOST_SHAKINGS) {
            let mut tour = shaken(&best, &mut chance);
            improve(places, &mut tour);
            if places.length(&tour) < places.length(&best) - GAIN {
                best = tour;
            }
        }
    }
    best
}

/// The tour cut into four stretches of which the middle two change places: what no turning
/// of stretches one by one undoes (the double bridge; Martin, Otto and Felten 1991). The
/// choices are the same for the same number of places.
fn shaken(tour: &[usize], chance: &mut Chance) -> Vec<usize> {
    let mut places: Vec<usize> = (1..tour.len()).collect();
    chance.shuffle(&mut places);
    let mut cuts = [places[0], places[1], places[2]];
    cuts.sort_unstable();
    let [first, second, third] = cuts;
    [
        &tour[..first],
        &tour[second..third],
        &tour[first..second],
        &tour[third..],
    ]
    .concat()
}

fn nearest_first(places: &Distances, start: usize) -> Vec<usize> {
    let mut left: Vec<usize> = (0..places.len()).filter(|place| *place != start).collect();
    let mut tour = vec![start];
    while !left.is_empty() {
        let last = tour[tour.len() - 1];
        let nearest = (0..left.len())
            .min_by(|a, b| {
                places
                    .between(last, left[*a])
                    .total_cmp(&places.between(last, left[*b]))
            })
            .expect("something is left");
        tour.push(left.remove(nearest));
    }
    tour
}

/// A gain below this is rounding, and could go on without end.
const GAIN: f64 = 1e-9;

/// Turns stretches round (2-opt) and moves short ones elsewhere (Or-opt) until neither
/// helps.
pub(super) fn improve(places: &Distances, tour: &mut Vec<usize>) {
    while turn_stretches(places, tour) || move_stretches(places, tour) {}
}

fn turn_stretches(places: &Distances, tour: &mut [usize]) -> bool {
    let count = tour.len();
    let mut better = false;
    for first in 0..count.saturating_sub(2) {
        for last in first + 2..count {
            if first == 0 && last == count - 1 {
                continue;
            }
            let (a, b) = (tour[first], tour[first + 1]);
            let (c, d) = (tour[last], tour[(last + 1) % count]);
            let gain = places.between(a, b) + places.between(c, d)
                - places.between(a, c)
                - places.between(b, d);
            if gain > GAIN {
                tour[first + 1..=last].reverse();
                better = true;
            }
        }
    }
    better
}

fn move_stretches(places: &Distances, tour: &mut Vec<usize>) -> bool {
    let count = tour.len();
    if count < 5 {
        return false;
    }
    let mut better = false;
    for length in 1..=3.min(count - 3) {
        for at in 0..count {
            // The stretch at the front of the rest, so that no wrapping is needed.
            let stretch = |offset: usize| tour[(at + offset) % count];
            let (first, last) = (stretch(0), stretch(length - 1));
            let (before, after) = (stretch(count - 1), stretch(length));
            let freed = places.between(before, first) + places.between(last, after)
                - places.between(before, after);
            let mut best = (GAIN, 0, false);
            for gap in length..count - 1 {
                let (a, b) = (stretch(gap), stretch(gap + 1));
                let joined = places.between(a, b);
                let straight = places.between(a, first) + places.between(last, b) - joined;
                let turned = places.between(a, last) + places.between(first, b) - joined;
                for (cost, turn) in [(straight, false), (turned, true)] {
                    if freed - cost > best.0 {
                        best = (freed - cost, gap, turn);
                    }
                }
            }
            let (_, gap, turn) = best;
            if gap == 0 {
                continue;
            }
            let mut moved: Vec<usize> = (0..length).map(stretch).collect();
            if turn {
                moved.reverse();
            }
            let front: Vec<usize> = (length..=gap).map(stretch).collect();
            let back: Vec<usize> = (gap + 1..count).map(stretch).collect();
            *tour = front.into_iter().chain(moved).chain(back).collect();
            better = true;
        }
    }
    better
}

/// How often the weights of the bound are adjusted.
const ROUNDS: usize = 120;

/// A length that no tour is shorter than. Every tour is a one-tree: a tree on all places
/// but one, and two edges from that one. Weights on the places change the length of all
/// tours alike, and are chosen so that the least one-tree is nearly a tour.
fn one_tree_bound(places: &Distances, tour: f64) -> f64 {
    let count = places.len();
    if count < 3 {
        return 0.0;
    }
    let mut weights = vec![0.0; count];
    let mut best = 0.0_f64;
    let mut stride = 1.0;
    for _ in 0..ROUNDS {
        let (length, degrees) = least_one_tree(places, &weights);
        let bound = length - 2.0 * weights.iter().sum::<f64>();
        if bound > best + GAIN {
            best = bound;
        } else {
            stride *= 0.93;
        }
        let off: f64 = degrees
            .iter()
            .map(|degree| (degree - 2.0) * (degree - 2.0))
            .sum();
        if off == 0.0 {
            break;
        }
        let step = stride * (tour - bound).max(0.0) / off;
        for (weight, degree) in weights.iter_mut().zip(&degrees) {
            *weight += step * (degree - 2.0);
        }
    }
    best
}

/// The least one-tree (Prim 1957) whose special place is the last; and the degrees.
fn least_one_tree(places: &Distances, weights: &[f64]) -> (f64, Vec<f64>) {
    let special = places.len() - 1;
    let cost = |a: usize, b: usize| places.between(a, b) + weights[a] + weights[b];
    let mut degrees = vec![0.0; places.len()];
    let mut length = 0.0;
    let mut nearest: Vec<(f64, usize)> = (0..special).map(|place| (cost(0, place), 0)).collect();
    let mut left: Vec<usize> = (1..special).collect();
    while !left.is_empty() {
        let at = (0..left.len())
            .min_by(|a, b| nearest[left[*a]].0.total_cmp(&nearest[left[*b]].0))
            .expect("something is left");
        let place = left.swap_remove(at);
        let (edge, from) = nearest[place];
        length += edge;
        degrees[place] += 1.0;
        degrees[from] += 1.0;
        for other in &left {
            if cost(place, *other) < nearest[*other].0 {
                nearest[*other] = (cost(place, *other), place);
            }
        }
    }
    let mut edges: Vec<(f64, usize)> = (0..special)
        .map(|place| (cost(special, place), place))
        .collect();
    edges.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    for (edge, place) in &edges[..2] {
        length += edge;
        degrees[*place] += 1.0;
        degrees[special] += 1.0;
    }
    (length, degrees)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn colours(count: std::ops::RangeInclusive<usize>) -> impl Strategy<Value = Vec<Srgb>> {
        prop::collection::vec(any::<[u8; 3]>(), count).prop_map(|values| {
            values
                .into_iter()
                .map(|[red, green, blue]| Srgb::new(red, green, blue))
                .collect()
        })
    }

    /// The least total by trying every order.
    fn least(distances: &Distances, order: &mut Vec<usize>, cyclic: bool) -> f64 {
        if order.len() == distances.len() {
            let back = match cyclic {
                true => distances.between(order[order.len() - 1], order[0]),
                false => 0.0,
            };
            let steps = order
                .windows(2)
                .map(|two| distances.between(two[0], two[1]));
            return steps.sum::<f64>() + back;
        }
        let mut best = f64::INFINITY;
        for next in 0..distances.len() {
            if !order.contains(&next) {
                order.push(next);
                best = best.min(least(distances, order, cyclic));
                order.pop();
            }
        }
        best
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(120) })]

        #[test]
        fn no_other_order_is_smoother(colours in colours(1..=7), cyclic: bool) {
            let order = smoothest_order(&colours, cyclic)?;
            let distances = Distances::of(&colours);
            prop_assert!((order.total - least(&distances, &mut Vec::new(), cyclic)).abs() < 1e-9);
            let mut all = order.order.clone();
            all.sort_unstable();
            prop_assert_eq!(all, (0..colours.len()).collect::<Vec<_>>());
        }

        /// What is not exact is compared with what is, on as many places as both can do.
        /// The good tour has no proved distance from the best: these shakings find it on so
        /// few places, and 5 % is far more than they miss.
        #[test]
        fn the_bound_lies_below_the_best_and_the_good_tour_close_above(colours in colours(5..=11)) {
            for places in [Distances::of(&colours), Distances::of(&colours).with_gap()] {
                let best = places.length(&exact_tour(&places));
                let good = places.length(&good_tour(&places));
                let bound = one_tree_bound(&places, good);
                prop_assert!(bound <= best + 1e-6, "bound {} above the best {}", bound, best);
                prop_assert!(good >= best - 1e-9);
                prop_assert!(good <= best * 1.05 + 1e-9, "{} against {}", good, best);
            }
        }
    }
}
