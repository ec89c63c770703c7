//! What can be made of rows: longer ones, others, parts of them.

use hitchwork_core::row::{self, Row};
use rhai::Array;
use rhai::plugin::*;

use super::given::{
    check_entries, check_knots, knots_of, listed, rows_in, step_of, thread_count, times_of,
    whole_numbers,
};
use crate::trouble::{ScriptResult, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "row_changes", row_changes);
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

#[export_module]
mod row_changes {
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

    /// `row.times(count)`: a list that holds the row that many times.
    ///
    /// - `count`: 0 or more
    ///
    /// Errors: wrong-value when the count is below 0; limit-size when there are too many knots.
    ///
    /// ```rhai
    /// forward(1..6).times(4) + [forward_backward(1..6)]
    /// ```
    #[rhai_fn(return_raw, name = "times")]
    pub fn row_times(context: NativeCallContext, row: Row, count: i64) -> ScriptResult<Array> {
        let count = times_of(count)?;
        check_entries(&context, count)?;
        check_knots(&context, row.len().saturating_mul(count))?;
        Ok(listed(vec![row; count]))
    }

    /// `rows.times(count)`: a list that holds the rows that many times, one after another.
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
    /// let down = [forward(1..4), forward(1..4).but(forward_backward(2))];
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
    /// the first and the last row turn, so that every thread ends where it hung.
    ///
    /// This makes diamonds and zigzags, with a repeat that comes round at once.
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
    /// It is turned like a page on the table: last knot first, columns counted from the other edge.
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

    /// `row.inverted()`: the same knots with the other thread of each working; all threads end
    /// up where they did before.
    ///
    /// ```rhai
    /// [forward(1..5), forward_backward(1..5).inverted()]
    /// ```
    #[rhai_fn(return_raw, name = "inverted")]
    pub fn row_inverted(context: NativeCallContext, row: Row) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        Ok(row.inverted())
    }

    /// `rows.inverted()`: the same rows with the other thread of every knot working; all
    /// threads end up where they did before.
    #[rhai_fn(return_raw, name = "inverted")]
    pub fn rows_inverted(context: NativeCallContext, rows: Array) -> ScriptResult<Array> {
        let rows = rows_in(&context, Dynamic::from_array(rows), "what is inverted")?;
        Ok(listed(row::inverted(&rows)))
    }

    /// `interleaved(rows, others)`: the rows of two lists, alternating, beginning with the first
    /// list. If one list is longer, what is left of it follows at the end.
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
    /// the bands apart. They are tied as often as the knots in the columns beside them.
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

    /// `row.reversed()`: the same knots tied in the opposite order.
    ///
    /// Their kinds and columns stay as they are; threads travel another way.
    ///
    /// ```rhai
    /// [forward(1..4), forward(1..4), forward(1..4).reversed()]
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
    /// Errors: wrong-value when the step is below 1.
    ///
    /// ```rhai
    /// let out = forward(1..9);
    /// out.but(forward_backward(1..9).every(2))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn every(context: NativeCallContext, row: Row, step: i64) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        row.every(step_of(step)?).map_err(|error| refused(&error))
    }

    /// `list.every(step)`: the first entry of a list of rows or columns, and every step-th
    /// after it.
    ///
    /// - `step`: 1 or more: 2 takes every second entry
    ///
    /// Errors: wrong-value when the step is below 1.
    #[rhai_fn(return_raw, name = "every")]
    pub fn every_entry(list: Array, step: i64) -> ScriptResult<Array> {
        let step = step_of(step)?;
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
    /// Errors: wrong-value when the step is below 1.
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
    /// Errors: wrong-value when the step is below 1.
    #[rhai_fn(return_raw, name = "every")]
    pub fn every_column_inclusive(
        columns: std::ops::RangeInclusive<i64>,
        step: i64,
    ) -> ScriptResult<Array> {
        let columns = whole_numbers(&Dynamic::from(columns), "columns")?;
        every_entry(columns.into_iter().map(Dynamic::from).collect(), step)
    }
}
