//! What went wrong at the table, from what the maker sees.
//!
//! A tied band differs from its sheet. The maker says how far it has been tied and what is to be
//! seen: the colours that hang now, the colours of the last knots of each column. [`Mistakes`] are
//! the fewest changes of knots that explain it, found by tying: every single one first, then every
//! two, within the last knots; each with what to untie, and whether the band can go on as it is.

mod mend;
mod search;
mod words;

use std::collections::BTreeMap;

use crate::band::{Band, Part};
use crate::fabric::{Fabric, TiedRow};
use crate::knot::{Column, Kind};
use crate::tied::Tied;

pub use mend::{GoingOn, Mend};
pub use words::changes_in_words;

/// Within so many knots before the place a mistake is looked for (our own judgement: what lies
/// farther back has been tied over three times and more, and is cheaper to leave than to untie).
pub const LAST_KNOTS: usize = 40;

/// A row of the band, as the sheet counts them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct RowPlace {
    /// The part that it belongs to.
    pub part: Part,
    /// Which tying of that part, from 1.
    pub pass: u32,
    /// Which row of it, from 1.
    pub row: u32,
}

/// A knot as the sheet has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct WrittenKnot {
    /// Its row.
    pub row: RowPlace,
    /// Which knot of the row, from 1.
    pub number: usize,
    /// The column in which it lies.
    pub column: Column,
    /// The way it is to be tied.
    pub kind: Kind,
}

/// What the maker sees; nothing where it is not known.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SeenCloth {
    /// For each position from the left, the colour that hangs there now, as an index into the
    /// band's palette. Empty where nobody has looked.
    pub hanging: Vec<Option<u16>>,
    /// For each column from the left, the colours of its knots from the last one up; as many as
    /// the maker has looked at.
    pub columns: Vec<Vec<Option<u16>>>,
}

impl SeenCloth {
    /// What is to be seen where everything has been tied as it is written, up to this row: the
    /// colours that hang, and this many knots of each column.
    ///
    /// # Errors
    /// When the band has no such row.
    pub fn as_written(tied: &Tied, until: RowPlace, knots: usize) -> Result<Self, NoSuchRow> {
        let plan = WrittenKnots::of(tied, until)?;
        let end = plan.end();
        let colour = |thread: &u16| Some(plan.colours[usize::from(*thread)]);
        Ok(Self {
            hanging: end.order.iter().map(colour).collect(),
            columns: end
                .columns
                .iter()
                .map(|column| column.iter().rev().take(knots).map(colour).collect())
                .collect(),
        })
    }

    /// How many things are said.
    #[must_use]
    pub fn known(&self) -> usize {
        let columns = self.columns.iter().flatten();
        self.hanging.iter().chain(columns).flatten().count()
    }
}

/// A row that the band does not have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the band has no such row: {place}")]
pub struct NoSuchRow {
    /// The row that was asked for.
    pub place: RowPlace,
}

/// One thing that was tied otherwise than it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// A knot of another kind.
    OtherKind {
        /// The knot as it is written.
        knot: WrittenKnot,
        /// The way it was tied.
        tied: Kind,
    },
    /// A knot left out.
    LeftOut {
        /// The knot as it is written.
        knot: WrittenKnot,
    },
    /// A knot too many.
    TooMany {
        /// The knot before which it was tied; nothing where it was tied last of all.
        before: Option<WrittenKnot>,
        /// The column in which it lies.
        column: Column,
        /// The way it was tied.
        tied: Kind,
    },
    /// Two neighbouring threads that crossed without a knot: one was taken for the other.
    TakenForEachOther {
        /// The knot before which they crossed; nothing where it was after all.
        before: Option<WrittenKnot>,
        /// The position of the left one, from 1.
        left: u16,
    },
    /// A whole row left out.
    RowLeftOut {
        /// The row.
        row: RowPlace,
    },
    /// A row tied twice, one after the other.
    RowTwice {
        /// The row.
        row: RowPlace,
    },
}

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

/// What was to be tied, as far back as a mistake is looked for.
struct WrittenKnots {
    /// What hung and lay before the first of the knots.
    start: Cloth,
    /// Whether that is the start of the band, so that nothing lies above.
    is_from_the_start: bool,
    knots: Vec<WrittenKnot>,
    /// Where in `knots` each whole row begins and ends.
    rows: Vec<(RowPlace, std::ops::Range<usize>)>,
    /// The row that is to be tied next.
    next: Option<TiedRow>,
    /// The colour of each thread.
    colours: Vec<u16>,
}

/// What hangs and lies at some moment, by the indices of threads.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Cloth {
    order: Vec<u16>,
    /// For each column the threads that show, from the start on.
    columns: Vec<Vec<u16>>,
}

impl Cloth {
    /// Ties a knot, given by the index of its column.
    fn tie(&mut self, column: usize, kind: Kind) {
        let working = match kind.working_side() {
            crate::knot::Side::Left => self.order[column],
            crate::knot::Side::Right => self.order[column + 1],
        };
        self.columns[column].push(working);
        if kind.changes_places() {
            self.order.swap(column, column + 1);
        }
    }
}

impl WrittenKnots {
    fn of(tied: &Tied, until: RowPlace) -> Result<Self, NoSuchRow> {
        let fabric = tied.followed_fabric();
        let missing = NoSuchRow { place: until };
        // A row is found from its part and pass; the passes before it give what lies above.
        let passes: Vec<_> = fabric
            .passes()
            .take_while(|pass| (pass.part(), pass.number()) <= (until.part, until.pass))
            .collect();
        let at = passes
            .last()
            .filter(|pass| (pass.part(), pass.number()) == (until.part, until.pass));
        let at = at.ok_or(missing)?;
        if until.row == 0 || at.rows().len() < until.row as usize {
            return Err(missing);
        }
        let mut rows: Vec<TiedRow> = Vec::new();
        let mut knots = 0;
        for pass in passes.iter().rev() {
            let own = pass.rows().into_iter().rev();
            let own = own.filter(|row| place_of(row) <= until);
            for row in own {
                knots += row.knots.len();
                rows.push(row);
            }
            if knots >= 3 * LAST_KNOTS {
                break;
            }
        }
        rows.reverse();
        Ok(Self::from_rows(tied.followed(), fabric, &rows, until))
    }

    fn from_rows(band: &Band, fabric: &Fabric, rows: &[TiedRow], until: RowPlace) -> Self {
        let order = rows[0].order_before.iter();
        let mut start = Cloth {
            order: order.map(|thread| thread.number() - 1).collect(),
            columns: vec![Vec::new(); usize::from(band.column_count())],
        };
        let all: Vec<WrittenKnot> = rows.iter().flat_map(planned).collect();
        let early = all.len().saturating_sub(LAST_KNOTS);
        for knot in &all[..early] {
            start.tie(knot.column.index(), knot.kind);
        }
        let knots = all[early..].to_vec();
        let mut whole = Vec::new();
        let mut end = 0;
        for row in rows {
            let begin = end;
            end += row.knots.len();
            if begin >= early {
                whole.push((place_of(row), begin - early..end - early));
            }
        }
        let mut later = fabric
            .passes()
            .skip_while(|pass| (pass.part(), pass.number()) < (until.part, until.pass));
        let here = later.next().map_or(Vec::new(), crate::fabric::Pass::rows);
        let after = later.next().map_or(Vec::new(), crate::fabric::Pass::rows);
        let next = here
            .into_iter()
            .skip(until.row as usize)
            .chain(after)
            .next();
        let is_first =
            |row: &TiedRow| Some(place_of(row)) == fabric.rows().next().as_ref().map(place_of);
        Self {
            start,
            is_from_the_start: is_first(&rows[0]),
            knots,
            rows: whole,
            next,
            colours: band.thread_colours().to_vec(),
        }
    }

    /// What hangs and lies when all is tied as it is written.
    fn end(&self) -> Cloth {
        let mut cloth = self.start.clone();
        for knot in &self.knots {
            cloth.tie(knot.column.index(), knot.kind);
        }
        cloth
    }

    fn fits(&self, thread: u16, seen: Option<u16>) -> bool {
        seen.is_none_or(|colour| self.colours[usize::from(thread)] == colour)
    }

    /// Whether that is what is seen.
    fn shows(&self, cloth: &Cloth, seen: &SeenCloth) -> bool {
        let hanging = cloth.order.iter().zip(&seen.hanging);
        let columns = cloth.columns.iter().zip(&seen.columns);
        hanging
            .into_iter()
            .all(|(thread, seen)| self.fits(*thread, *seen))
            && columns.into_iter().all(|(column, seen)| {
                let known = seen
                    .iter()
                    .rposition(Option::is_some)
                    .map_or(0, |last| last + 1);
                (known <= column.len() || !self.is_from_the_start)
                    && column
                        .iter()
                        .rev()
                        .zip(seen)
                        .all(|(thread, seen)| self.fits(*thread, *seen))
            })
    }
}

fn place_of(row: &TiedRow) -> RowPlace {
    RowPlace {
        part: row.part,
        pass: row.pass,
        row: row.row,
    }
}

fn planned(row: &TiedRow) -> impl Iterator<Item = WrittenKnot> + '_ {
    let knots = row.knots.iter().zip(1..);
    knots.map(|(knot, number)| WrittenKnot {
        row: place_of(row),
        number,
        column: knot.column,
        kind: knot.kind,
    })
}

/// Groups of edits that make the same fabric, by the weight of all of them together.
type GroupsByCloth = BTreeMap<Cloth, search::Group>;
