//! The shape of the start and finish edges, and the ends that suit it.

use serde::Serialize;

use crate::craft::{Gauge, Shape};
use crate::fabric::Fabric;
use crate::lay::Lay;

/// How an edge runs across the band, seen with the start at the top.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum EdgeShape {
    /// Straight across, to within a half row.
    Level,
    /// Down to the right.
    SlantsRight,
    /// Down to the left.
    SlantsLeft,
    /// The middle sticks out.
    Pointed,
    /// The middle lies back.
    Notched,
    /// None of these.
    Ragged,
}

impl EdgeShape {
    /// All shapes.
    pub const ALL: &[Self] = &[
        Self::Level,
        Self::SlantsRight,
        Self::SlantsLeft,
        Self::Pointed,
        Self::Notched,
        Self::Ragged,
    ];

    /// The name by which reports and conditions call it: "slants-right".
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Level => "level",
            Self::SlantsRight => "slants-right",
            Self::SlantsLeft => "slants-left",
            Self::Pointed => "pointed",
            Self::Notched => "notched",
            Self::Ragged => "ragged",
        }
    }

    /// The words for it: "slants down to the right".
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Level => "is level",
            Self::SlantsRight => "slants down to the right",
            Self::SlantsLeft => "slants down to the left",
            Self::Pointed => "is pointed",
            Self::Notched => "is notched",
            Self::Ragged => "is ragged",
        }
    }

    /// The ends that such an edge takes, the most natural first (common practice, no
    /// source): a slant takes a half triangle, a point takes a triangle, a level edge a
    /// flat end or a loop.
    #[must_use]
    pub const fn suits(self) -> &'static [Shape] {
        match self {
            Self::Level | Self::Notched => &[Shape::Flat, Shape::Loop],
            Self::SlantsRight => &[Shape::HalfTriangleLeft, Shape::Flat],
            Self::SlantsLeft => &[Shape::HalfTriangleRight, Shape::Flat],
            Self::Pointed => &[Shape::Triangle, Shape::Flat],
            Self::Ragged => &[Shape::Flat],
        }
    }
}

/// One edge of a fabric.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Edge {
    /// How it runs.
    pub shape: EdgeShape,
    /// For each column from the left, how many half rows it lies back from where the edge
    /// sticks out furthest; nothing where the column has no knot.
    pub lies_back: Vec<Option<u32>>,
    /// The ends that it takes, the most natural first.
    pub suits: Vec<Shape>,
}

/// Both edges of a fabric.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Edges {
    /// Where the band begins.
    pub start: Edge,
    /// Where it ends.
    pub finish: Edge,
}

impl Edges {
    /// The edges of a fabric as it [lies](crate::tied::Tied::lay): where its first and last knots in
    /// each column come to be.
    #[must_use]
    pub fn of(fabric: &Fabric, lay: &Lay) -> Self {
        let soft = lay.edges(fabric);
        let is_soft = soft.is_some();
        let [firsts, back] = match soft {
            Some(edges) => edges.map(|edge| {
                let columns = edge.columns_back_mm.into_iter();
                columns
                    .map(|back| back.map(|mm| half_rows(mm, lay.gauge())))
                    .collect()
            }),
            None => on_lattice(fabric),
        };
        // At the finish, what lies back on the left makes the edge slant down to the right.
        let mirror = |shape| match shape {
            EdgeShape::SlantsRight => EdgeShape::SlantsLeft,
            EdgeShape::SlantsLeft => EdgeShape::SlantsRight,
            other => other,
        };
        let finish = mirror(shape_of(&back, is_soft));
        let start = shape_of(&firsts, is_soft);
        Self {
            start: Edge {
                shape: start,
                lies_back: firsts,
                suits: start.suits().to_vec(),
            },
            finish: Edge {
                shape: finish,
                lies_back: back,
                suits: finish.suits().to_vec(),
            },
        }
    }
}

/// How far the first and the last knot of each column lie back on the lattice.
fn on_lattice(fabric: &Fabric) -> [Vec<Option<u32>>; 2] {
    let lasts = fabric.last_levels();
    let furthest = lasts.iter().flatten().max().copied().unwrap_or(0);
    let back = lasts.iter().map(|last| last.map(|level| furthest - level));
    [fabric.first_levels(), back.collect()]
}

/// A way along the band, to the nearest half row.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a few lengths of the band's width, and never below 0"
)]
fn half_rows(mm: f64, gauge: &Gauge) -> u32 {
    (mm / gauge.half_row_mm).round() as u32
}

/// The shape of an edge at the start, from how far each column lies back. A soft edge that gives way
/// by no more than a knot, and nowhere at once, lies straight: so does a row over a leader that the
/// rows behind it push a little.
fn shape_of(lies_back: &[Option<u32>], is_soft: bool) -> EdgeShape {
    let profile: Vec<u32> = lies_back.iter().flatten().copied().collect();
    if profile.len() < lies_back.len() {
        return EdgeShape::Ragged;
    }
    let lowest = profile.iter().min().copied().unwrap_or(0);
    let highest = profile.iter().max().copied().unwrap_or(0);
    if highest - lowest <= 1 {
        return EdgeShape::Level;
    }
    let backwards: Vec<u32> = profile.iter().rev().copied().collect();
    let turn = |wanted: u32| {
        let all: Vec<usize> = (0..profile.len())
            .filter(|at| profile[*at] == wanted)
            .collect();
        all[all.len() / 2]
    };
    let both_ways_from = |middle: usize, from_middle: bool| {
        let left: Vec<u32> = profile[..=middle].to_vec();
        let left_from_middle: Vec<u32> = left.iter().rev().copied().collect();
        let right: Vec<u32> = profile[middle..].to_vec();
        let right_to_middle: Vec<u32> = right.iter().rev().copied().collect();
        if from_middle {
            rises(&left_from_middle) && rises(&right)
        } else {
            rises(&left) && rises(&right_to_middle)
        }
    };
    if rises(&profile) {
        EdgeShape::SlantsRight
    } else if rises(&backwards) {
        EdgeShape::SlantsLeft
    } else if both_ways_from(turn(lowest), true) {
        EdgeShape::Pointed
    } else if both_ways_from(turn(highest), false) {
        EdgeShape::Notched
    } else if is_soft && highest - lowest <= 2 && gives_way_evenly(&profile) {
        EdgeShape::Level
    } else {
        EdgeShape::Ragged
    }
}

/// Whether each column lies as far back as the next, to within a half row.
fn gives_way_evenly(profile: &[u32]) -> bool {
    profile.windows(2).all(|two| two[0].abs_diff(two[1]) <= 1)
}

/// Whether the numbers rise from first to last, give or take the half row by which
/// neighbouring columns are offset anyway.
fn rises(profile: &[u32]) -> bool {
    let mut highest = 0;
    let steady = profile.iter().all(|&level| {
        highest = highest.max(level);
        level + 1 >= highest
    });
    let (first, last) = (
        profile.first().copied().unwrap_or(0),
        profile.last().copied().unwrap_or(0),
    );
    steady && last >= first + 2
}

#[cfg(test)]
mod tests {
    use super::{EdgeShape, shape_of};

    /// As far as the columns lie back in which a leader goes across 13 threads and comes back before
    /// the rows of a lattice.
    #[test]
    fn a_soft_edge_that_gives_way_by_a_knot_lies_straight() {
        let shape = |back: &[u32], is_soft: bool| {
            let back: Vec<Option<u32>> = back.iter().copied().map(Some).collect();
            shape_of(&back, is_soft)
        };
        let pushed = [1, 1, 0, 0, 0, 0, 0, 0, 0, 1, 1, 2];
        assert_eq!(shape(&pushed, true), EdgeShape::Level);
        assert_eq!(shape(&pushed, false), EdgeShape::Ragged);
        assert_eq!(shape(&[0, 2, 0, 2, 0], true), EdgeShape::Ragged);
        assert_eq!(shape(&[1, 0, 1, 2, 3, 2, 1, 2], true), EdgeShape::Ragged);
        assert_eq!(shape(&[0, 1, 2], true), EdgeShape::SlantsRight);
    }
}
