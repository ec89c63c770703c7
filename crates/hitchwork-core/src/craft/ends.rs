//! How a band begins and ends.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Problem};
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
    /// The threads are folded in half and knotted below the fold, which leaves a loop;
    /// both halves of a thread have one colour.
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
    /// The mirror image of the shape.
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

impl Ties {
    /// What is made of the tails of this many threads: two cannot be plaited in three, so they
    /// are twisted.
    ///
    /// ```
    /// use hitchwork_core::craft::Ties;
    /// assert_eq!(Ties::Braided.of_threads(2), Ties::Twisted);
    /// assert_eq!(Ties::Braided.of_threads(3), Ties::Braided);
    /// ```
    #[must_use]
    pub const fn of_threads(self, threads: u16) -> Self {
        match self {
            Self::Braided if threads < 3 => Self::Twisted,
            other => other,
        }
    }
}

/// One end of a band: its shape and what becomes of the tails there.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct End {
    /// The shape of the end.
    #[serde(deserialize_with = "crate::words::one_of")]
    pub shape: Shape,
    /// The ties; a loop has none at its own end.
    #[serde(default, deserialize_with = "crate::words::one_of")]
    pub ties: Ties,
}

impl End {
    /// The mirror image of the end.
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

/// In which order the threads join the bundle at a half triangle finish, and with which
/// knot: positions from 1.
///
/// The first is the bundle; each thread after it ties a knot round those before it and joins
/// them.
///
/// ```
/// use hitchwork_core::craft::joining;
/// use hitchwork_core::knot::{Kind, Side};
/// assert_eq!(joining(Side::Left, 3), (Kind::Backward, vec![1, 2, 3]));
/// assert_eq!(joining(Side::Right, 3), (Kind::Forward, vec![3, 2, 1]));
/// ```
#[must_use]
pub fn joining(from: Side, threads: u16) -> (Kind, Vec<u16>) {
    bringing_out(from, threads)
}

/// One thread that is folded in half at a loop start: two of the band's threads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fold {
    /// The positions, from 1, at which its halves hang, the left one first.
    pub halves: [u16; 2],
}

impl Fold {
    /// Whether the halves hang side by side; others cross their neighbours below the knot.
    #[must_use]
    pub const fn side_by_side(self) -> bool {
        self.halves[1] == self.halves[0] + 1
    }
}

/// Which threads of a loop start are the two halves of one: for colours wanted in this
/// order, pairs of one colour that hang as near each other as can be.
///
/// The knot below the loop lets the halves hang in any order, so an order can be had
/// exactly when every colour comes an even number of times. Pairing the first and second
/// of a colour, the third and fourth and so on makes the sum of the distances least.
///
/// ```
/// use hitchwork_core::craft::folds;
/// let wanted = [0, 0, 1, 2, 2, 1];
/// let halves: Vec<[u16; 2]> = folds(&wanted)?.iter().map(|fold| fold.halves).collect();
/// assert_eq!(halves, [[1, 2], [3, 6], [4, 5]]);
/// assert!(folds(&[0, 1, 0, 0]).is_err());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When a colour comes an odd number of times: that order cannot be had.
pub fn folds(colours: &[u16]) -> Result<Vec<Fold>, Error> {
    let mut waiting = std::collections::BTreeMap::<u16, u16>::new();
    let mut folds = Vec::with_capacity(colours.len() / 2);
    for (position, colour) in (1..).zip(colours) {
        match waiting.remove(colour) {
            Some(first) => folds.push(Fold {
                halves: [first, position],
            }),
            None => {
                waiting.insert(*colour, position);
            }
        }
    }
    if let Some((_, position)) = waiting.first_key_value() {
        return Err(Problem::Craft {
            message: format!(
                "this order cannot be had from folded threads: the colour of position {position} comes an odd number of times"
            ),
            help: "hang every colour on an even number of threads, or choose another end".to_owned(),
        }
        .into());
    }
    folds.sort_by_key(|fold| fold.halves);
    Ok(folds)
}
