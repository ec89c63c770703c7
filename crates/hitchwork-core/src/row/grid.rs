//! Rows as a grid of marks: a line for each row, a mark for each knot at its column.
//!
//! The marks draw the path of the working thread, with the start of the band at the top: in
//! `\` it goes down to the right (forward), in `/` down to the left (backward), in `>` out to
//! the right and back (forward-backward), in `<` out to the left and back (backward-forward).

use super::Row;
use crate::error::{Error, Problem};
use crate::knot::{Column, Kind, Knot};

/// The mark of a column in which nothing is tied; a space does as well.
pub const NO_KNOT: char = '.';

/// The mark of a kind.
#[must_use]
pub const fn mark(kind: Kind) -> char {
    match kind {
        Kind::Forward => '\\',
        Kind::Backward => '/',
        Kind::ForwardBackward => '>',
        Kind::BackwardForward => '<',
    }
}

/// A row of a grid, with the place at which it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct GridRow {
    /// The line of the text, from 1.
    pub line: usize,
    /// How many characters of that line lie before column 1.
    pub indent: usize,
    /// The knots.
    pub row: Row,
}

/// Reads rows from a grid of marks.
///
/// Each line is a row and each of its characters a column, the first being column 1. Lines
/// without any mark are skipped, and indentation that all others share is cut off. A
/// row is tied from left to right, but backward knots side by side are tied from right to
/// left, so that one thread travels through them.
///
/// ```
/// use hitchwork_core::row::{grid, grid_of};
/// let rows = grid(r"
///     \\>
///     ./.
/// ")?;
/// assert_eq!(rows[0].to_string(), "forward at 1, forward at 2, forward-backward at 3");
/// assert_eq!(rows[1].to_string(), "backward at 2");
/// assert_eq!(grid_of(&rows, 4), "\\\\>\n./.\n");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When a character is not a mark, or a line reaches beyond any band.
pub fn grid(text: &str) -> Result<Vec<Row>, Error> {
    Ok(grid_rows(text)?
        .into_iter()
        .map(|written| written.row)
        .collect())
}

/// Reads rows from a grid of marks, and says where each was written; see [`grid`].
///
/// ```
/// use hitchwork_core::row::grid_rows;
/// let rows = grid_rows("\n  \\\\>\n  ./.\n")?;
/// assert_eq!((rows[0].line, rows[0].indent, rows[0].row.len()), (2, 2, 3));
/// assert_eq!(grid_rows("\\x").unwrap_err().grid_place(), Some((1, 2)));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// As for [`grid`].
pub fn grid_rows(text: &str) -> Result<Vec<GridRow>, Error> {
    let lines = || {
        text.lines()
            .enumerate()
            .map(|(index, line)| (index + 1, line.trim_end()))
            .filter(|(_, line)| line.contains(|mark| !is_empty_mark(mark)))
    };
    let indent = lines()
        .map(|(_, line)| line.chars().take_while(|mark| *mark == ' ').count())
        .min()
        .unwrap_or(0);
    let row = |(line, marks): (usize, &str)| {
        let knot = |(index, found): (usize, char)| {
            let misplaced = || {
                Error::from(Problem::NoMark {
                    found,
                    line,
                    character: indent + index + 1,
                })
            };
            if is_empty_mark(found) {
                return Ok(None);
            }
            let kind = Kind::ALL.into_iter().find(|kind| mark(*kind) == found);
            let column = u16::try_from(index + 1)
                .ok()
                .filter(|column| *column < crate::limits::MAX_THREADS)
                .and_then(Column::new);
            match (kind, column) {
                (Some(kind), Some(column)) => Ok(Some(Knot::new(column, kind))),
                _ => Err(misplaced()),
            }
        };
        let knots = marks.chars().skip(indent).enumerate().map(knot);
        let knots: Vec<Option<Knot>> = knots.collect::<Result<_, Error>>()?;
        Ok(GridRow {
            line,
            indent,
            row: Row::new(in_tying_order(knots.into_iter().flatten().collect())),
        })
    };
    lines().map(row).collect()
}

fn is_empty_mark(mark: char) -> bool {
    mark == NO_KNOT || mark == ' '
}

/// Backward knots side by side, from right to left.
fn in_tying_order(mut knots: Vec<Knot>) -> Vec<Knot> {
    let travels_on = |left: &Knot, right: &Knot| {
        (left.kind(), right.kind()) == (Kind::Backward, Kind::Backward)
            && left.column().number() + 1 == right.column().number()
    };
    for run in knots.chunk_by_mut(travels_on) {
        run.reverse();
    }
    knots
}

/// Writes rows on a band of `threads` threads as a grid of marks.
///
/// A row whose knots one line cannot show in the order in which they are tied (one that
/// uses a column twice, say) becomes several lines. So reading the grid again gives rows
/// that make the same fabric. Knots outside the band are shown beyond its edge.
#[must_use]
pub fn grid_of(rows: &[Row], threads: u16) -> String {
    grid_lines(rows, threads).collect()
}

/// The lines of [`grid_of`], each with its end: for whoever wants no more than this many.
///
/// ```
/// use hitchwork_core::{knot::Kind, row::{Row, grid_lines}};
/// let long = Row::run(Kind::Forward, std::iter::repeat_n(1, 1_000_000))?;
/// assert_eq!(grid_lines(&[long], 3).nth(2).as_deref(), Some("\\.\n"));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
pub fn grid_lines(rows: &[Row], threads: u16) -> impl Iterator<Item = String> + '_ {
    let lines = move |row: &Row| {
        let mut begins = Some(0);
        let row = row.clone();
        std::iter::from_fn(move || {
            let mut line = GridLine::new(threads);
            let mut at = begins?;
            while let Some(knot) = row.knots().get(at).filter(|knot| line.takes(**knot)) {
                line.put(*knot);
                at += 1;
            }
            begins = Some(at).filter(|at| *at < row.len());
            Some(line.text())
        })
    };
    rows.iter().flat_map(lines)
}

/// A line of a grid while it is being filled.
struct GridLine(Vec<Option<Kind>>);

impl GridLine {
    fn new(threads: u16) -> Self {
        Self(vec![None; usize::from(threads.saturating_sub(1))])
    }

    fn at(&self, index: Option<usize>) -> Option<Kind> {
        self.0.get(index?).copied().flatten()
    }

    /// Whether the knot comes after its neighbours when the line is read again.
    fn takes(&self, knot: Knot) -> bool {
        let index = knot.column().index();
        let backward = |other| (knot.kind(), other) == (Kind::Backward, Kind::Backward);
        let left = self.at(index.checked_sub(1));
        self.at(Some(index)).is_none()
            && left.is_none_or(|left| !backward(left))
            && self.at(Some(index + 1)).is_none_or(backward)
    }

    fn put(&mut self, knot: Knot) {
        let index = knot.column().index();
        if self.0.len() <= index {
            self.0.resize(index + 1, None);
        }
        self.0[index] = Some(knot.kind());
    }

    fn text(&self) -> String {
        let marks = self.0.iter().map(|kind| kind.map_or(NO_KNOT, mark));
        marks.chain(['\n']).collect()
    }
}
