//! Rows: knots in the order in which they are tied, and the ways in which rows compose.

use std::sync::Arc;

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
    /// # Errors
    /// When `other` has a knot in a column that this row does not use: there is nothing
    /// for it to take the place of.
    pub fn but(&self, other: &Self) -> Result<Self, Error> {
        for knot in other.knots() {
            if !self.knots.iter().any(|mine| mine.column() == knot.column()) {
                return Err(Problem::NothingToReplace {
                    column: knot.column(),
                }
                .into());
            }
        }
        let replacement = |(index, knot): (usize, &Knot)| {
            let earlier = self.knots[..index]
                .iter()
                .filter(|mine| mine.column() == knot.column())
                .count();
            let mut candidates = other
                .knots
                .iter()
                .filter(|theirs| theirs.column() == knot.column());
            let nth = candidates.clone().nth(earlier);
            *nth.or_else(|| candidates.next_back()).unwrap_or(knot)
        };
        Ok(Self::new(self.knots.iter().enumerate().map(replacement)))
    }

    /// The row moved `columns` to the right (to the left when negative).
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

    /// The row as a maker of the other hand ties it on a band of `threads` threads.
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

    /// The same knots tied in the opposite order.
    #[must_use]
    pub fn reversed(&self) -> Self {
        Self::new(self.knots.iter().rev().copied())
    }

    /// The first knot and every `step`-th after it.
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

/// Rows as a maker of the other hand ties them on a band of `threads` threads.
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
/// # Errors
/// When a knot lies in a column that such a band does not have.
pub fn half_turned(rows: &[Row], threads: u16) -> Result<Vec<Row>, Error> {
    mirrored(&upside_down(rows), threads)
}

/// Rows as a grid of marks: one line a row, one mark a column, from the left edge.
///
/// The marks lie as the knots do: `\` forward, `/` backward, `>` forward-backward,
/// `<` backward-forward, `.` no knot. Where a row uses a column more than once, its later
/// knots there stand on lines of their own that begin with `+`. The grid says what is tied
/// where, not in which order within the row.
///
/// ```
/// use hitchwork_core::{knot::Kind, row::{Row, grid_of}};
/// let out = Row::run(Kind::Forward, 1..5)?.but(&Row::run(Kind::ForwardBackward, [2])?)?;
/// let back = Row::run(Kind::BackwardForward, [1, 4])?;
/// let twice = Row::run(Kind::Backward, [3, 3, 2])?;
/// assert_eq!(grid_of(&[out, back, twice], 5), [r"\>\\", "<..<", ".//.", "+../."]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[must_use]
pub fn grid_of(rows: &[Row], threads: u16) -> Vec<String> {
    let columns = usize::from(threads.saturating_sub(1));
    let mut lines = Vec::with_capacity(rows.len());
    for row in rows {
        let mut layers: Vec<Vec<char>> = vec![vec!['.'; columns]];
        for knot in row.knots() {
            let column = knot.column().index();
            let free = |layer: &Vec<char>| layer.get(column).is_none_or(|mark| *mark == '.');
            let layer = layers.iter().position(free).unwrap_or_else(|| {
                layers.push(vec!['.'; columns]);
                layers.len() - 1
            });
            if let Some(mark) = layers[layer].get_mut(column) {
                *mark = mark_of(knot.kind());
            }
        }
        for (number, layer) in layers.into_iter().enumerate() {
            let sign = if number == 0 { None } else { Some('+') };
            lines.push(sign.into_iter().chain(layer).collect());
        }
    }
    lines
}

/// The mark of a kind of knot in a grid.
const fn mark_of(kind: Kind) -> char {
    match kind {
        Kind::Forward => '\\',
        Kind::Backward => '/',
        Kind::ForwardBackward => '>',
        Kind::BackwardForward => '<',
    }
}
