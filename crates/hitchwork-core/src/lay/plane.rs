//! Arrows in the plane of the band, and turns: an arrow of length 1 that turns others.
//!
//! Only the four operations and square roots, so that every machine finds the same lay.

use std::ops::{Add, AddAssign, Mul, Neg, Sub};

/// A place or a way on the band: so far across (to the right) and so far along (away from
/// the start). As a turn, what it makes of an arrow that points straight across.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Arrow {
    pub(super) across: f64,
    pub(super) along: f64,
}

impl Arrow {
    pub(super) const NONE: Self = Self::new(0.0, 0.0);
    /// The turn that leaves everything as it is.
    pub(super) const UPRIGHT: Self = Self::new(1.0, 0.0);

    pub(super) const fn new(across: f64, along: f64) -> Self {
        Self { across, along }
    }

    pub(super) fn times(self, factor: f64) -> Self {
        Self::new(self.across * factor, self.along * factor)
    }

    pub(super) fn dot(self, other: Self) -> f64 {
        self.across * other.across + self.along * other.along
    }

    /// How far the other is turned against this one: the area between them.
    pub(super) fn cross(self, other: Self) -> f64 {
        self.across * other.along - self.along * other.across
    }

    pub(super) fn length(self) -> f64 {
        self.dot(self).sqrt()
    }

    /// Turned by a right angle, from across to along.
    pub(super) fn quarter(self) -> Self {
        Self::new(-self.along, self.across)
    }

    /// The turn back.
    pub(super) fn back(self) -> Self {
        Self::new(self.across, -self.along)
    }

    /// Left and right exchanged. (From 0, so that what is not aside stays so without a sign.)
    pub(super) fn mirrored(self) -> Self {
        Self::new(0.0 - self.across, self.along)
    }

    /// This way, at length 1; the other where there is no way at all.
    pub(super) fn direction_or(self, other: Self) -> Self {
        let length = self.length();
        if length > NO_WAY {
            self.times(1.0 / length)
        } else {
            other
        }
    }

    /// This turn where left and right are exchanged: back, without a sign where there is none.
    pub(super) fn turn_mirrored(self) -> Self {
        Self::new(self.across, 0.0 - self.along)
    }

    /// The turn by about this angle, with the tangent of half the angle taken for half the
    /// angle: exact where it matters, for angles near 0.
    pub(super) fn about(angle: f64) -> Self {
        let half = angle / 2.0;
        let square = half * half;
        Self::new((1.0 - square) / (1.0 + square), angle / (1.0 + square))
    }
}

/// Shorter than this, a way has no direction (in knots).
const NO_WAY: f64 = 1e-9;

impl Add for Arrow {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.across + other.across, self.along + other.along)
    }
}

impl AddAssign for Arrow {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Arrow {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.across - other.across, self.along - other.along)
    }
}

impl Neg for Arrow {
    type Output = Self;
    fn neg(self) -> Self {
        self.times(-1.0)
    }
}

/// An arrow turned by another.
impl Mul for Arrow {
    type Output = Self;
    fn mul(self, turn: Self) -> Self {
        Self::new(
            self.across * turn.across - self.along * turn.along,
            self.across * turn.along + self.along * turn.across,
        )
    }
}

/// A motion of the whole plane: first a turn round its origin, then a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Motion {
    pub(super) turn: Arrow,
    pub(super) step: Arrow,
}

impl Motion {
    pub(super) const NONE: Self = Self {
        turn: Arrow::UPRIGHT,
        step: Arrow::NONE,
    };

    /// Where a place goes.
    pub(super) fn place(self, place: Arrow) -> Arrow {
        place * self.turn + self.step
    }

    /// The same motion of what is mirrored.
    pub(super) fn mirrored(self) -> Self {
        Self {
            turn: self.turn.turn_mirrored(),
            step: self.step.mirrored(),
        }
    }

    /// First the other, then this one.
    pub(super) fn after(self, first: Self) -> Self {
        Self {
            turn: (first.turn * self.turn).direction_or(Arrow::UPRIGHT),
            step: self.place(first.step),
        }
    }

    /// The motion that undoes this one.
    pub(super) fn undone(self) -> Self {
        let turn = self.turn.back();
        Self {
            turn,
            step: -(self.step * turn),
        }
    }

    /// This motion again and again, this many times.
    pub(super) fn repeated(self, times: u32) -> Self {
        let (mut result, mut square, mut left) = (Self::NONE, self, times);
        while left > 0 {
            if left % 2 == 1 {
                result = square.after(result);
            }
            square = square.after(square);
            left /= 2;
        }
        result
    }
}

/// Where a knot lies, in knots, and how it is turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct KnotPose {
    pub(super) place: Arrow,
    pub(super) turn: Arrow,
}

impl KnotPose {
    pub(super) const HERE: Self = Self {
        place: Arrow::NONE,
        turn: Arrow::UPRIGHT,
    };

    pub(super) fn moved(self, by: Motion) -> Self {
        Self {
            place: by.place(self.place),
            turn: self.turn * by.turn,
        }
    }

    pub(super) fn mirrored(self) -> Self {
        Self {
            place: self.place.mirrored(),
            turn: self.turn.turn_mirrored(),
        }
    }

    /// The corner of the knot towards the neighbour on this way.
    pub(super) fn corner(self, way: Arrow) -> Arrow {
        self.place + (way * self.turn).times(0.5)
    }
}
