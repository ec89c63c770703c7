//! Bands tied by chance at a table where things go wrong, knot by knot: a second model that knows
//! nothing of the first.

use hitchwork_core::band::{Band, BandParts, Part};
use hitchwork_core::knot::{Kind, Knot, Side};
use hitchwork_core::mistake::{Change, RowPlace, SeenCloth, TiedUpTo, WrittenKnot};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;

use crate::made::{colours, knot};

/// Numbers by chance, the same in every run (Knuth's constants for a linear congruential generator).
pub struct TableChance(pub u64);

impl TableChance {
    /// A number below this.
    ///
    /// # Panics
    /// When nothing is below it.
    pub fn below(&mut self, bound: usize) -> usize {
        let next = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = next.wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).expect("31 bits") % bound
    }

    /// Any of the four kinds.
    pub fn kind(&mut self) -> Kind {
        Kind::ALL[self.below(4)]
    }
}

/// What is done at the table, one thing after another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DoneAtTable {
    /// A knot in a column, by index; and which written one it is.
    Knot(usize, Kind, Option<(RowPlace, usize)>),
    /// Two threads cross without a knot, the left one at this index.
    Crossed(usize),
}

/// What hangs and lies: threads by position, and of each column the threads that show.
#[derive(Debug, PartialEq)]
pub struct TiedTable {
    /// The threads by position, from 0.
    pub order: Vec<usize>,
    /// Of each column the threads that show, from the start on.
    pub columns: Vec<Vec<usize>>,
}

impl TiedTable {
    /// What hangs and lies after all of that.
    #[must_use]
    pub fn of(threads: u16, done: &[DoneAtTable]) -> Self {
        let mut table = Self {
            order: (0..threads.into()).collect(),
            columns: vec![Vec::new(); usize::from(threads) - 1],
        };
        for done in done {
            match *done {
                DoneAtTable::Crossed(left) => table.order.swap(left, left + 1),
                DoneAtTable::Knot(column, kind, _) => {
                    let works = usize::from(kind.working_side() == Side::Right);
                    table.columns[column].push(table.order[column + works]);
                    if kind.changes_places() {
                        table.order.swap(column, column + 1);
                    }
                }
            }
        }
        table
    }

    /// What a maker sees of it who looks at everything.
    #[must_use]
    pub fn seen(&self, band: &Band) -> SeenCloth {
        let colour = |thread: &usize| Some(band.thread_colours()[*thread]);
        let columns = self.columns.iter();
        SeenCloth {
            hanging: self.order.iter().map(colour).collect(),
            columns: columns
                .map(|column| column.iter().rev().take(10).map(colour).collect())
                .collect(),
        }
    }

    /// The colours that hang.
    #[must_use]
    pub fn hanging(&self, band: &Band) -> Vec<u16> {
        let colour = |thread: &usize| band.thread_colours()[*thread];
        self.order.iter().map(colour).collect()
    }
}

/// Whether that is to be seen of a cloth that whole shows this; a maker may look at fewer knots than
/// there are.
#[must_use]
pub fn shows(whole: &SeenCloth, seen: &SeenCloth) -> bool {
    let mut columns = whole.columns.iter().zip(&seen.columns);
    whole.hanging == seen.hanging && columns.all(|(whole, seen)| whole.starts_with(seen))
}

/// A band of 4 to 14 threads and 2 to 6 colours, every second column in a row.
///
/// # Panics
/// Never: such a band is sound.
pub fn band_by_chance(chance: &mut TableChance) -> Band {
    let threads = 4 + chance.below(11);
    let count = 2 + chance.below(5);
    let columns = u16::try_from(threads).expect("few");
    let row = |at: usize, chance: &mut TableChance| {
        let first = if at.is_multiple_of(2) { 1 } else { 2 };
        let knots = (first..columns).step_by(2);
        Row::new(
            knots
                .map(|column| knot(chance.kind(), column))
                .collect::<Vec<Knot>>(),
        )
    };
    let rows = 4 + chance.below(20);
    Band::new(BandParts {
        palette: colours(count),
        threads: (0..threads)
            .map(|_| u16::try_from(chance.below(count)).expect("few"))
            .collect(),
        repeat: (0..rows).map(|at| row(at, chance)).collect(),
        repeats: 2 + u32::try_from(chance.below(3)).expect("few"),
        ..BandParts::default()
    })
    .expect("a sound band")
}

/// What is written, up to a place, and what is left of its row or else the next row.
///
/// # Panics
/// Never: columns fit.
#[must_use]
pub fn written(tied: &Tied, until: TiedUpTo) -> (Vec<DoneAtTable>, Vec<DoneAtTable>) {
    let (mut before, mut after) = (Vec::new(), Vec::new());
    let mut next = None;
    for row in tied.followed_fabric().rows() {
        let place = RowPlace {
            part: row.part,
            pass: row.pass,
            row: row.row,
        };
        for (knot, number) in row.knots.iter().zip(1..) {
            let column = usize::from(knot.column.number()) - 1;
            let done = DoneAtTable::Knot(column, knot.kind, Some((place, number)));
            let is_tied = place < until.row
                || place == until.row && until.knots.is_none_or(|knots| number <= knots);
            if is_tied {
                before.push(done);
            } else if *next.get_or_insert(place) == place {
                after.push(done);
            }
        }
    }
    (before, after)
}

/// A row of the repeat, or every third time a knot in the midst of one.
///
/// # Panics
/// When the band has no repeat.
pub fn place_by_chance(band: &Band, chance: &mut TableChance) -> TiedUpTo {
    let below =
        |chance: &mut TableChance, bound: usize| u32::try_from(chance.below(bound)).expect("few");
    let row = RowPlace {
        part: Part::Repeat,
        pass: 1 + below(chance, band.repeats() as usize),
        row: 1 + below(chance, band.repeat().len()),
    };
    let knots = band.repeat()[row.row as usize - 1].knots().len();
    let is_within = chance.below(3) == 0 && knots > 0;
    TiedUpTo {
        row,
        knots: is_within.then(|| 1 + chance.below(knots)),
    }
}

/// Does one thing otherwise, within the last forty knots.
///
/// # Panics
/// Never: there are three other kinds.
pub fn go_wrong(done: &mut Vec<DoneAtTable>, threads: u16, chance: &mut TableChance) {
    if done.is_empty() {
        return;
    }
    let columns = usize::from(threads) - 1;
    let first = done.len().saturating_sub(40);
    let at = first + chance.below(done.len() - first);
    let row_of = |done: &DoneAtTable| match done {
        DoneAtTable::Knot(_, _, Some((row, _))) => Some(*row),
        _ => None,
    };
    match (chance.below(6), done[at]) {
        (0 | 1, DoneAtTable::Knot(column, kind, of)) => {
            let other = Kind::ALL.into_iter().cycle();
            let mut other = other
                .skip(chance.below(4))
                .skip_while(|other| *other == kind);
            done[at] = DoneAtTable::Knot(column, other.next().expect("three others"), of);
        }
        (2, _) => _ = done.remove(at),
        (3, _) => done.insert(
            at,
            DoneAtTable::Knot(chance.below(columns), chance.kind(), None),
        ),
        (4, _) => done.insert(at, DoneAtTable::Crossed(chance.below(columns))),
        _ => {
            // A whole row, of those that lie wholly within the last knots.
            let row = row_of(&done[at]);
            let own: Vec<usize> = (0..done.len())
                .filter(|at| row.is_some() && row_of(&done[*at]) == row)
                .collect();
            if own.first().is_none_or(|start| *start < first) {
                done[at] = DoneAtTable::Crossed(0);
                done.insert(at, DoneAtTable::Crossed(0));
            } else if chance.below(2) == 0 {
                done.retain(|done| row_of(done) != row);
            } else {
                let again: Vec<DoneAtTable> = own
                    .iter()
                    .map(|at| match done[*at] {
                        DoneAtTable::Knot(column, kind, _) => DoneAtTable::Knot(column, kind, None),
                        crossed @ DoneAtTable::Crossed(_) => crossed,
                    })
                    .collect();
                let end = own[own.len() - 1] + 1;
                done.splice(end..end, again);
            }
        }
    }
}

/// The same with changes that are told.
///
/// # Panics
/// When they are of knots or rows that are not written.
#[must_use]
pub fn with_changes(written: &[DoneAtTable], changes: &[Change]) -> Vec<DoneAtTable> {
    let mut done = written.to_vec();
    let find = |done: &[DoneAtTable], knot: &WrittenKnot| {
        let own = |done: &DoneAtTable| matches!(done, DoneAtTable::Knot(_, _, Some(of)) if *of == (knot.row, knot.number));
        done.iter().position(own).expect("it is written")
    };
    let row = |done: &DoneAtTable, row: RowPlace| matches!(done, DoneAtTable::Knot(_, _, Some((of, _))) if *of == row);
    // What takes the place of a knot comes last, so that what is tied before it finds it.
    let (places, others): (Vec<&Change>, Vec<&Change>) = changes.iter().partition(|change| {
        matches!(
            change,
            Change::OtherKind { .. } | Change::LeftOut { .. } | Change::RowLeftOut { .. }
        )
    });
    for change in others.into_iter().chain(places) {
        let before = |done: &[DoneAtTable], knot: &Option<WrittenKnot>| {
            knot.as_ref().map_or(done.len(), |knot| find(done, knot))
        };
        match change {
            Change::OtherKind { knot, tied } => {
                let at = find(&done, knot);
                if let DoneAtTable::Knot(column, _, of) = done[at] {
                    done[at] = DoneAtTable::Knot(column, *tied, of);
                }
            }
            Change::LeftOut { knot } => _ = done.remove(find(&done, knot)),
            Change::TooMany {
                before: at,
                column,
                tied,
            } => {
                let at = before(&done, at);
                done.insert(
                    at,
                    DoneAtTable::Knot(usize::from(column.number()) - 1, *tied, None),
                );
            }
            Change::TakenForEachOther { before: at, left } => {
                let at = before(&done, at);
                done.insert(at, DoneAtTable::Crossed(usize::from(*left) - 1));
            }
            Change::RowLeftOut { row: left_out } => done.retain(|done| !row(done, *left_out)),
            Change::RowTwice { row: twice } => {
                let again: Vec<DoneAtTable> = done
                    .iter()
                    .filter(|done| row(done, *twice))
                    .map(|done| match done {
                        DoneAtTable::Knot(column, kind, _) => {
                            DoneAtTable::Knot(*column, *kind, None)
                        }
                        crossed @ DoneAtTable::Crossed(_) => *crossed,
                    })
                    .collect();
                let end = done
                    .iter()
                    .rposition(|done| row(done, *twice))
                    .expect("it is written")
                    + 1;
                done.splice(end..end, again);
            }
        }
    }
    done
}
