//! What is written, what is seen, and how they differ.

use crate::band::{Band, Part};
use crate::fabric::{self, Fabric, Pass, TiedRow};
use crate::knot::{Column, Kind};
use crate::tied::Tied;

/// Within so many knots before the place a mistake is looked for (our own judgement: what lies
/// farther back has been tied over three times and more, and is cheaper to leave than to untie).
pub const LAST_KNOTS: usize = 40;

/// So many knots of each column are known to lie above them, where all columns get as many (our own
/// judgement: nobody looks at more).
const SEEN_IN_COLUMN: usize = 12;

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

impl WrittenKnot {
    /// Ties it as it is written, in whatever hangs at each position.
    pub(super) fn passes<T>(&self, hangs: &mut [T]) {
        if self.kind.changes_places() {
            hangs.swap(self.column.index(), self.column.index() + 1);
        }
    }
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
    /// colours that hang, and this many knots of each column, or as many of them as lie in the last
    /// rows that are looked at (a dozen where all columns get as many).
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

/// What was to be tied, as far back as a mistake is looked for.
pub(super) struct WrittenKnots {
    /// What hung and lay before the first of the knots.
    pub(super) start: Cloth,
    /// Whether that is the start of the band, so that nothing lies above.
    is_from_the_start: bool,
    pub(super) knots: Vec<WrittenKnot>,
    /// Where in `knots` each whole row begins and ends.
    pub(super) rows: Vec<(RowPlace, std::ops::Range<usize>)>,
    /// The row that is to be tied next.
    pub(super) next: Option<TiedRow>,
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
    pub(super) fn of(tied: &Tied, until: RowPlace) -> Result<Self, NoSuchRow> {
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
            if knots >= LAST_KNOTS + SEEN_IN_COLUMN * usize::from(tied.band().column_count()) {
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
        let here = later.next().map_or(Vec::new(), Pass::rows);
        let after = later.next().map_or(Vec::new(), Pass::rows);
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

    /// Whether that is what is seen.
    pub(super) fn shows(&self, cloth: &Cloth, seen: &SeenCloth) -> bool {
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

pub(super) fn planned(row: &TiedRow) -> impl Iterator<Item = WrittenKnot> + '_ {
    let knots = row.knots.iter().zip(1..);
    knots.map(|(knot, number)| WrittenKnot {
        row: place_of(row),
        number,
        column: knot.column,
        kind: knot.kind,
    })
}
