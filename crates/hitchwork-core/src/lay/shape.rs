//! What a knot asks of its threads: where they leave it, where they enter it, how far away
//! the next knot lies.

use super::links::{Bond, Corner};
use super::plane::{Arrow, KnotPose};
use crate::craft::Gauge;

/// A thread that comes back to the column that it left asks this share of what a straight one
/// asks: it goes round the hitches of its neighbours first (our own judgement).
const SAME_SIDE: f64 = 0.3;

/// How strongly a loop at an edge keeps its length, beside a straight thread (our own
/// judgement).
const EDGE_LOOP: f64 = 0.2;

/// How strongly two knots of one column keep apart, beside a straight thread (our own
/// judgement: as firmly as half of what holds them). So knots are soft: where threads pull them
/// together they press into each other, most where a knot is tied right upon another of the
/// same two threads: there by up to half of one.
const APART: f64 = 0.5;

/// The shape of a knot in its own frame, measured in knots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct KnotShape {
    column: f64,
    half_row: f64,
}

impl KnotShape {
    pub(super) fn of(gauge: &Gauge) -> Self {
        let knot_mm = gauge.knot_mm();
        Self {
            column: gauge.column_mm / knot_mm,
            half_row: gauge.half_row_mm / knot_mm,
        }
    }

    /// The way to the next knot, seen from the knot that the thread leaves.
    ///
    /// A straight thread runs along the lattice. One that comes back stands square to the
    /// straight one that leaves the other corner: rows over a leader lie straight with it.
    pub(super) fn leaving(self, corner: Corner, bond: Bond) -> Arrow {
        let to_the_right = match bond {
            Bond::Straight => Arrow::new(self.column, self.half_row),
            Bond::SameSide | Bond::EdgeLoop => Arrow::new(self.half_row, self.column),
        };
        match corner {
            Corner::Left => mirrored(to_the_right),
            Corner::Right => to_the_right,
        }
    }

    /// The way from the knot before, seen from the knot that the thread enters.
    pub(super) fn entering(self, corner: Corner, bond: Bond) -> Arrow {
        mirrored(self.leaving(corner, bond))
    }

    /// How far a knot reaches in a direction: as far as the gauge says across and along, and half
    /// way to the next knot where a straight thread leads. A square on its corner, where columns
    /// and half rows are equally far apart.
    pub(super) fn reach(self, spot: KnotPose, direction: Arrow) -> f64 {
        let own = direction * spot.turn.back();
        let (across, along) = (own.across.abs(), own.along.abs());
        // `share` of a way of length 1 points to the corner at `corner`, more of it past the edge.
        let between = |share: f64, corner: f64| {
            let past_edge = (share - corner) / (1.0 - corner).max(1e-9);
            0.5 + (corner - 0.5) * past_edge
        };
        if across * self.half_row >= along * self.column {
            between(across, self.column)
        } else {
            between(along, self.half_row)
        }
    }

    /// How strongly a thread holds both frames to its way.
    pub(super) fn hold(bond: Bond) -> f64 {
        match bond {
            Bond::Straight => 1.0,
            Bond::SameSide => SAME_SIDE,
            Bond::EdgeLoop => 0.0,
        }
    }

    /// How near two knots of a column come at the least: a knot, or where the gauge lays them
    /// closer, what it lays.
    pub(super) fn apart(self) -> SlackRange {
        SlackRange {
            least: (2.0 * self.half_row).min(1.0),
            most: f64::INFINITY,
            weight: APART,
        }
    }

    /// How far apart two knots of the same two threads lie on the lattice.
    pub(super) fn one_upon_another(self) -> f64 {
        2.0 * self.half_row
    }

    /// How long the loop of an edge thread may be.
    pub(super) fn edge_loop(self) -> SlackRange {
        SlackRange {
            least: (2.0 * self.half_row).min(1.0),
            most: (2.0 * self.half_row).max(1.0),
            weight: EDGE_LOOP,
        }
    }
}

fn mirrored(way: Arrow) -> Arrow {
    Arrow::new(-way.across, way.along)
}

/// Between which lengths nothing pulls, and how strongly it does beyond.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SlackRange {
    least: f64,
    most: f64,
    pub(super) weight: f64,
}

impl SlackRange {
    pub(super) fn least(self) -> f64 {
        self.least
    }

    pub(super) fn nearest(self, length: f64) -> f64 {
        length.max(self.least).min(self.most)
    }
}
