//! A first guess for a long fabric: laid from its start, a stretch at a time.
//!
//! Where a long fabric bends, its far end is turned a long way from upright, often more than
//! once around. Rounds over the whole fabric are long in finding that, or never do; a stretch
//! that goes on from the one before finds its own bend at once.

use super::links::{Bond, Link, Neighbours, Net};
use super::plane::Arrow;
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

/// How the knots may lie, to begin with: no more work than this many rounds of the whole.
pub(super) fn begin(net: &Net, shape: KnotShape, threads: u16, most_rounds: u32) -> LayState {
    let mut lying = LayState::upright(net.knots);
    if net.knots <= BEGIN_UPRIGHT {
        return lying;
    }
    let stretch = (usize::from(threads) * usize::from(threads)).max(SHORTEST);
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
            laid.places.push(lying.places[*knot]);
            laid.turns.push(lying.turns[*knot]);
        }
        settling.roughly();
        settling.allow(ROUNDS.min(most_rounds / TIMES_LAID));
        settling.settle(&mut laid);
        for (at, knot) in window.iter().enumerate() {
            (lying.places[*knot], lying.turns[*knot]) = (laid.places[at], laid.turns[at]);
        }
    }
    lying
}

/// The knots by their half rows on the lattice, so that the order of tying does not matter.
fn by_level(net: &Net) -> Vec<usize> {
    let mut levels = vec![0_u32; net.knots];
    for link in &net.links {
        let rise = if link.bond == Bond::Straight { 1 } else { 2 };
        levels[link.to] = levels[link.to].max(levels[link.from] + rise);
    }
    let mut order: Vec<usize> = (0..net.knots).collect();
    order.sort_unstable_by_key(|knot| (levels[*knot], net.columns[*knot]));
    order
}

/// What leads to each knot.
struct Leading {
    links: Vec<Vec<Link>>,
    above: Vec<Option<Neighbours>>,
}

impl Leading {
    fn to_each(net: &Net) -> Self {
        let (mut links, mut above) = (vec![Vec::new(); net.knots], vec![None; net.knots]);
        for link in &net.links {
            links[link.to].push(*link);
        }
        for pair in &net.neighbours {
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
