//! How the threads run through one row. Lengths are in pitches: positions lie one apart,
//! the leftmost at 0, and the row begins at height 0.

use hitchwork_core::fabric::{Thread, TiedKnot, TiedRow};
use hitchwork_core::knot::Side;

/// The height of a crossing and of a hook, in pitches.
const CROSSING: f64 = 0.78;
const HOOK: f64 = 1.5;
use crate::ink::PlanePoint;

/// By how much, in shares of a curve, colour goes on beyond the outline that is drawn
/// anew where a strand runs on top.
const SEAM: f64 = 0.04;

/// A cubic Bézier curve.
#[derive(Clone, Copy, Debug)]
pub(super) struct Curve(pub(super) [PlanePoint; 4]);

impl Curve {
    /// The part of it between two parameters from 0 to 1 (de Casteljau).
    pub(super) fn between(self, from: f64, to: f64) -> Self {
        self.split(to).0.split(from / to).1
    }

    fn split(self, at: f64) -> (Self, Self) {
        let mid = |a: PlanePoint, b: PlanePoint| (a.0 + (b.0 - a.0) * at, a.1 + (b.1 - a.1) * at);
        let [a, b, c, d] = self.0;
        let (ab, bc, cd) = (mid(a, b), mid(b, c), mid(c, d));
        let (abc, bcd) = (mid(ab, bc), mid(bc, cd));
        let middle = mid(abc, bcd);
        (Self([a, ab, abc, middle]), Self([middle, bcd, cd, d]))
    }
}

/// A stretch of a strand.
#[derive(Clone, Copy, Debug)]
pub(super) enum StrandPiece {
    /// Straight down to a height.
    Down(f64),
    /// Round a curve.
    Round(Curve),
}

/// A strand through the row.
#[derive(Debug)]
pub(super) struct Strand {
    pub(super) thread: Thread,
    /// The positions at which it begins and ends, from 0.
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) pieces: Vec<StrandPiece>,
}

/// One strand over another.
#[derive(Debug)]
pub(super) struct Crossing {
    pub(super) over: Thread,
    pub(super) under: Thread,
    /// Where the upper one runs over the lower.
    pub(super) curve: Curve,
    /// The same and a little more at either end, which hides the seams.
    pub(super) longer: Curve,
}

/// A knot and its crossings: one, or two for a hook.
#[derive(Debug)]
pub(super) struct CrossedKnot {
    pub(super) knot: TiedKnot,
    pub(super) crossings: Vec<Crossing>,
}

/// A row with its strands in the order in which they begin.
#[derive(Debug)]
pub(super) struct Courses {
    pub(super) strands: Vec<Strand>,
    pub(super) knots: Vec<CrossedKnot>,
    height: f64,
}

/// One knot with its place.
struct PlacedKnot {
    knot: TiedKnot,
    top: f64,
    bottom: f64,
}

impl PlacedKnot {
    /// Whether the same thread works in another one, from the same side.
    fn goes_on_in(&self, other: &Self) -> bool {
        other.knot.working == self.knot.working
            && other.knot.kind.working_side() == self.knot.kind.working_side()
    }
}

/// The knots of a row with their places: each lies as high as those before it let it.
fn placed(row: &TiedRow) -> Vec<PlacedKnot> {
    let mut reached = vec![0.0_f64; row.order_before.len()];
    let place = |knot: &TiedKnot| {
        let left = left_of(knot);
        let top = reached[left].max(reached[left + 1]);
        let bottom = top + height_of(knot);
        reached[left..=left + 1].fill(bottom);
        PlacedKnot {
            knot: *knot,
            top,
            bottom,
        }
    };
    row.knots.iter().map(place).collect()
}

/// The threads of a row on their way down.
struct Descent {
    strands: Vec<Strand>,
    /// Which strand is at each position.
    at: Vec<usize>,
    /// How far down the strand at each position is laid.
    reached: Vec<f64>,
}

impl Descent {
    fn begin(order: &[Thread]) -> Self {
        let strand = |(from, thread): (usize, &Thread)| Strand {
            thread: *thread,
            from,
            to: from,
            pieces: Vec::new(),
        };
        Self {
            strands: order.iter().enumerate().map(strand).collect(),
            at: (0..order.len()).collect(),
            reached: vec![0.0; order.len()],
        }
    }

    /// Lets the strand at a position hang straight down to a height, if it is not there yet.
    fn down_to(&mut self, position: usize, height: f64) {
        if self.reached[position] < height {
            let strand = self.at[position];
            self.strands[strand].pieces.push(StrandPiece::Down(height));
            self.reached[position] = height;
        }
    }

    /// Lays the two strands of a knot through it, `before` and `after` it in the row.
    fn through(
        &mut self,
        placed: &PlacedKnot,
        before: Option<&PlacedKnot>,
        after: Option<&PlacedKnot>,
    ) -> CrossedKnot {
        let PlacedKnot { knot, top, bottom } = *placed;
        let left = left_of(&knot);
        for position in [left, left + 1] {
            self.down_to(position, top);
            self.reached[position] = bottom;
        }
        let ends = (position_x(left), position_x(left + 1));
        let pair = (self.at[left], self.at[left + 1]);
        let ((from, to), (working, core)) = match knot.kind.working_side() {
            Side::Left => (ends, pair),
            Side::Right => ((ends.1, ends.0), (pair.1, pair.0)),
        };
        // Where a thread goes on in the same direction, it does so without a bend.
        let slope = (to - from) / CROSSING;
        let bend = |goes_on: bool| if goes_on { slope } else { 0.0 };
        let arriving = bend(before.is_some_and(|before| {
            placed.goes_on_in(before) && before.knot.kind.changes_places() && before.bottom == top
        }));
        let crossings = if knot.kind.changes_places() {
            let leaving =
                bend(after.is_some_and(|after| placed.goes_on_in(after) && after.top == bottom));
            let over = crossing((from, top), (to, bottom), arriving, leaving);
            let under = crossing((to, top), (from, bottom), 0.0, 0.0);
            let crossings = vec![self.crossing(working, core, over, 0.14, 0.86)];
            self.round(working, [over]);
            self.round(core, [under]);
            self.at.swap(left, left + 1);
            self.strands[pair.0].to = left + 1;
            self.strands[pair.1].to = left;
            crossings
        } else {
            let [out, back] = hook(from, to, top, bottom, 1.27, arriving);
            let [bow, straight] = hook(to, from, top, bottom, 0.3, 0.0);
            self.round(working, [out, back]);
            self.round(core, [bow, straight]);
            vec![
                self.crossing(working, core, out, 0.3, 0.86),
                self.crossing(core, working, straight, 0.2, 0.8),
            ]
        };
        CrossedKnot { knot, crossings }
    }

    fn round<const N: usize>(&mut self, strand: usize, curves: [Curve; N]) {
        let pieces = &mut self.strands[strand].pieces;
        pieces.extend(curves.map(StrandPiece::Round));
    }

    /// That a strand runs over another one, along a part of its curve.
    fn crossing(&self, over: usize, under: usize, curve: Curve, from: f64, to: f64) -> Crossing {
        Crossing {
            over: self.strands[over].thread,
            under: self.strands[under].thread,
            curve: curve.between(from, to),
            longer: curve.between(from - SEAM, to + SEAM),
        }
    }
}

impl Courses {
    pub(super) fn new(row: &TiedRow) -> Self {
        let placed = placed(row);
        let bottoms = placed.iter().map(|knot| knot.bottom);
        let height = bottoms.fold(0.0, f64::max);
        let mut descent = Descent::begin(&row.order_before);
        let through = |(index, knot): (usize, &PlacedKnot)| {
            let before = index.checked_sub(1).map(|before| &placed[before]);
            descent.through(knot, before, placed.get(index + 1))
        };
        let knots = placed.iter().enumerate().map(through).collect();
        for position in 0..row.order_before.len() {
            descent.down_to(position, height);
        }
        Self {
            strands: descent.strands,
            knots,
            height,
        }
    }

    pub(super) fn height(&self) -> f64 {
        self.height
    }
}

/// The position left of a knot, from 0.
fn left_of(knot: &TiedKnot) -> usize {
    usize::from(knot.column.number()) - 1
}

fn height_of(knot: &TiedKnot) -> f64 {
    if knot.kind.changes_places() {
        CROSSING
    } else {
        HOOK
    }
}

fn position_x(position: usize) -> f64 {
    f64::from(u16::try_from(position).expect("MAX_THREADS fits"))
}

/// From place to place, with the slopes (to the right, for one down) at which it leaves
/// and arrives.
fn crossing(from: PlanePoint, to: PlanePoint, leaves: f64, arrives: f64) -> Curve {
    let high = to.1 - from.1;
    let reach = |slope: f64| if slope == 0.0 { 0.55 } else { 1.0 / 3.0 } * high;
    let (first, second) = (reach(leaves), reach(arrives));
    Curve([
        from,
        (from.0 + leaves * first, from.1 + first),
        (to.0 - arrives * second, to.1 - second),
        to,
    ])
}

/// From the top towards another position, by a share of the way, and back to the bottom;
/// with the slope at which it begins.
fn hook(x: f64, toward: f64, top: f64, bottom: f64, share: f64, slope: f64) -> [Curve; 2] {
    let apex = x + (toward - x) * share;
    let (middle, high) = (f64::midpoint(top, bottom), bottom - top);
    let first = high * if slope == 0.0 { 0.26 } else { 0.18 };
    [
        Curve([
            (x, top),
            (x + slope * first, top + first),
            (apex, middle - high * 0.32),
            (apex, middle),
        ]),
        Curve([
            (apex, middle),
            (apex, middle + high * 0.32),
            (x, bottom - high * 0.26),
            (x, bottom),
        ]),
    ]
}
