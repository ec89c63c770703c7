//! What went wrong at the table, from what the maker sees.
//!
//! A tied band differs from its sheet. The maker says how far it has been tied and what is to be
//! seen: the colours that hang now, the colours of the last knots of each column. [`Mistakes`] are
//! the fewest changes of knots that explain it, found by tying: every single one first, then every
//! two, within the last knots; each with what to untie, and whether the band can go on as it is.

mod edits;
mod mend;
mod reached;
mod search;
mod words;
mod written;

use crate::tied::Tied;

pub use mend::{GoingOn, Mend, WrongColour};
pub use reached::{NoSuchRow, RowPlace, TiedUpTo, WrittenKnot};
pub use words::{SENTENCES, after_in_words, changes_in_words, should_hang_in_words};
pub use written::{Change, LAST_KNOTS, SeenCloth};

use reached::LastRows;
use search::{Group, SoughtGroups};
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
    /// The same for a maker.
    pub sureness: Sureness,
    /// What to do.
    pub mend: Mend,
}

/// How sure an explanation is among all that there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Sureness {
    /// Nothing else explains it as simply.
    Only,
    /// Hardly anything else will have been it.
    VeryLikely,
    /// It rather than all others.
    Likely,
    /// Likelier than any other, yet not than all others together.
    Likeliest {
        /// How many explanations there are.
        of: usize,
    },
    /// Others are just as likely.
    AsLikelyAs {
        /// How many.
        others: usize,
    },
    /// Another is likelier.
    LessLikely,
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
    /// Whether more pairs might explain it than could be tried.
    pub is_cut_short: bool,
}

/// So many explanations are worked out (our own judgement: nobody tries more).
const MOST_EXPLANATIONS: usize = 100;

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
    pub fn of(
        tied: &Tied,
        until: impl Into<TiedUpTo>,
        seen: &SeenCloth,
    ) -> Result<Self, NoSuchRow> {
        let plan = WrittenKnots::of(tied, until.into())?;
        let mut mistakes = Self {
            is_as_written: plan.shows(seen),
            knots: plan.knots.len(),
            ..Self::default()
        };
        if mistakes.is_as_written {
            return Ok(mistakes);
        }
        let mut sought = search::singles(&plan, seen);
        if sought.groups.is_empty() {
            sought = search::pairs(&plan, seen);
        }
        let SoughtGroups {
            groups,
            is_cut_short,
        } = sought;
        mistakes.is_cut_short = is_cut_short;
        mistakes.more = groups.len().saturating_sub(MOST_EXPLANATIONS);
        let told = groups.iter().take(MOST_EXPLANATIONS).enumerate();
        let told = told.map(|(at, group)| {
            let mut changes = group.edits.iter().map(|edits| plan.changes(edits));
            Explanation {
                changes: changes.next().unwrap_or_default(),
                alike: changes.collect(),
                share: share(group, &groups),
                sureness: sureness(at, &groups),
                mend: Mend::of(&plan, &group.edits[0]),
            }
        });
        mistakes.explanations = told.collect();
        Ok(mistakes)
    }
}

/// The orders of colours, from the left, that should hang after the last rows up to here, the last of
/// them first; each with the place after which it should.
///
/// # Errors
/// When the band has no such row.
pub fn should_hang(
    tied: &Tied,
    until: impl Into<TiedUpTo>,
    rows: usize,
) -> Result<Vec<(TiedUpTo, Vec<u16>)>, NoSuchRow> {
    let until = until.into();
    let enough = |count, _| count >= rows;
    let last = LastRows::until(tied.followed_fabric(), until, enough)?;
    let colours = tied.band().thread_colours();
    let hang = last.rows.iter().rev().map(|row| {
        let order = row.order_after.iter();
        let place = TiedUpTo {
            row: row.place,
            knots: (!row.is_whole).then_some(row.knots.len()),
        };
        (
            place,
            order.map(|thread| colours[usize::from(*thread)]).collect(),
        )
    });
    Ok(hang.collect())
}

#[expect(
    clippy::cast_precision_loss,
    reason = "a share is read to a few places"
)]
fn share(group: &Group, groups: &[Group]) -> f64 {
    let all: u64 = groups.iter().map(|group| group.weight).sum();
    group.weight as f64 / all as f64
}

fn sureness(at: usize, groups: &[Group]) -> Sureness {
    let own = &groups[at];
    let as_likely = groups.iter().filter(|group| group.weight == own.weight);
    match share(own, groups) {
        _ if groups.len() == 1 => Sureness::Only,
        share if share >= VERY_LIKELY => Sureness::VeryLikely,
        _ if as_likely.clone().count() > 1 => Sureness::AsLikelyAs {
            others: as_likely.count() - 1,
        },
        share if share >= LIKELY => Sureness::Likely,
        _ if at == 0 => Sureness::Likeliest { of: groups.len() },
        _ => Sureness::LessLikely,
    }
}
