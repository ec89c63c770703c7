//! Rows: knots in the order in which they are tied, and the ways in which rows compose.

mod grid;

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::sync::Arc;

pub use grid::{GridRow, NO_KNOT, grid, grid_lines, grid_of, grid_rows, mark};

use crate::error::{Error, Problem};
use crate::knot::{Column, Kind, Knot, Place};

/// Knots in tying order. A value: every operation gives a new row.
///
/// A row may use a column more than once and may leave columns out. Cloning is cheap.
///
/// ```
/// use hitchwork_core::{knot::Kind, row::Row};
/// // The first thread travels to the right edge of four threads but turns back at column 2.
/// let out = Row::run(Kind::Forward, 1..4)?.but(&Row::run(Kind::ForwardBackward, [2])?)?;
/// assert_eq!(out.to_string(), "forward at 1, forward-backward at 2, forward at 3");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Row {
    knots: Arc<[Knot]>,
}

impl Row {
    /// A row of these knots, in this order. No knots make the empty row, which
    /// composes but which no band accepts.
    #[must_use]
    pub fn new(knots: impl IntoIterator<Item = Knot>) -> Self {
        Self {
            knots: knots.into_iter().collect(),
        }
    }

    /// Knots of one kind in these columns (numbers from 1), in the order given.
    ///
    /// ```
    /// use hitchwork_core::{knot::Kind, row::Row};
    /// let row = Row::run(Kind::Forward, 1..3)?;
    /// assert_eq!(row.to_string(), "forward at 1, forward at 2");
    /// assert!(Row::run(Kind::Forward, [0]).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a number is 0 and so names no column.
    pub fn run(kind: Kind, columns: impl IntoIterator<Item = u16>) -> Result<Self, Error> {
        let knot = |number| match Column::new(number) {
            Some(column) => Ok(Knot::new(column, kind)),
            None => Err(Error::from(Problem::NoSuchColumn {
                column: i64::from(number),
                threads: None,
            })),
        };
        Ok(Self {
            knots: columns.into_iter().map(knot).collect::<Result<_, _>>()?,
        })
    }

    /// The knots in tying order.
    #[must_use]
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// How many knots the row has.
    #[must_use]
    pub fn len(&self) -> usize {
        self.knots.len()
    }

    /// Whether there is nothing to tie.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.knots.is_empty()
    }

    /// The rightmost column used.
    #[must_use]
    pub fn last_column(&self) -> Option<Column> {
        self.knots.iter().map(|knot| knot.column()).max()
    }

    /// This row and then `next`, as one row.
    #[must_use]
    pub fn then(&self, next: &Self) -> Self {
        Self::new(self.knots.iter().chain(next.knots.iter()).copied())
    }

    /// This row with the knots of `other` in place of those in the same columns.
    ///
    /// Where this row uses a column several times, its first knot there gives way to
    /// the first of `other` in that column, its second to the second, and the last of
    /// `other` serves for all that remain. The tying order stays this row's own.
    ///
    /// ```
    /// use hitchwork_core::{knot::Kind, row::Row};
    /// let row = Row::run(Kind::Forward, 1..3)?;
    /// let turned = row.but(&Row::run(Kind::ForwardBackward, [2])?)?;
    /// assert_eq!(turned.to_string(), "forward at 1, forward-backward at 2");
    /// assert!(row.but(&Row::run(Kind::ForwardBackward, [3])?).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When `other` has a knot in a column that this row does not use: there is nothing
    /// for it to take the place of.
    pub fn but(&self, other: &Self) -> Result<Self, Error> {
        let used: BTreeSet<Column> = self.knots.iter().map(|knot| knot.column()).collect();
        let lost = |knot: &&Knot| !used.contains(&knot.column());
        if let Some(knot) = other.knots.iter().find(lost) {
            return Err(Problem::NothingToReplace {
                column: knot.column(),
            }
            .into());
        }
        // For each column the knots of `other`, the last of which is never used up.
        let mut theirs: BTreeMap<Column, VecDeque<Knot>> = BTreeMap::new();
        for knot in other.knots.iter() {
            theirs.entry(knot.column()).or_default().push_back(*knot);
        }
        let replacement = |knot: &Knot| match theirs.get_mut(&knot.column()) {
            Some(left) if left.len() > 1 => left.pop_front().unwrap_or(*knot),
            Some(left) => left.front().copied().unwrap_or(*knot),
            None => *knot,
        };
        Ok(Self::new(self.knots.iter().map(replacement)))
    }

    /// The row moved `columns` to the right (to the left when negative).
    ///
    /// ```
    /// use hitchwork_core::{knot::Kind, row::Row};
    /// let row = Row::run(Kind::Forward, [1, 3])?;
    /// assert_eq!(row.shift(1)?, Row::run(Kind::Forward, [2, 4])?);
    /// assert!(row.shift(-1).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a knot would leave the band at the left, or go beyond any band at the right.
    pub fn shift(&self, columns: i32) -> Result<Self, Error> {
        let moved = |knot: &Knot| {
            let column = i64::from(knot.column().number()) + i64::from(columns);
            knot.shifted(columns).ok_or_else(|| {
                Error::from(Problem::NoSuchColumn {
                    column,
                    threads: None,
                })
            })
        };
        Ok(Self {
            knots: self.knots.iter().map(moved).collect::<Result<_, _>>()?,
        })
    }

    /// The mirror image of the row on a band of `threads` threads.
    ///
    /// ```
    /// use hitchwork_core::{knot::Kind, row::Row};
    /// let row = Row::run(Kind::Forward, [1, 2])?;
    /// assert_eq!(row.mirrored(4)?, Row::run(Kind::Backward, [3, 2])?);
    /// assert!(row.mirrored(2).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a knot lies in a column that such a band does not have.
    pub fn mirrored(&self, threads: u16) -> Result<Self, Error> {
        let mirrored = |knot: &Knot| {
            let column = i64::from(knot.column().number());
            knot.mirrored(threads).ok_or_else(|| {
                Error::from(Problem::NoSuchColumn {
                    column,
                    threads: Some(threads),
                })
            })
        };
        Ok(Self {
            knots: self.knots.iter().map(mirrored).collect::<Result<_, _>>()?,
        })
    }

    /// The row read from the finish to the start: last knot first, left and right as
    /// they were. The rows of a repeat must be taken in reverse as well; see
    /// [`upside_down`].
    #[must_use]
    pub fn upside_down(&self) -> Self {
        Self::new(self.knots.iter().rev().map(|knot| knot.upside_down()))
    }

    /// The row with all its knots turned: the same threads work, and all stay in their
    /// places.
    #[must_use]
    pub fn turned(&self) -> Self {
        Self::new(self.knots.iter().map(|knot| knot.turned()))
    }

    /// The row with the other thread of every knot working: the core becomes the working
    /// thread, and threads end up where they did before.
    #[must_use]
    pub fn inverted(&self) -> Self {
        Self::new(self.knots.iter().map(|knot| knot.inverted()))
    }

    /// The same knots tied in the opposite order.
    #[must_use]
    pub fn reversed(&self) -> Self {
        Self::new(self.knots.iter().rev().copied())
    }

    /// The first knot and every `step`-th after it.
    ///
    /// ```
    /// use hitchwork_core::{knot::Kind, row::Row};
    /// let row = Row::run(Kind::Forward, 1..6)?;
    /// assert_eq!(row.every(2)?, Row::run(Kind::Forward, [1, 3, 5])?);
    /// assert!(row.every(0).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When `step` is 0.
    pub fn every(&self, step: usize) -> Result<Self, Error> {
        if step == 0 {
            return Err(Problem::EveryNone.into());
        }
        Ok(Self::new(self.knots.iter().step_by(step).copied()))
    }

    /// The same row with every knot remembering `place` as where it was made.
    #[must_use]
    pub fn made_at(&self, place: Place) -> Self {
        Self::new(self.knots.iter().map(|knot| knot.made_at(place)))
    }
}

impl std::fmt::Display for Row {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (index, knot) in self.knots.iter().enumerate() {
            let comma = if index == 0 { "" } else { ", " };
            write!(f, "{comma}{knot}")?;
        }
        Ok(())
    }
}

/// The mirror images of rows on a band of `threads` threads.
///
/// ```
/// use hitchwork_core::{knot::Kind, row::{Row, mirrored}};
/// let rows = [Row::run(Kind::Forward, 1..4)?];
/// assert_eq!(mirrored(&mirrored(&rows, 4)?, 4)?, rows);
/// assert!(mirrored(&rows, 3).is_err());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When a knot lies in a column that such a band does not have.
pub fn mirrored(rows: &[Row], threads: u16) -> Result<Vec<Row>, Error> {
    rows.iter().map(|row| row.mirrored(threads)).collect()
}

/// Rows read from the finish to the start.
#[must_use]
pub fn upside_down(rows: &[Row]) -> Vec<Row> {
    rows.iter().rev().map(Row::upside_down).collect()
}

/// Rows after half a turn in the plane of a band of `threads` threads.
///
/// ```
/// use hitchwork_core::{knot::Kind, row::{Row, half_turned}};
/// let rows = [Row::run(Kind::Forward, 1..4)?];
/// assert_eq!(half_turned(&half_turned(&rows, 4)?, 4)?, rows);
/// assert!(half_turned(&rows, 3).is_err());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When a knot lies in a column that such a band does not have.
pub fn half_turned(rows: &[Row], threads: u16) -> Result<Vec<Row>, Error> {
    mirrored(&upside_down(rows), threads)
}

/// Rows in which the other thread of every knot works.
#[must_use]
pub fn inverted(rows: &[Row]) -> Vec<Row> {
    rows.iter().map(Row::inverted).collect()
}

/// The rows of two lists, alternating: the first of each, the second of each, and so on. If one
/// list is longer, what is left of it follows at the end.
#[must_use]
pub fn interleaved(first: &[Row], second: &[Row]) -> Vec<Row> {
    let both = first.len().min(second.len());
    let in_turn = first
        .iter()
        .zip(second)
        .flat_map(|(one, other)| [one, other]);
    in_turn
        .chain(&first[both..])
        .chain(&second[both..])
        .cloned()
        .collect()
}

/// Two lists of rows made equally long, each standing as often as it takes for both to
/// end together. A list without rows stays as it is.
///
/// ```
/// use hitchwork_core::{knot::Kind, row::{Row, in_step}};
/// let row = |column| Row::run(Kind::Forward, [column]);
/// let (two, three) = ([row(1)?, row(2)?], [row(1)?, row(2)?, row(3)?]);
/// let (first, second) = in_step(&two, &three)?;
/// assert_eq!((first.len(), second.len()), (6, 6));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When that takes more than [`MAX_ROWS`](crate::band::MAX_ROWS) rows.
pub fn in_step(first: &[Row], second: &[Row]) -> Result<(Vec<Row>, Vec<Row>), Error> {
    if first.is_empty() || second.is_empty() {
        return Ok((first.to_vec(), second.to_vec()));
    }
    let (mut divisor, mut rest) = (first.len(), second.len());
    while rest != 0 {
        (divisor, rest) = (rest, divisor % rest);
    }
    let rows = first.len().saturating_mul(second.len() / divisor);
    if rows > crate::limits::MAX_ROWS {
        return Err(Problem::OutOfStep {
            first: first.len(),
            second: second.len(),
            rows,
        }
        .into());
    }
    let repeated = |list: &[Row]| list.iter().cycle().take(rows).cloned().collect();
    Ok((repeated(first), repeated(second)))
}

/// Two bands side by side: row by row, first `left` on its `left_threads` threads, then
/// `right` on the threads beyond them. Where one list is shorter, the other goes on alone.
///
/// The bands meet in the column of number `left_threads`. The knots of `joining`, all in
/// that column, are tied there as often as knots are tied in the columns beside it: a
/// forward or backward knot exchanges the two threads that meet, a turning knot only holds
/// them together, and no knots leave two bands that are not joined. They come after the
/// row that makes them due; or in the next row, where that uses neither column beside.
///
/// ```
/// use hitchwork_core::{knot::Kind, row::{Row, beside}};
/// let stripe = [Row::run(Kind::Forward, 1..3)?];
/// let joined = beside(&stripe, 3, &stripe, &Row::run(Kind::ForwardBackward, [3])?)?;
/// assert_eq!(
///     joined[0].to_string(),
///     "forward at 1, forward at 2, forward at 4, forward at 5, forward-backward at 3"
/// );
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When a row of `left` lies outside its threads, a row of `right` would lie beyond any
/// band, or a joining knot lies in another column.
pub fn beside(
    left: &[Row],
    left_threads: u16,
    right: &[Row],
    joining: &Row,
) -> Result<Vec<Row>, Error> {
    let outside = |row: &&Row| {
        row.last_column()
            .is_some_and(|last| last.number() >= left_threads)
    };
    if let Some(column) = left.iter().find(outside).and_then(Row::last_column) {
        return Err(Problem::NoSuchColumn {
            column: column.number().into(),
            threads: Some(left_threads),
        }
        .into());
    }
    if let Some(knot) = joining
        .knots()
        .iter()
        .find(|knot| knot.column().number() != left_threads)
    {
        return Err(Problem::JoinedElsewhere {
            column: knot.column(),
            meeting: left_threads,
        }
        .into());
    }
    let empty = Row::new([]);
    let rows = left.len().max(right.len());
    let mut both: Vec<Row> = Vec::with_capacity(rows);
    for row in 0..rows {
        let right = right.get(row).unwrap_or(&empty);
        both.push(
            left.get(row)
                .unwrap_or(&empty)
                .then(&right.shift(left_threads.into())?),
        );
    }
    // Knots beside the meeting column, on either hand.
    let beside = |row: &Row| {
        let on = |column: u16| {
            let knots = row.knots().iter();
            knots
                .filter(|knot| knot.column().number() == column)
                .count()
        };
        (on(left_threads - 1), on(left_threads + 1))
    };
    let (mut on_left, mut on_right, mut joined) = (0, 0, 0);
    for row in 0..rows {
        let (more_left, more_right) = beside(&both[row]);
        on_left += more_left;
        on_right += more_right;
        let can_wait = both.get(row + 1).is_some_and(|next| beside(next) == (0, 0))
            && (more_left, more_right) != (0, 0);
        // Columns at which nothing is tied beside are joined once.
        let never = row + 1 == rows && joined == 0;
        if never || (on_left.max(on_right) > joined && !can_wait) {
            both[row] = both[row].then(joining);
            joined += 1;
        }
    }
    Ok(both)
}
