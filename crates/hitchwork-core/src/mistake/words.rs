//! The same in a maker's words.

use std::fmt::{self, Display};

use super::mend::{GoingOn, Mend};
use super::reached::{NoSuchRow, RowPlace, TiedUpTo, WrittenKnot};
use super::written::Change;
use super::{Explanation, Mistakes, Sureness};
use crate::band::{Band, Part};
use crate::text::{capitalised, plain};

macro_rules! sentences {
    ($($name:ident = $text:literal;)*) => {
        $(const $name: &str = $text;)*

        /// All that is said of mistakes, by names; what stands in braces is filled in. A sheet that
        /// answers without us says the same.
        pub const SENTENCES: &[(&str, &str)] = &[$((stringify!($name), $text)),*];
    };
}

sentences! {
    ROW_OF_REPEAT = "row {row} of repeat {pass}";
    ROW_OF_LEAD_IN = "row {row} of the lead-in";
    ROW_OF_LEAD_OUT = "row {row} of the lead-out";
    KNOT_OF_ROW = "knot {number} of {place}";
    POSITIONS = "{left} and {right}";
    KNOT = "{place}, positions {positions}";
    KNOT_OF_SEVERAL = "{place}, knot {number}, at positions {positions}";
    BEFORE = "before {knot}";
    LAST_OF_ALL = "last of all";

    OTHER_KIND = "{knot}: {tied} instead of {kind}";
    LEFT_OUT = "{knot}: the {kind} knot is missing";
    TOO_MANY = "one {tied} knot too many at positions {positions}, tied {when}";
    TAKEN_FOR_EACH_OTHER = "the threads at positions {positions} were taken for each other {when}";
    ROW_LEFT_OUT = "{place} was left out";
    ROW_TWICE = "{place} was tied twice";
    AND = "{one}; and {other}";

    ONLY = "nothing else explains it as simply";
    VERY_LIKELY = "very likely";
    LIKELY = "likely";
    LIKELIEST = "the likeliest of {n}";
    AS_LIKELY_AS_ONE = "as likely as one other";
    AS_LIKELY = "as likely as {n} others";
    LESS_LIKELY = "less likely";
    ANSWER = "{changes} ({sureness}).";
    ALIKE = "This would look the same: {changes}.";
    ALIKE_AND_MORE = "This would look the same: {changes} (and {n} more).";

    UNTIE_ONE = "Untie the last knot at positions {positions}.";
    UNTIE_SEVERAL = "Untie back to there: {n} knots, the last one first, at positions {list}.";
    CHANGE_BACK = "Let the threads at positions {positions} change back.";
    TIE_THERE = "Then tie {kind} there, as written.";
    TIE_ONE = "Then tie the {kind} knot at positions {positions}, as written.";
    TIE_SEVERAL = "Then tie what is missing as written, from {knot}, on: {n} knots.";
    GO_ON = "Then go on as written.";
    NOTHING_UPON_ONE = "Nothing lies upon it: tie the {kind} knot at positions {positions} now.";
    NOTHING_UPON_SEVERAL = "Nothing lies upon them: tie these {n} knots now, as written, from {knot}, on.";

    LEAVE = "Or leave it: {shows}, and {how}.";
    LIST_AND = "{one}, {other}";
    ONE_TOO_MANY = "one knot too many stays in the band";
    SEVERAL_TOO_MANY = "{n} knots too many stay in the band";
    ONE_MISSING = "one knot is missing in the band";
    SEVERAL_MISSING = "{n} knots are missing in the band";
    ONE_SHOWS = "one knot shows {shows} where {should} belongs";
    SEVERAL_SHOW = "{n} knots show another colour than they should";
    NONE_SHOWS = "no colour is wrong";
    ROWS_GO_ON = "the rows go on as written";
    ROWS_GO_ON_WITH = "the rows go on as written if you first tie an extra {kind} knot at positions {positions}";
    ROWS_GO_ON_OTHERWISE = "the rows go on as written if you tie {kind} instead of {written} in {knot}";

    AS_WRITTEN = "What you describe is as it should be. If anything else looks wrong, describe that, too.";
    UNEXPLAINED_ONE = "Nothing done wrong with the last knot explains what you see. Look again, and leave out what you are not sure of; or compare with the orders below.";
    UNEXPLAINED = "No one or two mistakes within the last {n} knots explain what you see. Look again, and leave out what you are not sure of; or compare with the orders below.";
    TOO_MUCH_TO_TRY = "What you see leaves more open than can be tried. Say more of what you see.";
    ONE_MORE = "One other way would explain it, too: say more of what you see to tell them apart.";
    SEVERAL_MORE = "{n} other ways would explain it, too: say more of what you see to tell them apart.";
    SHOULD_HANG = "Should hang, from the left";
    AFTER = "after {place}";
}

/// A sentence with all that stands in braces filled in.
fn filled(sentence: &str, with: &[(&str, &dyn Display)]) -> String {
    let mut filled = String::new();
    let mut left = sentence;
    while let Some((before, after)) = left.split_once('{') {
        let (name, rest) = after.split_once('}').unwrap_or((after, ""));
        filled.push_str(before);
        let value = with.iter().find(|(own, _)| *own == name);
        let (_, value) = value.expect("every sentence names what it is given");
        filled.push_str(&value.to_string());
        left = rest;
    }
    filled + left
}

/// One sentence for one, another for several; nothing for none.
fn numbered(
    number: usize,
    one: &str,
    several: &str,
    with: &[(&str, &dyn Display)],
) -> Option<String> {
    let with: Vec<(&str, &dyn Display)> = with
        .iter()
        .copied()
        .chain([("n", &number as &dyn Display)])
        .collect();
    match number {
        0 => None,
        1 => Some(filled(one, &with)),
        _ => Some(filled(several, &with)),
    }
}

impl Display for RowPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sentence = match self.part {
            Part::LeadIn => ROW_OF_LEAD_IN,
            Part::Repeat => ROW_OF_REPEAT,
            Part::LeadOut => ROW_OF_LEAD_OUT,
        };
        f.write_str(&filled(
            sentence,
            &[("row", &self.row), ("pass", &self.pass)],
        ))
    }
}

impl Display for TiedUpTo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.knots {
            Some(number) => f.write_str(&filled(
                KNOT_OF_ROW,
                &[("number", &number), ("place", &self.row)],
            )),
            None => self.row.fmt(f),
        }
    }
}

impl Display for NoSuchRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = if self.place.knots.is_some() {
            "knot"
        } else {
            "row"
        };
        write!(f, "the band has no such {what}: {}", self.place)
    }
}

impl std::error::Error for NoSuchRow {}

impl Display for WrittenKnot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sentence = if self.is_only { KNOT } else { KNOT_OF_SEVERAL };
        let positions = positions(self.column.number());
        f.write_str(&filled(
            sentence,
            &[
                ("place", &self.row),
                ("number", &self.number),
                ("positions", &positions),
            ],
        ))
    }
}

/// The positions of two neighbouring threads.
fn positions(left: u16) -> String {
    filled(POSITIONS, &[("left", &left), ("right", &(left + 1))])
}

impl Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let when = |before: &Option<WrittenKnot>| match before {
            Some(knot) => filled(BEFORE, &[("knot", knot)]),
            None => LAST_OF_ALL.to_owned(),
        };
        f.write_str(&match self {
            Self::OtherKind { knot, tied } => filled(
                OTHER_KIND,
                &[("knot", knot), ("tied", tied), ("kind", &knot.kind)],
            ),
            Self::LeftOut { knot } => filled(LEFT_OUT, &[("knot", knot), ("kind", &knot.kind)]),
            Self::TooMany {
                before,
                column,
                tied,
            } => filled(
                TOO_MANY,
                &[
                    ("tied", tied),
                    ("positions", &positions(column.number())),
                    ("when", &when(before)),
                ],
            ),
            Self::TakenForEachOther { before, left } => filled(
                TAKEN_FOR_EACH_OTHER,
                &[("positions", &positions(*left)), ("when", &when(before))],
            ),
            Self::RowLeftOut { row } => filled(ROW_LEFT_OUT, &[("place", row)]),
            Self::RowTwice { row } => filled(ROW_TWICE, &[("place", row)]),
        })
    }
}

/// Changes in one line.
#[must_use]
pub fn changes_in_words(changes: &[Change]) -> String {
    let all = changes.iter().map(ToString::to_string);
    joined(all, AND)
}

fn joined(all: impl Iterator<Item = String>, sentence: &str) -> String {
    let both = |one: String, other: String| filled(sentence, &[("one", &one), ("other", &other)]);
    all.reduce(both).unwrap_or_default()
}

impl Display for Sureness {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&match self {
            Self::Only => ONLY.to_owned(),
            Self::VeryLikely => VERY_LIKELY.to_owned(),
            Self::Likely => LIKELY.to_owned(),
            Self::Likeliest { of } => filled(LIKELIEST, &[("n", of)]),
            Self::AsLikelyAs { others } => {
                numbered(*others, AS_LIKELY_AS_ONE, AS_LIKELY, &[]).unwrap_or_default()
            }
            Self::LessLikely => LESS_LIKELY.to_owned(),
        })
    }
}

impl Mistakes {
    /// What is said before the explanations, where there is something to say.
    #[must_use]
    pub fn said_first(&self) -> Option<String> {
        if self.is_as_written {
            return Some(AS_WRITTEN.to_owned());
        }
        let unexplained = || match self.is_cut_short {
            true => TOO_MUCH_TO_TRY.to_owned(),
            false => numbered(self.knots, UNEXPLAINED_ONE, UNEXPLAINED, &[]).unwrap_or_default(),
        };
        self.explanations.is_empty().then(unexplained)
    }

    /// What is said of those that are not told, where this many are.
    #[must_use]
    pub fn said_of_others(&self, told: usize) -> Option<String> {
        let others = (self.explanations.len() + self.more).saturating_sub(told);
        numbered(others, ONE_MORE, SEVERAL_MORE, &[])
    }
}

impl Explanation {
    /// All that is said of it, sentence by sentence: what went wrong and how sure that is, what to do,
    /// how to leave it, and what else would make the same fabric.
    #[must_use]
    pub fn words(&self, band: &Band) -> Vec<String> {
        let changes = capitalised(&changes_in_words(&self.changes));
        let answer = filled(
            ANSWER,
            &[("changes", &changes), ("sureness", &self.sureness)],
        );
        let mut words = vec![answer, self.mend.untying()];
        words.extend(self.mend.leaving(band));
        words.extend(self.alike.first().map(|alike| {
            let alike: &dyn Display = &changes_in_words(alike);
            match self.alike.len() - 1 {
                0 => filled(ALIKE, &[("changes", alike)]),
                more => filled(ALIKE_AND_MORE, &[("changes", alike), ("n", &more)]),
            }
        }));
        words
    }
}

impl Mend {
    /// What to untie and what to tie again, in words.
    #[must_use]
    pub fn untying(&self) -> String {
        let mut words = Vec::new();
        let again = self.tie_again.len();
        let first = self.tie_again.first();
        let at = first.map_or(String::new(), |knot| positions(knot.column.number()));
        let first = |one: &str, several: &str| {
            let knot = self.tie_again.first()?;
            numbered(
                again,
                one,
                several,
                &[("kind", &knot.kind), ("positions", &at), ("knot", knot)],
            )
        };
        let list: Vec<String> = self
            .untie
            .iter()
            .map(|column| positions(column.number()))
            .collect();
        let list = list.join("; ");
        words.extend(numbered(
            self.untie.len(),
            UNTIE_ONE,
            UNTIE_SEVERAL,
            &[("positions", &list), ("list", &list)],
        ));
        for left in &self.change_back {
            words.push(filled(CHANGE_BACK, &[("positions", &positions(*left))]));
        }
        words.extend(match (self.untie.as_slice(), self.tie_again.as_slice()) {
            (_, []) => Some(GO_ON.to_owned()),
            ([], _) if self.change_back.is_empty() => first(NOTHING_UPON_ONE, NOTHING_UPON_SEVERAL),
            ([column], [knot]) if *column == knot.column => first(TIE_THERE, TIE_SEVERAL),
            _ => first(TIE_ONE, TIE_SEVERAL),
        });
        words.join(" ")
    }

    /// How the band can go on with the mistake in it, in words; nothing where it cannot.
    #[must_use]
    pub fn leaving(&self, band: &Band) -> Option<String> {
        let how = match self.going_on? {
            GoingOn::AsWritten => ROWS_GO_ON.to_owned(),
            GoingOn::WithAKnot { column, kind } => filled(
                ROWS_GO_ON_WITH,
                &[("positions", &positions(column.number())), ("kind", &kind)],
            ),
            GoingOn::WithAnotherKind { knot, kind } => filled(
                ROWS_GO_ON_OTHERWISE,
                &[("kind", &kind), ("written", &knot.kind), ("knot", &knot)],
            ),
        };
        let colour = |index: u16| plain(&band.palette()[usize::from(index)].name);
        let names = self
            .show
            .first()
            .map(|wrong| (colour(wrong.shows), colour(wrong.should)));
        let (shows, should) = names.unwrap_or_default();
        let shows = [
            numbered(self.too_many, ONE_TOO_MANY, SEVERAL_TOO_MANY, &[]),
            numbered(self.missing, ONE_MISSING, SEVERAL_MISSING, &[]),
            numbered(
                self.show.len(),
                ONE_SHOWS,
                SEVERAL_SHOW,
                &[("shows", &shows), ("should", &should)],
            ),
        ];
        let shows = joined(shows.into_iter().flatten(), LIST_AND);
        let shows: &str = if shows.is_empty() { NONE_SHOWS } else { &shows };
        Some(filled(LEAVE, &[("shows", &shows), ("how", &how)]))
    }
}

/// The heading of the orders that should hang, and what stands before each.
#[must_use]
pub fn should_hang_in_words() -> &'static str {
    SHOULD_HANG
}

/// After which row or knot an order should hang, in words.
#[must_use]
pub fn after_in_words(place: TiedUpTo) -> String {
    filled(AFTER, &[("place", &place)])
}
