//! How a band begins and ends.

use serde::{Deserialize, Serialize};

use crate::knot::{Kind, Side};

/// The shape in which a band begins or ends.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum Shape {
    /// The threads hang side by side, and the first row is tied straight on.
    #[default]
    Flat,
    /// The threads are folded in half over a loop; both halves hang as neighbours.
    Loop,
    /// The threads are brought out of their bundle one by one from the left edge on,
    /// which suits an edge that slants down to the right.
    HalfTriangleLeft,
    /// The threads are brought out of their bundle one by one from the right edge on,
    /// which suits an edge that slants down to the left.
    HalfTriangleRight,
    /// Two half triangles that meet in the middle; suits a pointed edge.
    Triangle,
}

impl Shape {
    /// The shape for the other hand.
    #[must_use]
    pub const fn mirrored(self) -> Self {
        match self {
            Self::HalfTriangleLeft => Self::HalfTriangleRight,
            Self::HalfTriangleRight => Self::HalfTriangleLeft,
            other => other,
        }
    }

    /// The name as said at the table.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Flat => "flat",
            Self::Loop => "loop",
            Self::HalfTriangleLeft => "half triangle from the left",
            Self::HalfTriangleRight => "half triangle from the right",
            Self::Triangle => "triangle",
        }
    }
}

/// What becomes of the tails.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum Ties {
    /// Two bundles twisted round each other.
    Twisted,
    /// Plaited in three.
    #[default]
    Braided,
    /// Knotted and cut short.
    Cut,
}

/// One end of a band: its shape and what becomes of the tails there.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct End {
    /// The shape of the end.
    #[serde(deserialize_with = "crate::file::word")]
    pub shape: Shape,
    /// The ties; a loop has none at its own end.
    #[serde(default, deserialize_with = "crate::file::word")]
    pub ties: Ties,
}

impl End {
    /// The end for the other hand.
    #[must_use]
    pub const fn mirrored(self) -> Self {
        Self {
            shape: self.shape.mirrored(),
            ..self
        }
    }
}

/// In which order the threads leave the bundle at a half triangle start, and with which
/// knot, so that `threads` threads end up hanging in their computed order.
///
/// Gives positions from 1. Every thread but the last ties one knot round all that are
/// still in the bundle; the last has nothing left to tie round. With backward knots the
/// first thread brought out ends at the left edge, with forward knots at the right
/// (common practice, no source).
///
/// ```
/// use hitchwork_core::craft::bringing_out;
/// use hitchwork_core::knot::{Kind, Side};
/// let (kind, order) = bringing_out(Side::Left, 4);
/// assert_eq!((kind, order), (Kind::Backward, vec![1, 2, 3, 4]));
/// let (kind, order) = bringing_out(Side::Right, 4);
/// assert_eq!((kind, order), (Kind::Forward, vec![4, 3, 2, 1]));
/// ```
#[must_use]
pub fn bringing_out(from: Side, threads: u16) -> (Kind, Vec<u16>) {
    match from {
        Side::Left => (Kind::Backward, (1..=threads).collect()),
        Side::Right => (Kind::Forward, (1..=threads).rev().collect()),
    }
}
