//! What is proved about rows.

use hitchwork_core::proof::{Permutation, Strip};
use hitchwork_core::row::Row;
use rhai::plugin::*;
use rhai::{Array, ImmutableString};

use super::given::{check_places, knots_of, rows_in, thread_count};
use crate::trouble::{ScriptResult, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "about_rows", about_rows);
}

/// What it takes for each knot to read a repeat from all sides.
const READING_BYTES: usize = 200;

/// Rows that lie on a band of that many threads.
fn lying_on(
    context: &NativeCallContext,
    rows: Dynamic,
    threads: i64,
) -> ScriptResult<(Vec<Row>, u16)> {
    let count = thread_count(threads)?;
    let rows = rows_in(context, rows, "what is asked about")?;
    let mut columns = rows.iter().flat_map(Row::knots).map(|knot| knot.column());
    match columns.find(|column| column.number() >= count) {
        Some(outside) => Err(wrong_value(
            format!("on {count} threads there is no column {}", outside.number()),
            format!("their columns are 1 to {}", count - 1),
        )),
        None => Ok((rows, count)),
    }
}

fn numbers(numbers: impl IntoIterator<Item = u16>) -> Array {
    let number = |number: u16| Dynamic::from(i64::from(number));
    numbers.into_iter().map(number).collect()
}

#[export_module]
mod about_rows {
    /// `order_after(rows, threads)`: the numbers of the threads by position after the rows
    /// are tied once, as a list.
    ///
    /// - `rows`: a row or a list of rows
    /// - `threads`: from 2 to 200
    ///
    /// ```rhai
    /// let out = forward(1..6);
    /// require(order_after(out, 6)[5] == 1, "the first thread must reach the right edge", "tie more");
    /// band(6).repeat(out)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn order_after(
        context: NativeCallContext,
        rows: Dynamic,
        threads: i64,
    ) -> ScriptResult<Array> {
        let (rows, threads) = lying_on(&context, rows, threads)?;
        Ok(numbers(Permutation::of_rows(&rows, threads).order_after()))
    }

    /// `cycles(rows, threads)`: the cycles in which the rows move the positions, as a list of
    /// lists; a single cycle of all positions lets a gradient drift.
    ///
    /// - `rows`: a row or a list of rows
    /// - `threads`: from 2 to 200
    ///
    /// ```rhai
    /// let rows = random_rows(8, 8, #{ such_that: |rows| cycles(rows, 8).len() == 1 });
    /// band(8).repeat(rows).drift(gradient("spring tide", 8))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn cycles(context: NativeCallContext, rows: Dynamic, threads: i64) -> ScriptResult<Array> {
        let (rows, threads) = lying_on(&context, rows, threads)?;
        let cycles = Permutation::of_rows(&rows, threads).cycles();
        Ok(cycles
            .into_iter()
            .map(|cycle| Dynamic::from(numbers(cycle)))
            .collect())
    }

    /// `repeats_to_close(rows, threads)`: how often the rows are tied until every thread is
    /// back in its place.
    ///
    /// - `rows`: a row or a list of rows
    /// - `threads`: from 2 to 200
    ///
    /// ```rhai
    /// let rows = [forward(1..6)];
    /// band(6).repeat(rows).repeats(2 * repeats_to_close(rows, 6))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn repeats_to_close(
        context: NativeCallContext,
        rows: Dynamic,
        threads: i64,
    ) -> ScriptResult<i64> {
        let (rows, threads) = lying_on(&context, rows, threads)?;
        let order = Permutation::of_rows(&rows, threads).order();
        Ok(i64::try_from(order).unwrap_or(i64::MAX))
    }

    /// `symmetry(rows, threads)`: the symmetry of the rows tied again and again: "none",
    /// "glide", "mirror along", "mirror across", "half turns", "mirror across and glide" or
    /// "mirror along and across". Colours do not count.
    ///
    /// - `rows`: a row or a list of rows
    /// - `threads`: from 2 to 200
    ///
    /// ```rhai
    /// let rows = random_rows(5, 4, #{ such_that: |rows| symmetry(rows, 5) == "half turns" });
    /// band(5).repeat(rows)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn symmetry(
        context: NativeCallContext,
        rows: Dynamic,
        threads: i64,
    ) -> ScriptResult<ImmutableString> {
        let (rows, threads) = lying_on(&context, rows, threads)?;
        check_places(&context, knots_of(&rows), READING_BYTES)?;
        let pattern = Strip::of_rows(&rows, threads).pattern();
        Ok(pattern.group.name().into())
    }

    /// `knots_by_column(rows, threads)`: how many knots the rows have in each column, as a
    /// list. Columns with fewer knots than others pucker or bend the band; a column with none
    /// splits it.
    ///
    /// - `rows`: a row or a list of rows
    /// - `threads`: from 2 to 200
    ///
    /// ```rhai
    /// let rows = random_rows(6, 12, #{
    ///     density: 0.9,
    ///     such_that: |rows| knots_by_column(rows, 6).all(|knots| knots == 6),
    /// });
    /// band(6).repeat(rows)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn knots_by_column(
        context: NativeCallContext,
        rows: Dynamic,
        threads: i64,
    ) -> ScriptResult<Array> {
        let (rows, threads) = lying_on(&context, rows, threads)?;
        let mut counts = vec![0_i64; usize::from(threads) - 1];
        for knot in rows.iter().flat_map(Row::knots) {
            counts[usize::from(knot.column().number()) - 1] += 1;
        }
        Ok(counts.into_iter().map(Dynamic::from).collect())
    }
}
