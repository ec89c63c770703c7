//! The frame of a knot that is turned, and the course of a thread between two of them.
//!
//! Both are kept in whole hundredths of a column, so that what lies alike is drawn once, in
//! SVG and in pixels; half a hundredth of a knot aside is seen by no eye.

use super::pen::{exact, pair, plus};
use crate::ink::PlanePoint;

/// Into so many steps a whole turn of the light is divided (our own judgement: nobody sees the
/// light on a knot move by less).
const TURN_STEPS: u8 = 16;

/// How far an open thread reaches under its knots, in hundredths of a column.
const UNDER: f64 = 22.0;

/// How large the dark at a corner is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum ChinkSize {
    /// Between knots that meet there.
    Seam,
    /// Over a hole.
    Hole,
}

impl ChinkSize {
    /// As a share of a knot.
    fn share(self) -> f64 {
        match self {
            Self::Seam => 0.3,
            Self::Hole => 0.45,
        }
    }
}

/// A way in hundredths of a column, across and along.
type WholeWay = (i32, i32);

/// The ways from the middle of a knot to the middles of its lower sides, in whole hundredths of
/// a column: so it is known how large it is and how it is turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct TurnedFrame {
    right: WholeWay,
    left: WholeWay,
}

impl TurnedFrame {
    pub(super) fn new(right: PlanePoint, left: PlanePoint) -> Self {
        Self {
            right: whole(right),
            left: whole(left),
        }
    }

    /// To the middles of its lower sides, right and left.
    pub(super) fn sides(self) -> [PlanePoint; 2] {
        [units(self.right), units(self.left)]
    }

    /// Its corners, as they are on the lattice at the right, below, at the left and above.
    pub(super) fn corners(self) -> [PlanePoint; 4] {
        let [right, left] = self.sides();
        let (beside, below) = (plus(right, left, -1.0), plus(right, left, 1.0));
        [beside, below, back(beside), back(below)]
    }

    /// What makes of a knot on the lattice, where columns are so wide and half rows so high, one
    /// with this frame: the numbers of a matrix.
    pub(super) fn matrix(self, column: f64, half_row: f64) -> String {
        let [beside, below, ..] = self.corners();
        let numbers = [
            beside.0 / column,
            beside.1 / column,
            below.0 / half_row,
            below.1 / half_row,
        ];
        let [a, b, c, d] = numbers.map(|number| format!("{number:.4}"));
        format!("{a} {b} {c} {d} 0 0")
    }

    /// How far it is turned, in sixteenths of a whole turn.
    pub(super) fn turn_in_steps(self) -> u8 {
        let across = self.corners()[0];
        let towards = |step: &u8| dot(across, direction(*step));
        let nearest = (0..TURN_STEPS).max_by(|one, other| towards(one).total_cmp(&towards(other)));
        nearest.unwrap_or(0)
    }

    /// A way as it is seen from a frame that is turned by so many steps.
    pub(super) fn turned_back(way: PlanePoint, steps: u8) -> PlanePoint {
        let (cosine, sine) = direction(steps);
        (way.0 * cosine + way.1 * sine, way.1 * cosine - way.0 * sine)
    }

    /// Its outline from its right corner round, written after the place of that corner.
    pub(super) fn outline(self) -> String {
        self.around(1.0)
    }

    /// The same for the dark in a chink at one of its corners.
    pub(super) fn chink(self, size: ChinkSize) -> String {
        self.around(size.share())
    }

    /// From its middle to the right corner of its outline, and to that of a chink.
    pub(super) fn outline_start(self) -> PlanePoint {
        self.corners()[0]
    }

    pub(super) fn chink_start(self, size: ChinkSize) -> PlanePoint {
        plus((0.0, 0.0), self.corners()[0], size.share())
    }

    fn around(self, share: f64) -> String {
        let corners = self.corners();
        let mut path = String::from("l");
        for at in 1..4 {
            let step = plus(corners[at], corners[at - 1], -1.0);
            let step = plus((0.0, 0.0), step, share);
            path.push_str(&format!("{} {} ", exact(step.0), exact(step.1)));
        }
        path.pop();
        path.push('z');
        path
    }
}

/// The course of an open thread, from where it leaves its knot, in whole hundredths of a column:
/// where it comes out from under the one knot, the points of its curve, and where it goes under
/// the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct CourseShape {
    points: [WholeWay; 5],
}

impl CourseShape {
    /// Of a cubic Bézier curve.
    pub(super) fn new(course: [PlanePoint; 4]) -> Self {
        let from_start = |point: PlanePoint| plus(point, course[0], -1.0);
        let under = |end: PlanePoint, towards: PlanePoint| {
            let way = plus(towards, end, -1.0);
            plus(end, way, -UNDER / length(way).max(1e-9))
        };
        let points = [
            under(course[0], course[1]),
            course[1],
            course[2],
            course[3],
            under(course[3], course[2]),
        ];
        Self {
            points: points.map(|point| whole(from_start(point))),
        }
    }

    pub(super) fn path(self) -> String {
        let [before, one, other, end, after] = self.points.map(units);
        format!(
            "M{}L0 0C{} {} {}L{}",
            pair(before),
            pair(one),
            pair(other),
            pair(end),
            pair(after)
        )
    }

    /// The least and the most of what it reaches, from where it leaves its knot.
    pub(super) fn extent(self) -> (PlanePoint, PlanePoint) {
        self.points.map(units).iter().fold(
            ((0.0, 0.0), (0.0, 0.0)),
            |(least, most): (PlanePoint, PlanePoint), point| {
                (
                    (least.0.min(point.0), least.1.min(point.1)),
                    (most.0.max(point.0), most.1.max(point.1)),
                )
            },
        )
    }
}

/// Four corners, the first of them at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Quad {
    others: [WholeWay; 3],
}

impl Quad {
    pub(super) fn new([first, others @ ..]: [PlanePoint; 4]) -> Self {
        Self {
            others: others.map(|corner| whole(plus(corner, first, -1.0))),
        }
    }

    /// Its outline, written after the place of its first corner.
    pub(super) fn outline(self) -> String {
        let mut path = String::from("l");
        let mut before = (0.0, 0.0);
        for corner in self.others.map(units) {
            let step = plus(corner, before, -1.0);
            path.push_str(&format!("{} {} ", exact(step.0), exact(step.1)));
            before = corner;
        }
        path.pop();
        path.push('z');
        path
    }
}

/// The way to the right, turned by so many sixteenths of a whole turn.
fn direction(steps: u8) -> PlanePoint {
    // The cosines of the sixteenths of a turn up to a quarter, from mathematics.
    const COSINES: [f64; 5] = [
        1.0,
        0.923_879_532_511_286_7,
        std::f64::consts::FRAC_1_SQRT_2,
        0.382_683_432_365_089_8,
        0.0,
    ];
    let step = usize::from(steps % (TURN_STEPS / 4));
    let (x, y) = (COSINES[step], COSINES[COSINES.len() - 1 - step]);
    match steps / (TURN_STEPS / 4) {
        0 => (x, y),
        1 => (-y, x),
        2 => (-x, -y),
        _ => (y, -x),
    }
}

pub(super) fn dot(one: PlanePoint, other: PlanePoint) -> f64 {
    one.0 * other.0 + one.1 * other.1
}

pub(super) fn length(way: PlanePoint) -> f64 {
    dot(way, way).sqrt()
}

fn back((x, y): PlanePoint) -> PlanePoint {
    (-x, -y)
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "MAX_KNOTS bounds how far anything reaches"
)]
fn whole((x, y): PlanePoint) -> WholeWay {
    (x.round() as i32, y.round() as i32)
}

fn units((x, y): WholeWay) -> PlanePoint {
    (x.into(), y.into())
}
