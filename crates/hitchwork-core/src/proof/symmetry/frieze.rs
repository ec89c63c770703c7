//! The seven frieze groups and the operations that make them.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::knot::Kind;
use crate::row::{self, Row};

/// A way of laying a strip onto itself, apart from pushing it along.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::Operation};
/// assert_eq!(Operation::Mirrored.of_kind(Kind::ForwardBackward), Kind::BackwardForward);
/// assert_eq!(Operation::UpsideDown.of_kind(Kind::ForwardBackward), Kind::ForwardBackward);
/// assert_eq!(Operation::HalfTurned.of_kind(Kind::Forward), Kind::Forward);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Operation {
    /// As it lies.
    Plain,
    /// Left and right exchanged: in a mirror that stands along the band.
    Mirrored,
    /// Start and finish exchanged: in a mirror that stands across the band.
    UpsideDown,
    /// Half a turn in the plane of the band.
    HalfTurned,
}

impl Operation {
    /// All four.
    pub const ALL: [Self; 4] = [
        Self::Plain,
        Self::Mirrored,
        Self::UpsideDown,
        Self::HalfTurned,
    ];

    /// Whether column c comes to lie in column n - c.
    #[must_use]
    pub const fn exchanges_sides(self) -> bool {
        matches!(self, Self::Mirrored | Self::HalfTurned)
    }

    /// Whether what was tied last comes to be tied first.
    #[must_use]
    pub const fn exchanges_ends(self) -> bool {
        matches!(self, Self::UpsideDown | Self::HalfTurned)
    }

    /// What becomes of a kind of knot.
    #[must_use]
    pub const fn of_kind(self, kind: Kind) -> Kind {
        match self {
            Self::Plain => kind,
            Self::Mirrored => kind.mirrored(),
            Self::UpsideDown => kind.upside_down(),
            Self::HalfTurned => kind.half_turned(),
        }
    }

    /// What becomes of rows on a band of `threads` threads.
    ///
    /// ```
    /// use hitchwork_core::{knot::Kind, proof::Operation, row::Row};
    /// let rows = [Row::run(Kind::Forward, [1])?];
    /// assert_eq!(Operation::Mirrored.of_rows(&rows, 4)?, [Row::run(Kind::Backward, [3])?]);
    /// assert!(Operation::Mirrored.of_rows(&rows, 1).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a knot lies in a column that such a band does not have.
    pub fn of_rows(self, rows: &[Row], threads: u16) -> Result<Vec<Row>, Error> {
        Ok(match self {
            Self::Plain => rows.to_vec(),
            Self::Mirrored => row::mirrored(rows, threads)?,
            Self::UpsideDown => row::upside_down(rows),
            Self::HalfTurned => row::half_turned(rows, threads)?,
        })
    }

    pub(in crate::proof) const fn index(self) -> usize {
        self as usize
    }

    /// This operation and then another.
    ///
    /// ```
    /// use hitchwork_core::proof::Operation;
    /// assert_eq!(Operation::Mirrored.then(Operation::UpsideDown), Operation::HalfTurned);
    /// assert_eq!(Operation::HalfTurned.then(Operation::HalfTurned), Operation::Plain);
    /// ```
    #[must_use]
    pub const fn then(self, next: Self) -> Self {
        match (
            self.exchanges_sides() != next.exchanges_sides(),
            self.exchanges_ends() != next.exchanges_ends(),
        ) {
            (false, false) => Self::Plain,
            (true, false) => Self::Mirrored,
            (false, true) => Self::UpsideDown,
            (true, true) => Self::HalfTurned,
        }
    }
}

/// One of the seven ways in which a strip without end can be symmetrical, by
/// its symbol in the International Union of Crystallography's notation.
///
/// The strip runs along the band, so translations do. After `p` the symbol says: `2` where
/// half a turn leaves the strip as it is; then `m` for mirrors *across* the strip, which
/// exchange start and finish; then `m` for a mirror *along* the strip, which exchanges
/// left and right, or `g` for a glide: the left-right mirror image lies half a period
/// further on. A `1` stands where there is nothing of the kind and something follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Frieze {
    /// Nothing but translations.
    P1,
    /// A glide.
    P11g,
    /// A mirror along the strip.
    P11m,
    /// Mirrors across the strip.
    P1m1,
    /// Half turns.
    P2,
    /// Mirrors across, half turns between them, and a glide.
    P2mg,
    /// Mirrors across and along, and half turns where they meet.
    P2mm,
}

impl Frieze {
    /// All seven.
    pub const ALL: [Self; 7] = [
        Self::P1,
        Self::P11g,
        Self::P11m,
        Self::P1m1,
        Self::P2,
        Self::P2mg,
        Self::P2mm,
    ];

    /// Its symbol in crystallography: "p2mg".
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::P1 => "p1",
            Self::P11g => "p11g",
            Self::P11m => "p11m",
            Self::P1m1 => "p1m1",
            Self::P2 => "p2",
            Self::P2mg => "p2mg",
            Self::P2mm => "p2mm",
        }
    }

    /// Its name in a maker's words: "half turns". A mirror or a glide that the name leaves out
    /// follows from those that it has: mirrors along and across make half turns where they meet.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::P1 => "none",
            Self::P11g => "glide",
            Self::P11m => "mirror along",
            Self::P1m1 => "mirror across",
            Self::P2 => "half turns",
            Self::P2mg => "mirror across and glide",
            Self::P2mm => "mirror along and across",
        }
    }

    /// The group of that name or symbol, if there is one.
    ///
    /// ```
    /// use hitchwork_core::proof::Frieze;
    /// assert_eq!(Frieze::named("half turns"), Some(Frieze::P2));
    /// assert_eq!(Frieze::named("p2mg"), Some(Frieze::P2mg));
    /// assert_eq!(Frieze::named("p4m"), None);
    /// assert_eq!(Frieze::P11g.to_string(), "glide (p11g)");
    /// ```
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let mut all = Self::ALL.into_iter();
        all.find(|group| group.name() == name || group.symbol() == name)
    }

    /// What it means for somebody who looks at the band.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::P1 => "no mirror image or half turn of it fits on it",
            Self::P11g => "left and right are mirror images, half a period apart",
            Self::P11m => "left and right are mirror images",
            Self::P1m1 => "it runs the same from the finish as from the start",
            Self::P2 => "half a turn leaves it as it is",
            Self::P2mg => {
                "it runs the same from both ends, and left and right are mirror images, half a period apart"
            }
            Self::P2mm => "it runs the same from both ends, and left and right are mirror images",
        }
    }

    /// The group that has these and no more; what two of them make, it has as well.
    pub(super) const fn of(along: Option<Lengthwise>, across: bool, turns: bool) -> Self {
        match (along, across, turns) {
            (None, false, false) => Self::P1,
            (Some(Lengthwise::Glide), false, false) => Self::P11g,
            (Some(Lengthwise::Mirror), false, false) => Self::P11m,
            (None, true, false) => Self::P1m1,
            (None, false, true) => Self::P2,
            (Some(Lengthwise::Glide), _, _) => Self::P2mg,
            (Some(Lengthwise::Mirror) | None, _, _) => Self::P2mm,
        }
    }

    /// Its mirror or glide along the strip.
    #[must_use]
    pub const fn along(self) -> Option<Lengthwise> {
        match self {
            Self::P11g | Self::P2mg => Some(Lengthwise::Glide),
            Self::P11m | Self::P2mm => Some(Lengthwise::Mirror),
            Self::P1 | Self::P1m1 | Self::P2 => None,
        }
    }

    /// Whether it has mirrors across the strip.
    #[must_use]
    pub const fn across(self) -> bool {
        matches!(self, Self::P1m1 | Self::P2mg | Self::P2mm)
    }

    /// Whether half a turn leaves the strip as it is.
    #[must_use]
    pub const fn turns(self) -> bool {
        matches!(self, Self::P2 | Self::P2mg | Self::P2mm)
    }
}

impl fmt::Display for Frieze {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.name(), self.symbol())
    }
}

/// How left and right are mirror images of each other; the axis is the middle of the band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Lengthwise {
    /// At the same height.
    Mirror,
    /// Half a period further on.
    Glide,
}
