//! What went wrong at the table, from what the maker sees.
//!
//! A tied band differs from its sheet. The maker says how far it has been tied and what is to be
//! seen: the colours that hang now, the colours of the last knots of each column. [`Mistakes`] are
//! the fewest changes of knots that explain it, found by tying: every single one first, then every
//! two, within the last knots; each with what to untie, and whether the band can go on as it is.

mod mend;
mod search;
mod words;
mod written;

use crate::tied::Tied;

pub use mend::{GoingOn, Mend};
pub use words::changes_in_words;
pub use written::{Change, LAST_KNOTS, NoSuchRow, RowPlace, SeenCloth, WrittenKnot};

use written::WrittenKnots;

/// From this share on an explanation is very likely, likely (our own judgement).
const VERY_LIKELY: f64 = 0.8;
const LIKELY: f64 = 0.5;

/// One way in which it may have come about.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Explanation {
    /// What was tied otherwise, in the order of tying: one change or two.
    pub changes: Vec<Change>,
    /// Other changes that make the very same fabric, so that nobody can tell them apart.
    pub alike: Vec<Vec<Change>>,
    /// How sure it is among all that explain it, from 0 to 1.
    pub share: f64,
    /// What to do.
    pub mend: Mend,
}

/// What explains a sight.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Mistakes {
    /// Whether it is what is to be seen where everything is tied as it is written.
    pub is_as_written: bool,
    /// What explains it otherwise, the likeliest first; all of them take as few changes as any.
    /// Nothing where no two changes within the last knots do.
    pub explanations: Vec<Explanation>,
    /// How many more there are that are not listed.
    pub more: usize,
    /// How many knots back was looked.
    pub knots: usize,
}

/// So many explanations are worked out (our own judgement: nobody tries more).
const MOST_EXPLANATIONS: usize = 100;

impl Explanation {
    /// How sure it is, in words.
    #[must_use]
    pub fn sureness(&self) -> &'static str {
        match self.share {
            share if share >= 1.0 => "nothing else explains it as simply",
            share if share >= VERY_LIKELY => "very likely",
            share if share >= LIKELY => "likely",
            _ => "possible",
        }
    }
}

impl Mistakes {
    /// What explains that this is seen when the band has been tied up to this row, in the rows that
    /// are [followed](Tied::followed).
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts, Part}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
    /// use hitchwork_core::mistake::{Change, Mistakes, RowPlace, SeenCloth};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 4,
    /// #     ..BandParts::default() })?;
    /// // `band`: a teal thread and two of amber, four times the same slanted row.
    /// let tied = Tied::of(band);
    /// let place = RowPlace { part: Part::Repeat, pass: 1, row: 1 };
    /// // The teal thread should hang at the right edge, and hangs in the middle.
    /// let seen = SeenCloth { hanging: vec![Some(1), Some(0), Some(1)], ..SeenCloth::default() };
    /// let mistakes = Mistakes::of(&tied, place, &seen)?;
    /// assert!(!mistakes.is_as_written);
    /// let first = &mistakes.explanations[0].changes[0];
    /// assert!(matches!(first, Change::OtherKind { knot, .. } if knot.column.number() == 2));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// When the band has no such row.
    pub fn of(tied: &Tied, until: RowPlace, seen: &SeenCloth) -> Result<Self, NoSuchRow> {
        let plan = WrittenKnots::of(tied, until)?;
        let mut mistakes = Self {
            is_as_written: plan.shows(&plan.end(), seen),
            knots: plan.knots.len(),
            ..Self::default()
        };
        if mistakes.is_as_written {
            return Ok(mistakes);
        }
        let mut found = search::singles(&plan, seen);
        if found.is_empty() {
            found = search::pairs(&plan, seen);
        }
        let all: f64 = found.iter().map(|group| group.weight).sum();
        mistakes.more = found.len().saturating_sub(MOST_EXPLANATIONS);
        for group in found.into_iter().take(MOST_EXPLANATIONS) {
            let mend = Mend::of(&plan, &group.edits[0]);
            let mut changes = group.edits.iter().map(|edits| plan.changes(edits));
            mistakes.explanations.push(Explanation {
                changes: changes.next().unwrap_or_default(),
                alike: changes.collect(),
                share: group.weight / all,
                mend,
            });
        }
        Ok(mistakes)
    }
}
