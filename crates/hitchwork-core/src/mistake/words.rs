//! The same in a maker's words.

use std::fmt;

use super::mend::{GoingOn, Mend};
use super::written::{Change, RowPlace, WrittenKnot};
use crate::band::{Band, Part};
use crate::knot::Column;
use crate::text::counted;

impl fmt::Display for RowPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { part, pass, row } = self;
        match part {
            Part::Repeat => write!(f, "repeat {pass}, row {row}"),
            part => write!(f, "{part}, row {row}"),
        }
    }
}

impl fmt::Display for WrittenKnot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            row,
            number,
            column,
            ..
        } = self;
        write!(
            f,
            "{row}, knot {number}, at positions {}",
            positions(*column)
        )
    }
}

/// The positions of the two threads of a knot.
fn positions(column: Column) -> String {
    format!("{} and {}", column.number(), column.number() + 1)
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let before = |before: &Option<WrittenKnot>| match before {
            Some(WrittenKnot { row, number, .. }) => format!("before knot {number} of {row}"),
            None => "after the last knot".to_owned(),
        };
        match self {
            Self::OtherKind { knot, tied } => {
                write!(f, "{knot}: {tied} instead of {}", knot.kind)
            }
            Self::LeftOut { knot } => write!(f, "{knot}: the {} knot was left out", knot.kind),
            Self::TooMany {
                before: at,
                column,
                tied,
            } => {
                let positions = positions(*column);
                write!(
                    f,
                    "a {tied} knot too many at positions {positions}, {}",
                    before(at)
                )
            }
            Self::TakenForEachOther { before: at, left } => write!(
                f,
                "the threads at positions {left} and {} were taken for each other, {}",
                left + 1,
                before(at)
            ),
            Self::RowLeftOut { row } => write!(f, "{row}: the whole row was left out"),
            Self::RowTwice { row } => write!(f, "{row}: the whole row was tied twice"),
        }
    }
}

/// Changes in one line.
#[must_use]
pub fn changes_in_words(changes: &[Change]) -> String {
    let all: Vec<String> = changes.iter().map(ToString::to_string).collect();
    all.join("; and ")
}

impl Mend {
    /// What to untie, in words.
    #[must_use]
    pub fn untying(&self) -> String {
        if self.untie.is_empty() {
            let missing = match self.tie_again.len() {
                1 => "knot that is missing".to_owned(),
                several => format!("{several} knots that are missing"),
            };
            return format!("Nothing lies upon it: tie the {missing}.");
        }
        let places: Vec<String> = self.untie.iter().map(|column| positions(*column)).collect();
        let again = match self.tie_again.as_slice() {
            [] => "They were too many: go on as written.".to_owned(),
            [first, ..] => format!(
                "Then tie {} as written, from {first} on.",
                counted(self.tie_again.len() as u64, "knot")
            ),
        };
        format!(
            "Untie back to there: {}, the last first, at positions {}. {again}",
            counted(self.untie.len() as u64, "knot"),
            places.join("; "),
        )
    }

    /// How the band can go on with the mistake in it, in words; nothing where it cannot.
    #[must_use]
    pub fn leaving(&self, band: &Band) -> Option<String> {
        let how = match self.going_on? {
            GoingOn::AsWritten => "the rows go on as written".to_owned(),
            GoingOn::WithAKnot { column, kind } => format!(
                "the rows go on as written if you first change places of the threads at positions {} by a {kind} knot",
                positions(column)
            ),
            GoingOn::WithAnotherKind { knot, kind } => format!(
                "the rows go on as written if you tie {knot}, {kind} instead of {}",
                knot.kind
            ),
        };
        let mut shows = Vec::new();
        if self.too_many_or_few > 0 {
            shows.push(format!(
                "the picture has {} too many or too few",
                counted(self.too_many_or_few as u64, "knot")
            ));
        }
        match self.show.as_slice() {
            [] => {}
            [(_, colour)] => {
                let name = &band.palette()[usize::from(*colour)].name;
                shows.push(format!("one knot shows {name} instead"));
            }
            several => shows.push(format!(
                "{} show another colour",
                counted(several.len() as u64, "knot")
            )),
        }
        if shows.is_empty() {
            shows.push("no colour shows where it should not".to_owned());
        }
        Some(format!("Or leave it: {}, and {how}.", shows.join(", ")))
    }
}
