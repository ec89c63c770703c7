//! What the proofs have to say to the maker.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::band::{Band, Part};
use crate::knot::Place;

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

/// The codes, each once: what it means, its name, how much it weighs, and what the maker does
/// about it at the table, where no other part of the sheet says it. A page of its name in
/// `pages` explains it.
macro_rules! codes {
    ($($(#[doc = $meaning:literal])+ $code:ident => ($name:literal, $severity:ident, $advice:expr),)+) => {
        /// What kind of finding it is; each documents itself.
        ///
        /// ```
        /// use hitchwork_core::proof::Code;
        /// let code = Code::named("splits-apart").expect("documented");
        /// assert!(code.page().contains("At the table"));
        /// ```
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum Code {
            $($(#[doc = $meaning])+ $code,)+
        }

        impl Code {
            /// All codes, in the order of the documentation.
            pub const ALL: &[Self] = &[$(Self::$code),+];

            /// The name that people use.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$code => $name,)+
                }
            }

            /// How much such a finding weighs; alike colours more where two names have one
            /// value.
            #[must_use]
            pub const fn severity(self) -> Severity {
                match self {
                    $(Self::$code => Severity::$severity,)+
                }
            }

            /// What the maker does about it at the table; nothing where another part of the
            /// sheet says it.
            #[must_use]
            pub const fn advice(self) -> Option<&'static str> {
                match self {
                    $(Self::$code => $advice,)+
                }
            }

            /// The page that explains it: what it means, why it matters at the table, an
            /// example, and what to do.
            #[must_use]
            pub const fn page(self) -> &'static str {
                match self {
                    $(Self::$code => include_str!(concat!("pages/", $name, ".txt")),)+
                }
            }
        }
    };
}

codes! {
    /// A column has no knot in the repeat.
    SplitsApart => ("splits-apart", Error, Some("Ask the designer for rows that hold together before you cut.")),
    /// A column has knots in the lead-in or the lead-out and none in the repeat.
    Slit => ("slit", Warning, Some("Keep the two parts side by side while you tie them, and pull both equally firmly.")),
    /// Some columns get so many more knots than others that threads between them lie open.
    OpenGaps => ("open-gaps", Warning, Some("Pull every row close to the one before; the band comes out shorter and denser than it is drawn.")),
    /// Some columns get more knots than others.
    UnevenColumns => ("uneven-columns", Warning, Some("That comes from the rows and not from your hands: smooth the band flat as it grows.")),
    /// The band bends to one side by itself.
    Bends => ("bends", Warning, Some("That comes from the rows and not from your hands: let it bend, or pin it straight while you tie.")),
    /// How the band will lie cannot be worked out.
    RoughSize => ("rough-size", Warning, Some("Measure the band as it grows: it may come out smaller and denser than this sheet says.")),
    /// A thread lies loose for a long way.
    FloatingThread => ("floating-thread", Warning, Some("Let it lie flat there, neither tight nor slack.")),
    /// A thread never wraps, so its colour never shows.
    ColourNeverShows => ("colour-never-shows", Note, Some("That is how the band is made; it is not a mistake of yours.")),
    /// A thread never wraps and turns at an edge, so its colour shows only there.
    ColourOnlyInEdge => ("colour-only-in-edge", Note, Some("That is how the band is made; it is not a mistake of yours.")),
    /// The chosen end does not fit the shape of the edge.
    EndDoesNotSuit => ("end-does-not-suit", Warning, Some("Expect the band to lie a little crooked there.")),
    /// A loop start needs its threads in pairs of one colour.
    LoopNeedsPairs => ("loop-needs-pairs", Error, Some("Ask the designer for another start before you cut.")),
    // The sentence of the sheet about the colours coming round says what to do.
    /// The band ends before its colours have come round.
    StopsEarly => ("stops-early", Note, None),
    /// Colours cannot be told apart at the size of a knot.
    AlikeColours => ("alike-colours", Note, Some("Number the threads at the start, and tie by the numbers.")),
    /// A thread needs far more length than the others.
    FarLongerThread => ("far-longer-thread", Warning, Some("Cut each thread to its own length.")),
    /// A thread is so long that it tangles.
    Tangles => ("tangles", Warning, Some("Wind long threads into small butterflies, and let out a little at a time.")),
    /// The thread is thicker than what such bands are knotted of.
    ThickThread => ("thick-thread", Warning, Some("Lay the thread beside a ruler before you cut: it may be thinner than this sheet reckons.")),
    /// The stash has too little of a colour.
    StashTooShort => ("stash-too-short", Warning, Some("Buy what is missing before you begin.")),
}

impl Code {
    /// The code of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|code| code.name() == name)
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
#[non_exhaustive]
pub struct RulePlace {
    /// The rule's file, or its name in the built-in library.
    pub file: String,
    /// The line, from 1.
    pub line: u32,
    /// The character in that line, from 1.
    pub character: u16,
}

impl RulePlace {
    /// Where in its rule a knot of the band was made, if that is known.
    pub(super) fn of(band: &Band, place: Option<Place>) -> Option<Self> {
        let place = place?;
        let file = band.sources().get(usize::from(place.source))?.clone();
        Some(Self {
            file,
            line: place.line,
            character: place.character,
        })
    }
}

/// Where on the band a finding belongs; what does not apply is left out.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[non_exhaustive]
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
#[non_exhaustive]
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
