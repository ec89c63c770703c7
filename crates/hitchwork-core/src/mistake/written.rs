//! What is written, what is seen, and how they differ.

use super::reached::{LastRows, NoSuchRow, RowPlace, TiedUpTo, WrittenKnot};
use crate::fabric;
use crate::knot::{Column, Kind};
use crate::tied::Tied;

/// Within so many knots before the place a mistake is looked for (our own judgement: what lies
/// farther back has been tied over three times and more, and is cheaper to leave than to untie).
pub const LAST_KNOTS: usize = 40;

/// So many knots of each column are known to lie above them, where all columns get as many (our own
/// judgement: nobody looks at more).
const SEEN_IN_COLUMN: usize = 12;

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
    /// What is to be seen where everything has been tied as it is written, up to here: the
    /// colours that hang, and this many knots of each column, or as many of them as lie in the last
    /// rows that are looked at (a dozen where all columns get as many).
    ///
    /// # Errors
    /// When the band has no such row.
    pub fn as_written(
        tied: &Tied,
        until: impl Into<TiedUpTo>,
        knots: usize,
    ) -> Result<Self, NoSuchRow> {
        let plan = WrittenKnots::of(tied, until.into())?;
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

/// What was to be tied, as far back as a mistake is looked for.
pub(super) struct WrittenKnots {
    /// What hung and lay before the first of the knots.
    pub(super) start: Cloth,
    /// Whether that is the start of the band, so that nothing lies above.
    is_from_the_start: bool,
    pub(super) knots: Vec<WrittenKnot>,
    /// Where in `knots` each whole row begins and ends.
    pub(super) rows: Vec<(RowPlace, std::ops::Range<usize>)>,
    /// What is left of the last row, or else the next one.
    pub(super) next: Vec<WrittenKnot>,
    /// The colour of each thread.
    pub(super) colours: Vec<u16>,
}

/// What hangs and lies at some moment, by the indices of threads.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cloth {
    pub(super) order: Vec<u16>,
    /// For each column the threads that show, from the start on.
    pub(super) columns: Vec<Vec<u16>>,
}

impl Cloth {
    /// Ties a knot, given by the index of its column.
    pub(super) fn tie(&mut self, column: usize, kind: Kind) {
        let (working, _) = fabric::tie(&mut self.order, column, kind);
        self.columns[column].push(working);
    }
}

impl WrittenKnots {
    pub(super) fn of(tied: &Tied, until: TiedUpTo) -> Result<Self, NoSuchRow> {
        let band = tied.followed();
        let seen = SEEN_IN_COLUMN * usize::from(band.column_count());
        let enough = |_, knots| knots >= LAST_KNOTS + seen;
        let LastRows {
            rows,
            is_from_the_start,
            next,
        } = LastRows::until(tied.followed_fabric(), until, enough)?;
        let mut start = Cloth {
            order: rows[0].order_before.clone(),
            columns: vec![Vec::new(); usize::from(band.column_count())],
        };
        let all: Vec<WrittenKnot> = rows.iter().flat_map(|row| row.knots.clone()).collect();
        let early = all.len().saturating_sub(LAST_KNOTS);
        for knot in &all[..early] {
            start.tie(knot.column.index(), knot.kind);
        }
        let mut whole = Vec::new();
        let mut end = 0;
        for row in &rows {
            let begin = end;
            end += row.knots.len();
            if begin >= early && end > begin && row.is_whole {
                whole.push((row.place, begin - early..end - early));
            }
        }
        Ok(Self {
            start,
            is_from_the_start,
            knots: all[early..].to_vec(),
            rows: whole,
            next,
            colours: band.thread_colours().to_vec(),
        })
    }

    /// What hangs and lies when all is tied as it is written.
    pub(super) fn end(&self) -> Cloth {
        let mut cloth = self.start.clone();
        for knot in &self.knots {
            cloth.tie(knot.column.index(), knot.kind);
        }
        cloth
    }

    pub(super) fn fits(&self, thread: u16, seen: Option<u16>) -> bool {
        seen.is_none_or(|colour| self.colours[usize::from(thread)] == colour)
    }

    /// Whether that is what is seen of what is tied as it is written.
    pub(super) fn shows(&self, seen: &SeenCloth) -> bool {
        let Cloth { order, columns } = self.end();
        let mut columns = columns.iter().zip(&seen.columns);
        let mut hanging = order.iter().zip(&seen.hanging);
        hanging.all(|(thread, seen)| self.fits(*thread, *seen))
            && columns.all(|(column, seen)| self.column_shows(column, &[], seen))
    }

    /// Whether that is what is seen of a column: what lies in it, and above that.
    pub(super) fn column_shows(&self, own: &[u16], above: &[u16], seen: &[Option<u16>]) -> bool {
        // Above the start of the band lies nothing.
        let last = seen.iter().rposition(Option::is_some);
        let is_short = last.is_some_and(|last| last >= own.len() + above.len());
        let threads = own.iter().rev().chain(above.iter().rev());
        !(is_short && self.is_from_the_start)
            && threads
                .zip(seen)
                .all(|(thread, seen)| self.fits(*thread, *seen))
    }

    /// For each knot, and after the last, the columns of which what was tied before shows another
    /// colour than is seen where everything is tied as it is written.
    pub(super) fn wrong_before(&self, seen: &SeenCloth) -> Vec<Vec<usize>> {
        let end = self.end();
        let mut later: Vec<usize> = vec![0; end.columns.len()];
        let wrong = |later: &[usize]| {
            let columns = end.columns.iter().zip(&seen.columns).zip(later).enumerate();
            let wrong = columns.filter(|(_, ((column, seen), later))| {
                let own = &column[..column.len() - **later];
                !self.column_shows(own, &[], seen.get(**later..).unwrap_or_default())
            });
            wrong.map(|(at, _)| at).collect()
        };
        let mut all = vec![wrong(&later)];
        for knot in self.knots.iter().rev() {
            later[knot.column.index()] += 1;
            all.push(wrong(&later));
        }
        all.reverse();
        all
    }
}
