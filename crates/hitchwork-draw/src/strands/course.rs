//! How the threads run through one row. Lengths are in pitches: positions lie one apart,
//! the leftmost at 0, and the row begins at height 0.

use hitchwork_core::fabric::{Thread, TiedKnot, TiedRow};
use hitchwork_core::knot::Side;

use super::{CROSSING, HOOK};
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

/// One knot with its place: the top, and whether its strands go on in the same direction
/// before and after.
struct PlacedKnot {
    knot: TiedKnot,
    top: f64,
}

impl Courses {
    pub(super) fn new(row: &TiedRow) -> Self {
        let count = row.order_before.len();
        let mut reached = vec![0.0_f64; count];
        let mut at: Vec<usize> = (0..count).collect();
        let mut strands: Vec<Strand> = row
            .order_before
            .iter()
            .enumerate()
            .map(|(from, thread)| Strand {
                thread: *thread,
                from,
                to: from,
                pieces: Vec::new(),
            })
            .collect();
        let mut knots = Vec::with_capacity(row.knots.len());
        let places: Vec<PlacedKnot> = {
            let mut reached = reached.clone();
            row.knots
                .iter()
                .map(|knot| {
                    let left = usize::from(knot.column.number()) - 1;
                    let top = reached[left].max(reached[left + 1]);
                    reached[left..=left + 1].fill(top + height_of(knot));
                    PlacedKnot { knot: *knot, top }
                })
                .collect()
        };
        let height = places
            .iter()
            .map(|place| place.top + height_of(&place.knot))
            .fold(0.0, f64::max);
        for (index, PlacedKnot { knot, top }) in places.iter().enumerate() {
            let left = usize::from(knot.column.number()) - 1;
            let bottom = top + height_of(knot);
            for position in [left, left + 1] {
                if reached[position] < *top {
                    strands[at[position]].pieces.push(StrandPiece::Down(*top));
                }
                reached[position] = bottom;
            }
            let (a, b) = (at[left], at[left + 1]);
            let (working, core) = match knot.kind.working_side() {
                Side::Left => (a, b),
                Side::Right => (b, a),
            };
            let (x, right) = (position_x(left), position_x(left + 1));
            let (from, to) = match knot.kind.working_side() {
                Side::Left => (x, right),
                Side::Right => (right, x),
            };
            let mut crossings = Vec::with_capacity(2);
            let mut cross = |over: usize, under: usize, curve: Curve, from: f64, to: f64| {
                crossings.push(Crossing {
                    over: strands[over].thread,
                    under: strands[under].thread,
                    curve: curve.between(from, to),
                    longer: curve.between(from - SEAM, to + SEAM),
                });
            };
            let slope = (to - from) / CROSSING;
            let comes = index.checked_sub(1).is_some_and(|before| {
                let before = &places[before];
                before.knot.working == knot.working
                    && before.knot.kind.changes_places()
                    && before.knot.kind.working_side() == knot.kind.working_side()
                    && before.top + height_of(&before.knot) == *top
            });
            let arriving = if comes { slope } else { 0.0 };
            if knot.kind.changes_places() {
                let goes = places.get(index + 1).is_some_and(|after| {
                    after.knot.working == knot.working
                        && after.knot.kind.working_side() == knot.kind.working_side()
                        && after.top == bottom
                });
                let over = crossing(
                    (from, *top),
                    (to, bottom),
                    arriving,
                    if goes { slope } else { 0.0 },
                );
                let under = crossing((to, *top), (from, bottom), 0.0, 0.0);
                cross(working, core, over, 0.14, 0.86);
                strands[working].pieces.push(StrandPiece::Round(over));
                strands[core].pieces.push(StrandPiece::Round(under));
                at.swap(left, left + 1);
                strands[a].to = left + 1;
                strands[b].to = left;
            } else {
                let [out, back] = hook(from, to, *top, bottom, 1.27, arriving);
                let [bow, straight] = hook(to, from, *top, bottom, 0.3, 0.0);
                cross(working, core, out, 0.3, 0.86);
                cross(core, working, straight, 0.2, 0.8);
                strands[working]
                    .pieces
                    .extend([out, back].map(StrandPiece::Round));
                strands[core]
                    .pieces
                    .extend([bow, straight].map(StrandPiece::Round));
            }
            knots.push(CrossedKnot {
                knot: *knot,
                crossings,
            });
        }
        for (position, reached) in reached.into_iter().enumerate() {
            if reached < height {
                strands[at[position]].pieces.push(StrandPiece::Down(height));
            }
        }
        Self {
            strands,
            knots,
            height,
        }
    }

    pub(super) fn height(&self) -> f64 {
        self.height
    }
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
