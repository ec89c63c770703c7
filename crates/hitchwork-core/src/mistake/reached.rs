//! How far the maker has come, and the rows that have been tied last.

use std::collections::BTreeMap;

use crate::band::Part;
use crate::fabric::{Fabric, Pass, TiedRow};
use crate::knot::{Column, Kind};

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

/// How far a band has been tied.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TiedUpTo {
    /// The last row of which anything has been tied.
    pub row: RowPlace,
    /// How many of its knots have been tied; all of them where nothing is said.
    pub knots: Option<usize>,
}

impl From<RowPlace> for TiedUpTo {
    fn from(row: RowPlace) -> Self {
        Self { row, knots: None }
    }
}

/// A row, or a knot of a row, that the band does not have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoSuchRow {
    /// What was asked for.
    pub place: TiedUpTo,
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
    /// Whether it is the only knot of its row in that column.
    pub is_only: bool,
}

impl WrittenKnot {
    /// Ties it as it is written, in whatever hangs at each position.
    pub(super) fn passes<T>(&self, hangs: &mut [T]) {
        if self.kind.changes_places() {
            hangs.swap(self.column.index(), self.column.index() + 1);
        }
    }
}

/// A row as it is written, as far as it has been tied.
pub(super) struct WrittenRow {
    pub(super) place: RowPlace,
    pub(super) knots: Vec<WrittenKnot>,
    /// Whether that is all of it.
    pub(super) is_whole: bool,
    /// The threads by position before and after these knots, by index.
    pub(super) order_before: Vec<u16>,
    pub(super) order_after: Vec<u16>,
}

impl WrittenRow {
    /// The first knots of a row, or all of them.
    fn of(row: &TiedRow, knots: Option<usize>) -> Self {
        let mut written = planned(row);
        written.truncate(knots.unwrap_or(usize::MAX));
        let order_before: Vec<u16> = row
            .order_before
            .iter()
            .map(|thread| thread.number() - 1)
            .collect();
        let mut order_after = order_before.clone();
        for knot in &written {
            knot.passes(&mut order_after);
        }
        Self {
            place: place_of(row),
            is_whole: written.len() == row.knots.len(),
            knots: written,
            order_before,
            order_after,
        }
    }
}

/// The last rows that have been tied, and what comes next.
pub(super) struct LastRows {
    pub(super) rows: Vec<WrittenRow>,
    /// Whether they are all since the start.
    pub(super) is_from_the_start: bool,
    /// What is left of the last row; or else the next one.
    pub(super) next: Vec<WrittenKnot>,
}

impl LastRows {
    /// As many rows back as are not yet `enough`, by their number and that of their knots.
    pub(super) fn until(
        fabric: &Fabric,
        until: TiedUpTo,
        enough: impl Fn(usize, usize) -> bool,
    ) -> Result<Self, NoSuchRow> {
        let number = |pass: &Pass| (pass.part(), pass.number());
        let here = (until.row.part, until.row.pass);
        let no_row = NoSuchRow {
            place: until.row.into(),
        };
        let passes: Vec<Pass> = fabric
            .passes()
            .take_while(|pass| number(pass) <= here)
            .collect();
        let pass = passes
            .last()
            .filter(|pass| number(pass) == here)
            .ok_or(no_row)?;
        let own = pass.rows();
        let at = (until.row.row as usize).checked_sub(1).ok_or(no_row)?;
        let last = own.get(at).ok_or(no_row)?;
        if until
            .knots
            .is_some_and(|knots| knots == 0 || knots > last.knots.len())
        {
            return Err(NoSuchRow { place: until });
        }
        let mut rows = vec![WrittenRow::of(last, until.knots)];
        let mut knots = rows[0].knots.len();
        let before = own[..at].iter().rev().cloned();
        let earlier = passes.iter().rev().skip(1);
        let earlier = earlier.flat_map(|pass| pass.rows().into_iter().rev());
        for row in before.chain(earlier) {
            if enough(rows.len(), knots) {
                break;
            }
            knots += row.knots.len();
            rows.push(WrittenRow::of(&row, None));
        }
        rows.reverse();
        let left = planned(last).split_off(rows[rows.len() - 1].knots.len());
        let next = || {
            let later = fabric
                .passes()
                .skip_while(|pass| number(pass) <= here)
                .take(1);
            let mut later = own[at + 1..]
                .iter()
                .cloned()
                .chain(later.flat_map(Pass::rows));
            later.next().map_or(Vec::new(), |row| planned(&row))
        };
        Ok(Self {
            is_from_the_start: fabric
                .rows()
                .next()
                .is_some_and(|row| place_of(&row) == rows[0].place),
            next: if left.is_empty() { next() } else { left },
            rows,
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

/// The knots of a row as the sheet has them.
fn planned(row: &TiedRow) -> Vec<WrittenKnot> {
    let place = place_of(row);
    let mut times: BTreeMap<Column, usize> = BTreeMap::new();
    for knot in &row.knots {
        *times.entry(knot.column).or_default() += 1;
    }
    let knots = row.knots.iter().zip(1..);
    let knots = knots.map(|(knot, number)| WrittenKnot {
        row: place,
        number,
        column: knot.column,
        kind: knot.kind,
        is_only: times[&knot.column] == 1,
    });
    knots.collect()
}
