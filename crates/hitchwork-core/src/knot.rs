//! One double half hitch between two neighbouring threads.

use std::fmt;
use std::num::{NonZeroU16, NonZeroU32};

use serde::{Deserialize, Serialize};

/// The place between two neighbouring positions, counted from 1 at the left edge.
///
/// Column 1 lies between positions 1 and 2; a band of n threads has n - 1 columns.
///
/// ```
/// use hitchwork_core::knot::Column;
/// let last = Column::new(9).expect("columns count from 1");
/// assert_eq!(last.number(), 9);
/// assert_eq!(last.mirrored(10), Column::new(1));
/// assert!(Column::new(0).is_none());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Column(u16);

impl Column {
    /// The column with this number, or nothing for 0.
    #[must_use]
    pub const fn new(number: u16) -> Option<Self> {
        if number == 0 {
            None
        } else {
            Some(Self(number))
        }
    }

    /// The number that people use: 1 for the leftmost column.
    #[must_use]
    pub const fn number(self) -> u16 {
        self.0
    }

    /// The same column seen from the other side of a band of `threads` threads,
    /// or nothing where the column does not exist on such a band.
    #[must_use]
    pub const fn mirrored(self, threads: u16) -> Option<Self> {
        if self.0 < threads {
            Some(Self(threads - self.0))
        } else {
            None
        }
    }

    pub(crate) const fn index(self) -> usize {
        self.0 as usize - 1
    }
}

impl From<NonZeroU16> for Column {
    fn from(number: NonZeroU16) -> Self {
        Self(number.get())
    }
}

impl From<Column> for NonZeroU16 {
    fn from(column: Column) -> Self {
        Self::new(column.0).expect("columns count from 1")
    }
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// One of the two edges, or the side from which a thread works.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The left, as the maker sees it.
    Left,
    /// The right, as the maker sees it.
    Right,
}

impl Side {
    /// The side across.
    #[must_use]
    pub const fn opposite(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Left => "left",
            Self::Right => "right",
        })
    }
}

/// The four ways of tying the double half hitch.
///
/// The *working thread* wraps, and its colour shows; the other is the *core*.
///
/// ```
/// use hitchwork_core::knot::{Kind, Side};
/// assert_eq!(Kind::Forward.working_side(), Side::Left);
/// assert!(Kind::Forward.changes_places());
/// assert!(!Kind::BackwardForward.changes_places());
/// assert_eq!(Kind::Forward.mirrored().upside_down(), Kind::Forward.half_turned());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum Kind {
    /// The left thread works and moves one position to the right.
    Forward,
    /// The right thread works and moves one position to the left.
    Backward,
    /// The left thread works, turns, and stays where it was.
    ForwardBackward,
    /// The right thread works, turns, and stays where it was.
    BackwardForward,
}

impl Kind {
    /// All four, in the order of the documentation.
    pub const ALL: [Self; 4] = [
        Self::Forward,
        Self::Backward,
        Self::ForwardBackward,
        Self::BackwardForward,
    ];

    /// The side on which the working thread lies before the knot.
    #[must_use]
    pub const fn working_side(self) -> Side {
        match self {
            Self::Forward | Self::ForwardBackward => Side::Left,
            Self::Backward | Self::BackwardForward => Side::Right,
        }
    }

    /// Whether the two threads have changed places after the knot.
    #[must_use]
    pub const fn changes_places(self) -> bool {
        matches!(self, Self::Forward | Self::Backward)
    }

    /// The turning kind in which the thread of the same side works.
    #[must_use]
    pub const fn turned(self) -> Self {
        match self.working_side() {
            Side::Left => Self::ForwardBackward,
            Side::Right => Self::BackwardForward,
        }
    }

    /// The kind seen in a mirror that swaps left and right.
    #[must_use]
    pub const fn mirrored(self) -> Self {
        match self {
            Self::Forward => Self::Backward,
            Self::Backward => Self::Forward,
            Self::ForwardBackward => Self::BackwardForward,
            Self::BackwardForward => Self::ForwardBackward,
        }
    }

    /// The kind in which the other thread works and both end up where they would have.
    ///
    /// It is the kind that the [mirror](Self::mirrored) shows, but here the column stays.
    #[must_use]
    pub const fn inverted(self) -> Self {
        self.mirrored()
    }

    /// The kind read from the finish to the start, left and right as they were.
    #[must_use]
    pub const fn upside_down(self) -> Self {
        match self {
            Self::Forward => Self::Backward,
            Self::Backward => Self::Forward,
            turning => turning,
        }
    }

    /// The kind after half a turn in the plane of the band.
    #[must_use]
    pub const fn half_turned(self) -> Self {
        self.mirrored().upside_down()
    }

    /// The name used in band files and sheets.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Forward => "forward",
            Self::Backward => "backward",
            Self::ForwardBackward => "forward-backward",
            Self::BackwardForward => "backward-forward",
        }
    }

    /// How it is tied, as somebody at the table reads it (common practice, no source).
    ///
    /// ```
    /// use hitchwork_core::knot::Kind;
    /// assert!(Kind::Forward.how().ends_with("ends up on its right"));
    /// ```
    #[must_use]
    pub const fn how(self) -> &'static str {
        match self {
            Self::Forward => {
                "the left of two threads is wrapped twice round the right one, both times the same way, and ends up on its right"
            }
            Self::Backward => {
                "the right of two threads is wrapped twice round the left one, both times the same way, and ends up on its left"
            }
            Self::ForwardBackward => {
                "the left of two threads is wrapped twice round the right one, once each way, and stays on its left"
            }
            Self::BackwardForward => {
                "the right of two threads is wrapped twice round the left one, once each way, and stays on its right"
            }
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Where in a rule a knot was made: lines and characters count from 1.
///
/// `source` is an index into [`Band::sources`](crate::band::Band::sources).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Place {
    /// Which of the band's sources.
    pub source: u16,
    /// The line, from 1.
    pub line: u32,
    /// The character in that line, from 1.
    pub character: u16,
}

/// One knot of a row: a column and a kind, and the place in the rule that made it.
///
/// Two knots are equal when they have the same column and kind; where they were
/// written does not change the band.
///
/// ```
/// use hitchwork_core::knot::{Column, Kind, Knot};
/// let first = Knot::new(Column::new(1).expect("counts from 1"), Kind::Forward);
/// assert_eq!(first.mirrored(4).map(|knot| knot.to_string()), Some("backward at 3".to_owned()));
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Knot {
    column: Column,
    kind: Kind,
    /// The parts of its place, whose line is nothing where it has none. They stand side by side,
    /// and with what it shows a knot takes 16 bytes: there may be millions of them.
    source: u16,
    character: u16,
    line: Option<NonZeroU32>,
    shows: Option<NonZeroU32>,
}

impl Knot {
    /// A knot with no place in a rule.
    #[must_use]
    pub const fn new(column: Column, kind: Kind) -> Self {
        Self {
            column,
            kind,
            source: 0,
            character: 0,
            line: None,
            shows: None,
        }
    }

    /// The same knot, remembering where it was made.
    #[must_use]
    pub const fn made_at(self, place: Place) -> Self {
        Self {
            source: place.source,
            character: place.character,
            line: NonZeroU32::new(place.line),
            ..self
        }
    }

    /// The same knot, remembering which cell of a picture it is to show: a number from 1 on, or
    /// nothing. It goes wherever the knot goes, and changes nothing of the band.
    #[doc(hidden)]
    #[must_use]
    pub const fn showing(self, cell: Option<NonZeroU32>) -> Self {
        Self {
            shows: cell,
            ..self
        }
    }

    /// The number of the cell that it is to show, if it is to show one.
    #[doc(hidden)]
    #[must_use]
    pub const fn shows(self) -> Option<NonZeroU32> {
        self.shows
    }

    /// A knot of another kind in its place.
    #[must_use]
    pub const fn of_kind(self, kind: Kind) -> Self {
        Self { kind, ..self }
    }

    /// The column in which it is tied.
    #[must_use]
    pub const fn column(self) -> Column {
        self.column
    }

    /// The way it is tied.
    #[must_use]
    pub const fn kind(self) -> Kind {
        self.kind
    }

    /// Where in a rule it was made, if a rule made it.
    #[must_use]
    pub const fn place(self) -> Option<Place> {
        match self.line {
            Some(line) => Some(Place {
                source: self.source,
                line: line.get(),
                character: self.character,
            }),
            None => None,
        }
    }

    /// The mirror image of the knot on a band of `threads` threads,
    /// or nothing where the column does not exist there.
    #[must_use]
    pub fn mirrored(self, threads: u16) -> Option<Self> {
        let column = self.column.mirrored(threads)?;
        Some(Self {
            column,
            kind: self.kind.mirrored(),
            ..self
        })
    }

    /// The knot read from the finish to the start.
    #[must_use]
    pub const fn upside_down(self) -> Self {
        Self {
            kind: self.kind.upside_down(),
            ..self
        }
    }

    /// The turning knot in its place, in which the thread of the same side works.
    #[must_use]
    pub const fn turned(self) -> Self {
        Self {
            kind: self.kind.turned(),
            ..self
        }
    }

    /// The knot in its place in which the other thread works.
    #[must_use]
    pub const fn inverted(self) -> Self {
        Self {
            kind: self.kind.inverted(),
            ..self
        }
    }

    /// The knot `columns` further to the right (left when negative), or nothing
    /// where that is not a column.
    #[must_use]
    pub fn shifted(self, columns: i32) -> Option<Self> {
        let number = i32::from(self.column.number()).checked_add(columns)?;
        let column = Column::new(u16::try_from(number).ok()?)?;
        Some(Self { column, ..self })
    }
}

impl PartialEq for Knot {
    fn eq(&self, other: &Self) -> bool {
        (self.column, self.kind) == (other.column, other.kind)
    }
}

impl Eq for Knot {}

impl PartialOrd for Knot {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Knot {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        (self.column, self.kind).cmp(&(other.column, other.kind))
    }
}

impl std::hash::Hash for Knot {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        (self.column, self.kind).hash(state);
    }
}

impl fmt::Display for Knot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} at {}", self.kind, self.column)
    }
}
