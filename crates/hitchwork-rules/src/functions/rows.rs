//! Knots, rows, and patterns of them.

use hitchwork_core::knot::Kind;
use hitchwork_core::proof::{Places, brick_lattice};
use hitchwork_core::row::Row;
use rhai::plugin::*;
use rhai::{Array, FnPtr, ImmutableString};

use super::given::{
    PLACE_BYTES, check_entries, check_knots, check_more_knots, check_places, count_of_rows,
    group_named, listed, rows_in, thread_count, whole_numbers, wrong_arguments,
};
use crate::run::place;
use crate::trouble::{ScriptResult, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    module.set_custom_type::<Row>("row");
    super::row_changes::register(module);
    super::grids::register(module);
    combine_with_exported_module!(module, "rows", rows);
}

/// Knots of one kind. Ranges and lists are tied in their own order, but a range of
/// backward knots runs from right to left, so that one thread travels through it.
fn knots(context: &NativeCallContext, kind: Kind, columns: &Dynamic) -> ScriptResult<Row> {
    let mut numbers = whole_numbers(columns, "columns")?;
    if kind == Kind::Backward && !columns.is_array() {
        numbers.reverse();
    }
    knots_in(context, kind, &numbers)
}

/// Knots of one kind in these columns, in this order.
pub(super) fn knots_in(
    context: &NativeCallContext,
    kind: Kind,
    numbers: &[i64],
) -> ScriptResult<Row> {
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

#[export_module]
mod rows {
    /// `forward(columns)`: forward knots in a column, a range or a list of columns, from
    /// left to right; the left thread works and moves to the right.
    ///
    /// - `columns`: a column (3), a range (1..threads) or a list ([1, 3, 5]); columns count
    ///   from 1 at the left edge to one less than the threads
    ///
    /// Errors: wrong-value when there is no such column; wrong-arguments when it is given
    /// anything but whole numbers.
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
    /// Errors: wrong-value when there is no such column; wrong-arguments when it is given
    /// anything but whole numbers.
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
    /// Errors: wrong-value when there is no such column; wrong-arguments when it is given
    /// anything but whole numbers.
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
    /// Errors: wrong-value when there is no such column; wrong-arguments when it is given
    /// anything but whole numbers.
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
    /// Where the colours of two pictures alternate, it shows the first of them; with it and
    /// even_shows you can paint.
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
    /// Every row of a band must have a knot.
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
    /// columns alternately, like bricks in a wall; the function says which knot lies where, for
    /// example forward(column).
    ///
    /// Rows count from 1, and odd rows have the odd columns. The function is asked once for
    /// every place. A row in which it gives no knots at all is left out.
    ///
    /// - `threads`: from 2 to 200
    /// - `rows`: how many rows
    /// - `|row, column| …`: gives a knot in that column, or no_knots()
    ///
    /// Errors: wrong-arguments when the function gives anything but a knot; limit-size
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
        let rows = count_of_rows(rows)?;
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
    /// "mirror along" (p11m: left and right are mirror images, except for the middle column),
    /// "mirror across" (p1m1: it runs the same from both ends), "half turns" (p2), "mirror across
    /// and glide" (p2mg) and "mirror along and across" (p2mm). The piece is some knots of
    /// the first rows that decide all others: half of the rows for one operation, less for
    /// more. If something is missing or does not fit, the message says what.
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
        let rows = count_of_rows(rows)?;
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
