//! A first guess for a long fabric: laid from its start, a stretch at a time.
//!
//! Where a long fabric bends, its far end is turned a long way from upright, often more than
//! once around. Rounds over the whole fabric are long in finding that, or never do; a stretch
//! that goes on from the one before finds its own bend at once.

use std::ops::Add;

use super::links::{Bond, Link, Neighbours, Net};
use super::plane::{Arrow, KnotPose, Motion};
use super::settle::{LayState, Settling};
use super::shape::KnotShape;

/// Up to this many knots begin upright (our own judgement: no such fabric bends far).
const BEGIN_UPRIGHT: usize = 300;

/// At most this many rounds for each stretch (our own judgement: most settle in fifteen).
const ROUNDS: u32 = 60;

/// Each knot is laid with its stretch, once more, and then stays while the next is laid.
const TIMES_LAID: u32 = 3;

/// A stretch is as many knots as the square of the threads, about as long as wide, but never
/// fewer than this (our own judgement).
const SHORTEST: usize = 40;

fn stretch(threads: u16) -> usize {
    (usize::from(threads) * usize::from(threads)).max(SHORTEST)
}

/// Whether so many knots should not begin upright.
pub(super) fn is_needed(net: &Net) -> bool {
    net.knots > BEGIN_UPRIGHT
}

/// How the knots may lie, to begin with, the first time that they are tied: no more work than this
/// many rounds of the whole.
pub(super) fn begin(net: &Net, shape: KnotShape, threads: u16, most_rounds: u32) -> LayState {
    let mut lying = LayState::upright(net.knots);
    if !is_needed(net) {
        return lying;
    }
    let stretch = stretch(threads);
    let (order, leading) = (by_level(net), Leading::to_each(net));
    let mut local = vec![None; net.knots];
    for start in (0..net.knots).step_by(stretch) {
        // The last stretch but one stays; the last was laid with a free end, and is laid again.
        let from = start.saturating_sub(2 * stretch);
        let stays = if start >= 2 * stretch { stretch } else { 0 };
        let window = &order[from..(start + stretch).min(net.knots)];
        for knot in &window[start - from..] {
            leading.guess(*knot, shape, &mut lying);
        }
        let part = leading.part(net, window, &mut local);
        let foreign: Vec<bool> = (0..part.knots).map(|at| at < stays).collect();
        let mut settling = Settling::new(&part, shape, &foreign, false);
        let mut laid = LayState::upright(0);
        for knot in window {
            laid.push(lying.pose(*knot));
        }
        settling.roughly();
        settling.allow(ROUNDS.min(most_rounds / TIMES_LAID));
        settling.settle(&mut laid);
        for (at, knot) in window.iter().enumerate() {
            lying.put(*knot, laid.pose(at));
        }
    }
    lying
}

/// How the knots of a repeat may lie when it is tied without end, from how they lie when it is tied
/// once: only where one meets the next do they lie otherwise. Whether the repeat is long enough for
/// that; where it is not, only its growth is guessed.
pub(super) fn go_on(net: &Net, shape: KnotShape, threads: u16, lying: &mut LayState) -> bool {
    lying.growth = growth(net, shape, lying);
    let stretch = stretch(threads);
    if net.knots < 4 * stretch {
        return false;
    }
    // The end of the repeat, and the start of the next one behind it.
    let order = by_level(net);
    let end = order[net.knots - 2 * stretch..].iter().copied();
    let start = order[..2 * stretch].iter().map(|knot| knot + net.knots);
    let window: Vec<usize> = end.chain(start).collect();
    let twice = Net::of(threads, net.columns.iter().chain(&net.columns).copied());
    let part = Leading::to_each(&twice).part(&twice, &window, &mut vec![None; twice.knots]);
    let foreign: Vec<bool> = (0..part.knots).map(|at| at < stretch).collect();
    let mut settling = Settling::new(&part, shape, &foreign, false);
    let mut laid = LayState::upright(0);
    for knot in &window {
        let here = lying.pose(knot % net.knots);
        laid.push(if *knot < net.knots {
            here
        } else {
            here.moved(lying.growth)
        });
    }
    settling.begins_near();
    settling.roughly();
    settling.allow(ROUNDS);
    settling.settle(&mut laid);
    // Farther from the seam the next repeat lies as this one, moved.
    let far = 3 * stretch..4 * stretch;
    let poses: Vec<_> = far
        .map(|at| (lying.pose(window[at] - net.knots), laid.pose(at)))
        .collect();
    lying.growth = middle_motion(&poses);
    let back = lying.growth.undone();
    for (at, knot) in window.iter().enumerate().take(3 * stretch).skip(stretch) {
        let there = laid.pose(at);
        let here = if *knot < net.knots {
            there
        } else {
            there.moved(back)
        };
        lying.put(knot % net.knots, here);
    }
    true
}

/// From a repeat to the next one, as its last knots point for the first of the next: in the middle
/// of what all threads say that lead there.
fn growth(net: &Net, shape: KnotShape, lying: &LayState) -> Motion {
    let points = |link: &&Link| link.next_repeat && KnotShape::hold(link.bond) > 0.0;
    let seam = net.links.iter().filter(points);
    let poses: Vec<_> = seam
        .map(|link| {
            let before = lying.pose(link.from);
            let way = shape.leaving(link.leaves, link.bond) * before.turn;
            let place = before.place + way;
            (lying.pose(link.to), KnotPose { place, ..before })
        })
        .collect();
    middle_motion(&poses)
}

/// The motion in the middle of those that lead from the one pose to the other.
fn middle_motion(poses: &[(KnotPose, KnotPose)]) -> Motion {
    let turns = poses.iter().map(|(from, to)| to.turn * from.turn.back());
    let turn = turns
        .fold(Arrow::NONE, Arrow::add)
        .direction_or(Arrow::UPRIGHT);
    let steps = poses.iter().map(|(from, to)| to.place - from.place * turn);
    let step = steps.fold(Arrow::NONE, Arrow::add);
    let step = step.times(1.0 / poses.len().max(1) as f64);
    Motion { turn, step }
}

/// The knots by their half rows on the lattice, so that the order of tying does not matter.
fn by_level(net: &Net) -> Vec<usize> {
    let mut levels = vec![0_u32; net.knots];
    for link in net.links.iter().filter(|link| !link.next_repeat) {
        let rise = if link.bond == Bond::Straight { 1 } else { 2 };
        levels[link.to] = levels[link.to].max(levels[link.from] + rise);
    }
    let mut order: Vec<usize> = (0..net.knots).collect();
    order.sort_unstable_by_key(|knot| (levels[*knot], net.columns[*knot]));
    order
}

/// What leads to each knot from those tied before it.
struct Leading {
    links: Vec<Vec<Link>>,
    above: Vec<Option<Neighbours>>,
}

impl Leading {
    fn to_each(net: &Net) -> Self {
        let (mut links, mut above) = (vec![Vec::new(); net.knots], vec![None; net.knots]);
        for link in net.links.iter().filter(|link| !link.next_repeat) {
            links[link.to].push(*link);
        }
        for pair in net.neighbours.iter().filter(|pair| !pair.next_repeat) {
            above[pair.to] = Some(*pair);
        }
        Self { links, above }
    }

    /// Lays a knot as the knots before it point, in the middle of what they say.
    fn guess(&self, knot: usize, shape: KnotShape, lying: &mut LayState) {
        let links = &self.links[knot];
        let (mut place, mut turn) = (Arrow::NONE, Arrow::NONE);
        for link in links {
            let before = lying.turns[link.from];
            place += lying.places[link.from] + shape.leaving(link.leaves, link.bond) * before;
            turn += before;
        }
        if !links.is_empty() {
            lying.places[knot] = place.times(1.0 / links.len() as f64);
            lying.turns[knot] = turn.direction_or(Arrow::UPRIGHT);
        }
    }

    /// What holds these knots together among themselves. `local` is room to work in, and empty.
    fn part(&self, net: &Net, knots: &[usize], local: &mut [Option<usize>]) -> Net {
        for (at, knot) in knots.iter().enumerate() {
            local[*knot] = Some(at);
        }
        let mut part = Net {
            knots: knots.len(),
            ..Net::default()
        };
        for (to, knot) in knots.iter().enumerate() {
            part.columns.push(net.columns[*knot]);
            for link in &self.links[*knot] {
                if let Some(from) = local[link.from] {
                    part.links.push(Link { from, to, ..*link });
                }
            }
            let above = self.above[*knot];
            if let Some((above, from)) = above.and_then(|pair| Some((pair, local[pair.from]?))) {
                part.neighbours.push(Neighbours { from, to, ..above });
            }
        }
        for knot in knots {
            local[*knot] = None;
        }
        part
    }
}
