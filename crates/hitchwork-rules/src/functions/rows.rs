//! Knots and rows.

use hitchwork_core::knot::{Kind, Knot, Place};
use hitchwork_core::proof::{Places, brick_lattice};
use hitchwork_core::row::{self, Row};
use rhai::plugin::*;
use rhai::{Array, FnPtr, ImmutableString};

use super::given::{
    PLACE_BYTES, check_entries, check_knots, check_more_knots, check_places, group_named, knots_of,
    listed, rows_in, thread_count, times_of, whole_numbers, wrong_arguments,
};
use crate::error::{Diagnostic, SourceSpan};
use crate::run::{RunHandle, place};
use crate::trouble::{ScriptResult, refused, stop, wrong_value};

pub(super) fn register(module: &mut Module) {
    module.set_custom_type::<Row>("row");
    combine_with_exported_module!(module, "rows", rows);
}

/// Knots of one kind. Ranges and lists are tied in their own order, but a range of
/// backward knots runs from right to left, so that one thread travels through it.
fn knots(context: &NativeCallContext, kind: Kind, columns: &Dynamic) -> ScriptResult<Row> {
    let mut numbers = whole_numbers(columns, "columns")?;
    if kind == Kind::Backward && !columns.is_array() {
        numbers.reverse();
    }
    let column = |number: &i64| {
        u16::try_from(*number).ok().filter(|number| *number > 0).ok_or_else(|| {
            wrong_value(
                format!("there is no column {number}"),
                "columns count from 1 at the left edge; the last is one less than the number of threads",
            )
        })
    };
    check_knots(context, numbers.len())?;
    let columns: Vec<u16> = numbers.iter().map(column).collect::<Result<_, _>>()?;
    let row = Row::run(kind, columns).map_err(|error| refused(&error))?;
    Ok(place(context).map_or(row.clone(), |place| row.made_at(place)))
}

fn shift_by(columns: i64) -> ScriptResult<i32> {
    i32::try_from(columns).map_err(|_| {
        wrong_value(
            format!("nothing can be moved by {columns} columns"),
            "a band has at most 199 columns",
        )
    })
}

/// Both lists as often as it takes for them to end together.
pub(super) fn in_step(
    context: &NativeCallContext,
    left: &[Row],
    right: &[Row],
) -> ScriptResult<(Vec<Row>, Vec<Row>)> {
    let (left, right) = row::in_step(left, right).map_err(|error| refused(&error))?;
    check_entries(context, left.len().max(right.len()))?;
    check_knots(context, knots_of(&left) + knots_of(&right))?;
    Ok((left, right))
}

/// Counts the knots that two lists of rows have side by side, joined in every row, before
/// they are made.
pub(super) fn check_joined(
    context: &NativeCallContext,
    left: &[Row],
    right: &[Row],
    joining: &Row,
) -> ScriptResult<()> {
    let rows = left.len().max(right.len());
    let joined = rows.saturating_mul(joining.len());
    check_knots(
        context,
        joined.saturating_add(knots_of(left) + knots_of(right)),
    )
}

/// Where a text that was given to a function is written in the rule.
struct TextPlace {
    file: String,
    /// The line and the character of the text's first character, from 1.
    start: (usize, usize),
}

impl TextPlace {
    /// The place in the rule of a line and a character of the text, from 1.
    fn place(&self, line: usize, character: usize) -> (usize, usize) {
        let (first_line, first_character) = self.start;
        let before = if line == 1 { first_character - 1 } else { 0 };
        (first_line + line - 1, before + character)
    }
}

/// Finds the text between backticks that stands as the first argument of a call.
fn written_at(context: &NativeCallContext, text: &str) -> Option<TextPlace> {
    let call = place(context)?;
    let run = RunHandle::of(context);
    let state = run.state();
    let source = &state.sources[usize::from(call.source)];
    let line = usize::try_from(call.line).ok()?;
    let start: usize = source
        .text
        .split_inclusive('\n')
        .take(line - 1)
        .map(str::len)
        .sum();
    let rest = &source.text[start..];
    let called = rest.char_indices().nth(usize::from(call.character) - 1)?.0;
    let (before, after) = rest[called..].split_once('`')?;
    let opened =
        before.trim_start_matches(|letter: char| letter.is_alphanumeric() || letter == '_');
    if opened.trim() != "(" {
        return None;
    }
    // The engine passes over a line that ends right after the backtick.
    let body = after
        .strip_prefix("\r\n")
        .or(after.strip_prefix('\n'))
        .unwrap_or(after);
    if !body.strip_prefix(text)?.starts_with('`') {
        return None;
    }
    let byte = source.text.len() - body.len();
    let lines_before = source.text[..byte].matches('\n').count();
    let in_line = source.text[..byte].rsplit('\n').next().unwrap_or("");
    Some(TextPlace {
        file: source.file.clone(),
        start: (lines_before + 1, in_line.chars().count() + 1),
    })
}

/// The error of a grid, at its mark.
fn misplaced(error: &hitchwork_core::Error, written: Option<&TextPlace>) -> Box<EvalAltResult> {
    let place = error
        .grid_place()
        .zip(written)
        .map(|((line, character), written)| {
            let (line, character) = written.place(line, character);
            SourceSpan {
                file: written.file.clone(),
                line,
                character,
                length: 1,
            }
        });
    stop(Diagnostic {
        help: error.help(),
        place,
        ..Diagnostic::new("wrong-value", error.to_string(), "")
    })
}

#[export_module]
mod rows {
    /// `forward(columns)`: forward knots in a column, a range or a list of columns, from
    /// left to right; the left thread works and moves to the right.
    ///
    /// - `columns`: a column (3), a range (1..threads) or a list ([1, 3, 5]); columns count
    ///   from 1 at the left edge to one less than the threads
    ///
    /// Errors: wrong-value when there is no such column; wrong-arguments when it is something
    /// else than whole numbers.
    ///
    /// ```rhai
    /// forward(1..6)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn forward(context: NativeCallContext, columns: Dynamic) -> ScriptResult<Row> {
        knots(&context, Kind::Forward, &columns)
    }

    /// `backward(columns)`: backward knots in a column, a range or a list of columns; the
    /// right thread works and moves to the left. A range is tied from right to left.
    ///
    /// - `columns`: a column (3), a range (1..threads) or a list ([1, 3, 5]); columns count
    ///   from 1 at the left edge to one less than the threads
    ///
    /// Errors: wrong-value when there is no such column; wrong-arguments when it is something
    /// else than whole numbers.
    ///
    /// ```rhai
    /// backward(1..6)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn backward(context: NativeCallContext, columns: Dynamic) -> ScriptResult<Row> {
        knots(&context, Kind::Backward, &columns)
    }

    /// `forward_backward(columns)`: turning knots in a column, a range or a list of columns,
    /// from left to right; the left thread works and stays in its place.
    ///
    /// - `columns`: a column (3), a range (1..threads) or a list ([1, 3, 5]); columns count
    ///   from 1 at the left edge to one less than the threads
    ///
    /// Errors: wrong-value when there is no such column; wrong-arguments when it is something
    /// else than whole numbers.
    ///
    /// ```rhai
    /// [forward(1..6), forward_backward(1..6)]
    /// ```
    #[rhai_fn(return_raw)]
    pub fn forward_backward(context: NativeCallContext, columns: Dynamic) -> ScriptResult<Row> {
        knots(&context, Kind::ForwardBackward, &columns)
    }

    /// `backward_forward(columns)`: turning knots in a column, a range or a list of columns,
    /// from left to right; the right thread works and stays in its place.
    ///
    /// - `columns`: a column (3), a range (1..threads) or a list ([1, 3, 5]); columns count
    ///   from 1 at the left edge to one less than the threads
    ///
    /// Errors: wrong-value when there is no such column; wrong-arguments when it is something
    /// else than whole numbers.
    ///
    /// ```rhai
    /// [forward(1..6), backward_forward(1..6)]
    /// ```
    #[rhai_fn(return_raw)]
    pub fn backward_forward(context: NativeCallContext, columns: Dynamic) -> ScriptResult<Row> {
        knots(&context, Kind::BackwardForward, &columns)
    }

    /// `odd_shows(column)`: a turning knot that shows the thread at the odd one of its two
    /// positions and leaves both in their places.
    ///
    /// Where the colours of two pictures alternate, it shows the first of them; with
    /// even_shows one can paint.
    ///
    /// - `column`: from 1 to one less than the threads
    ///
    /// Errors: wrong-value when there is no such column.
    ///
    /// ```rhai
    /// let motif = lattice(12, 12, |row, column|
    ///     if abs(column - 6) + abs(row - 6) <= 4 { odd_shows(column) } else { even_shows(column) });
    /// band(12).repeat(motif).colours(in_turn(contrasting("regatta", 2), 12))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn odd_shows(context: NativeCallContext, column: i64) -> ScriptResult<Row> {
        let kind = if column % 2 == 0 {
            Kind::BackwardForward
        } else {
            Kind::ForwardBackward
        };
        knots(&context, kind, &Dynamic::from(column))
    }

    /// `even_shows(column)`: a turning knot that shows the thread at the even one of its two
    /// positions and leaves both in their places.
    ///
    /// See odd_shows.
    ///
    /// - `column`: from 1 to one less than the threads
    ///
    /// Errors: wrong-value when there is no such column.
    ///
    /// ```rhai
    /// let checks = lattice(8, 8, |row, column|
    ///     if (row <= 4) == (column <= 4) { odd_shows(column) } else { even_shows(column) });
    /// band(8).repeat(checks).colours(in_turn(contrasting("gull", 2), 8))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn even_shows(context: NativeCallContext, column: i64) -> ScriptResult<Row> {
        let kind = if column % 2 == 0 {
            Kind::ForwardBackward
        } else {
            Kind::BackwardForward
        };
        knots(&context, kind, &Dynamic::from(column))
    }

    /// `no_knots()`: a row without knots, to add others to.
    ///
    /// A band takes no row without knots.
    ///
    /// ```rhai
    /// let row = no_knots();
    /// for column in [1, 2, 4, 5] { row += forward(column); }
    /// [row, forward(3)]
    /// ```
    pub fn no_knots() -> Row {
        Row::new([])
    }

    /// `odd_columns(threads)`: the columns 1, 3, 5… of a band.
    ///
    /// - `threads`: from 2 to 200
    ///
    /// Errors: wrong-value when no band has this many threads.
    ///
    /// ```rhai
    /// [forward(odd_columns(8)), backward(even_columns(8))]
    /// ```
    #[rhai_fn(return_raw)]
    pub fn odd_columns(threads: i64) -> ScriptResult<Array> {
        Ok((1..i64::from(thread_count(threads)?))
            .step_by(2)
            .map(Dynamic::from)
            .collect())
    }

    /// `even_columns(threads)`: the columns 2, 4, 6… of a band.
    ///
    /// - `threads`: from 2 to 200; a band of 2 has none
    ///
    /// Errors: wrong-value when no band has this many threads.
    ///
    /// ```rhai
    /// [forward(odd_columns(8)), forward(even_columns(8))]
    /// ```
    #[rhai_fn(return_raw)]
    pub fn even_columns(threads: i64) -> ScriptResult<Array> {
        Ok((2..i64::from(thread_count(threads)?))
            .step_by(2)
            .map(Dynamic::from)
            .collect())
    }

    /// `lattice(threads, rows, |row, column| …)`: rows that use the odd columns and the even
    /// columns alternately, like courses of brick; the function says which knot lies where, for
    /// example forward(column).
    ///
    /// Rows count from 1, and odd rows have the odd columns. The function is asked once for
    /// every place. A row in which it gives no knots at all is left out.
    ///
    /// - `threads`: from 2 to 200
    /// - `rows`: how many rows
    /// - `|row, column| …`: gives a knot in that column, or no_knots()
    ///
    /// Errors: wrong-arguments when the function gives something else than a knot; limit-size
    /// when there are too many knots.
    ///
    /// ```rhai
    /// lattice(10, 10, |row, column| if row <= 5 { forward(column) } else { backward(column) })
    /// ```
    #[rhai_fn(return_raw)]
    pub fn lattice(
        context: NativeCallContext,
        threads: i64,
        rows: i64,
        pattern: FnPtr,
    ) -> ScriptResult<Array> {
        let count = thread_count(threads)?;
        let rows = times_of(rows)?;
        check_entries(&context, rows)?;
        check_knots(&context, rows.saturating_mul(usize::from(count) / 2))?;
        let mut made = Array::with_capacity(rows);
        // The function may give rows of any length where a knot is meant.
        let mut total = 0;
        for (number, first) in (1_i64..).zip([1, 2].into_iter().cycle()).take(rows) {
            let mut knots = Vec::new();
            for column in (first..i64::from(count)).step_by(2) {
                let value: Dynamic = pattern.call_within_context(&context, (number, column))?;
                let kind = crate::kinds::type_name(&value);
                let row = value.try_cast::<Row>().ok_or_else(|| {
                    wrong_arguments(
                        format!("the function of a lattice gave {kind} for row {number}, column {column}"),
                        "it must give a knot, for example |row, column| forward(column)".to_owned(),
                    )
                })?;
                total += row.len();
                check_more_knots(&context, row.len(), total)?;
                knots.extend_from_slice(row.knots());
            }
            // Two threads have no even columns, and a row may be left out.
            if !knots.is_empty() {
                made.push(Dynamic::from(Row::new(knots)));
            }
        }
        Ok(made)
    }

    /// `symmetric_rows(threads, rows, symmetry, piece)`: the rows of a lattice that continue a
    /// piece so that they have a symmetry.
    ///
    /// A strip can have seven symmetries; crystallography knows them by the symbols in brackets:
    /// "none" (p1), "glide" (p11g: left and right are mirror images, half a period apart),
    /// "mirror along" (p11m: left and right are mirror images, the middle column apart),
    /// "mirror across" (p1m1: it runs the same from both ends), "half turns" (p2), "mirror across
    /// and glide" (p2mg) and "mirror along and across" (p2mm). The piece is some knots of
    /// the first rows that decide all others: half of the rows for one operation, less for
    /// more. What is missing or does not fit is said.
    ///
    /// - `threads`: from 2 to 200
    /// - `rows`: how many rows; an even number on more than two threads
    /// - `symmetry`: such as "half turns"
    /// - `piece`: a row or a list of rows, from the first on
    ///
    /// Errors: wrong-value when the lattice cannot have the symmetry, saying why, or when the
    /// piece does not fit or decides too little.
    ///
    /// ```rhai
    /// let piece = grid(`
    ///     \.\.>
    ///     .\.\.
    /// `);
    /// band(6).repeat(symmetric_rows(6, 4, "glide", piece))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn symmetric_rows(
        context: NativeCallContext,
        threads: i64,
        rows: i64,
        group: ImmutableString,
        piece: Dynamic,
    ) -> ScriptResult<Array> {
        let count = thread_count(threads)?;
        let rows = times_of(rows)?;
        check_entries(&context, rows)?;
        check_knots(&context, rows.saturating_mul(usize::from(count) / 2))?;
        let group = group_named(&group)?;
        let piece = rows_in(&context, piece, "a piece")?;
        check_places(&context, rows * usize::from(count) / 2, PLACE_BYTES)?;
        let made = brick_lattice(count, rows)
            .and_then(|lattice| Places::new(&lattice, count, group)?.continued(&piece))
            .map_err(|error| refused(&error))?;
        Ok(listed(match place(&context) {
            Some(place) => made.into_iter().map(|row| row.made_at(place)).collect(),
            None => made,
        }))
    }

    /// `row + row`: ties the second after the first, as one row.
    ///
    /// Errors: limit-size when there are too many knots.
    ///
    /// ```rhai
    /// let left = forward(1..4);
    /// let right = backward(5..8);
    /// left + right + forward(4)
    /// ```
    #[rhai_fn(name = "+", return_raw)]
    pub fn then(context: NativeCallContext, first: Row, second: Row) -> ScriptResult<Row> {
        check_knots(&context, first.len() + second.len())?;
        Ok(first.then(&second))
    }

    /// `row + rows`: a list of rows that begins with the row.
    ///
    /// ```rhai
    /// let out = forward(1..8);
    /// out + lattice(8, 4, |row, column| backward(column))
    /// ```
    #[rhai_fn(name = "+", return_raw)]
    pub fn then_rows(context: NativeCallContext, first: Row, others: Array) -> ScriptResult<Array> {
        check_entries(&context, others.len() + 1)?;
        let first = std::iter::once(Dynamic::from(first));
        Ok(first.chain(others).collect())
    }

    /// `rows + row`: a list of rows that ends with the row.
    #[rhai_fn(name = "+", return_raw)]
    pub fn rows_then(
        context: NativeCallContext,
        mut rows: Array,
        last: Row,
    ) -> ScriptResult<Array> {
        check_entries(&context, rows.len() + 1)?;
        rows.push(Dynamic::from(last));
        Ok(rows)
    }

    /// `row.but(other)`: the row with the knots of the other in place of those in the same
    /// columns.
    ///
    /// - `other`: a row whose columns are all among this row's
    ///
    /// Errors: wrong-value when the other has a knot where this row has none.
    ///
    /// ```rhai
    /// forward(1..8).but(forward_backward([3, 6]))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn but(context: NativeCallContext, row: Row, other: Row) -> ScriptResult<Row> {
        check_knots(&context, row.len().max(other.len()))?;
        row.but(&other).map_err(|error| refused(&error))
    }

    /// `row.times(count)`: a list in which the row stands that many times.
    ///
    /// - `count`: 0 or more
    ///
    /// Errors: wrong-value when the count is below 0; limit-size when there are too many knots.
    ///
    /// ```rhai
    /// forward(1..6).times(4) + backward(1..6).times(4)
    /// ```
    #[rhai_fn(return_raw, name = "times")]
    pub fn row_times(context: NativeCallContext, row: Row, count: i64) -> ScriptResult<Array> {
        let count = times_of(count)?;
        check_entries(&context, count)?;
        check_knots(&context, row.len().saturating_mul(count))?;
        Ok(listed(vec![row; count]))
    }

    /// `rows.times(count)`: a list in which the rows stand that many times, one after another.
    ///
    /// - `count`: 0 or more
    ///
    /// Errors: as row.times.
    #[rhai_fn(return_raw, name = "times")]
    pub fn rows_times(context: NativeCallContext, rows: Array, count: i64) -> ScriptResult<Array> {
        let rows = rows_in(
            &context,
            Dynamic::from_array(rows),
            "what is tied several times",
        )?;
        let count = times_of(count)?;
        check_entries(&context, rows.len().max(1).saturating_mul(count))?;
        check_knots(&context, knots_of(&rows).saturating_mul(count))?;
        Ok(listed(
            (0..count).flat_map(|_| rows.iter().cloned()).collect(),
        ))
    }

    /// `row.shift(columns)`: the row moved to the right, or to the left when negative.
    ///
    /// - `columns`: how many columns to move by, to the left when negative
    ///
    /// Errors: wrong-value when a knot would leave the band at the left.
    ///
    /// ```rhai
    /// let small = forward(1..4);
    /// small + small.shift(4) + forward(4)
    /// ```
    #[rhai_fn(return_raw, name = "shift")]
    pub fn row_shift(context: NativeCallContext, row: Row, columns: i64) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        row.shift(shift_by(columns)?)
            .map_err(|error| refused(&error))
    }

    /// `rows.shift(columns)`: the rows moved to the right, or to the left when negative.
    ///
    /// - `columns`: how many columns to move by, to the left when negative
    ///
    /// Errors: as row.shift.
    #[rhai_fn(return_raw, name = "shift")]
    pub fn rows_shift(
        context: NativeCallContext,
        rows: Array,
        columns: i64,
    ) -> ScriptResult<Array> {
        let rows = rows_in(&context, Dynamic::from_array(rows), "what is shifted")?;
        let columns = shift_by(columns)?;
        let shifted: Result<Vec<Row>, _> = rows.iter().map(|row| row.shift(columns)).collect();
        Ok(listed(shifted.map_err(|error| refused(&error))?))
    }

    /// `row.mirrored(threads)`: the mirror image of the row on a band of that many threads.
    ///
    /// Forward and backward change roles, and column 1 becomes the last.
    ///
    /// - `threads`: how many threads the band has, from 2 to 200
    ///
    /// Errors: wrong-value when a knot lies in a column that such a band does not have.
    ///
    /// ```rhai
    /// let left = forward(1..5);
    /// left + left.mirrored(10) + forward(5)
    /// ```
    #[rhai_fn(return_raw, name = "mirrored")]
    pub fn row_mirrored(context: NativeCallContext, row: Row, threads: i64) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        row.mirrored(thread_count(threads)?)
            .map_err(|error| refused(&error))
    }

    /// `rows.mirrored(threads)`: the mirror images of the rows on a band of that many threads.
    ///
    /// - `threads`: how many threads the band has, from 2 to 200
    ///
    /// Errors: as row.mirrored.
    #[rhai_fn(return_raw, name = "mirrored")]
    pub fn rows_mirrored(
        context: NativeCallContext,
        rows: Array,
        threads: i64,
    ) -> ScriptResult<Array> {
        let rows = rows_in(&context, Dynamic::from_array(rows), "what is mirrored")?;
        Ok(listed(
            row::mirrored(&rows, thread_count(threads)?).map_err(|error| refused(&error))?,
        ))
    }

    /// `row.upside_down()`: the row read from the finish to the start.
    ///
    /// Forward and backward change roles; turning knots stay as they are.
    ///
    /// ```rhai
    /// let down = [forward(1..7), forward(1..7).but(forward_backward(3))];
    /// down + down.upside_down()
    /// ```
    #[rhai_fn(return_raw, name = "upside_down")]
    pub fn row_upside_down(context: NativeCallContext, row: Row) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        Ok(row.upside_down())
    }

    /// `rows.upside_down()`: the rows read from the finish to the start, last row first.
    #[rhai_fn(return_raw, name = "upside_down")]
    pub fn rows_upside_down(context: NativeCallContext, rows: Array) -> ScriptResult<Array> {
        Ok(listed(row::upside_down(&rows_in(
            &context,
            Dynamic::from_array(rows),
            "what is turned upside down",
        )?)))
    }

    /// `row.turned()`: the same threads work in the same columns, but all knots are turning
    /// knots, so that every thread stays in its place.
    ///
    /// ```rhai
    /// [forward(1..7), forward(1..7).turned()]
    /// ```
    #[rhai_fn(return_raw)]
    pub fn turned(context: NativeCallContext, row: Row) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        Ok(row.turned())
    }

    /// `rows.there_and_back()`: the rows, and then the rows back and upside down; all knots of
    /// the first and the last row turn, so that after it every thread is where it hung.
    ///
    /// So diamonds and zigzags are made: a repeat that closes at once.
    ///
    /// Errors: limit-size when there are too many knots.
    ///
    /// ```rhai
    /// lattice(10, 9, |row, column| if column <= 5 { forward(column) } else { backward(column) }).there_and_back()
    /// ```
    #[rhai_fn(return_raw)]
    pub fn there_and_back(context: NativeCallContext, rows: Array) -> ScriptResult<Array> {
        let mut rows = rows_in(
            &context,
            Dynamic::from_array(rows),
            "what goes there and back",
        )?;
        check_entries(&context, rows.len() * 2)?;
        check_knots(&context, knots_of(&rows) * 2)?;
        if let Some(first) = rows.first_mut() {
            *first = first.upside_down().turned();
        }
        if let Some(last) = rows.last_mut() {
            *last = last.turned();
        }
        let between = rows
            .get(1..rows.len().saturating_sub(1))
            .unwrap_or_default();
        let back = row::upside_down(between);
        Ok(listed(rows.into_iter().chain(back).collect()))
    }

    /// `row.half_turned(threads)`: the row after half a turn in the plane of the band.
    ///
    /// Turned in the plane of the band like a page on the table: last knot first, columns from
    /// the other edge.
    ///
    /// - `threads`: how many threads the band has, from 2 to 200
    ///
    /// Errors: wrong-value when a knot lies in a column that such a band does not have.
    ///
    /// ```rhai
    /// let leaf = [forward(1..8), forward(1..8).but(forward_backward([2, 3]))];
    /// leaf + leaf.half_turned(8)
    /// ```
    #[rhai_fn(return_raw, name = "half_turned")]
    pub fn row_half_turned(
        context: NativeCallContext,
        row: Row,
        threads: i64,
    ) -> ScriptResult<Row> {
        check_knots(&context, 2 * row.len())?;
        row.upside_down()
            .mirrored(thread_count(threads)?)
            .map_err(|error| refused(&error))
    }

    /// `rows.half_turned(threads)`: the rows after half a turn, last row first.
    ///
    /// - `threads`: how many threads the band has, from 2 to 200
    ///
    /// Errors: as row.half_turned.
    #[rhai_fn(return_raw, name = "half_turned")]
    pub fn rows_half_turned(
        context: NativeCallContext,
        rows: Array,
        threads: i64,
    ) -> ScriptResult<Array> {
        let rows = rows_in(&context, Dynamic::from_array(rows), "what is turned")?;
        Ok(listed(
            row::half_turned(&rows, thread_count(threads)?).map_err(|error| refused(&error))?,
        ))
    }

    /// `row.inverted()`: the same knots in which the other thread of each works; all threads
    /// come to lie where they did before.
    ///
    /// ```rhai
    /// [forward(1..5), forward_backward(1..5).inverted()]
    /// ```
    #[rhai_fn(return_raw, name = "inverted")]
    pub fn row_inverted(context: NativeCallContext, row: Row) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        Ok(row.inverted())
    }

    /// `rows.inverted()`: the same rows in which the other thread of every knot works; all
    /// threads come to lie where they did before.
    #[rhai_fn(return_raw, name = "inverted")]
    pub fn rows_inverted(context: NativeCallContext, rows: Array) -> ScriptResult<Array> {
        let rows = rows_in(&context, Dynamic::from_array(rows), "what is inverted")?;
        Ok(listed(row::inverted(&rows)))
    }

    /// `interleaved(rows, others)`: the rows of two lists, alternating, beginning with the first
    /// list. What one has more than the other follows at the end.
    ///
    /// - `rows`: the list that begins
    /// - `others`: the list whose rows come between
    ///
    /// ```rhai
    /// let there = [forward(1..5), forward(1..5)];
    /// let back = [forward_backward(1..5)];
    /// interleaved(there, back)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn interleaved(
        context: NativeCallContext,
        rows: Dynamic,
        others: Dynamic,
    ) -> ScriptResult<Array> {
        let rows = rows_in(&context, rows, "the first of interleaved rows")?;
        let others = rows_in(&context, others, "the second of interleaved rows")?;
        check_entries(&context, rows.len() + others.len())?;
        Ok(listed(row::interleaved(&rows, &others)))
    }

    /// `beside(left, left_threads, right, joining)`: the rows of two bands side by side, left
    /// on its threads and right on those beyond them, row by row; the shorter list begins
    /// again until both end together. The knots of joining lie in the column of number
    /// left_threads, where the bands meet: forward(left_threads) exchanges the threads that
    /// meet there, forward_backward(left_threads) only holds them together, no_knots() leaves
    /// the bands apart. They are tied as often as knots lie in the columns beside.
    ///
    /// - `left`: a list of rows, or one row
    /// - `left_threads`: how many threads the left band has
    /// - `right`: a list of rows, or one row, whose columns count from 1
    /// - `joining`: a row of knots in the column left_threads, or no_knots()
    ///
    /// Errors: wrong-value when a row lies outside its band, or a joining knot in another
    /// column.
    ///
    /// ```rhai
    /// let left = [forward(1..4)];
    /// let right = [backward(1..4)];
    /// beside(left, 4, right, forward_backward(4))
    /// ```
    #[rhai_fn(return_raw, name = "beside")]
    pub fn rows_beside(
        context: NativeCallContext,
        left: Dynamic,
        left_threads: i64,
        right: Dynamic,
        joining: Row,
    ) -> ScriptResult<Array> {
        let left = rows_in(&context, left, "the left of rows beside each other")?;
        let right = rows_in(&context, right, "the right of rows beside each other")?;
        let threads = thread_count(left_threads)?;
        let (left, right) = in_step(&context, &left, &right)?;
        check_joined(&context, &left, &right, &joining)?;
        let both = row::beside(&left, threads, &right, &joining);
        Ok(listed(both.map_err(|error| refused(&error))?))
    }

    /// `grid(text)`: rows from a text in which each line is a row and each character stands
    /// for the knot in its column. The marks draw the way of the working thread, with the start
    /// of the band at the top: \ down to the right (forward), / down to the left (backward),
    /// > out to the right and back (forward_backward), < out to the left and back
    /// (backward_forward); a . or a space means no knot. Write the text between backticks.
    /// What all lines are indented by does not count, and lines without marks are passed
    /// over. Rows are tied from left to right, backward knots side by side from right to
    /// left.
    ///
    /// - `text`: a line for each row, a mark for each column
    ///
    /// Errors: wrong-value when a character is not a mark, or lies beyond any band.
    ///
    /// ```rhai
    /// grid(`
    ///     \\.\\.
    ///     .>.<
    /// `)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn grid(context: NativeCallContext, text: ImmutableString) -> ScriptResult<Array> {
        let written = written_at(&context, &text);
        check_knots(&context, text.len())?;
        let rows = row::grid_rows(&text).map_err(|error| misplaced(&error, written.as_ref()))?;
        let call = place(&context);
        let made = |written_row: row::GridRow| {
            let place = |knot: &Knot| {
                let Some((call, at)) = call.zip(written.as_ref()) else {
                    return call;
                };
                let (line, character) = at.place(
                    written_row.line,
                    written_row.indent + usize::from(knot.column().number()),
                );
                Some(Place {
                    line: u32::try_from(line).ok()?,
                    character: u16::try_from(character).ok()?,
                    ..call
                })
            };
            let knots = written_row.row.knots().iter();
            Row::new(knots.map(|knot| place(knot).map_or(*knot, |place| knot.made_at(place))))
        };
        Ok(listed(rows.into_iter().map(made).collect()))
    }

    /// `grid_of(rows, threads)`: the rows as a text of marks, which grid(text) reads again; a
    /// row that one line cannot show becomes several.
    ///
    /// - `rows`: a list of rows
    /// - `threads`: how many threads they are tied on
    ///
    /// ```rhai
    /// let rows = [forward(1..5)];
    /// grid(grid_of(rows, 5))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn grid_of(
        context: NativeCallContext,
        rows: Dynamic,
        threads: i64,
    ) -> ScriptResult<ImmutableString> {
        let rows = rows_in(&context, rows, "the rows of a grid")?;
        let most = RunHandle::of(&context).budget().limits.text_bytes;
        let mut text = String::new();
        for line in row::grid_lines(&rows, thread_count(threads)?) {
            text.push_str(&line);
            if text.len() > most {
                let message = format!("the grid is longer than {} KB", most >> 10);
                let help = "write fewer rows at once";
                return Err(stop(Diagnostic::new("limit-size", message, help)));
            }
        }
        Ok(text.into())
    }

    /// `row.reversed()`: the same knots tied in the opposite order.
    ///
    /// Their kinds and columns stay as they are; threads travel another way.
    ///
    /// ```rhai
    /// [forward(1..7), forward(1..7).reversed()]
    /// ```
    #[rhai_fn(return_raw)]
    pub fn reversed(context: NativeCallContext, row: Row) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        Ok(row.reversed())
    }

    /// `row.every(step)`: the first knot and every step-th after it.
    ///
    /// - `step`: 1 or more: 2 takes every second knot
    ///
    /// Errors: wrong-value when the step is 0.
    ///
    /// ```rhai
    /// let out = forward(1..9);
    /// out.but(forward_backward(1..9).every(2))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn every(context: NativeCallContext, row: Row, step: i64) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        row.every(times_of(step)?).map_err(|error| refused(&error))
    }

    /// `list.every(step)`: the first entry of a list of rows or columns, and every step-th
    /// after it.
    ///
    /// - `step`: 1 or more: 2 takes every second entry
    ///
    /// Errors: wrong-value when the step is 0.
    #[rhai_fn(return_raw, name = "every")]
    pub fn every_entry(list: Array, step: i64) -> ScriptResult<Array> {
        let step = times_of(step)?;
        if step == 0 {
            // The words are the same for knots and for entries.
            Row::new([]).every(step).map_err(|error| refused(&error))?;
        }
        Ok(list.into_iter().step_by(step).collect())
    }

    /// `every(columns, step)`: the first column of a range such as 1..threads, and every
    /// step-th after it, as a list.
    ///
    /// - `columns`: a range without its end, such as 1..threads
    /// - `step`: 1 or more: 2 takes every second column
    ///
    /// Errors: wrong-value when the step is 0.
    #[rhai_fn(return_raw, name = "every")]
    pub fn every_column(columns: std::ops::Range<i64>, step: i64) -> ScriptResult<Array> {
        let columns = whole_numbers(&Dynamic::from(columns), "columns")?;
        every_entry(columns.into_iter().map(Dynamic::from).collect(), step)
    }

    /// `every(columns, step)`: the first column of a range such as 1..=9, and every step-th
    /// after it, as a list.
    ///
    /// - `columns`: a range with its end, such as 1..=9
    /// - `step`: 1 or more: 2 takes every second column
    ///
    /// Errors: wrong-value when the step is 0.
    #[rhai_fn(return_raw, name = "every")]
    pub fn every_column_inclusive(
        columns: std::ops::RangeInclusive<i64>,
        step: i64,
    ) -> ScriptResult<Array> {
        let columns = whole_numbers(&Dynamic::from(columns), "columns")?;
        every_entry(columns.into_iter().map(Dynamic::from).collect(), step)
    }

    /// `row.knots`: how many knots the row has.
    ///
    /// ```rhai
    /// let out = forward(1..6);
    /// out.times(out.knots) + [backward_forward(1..6)]
    /// ```
    #[rhai_fn(get = "knots")]
    pub fn knot_count(row: &mut Row) -> i64 {
        i64::try_from(row.len()).unwrap_or(i64::MAX)
    }
}
