//! What the proofs have to say to the maker.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::band::Part;

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Good to know.
    Note,
    /// Can be tied, but will probably disappoint.
    Warning,
    /// Cannot be tied as meant.
    Error,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        })
    }
}

/// What kind of finding it is; each documents itself.
///
/// ```
/// use hitchwork_core::proof::Code;
/// let code = Code::named("splits-apart").expect("documented");
/// assert!(code.page().contains("At the table"));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Code {
    /// A column has no knot in the repeat.
    SplitsApart,
    /// The repeat leaves the fabric full of holes.
    OpenGaps,
    /// Some columns get more knots than others.
    UnevenColumns,
    /// A thread lies loose for many half rows.
    FloatingThread,
    /// A thread never wraps, so its colour never shows.
    ColourNeverShows,
    /// A thread never wraps and turns at an edge, so its colour shows only there.
    ColourOnlyInEdge,
    /// The chosen end does not fit the shape of the edge.
    EndDoesNotSuit,
    /// A loop start needs its threads in pairs of one colour.
    LoopNeedsPairs,
    /// The band ends before its colours have come round.
    StopsEarly,
    /// Colours cannot be told apart at the size of a knot.
    AlikeColours,
    /// A thread needs far more length than the others.
    FarLongerThread,
    /// A thread is so long that it tangles.
    Tangles,
    /// The stash has too little of a colour.
    StashTooShort,
}

impl Code {
    /// All codes, in the order of the documentation.
    pub const ALL: [Self; 13] = [
        Self::SplitsApart,
        Self::OpenGaps,
        Self::UnevenColumns,
        Self::FloatingThread,
        Self::ColourNeverShows,
        Self::ColourOnlyInEdge,
        Self::EndDoesNotSuit,
        Self::LoopNeedsPairs,
        Self::StopsEarly,
        Self::AlikeColours,
        Self::FarLongerThread,
        Self::Tangles,
        Self::StashTooShort,
    ];

    /// The name that people use.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::SplitsApart => "splits-apart",
            Self::OpenGaps => "open-gaps",
            Self::UnevenColumns => "uneven-columns",
            Self::FloatingThread => "floating-thread",
            Self::ColourNeverShows => "colour-never-shows",
            Self::ColourOnlyInEdge => "colour-only-in-edge",
            Self::EndDoesNotSuit => "end-does-not-suit",
            Self::LoopNeedsPairs => "loop-needs-pairs",
            Self::StopsEarly => "stops-early",
            Self::AlikeColours => "alike-colours",
            Self::FarLongerThread => "far-longer-thread",
            Self::Tangles => "tangles",
            Self::StashTooShort => "stash-too-short",
        }
    }

    /// The code of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|code| code.name() == name)
    }

    /// How much such a finding weighs; alike colours more where two names have one value.
    #[must_use]
    pub const fn severity(self) -> Severity {
        match self {
            Self::SplitsApart | Self::LoopNeedsPairs => Severity::Error,
            Self::OpenGaps
            | Self::UnevenColumns
            | Self::FloatingThread
            | Self::EndDoesNotSuit
            | Self::StashTooShort
            | Self::FarLongerThread
            | Self::Tangles => Severity::Warning,
            Self::ColourNeverShows
            | Self::ColourOnlyInEdge
            | Self::StopsEarly
            | Self::AlikeColours => Severity::Note,
        }
    }

    /// The page that explains it: what it means, why it matters at the table, an example,
    /// and the mend.
    #[must_use]
    pub const fn page(self) -> &'static str {
        match self {
            Self::SplitsApart => include_str!("pages/splits-apart.txt"),
            Self::OpenGaps => include_str!("pages/open-gaps.txt"),
            Self::UnevenColumns => include_str!("pages/uneven-columns.txt"),
            Self::FloatingThread => include_str!("pages/floating-thread.txt"),
            Self::ColourNeverShows => include_str!("pages/colour-never-shows.txt"),
            Self::ColourOnlyInEdge => include_str!("pages/colour-only-in-edge.txt"),
            Self::EndDoesNotSuit => include_str!("pages/end-does-not-suit.txt"),
            Self::LoopNeedsPairs => include_str!("pages/loop-needs-pairs.txt"),
            Self::StopsEarly => include_str!("pages/stops-early.txt"),
            Self::AlikeColours => include_str!("pages/alike-colours.txt"),
            Self::FarLongerThread => include_str!("pages/far-longer-thread.txt"),
            Self::Tangles => include_str!("pages/tangles.txt"),
            Self::StashTooShort => include_str!("pages/stash-too-short.txt"),
        }
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl Serialize for Code {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

/// A place in a rule, in people's terms.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RulePlace {
    /// The rule's file, or its name in the built-in library.
    pub file: String,
    /// The line, from 1.
    pub line: u32,
    /// The character in that line, from 1.
    pub character: u16,
}

/// Where on the band a finding belongs; what does not apply is left out.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Where {
    /// The part of the band.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<Part>,
    /// The row of that part, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<u32>,
    /// The knot of that row, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub knot: Option<usize>,
    /// The column, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<u16>,
    /// The thread, by its number at the start.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thread: Option<u16>,
    /// The line of the rule that made the knot.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rule: Option<RulePlace>,
}

/// Something that the proofs found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// What kind of finding it is.
    pub code: Code,
    /// How much it weighs.
    pub severity: Severity,
    /// What was found, complete in one line.
    pub message: String,
    /// What to do about it.
    pub help: String,
    /// Where on the band it belongs.
    #[serde(rename = "where")]
    pub place: Where,
}

impl Finding {
    pub(super) fn new(code: Code, message: String, help: impl Into<String>, place: Where) -> Self {
        Self {
            code,
            severity: code.severity(),
            message,
            help: help.into(),
            place,
        }
    }

    pub(super) fn of_severity(self, severity: Severity) -> Self {
        Self { severity, ..self }
    }
}
