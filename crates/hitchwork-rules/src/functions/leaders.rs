//! Rows over a leader: one thread goes straight across, and every knot ties another to it.

use std::collections::BTreeSet;

use hitchwork_core::knot::{Column, Kind, Knot, Side};
use hitchwork_core::row::Row;
use rhai::plugin::*;
use rhai::{Array, FnPtr};

use super::given::{
    check_entries, check_knots, count_of_rows, knots_of, listed, rows_in, thread_count,
    whole_numbers, wrong_arguments,
};
use super::rows::knots_in;
use crate::kinds::type_name;
use crate::run::place;
use crate::trouble::{ScriptResult, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "leaders", leaders);
}

/// The knot of a leader that comes from this side and goes on to the other.
const fn over_leader(from: Side, leader_shows: bool) -> Kind {
    match (from, leader_shows) {
        (Side::Left, true) | (Side::Right, false) => Kind::Forward,
        (Side::Left, false) | (Side::Right, true) => Kind::Backward,
    }
}

/// The columns that a leader passes, from the left.
fn passed(columns: &Dynamic) -> ScriptResult<Vec<i64>> {
    let mut numbers = whole_numbers(columns, "columns")?;
    numbers.sort_unstable();
    for pair in numbers.windows(2) {
        if pair[1] != pair[0] + 1 {
            return Err(wrong_value(
                format!(
                    "a leader cannot pass from column {} to column {}",
                    pair[0], pair[1]
                ),
                "it goes from each thread to the next: give a range, such as 1..threads, or a row for each leader, joined with +",
            ));
        }
    }
    Ok(numbers)
}

fn led(context: &NativeCallContext, from: Side, columns: &Dynamic) -> ScriptResult<Row> {
    let mut numbers = passed(columns)?;
    if from == Side::Right {
        numbers.reverse();
    }
    knots_in(context, over_leader(from, false), &numbers)
}

/// For each knot of a row, the side from which its leader comes. A row says it by the order of
/// its columns; a knot by itself is taken to hide its leader, as rows do until they are told
/// otherwise.
fn leader_sides(row: &Row) -> Vec<Side> {
    let knots = row.knots();
    let way = |first: &Knot, second: &Knot| {
        let (first, second) = (first.column().number(), second.column().number());
        match second {
            second if second == first + 1 => Some(Side::Left),
            second if second + 1 == first => Some(Side::Right),
            _ => None,
        }
    };
    let side = |(at, knot): (usize, &Knot)| {
        let before = at.checked_sub(1).and_then(|before| knots.get(before));
        let after = knots.get(at + 1);
        before
            .and_then(|before| way(before, knot))
            .or_else(|| after.and_then(|after| way(knot, after)))
            .unwrap_or(knot.kind().working_side().opposite())
    };
    knots.iter().enumerate().map(side).collect()
}

/// Columns that are given, each counted once: they are looked for in every row.
fn columns_given(columns: &Dynamic) -> ScriptResult<BTreeSet<i64>> {
    Ok(whole_numbers(columns, "columns")?.into_iter().collect())
}

/// The given columns, each of which the row must use.
fn columns_of(row: &Row, numbers: &BTreeSet<i64>) -> ScriptResult<BTreeSet<Column>> {
    let used: BTreeSet<Column> = row.knots().iter().map(|knot| knot.column()).collect();
    let column =
        |number: &i64| {
            let column = u16::try_from(*number).ok().and_then(Column::new);
            column.filter(|column| used.contains(column)).ok_or_else(|| {
            let help = match (used.first(), used.last()) {
                (Some(first), Some(last)) if first != last => {
                    format!("give columns that the row passes; they lie between {first} and {last}")
                }
                (Some(only), _) => format!("the row has only a knot in column {only}"),
                _ => "the row has no knots at all".to_owned(),
            };
            wrong_value(format!("the row has no knot in column {number}"), help)
        })
        };
    numbers.iter().map(column).collect()
}

/// The row with its leader showing where the column is one of these.
fn with_leader_shown(row: &Row, shows: impl Fn(Column) -> bool) -> Row {
    let shown = |(knot, side): (&Knot, Side)| {
        let hidden = knot.kind().working_side() != side;
        match hidden && shows(knot.column()) {
            true => knot.inverted(),
            false => *knot,
        }
    };
    Row::new(row.knots().iter().zip(leader_sides(row)).map(shown))
}

#[export_module]
mod leaders {
    /// `leader_right(columns)`: a row over a leader that goes to the right. The thread at the
    /// left of the columns leads; the others are tied round it one after the other, show, and
    /// move one position to the left. The leader is hidden, and ends at the right.
    ///
    /// The row lies straight across the band, and close to the row before it.
    ///
    /// - `columns`: a range (1..threads), or a column; columns count from 1 at the left edge to
    ///   one less than the threads
    ///
    /// Errors: wrong-value when there is no such column, or the leader would have to jump over
    /// one; wrong-arguments when it is given anything but whole numbers.
    ///
    /// ```rhai
    /// let there = leader_right(1..8);
    /// let back = leader_left(1..8);
    /// [there, back]
    /// ```
    #[rhai_fn(return_raw)]
    pub fn leader_right(context: NativeCallContext, columns: Dynamic) -> ScriptResult<Row> {
        led(&context, Side::Left, &columns)
    }

    /// `leader_left(columns)`: a row over a leader that goes to the left. The thread at the
    /// right of the columns leads; the others are tied round it one after the other, show, and
    /// move one position to the right. The leader is hidden, and ends at the left.
    ///
    /// After a row to the right and one back with the same leader, every thread hangs where it
    /// hung.
    ///
    /// - `columns`: a range (1..threads), or a column; columns count from 1 at the left edge to
    ///   one less than the threads
    ///
    /// Errors: as leader_right(columns).
    ///
    /// ```rhai
    /// leader_right(1..8).times(3) + leader_left(1..8).times(3)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn leader_left(context: NativeCallContext, columns: Dynamic) -> ScriptResult<Row> {
        led(&context, Side::Right, &columns)
    }

    /// `row.leader_shows()`: the row with its leader tied round the other threads, so that the
    /// leader shows and they are hidden.
    ///
    /// All threads go where they went before. A knot by itself says nothing of where its leader
    /// comes from; it is taken to be as leader_right and leader_left make it.
    ///
    /// Errors: limit-size when there are too many knots.
    ///
    /// ```rhai
    /// let there = leader_right(1..8);
    /// let back = leader_left(1..8);
    /// [there.leader_shows(), back, there, back.leader_shows(3..6)]
    /// ```
    #[rhai_fn(return_raw, name = "leader_shows")]
    pub fn row_shows(context: NativeCallContext, row: Row) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        Ok(with_leader_shown(&row, |_| true))
    }

    /// `row.leader_shows(columns)`: the row with its leader tied round the other threads in
    /// these columns, so that it shows there.
    ///
    /// - `columns`: a column (3), a range (3..6) or a list ([1, 3, 5]), all among those of the row
    ///
    /// Errors: wrong-value when the row has no knot in one of the columns.
    #[rhai_fn(return_raw, name = "leader_shows")]
    pub fn row_shows_in(
        context: NativeCallContext,
        row: Row,
        columns: Dynamic,
    ) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        let columns = columns_of(&row, &columns_given(&columns)?)?;
        Ok(with_leader_shown(&row, |column| columns.contains(&column)))
    }

    /// `rows.leader_shows()`: the rows, each with its leader tied round the other threads, so that
    /// the leaders show.
    ///
    /// Errors: as row.leader_shows().
    #[rhai_fn(return_raw, name = "leader_shows")]
    pub fn rows_show(context: NativeCallContext, rows: Array) -> ScriptResult<Array> {
        let rows = rows_in(&context, Dynamic::from_array(rows), "what leaders show in")?;
        check_knots(&context, knots_of(&rows))?;
        let shown = rows.iter().map(|row| with_leader_shown(row, |_| true));
        Ok(listed(shown.collect()))
    }

    /// `rows.leader_shows(columns)`: the rows, each with its leader tied round the other threads
    /// in these columns, so that it shows there.
    ///
    /// - `columns`: a column (3), a range (3..6) or a list ([1, 3, 5]), all among those of every row
    ///
    /// Errors: as row.leader_shows(columns).
    #[rhai_fn(return_raw, name = "leader_shows")]
    pub fn rows_show_in(
        context: NativeCallContext,
        rows: Array,
        columns: Dynamic,
    ) -> ScriptResult<Array> {
        let rows = rows_in(&context, Dynamic::from_array(rows), "what leaders show in")?;
        check_knots(&context, knots_of(&rows))?;
        let numbers = columns_given(&columns)?;
        let shown = rows.iter().map(|row| {
            let columns = columns_of(row, &numbers)?;
            Ok(with_leader_shown(row, |column| columns.contains(&column)))
        });
        Ok(listed(shown.collect::<ScriptResult<_>>()?))
    }

    /// `row.leader_changes(columns)`: the row with a change of leader in a column. The knot there
    /// becomes a turning knot: the leader stays where it is, and the thread that it meets leads on
    /// from there. In the last column of the row, that thread leads the next row.
    ///
    /// So a row can be handed to another leader, and stays as straight and as dense as it was.
    ///
    /// - `columns`: a column (3), a range (3..6) or a list ([1, 3, 5]), all among those of the row
    ///
    /// Errors: wrong-value when the row has no knot in one of the columns.
    ///
    /// ```rhai
    /// // Three leaders one after another, a row for each.
    /// let there = leader_right(1..8).leader_changes(7);
    /// let back = leader_left(1..8).leader_changes(1);
    /// [there, back].leader_shows()
    /// ```
    #[rhai_fn(return_raw)]
    pub fn leader_changes(
        context: NativeCallContext,
        row: Row,
        columns: Dynamic,
    ) -> ScriptResult<Row> {
        check_knots(&context, row.len())?;
        let columns = columns_of(&row, &columns_given(&columns)?)?;
        let turned = |knot: &Knot| match columns.contains(&knot.column()) {
            true => knot.turned(),
            false => *knot,
        };
        Ok(Row::new(row.knots().iter().map(turned)))
    }

    /// `leader_rows(threads, rows, |row, column| …)`: rows over one leader, which goes to the right
    /// in the first, back in the second, and so on; the function says true where the leader
    /// shows, and false where the other thread does.
    ///
    /// So you can paint. Apart from the leader, every thread keeps to its place: in column 1 that
    /// is thread 2, in column 2 thread 3, and so on. The function is asked once for every place;
    /// rows count from 1. After an even number of rows all threads hang where they hung.
    ///
    /// - `threads`: from 2 to 200
    /// - `rows`: how many rows
    /// - `|row, column| …`: gives true or false
    ///
    /// Errors: wrong-arguments when the function gives anything else; limit-size when there
    /// are too many knots.
    ///
    /// ```rhai
    /// let blocks = leader_rows(9, 8, |row, column| (row <= 4) == (column <= 4));
    /// let colours = contrasting("gull", 2);
    /// band(9).repeat(blocks).colours([colours[0]] + in_turn([colours[1]], 8))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn leader_rows(
        context: NativeCallContext,
        threads: i64,
        rows: i64,
        pattern: FnPtr,
    ) -> ScriptResult<Array> {
        let count = thread_count(threads)?;
        let rows = count_of_rows(rows)?;
        check_entries(&context, rows)?;
        check_knots(&context, rows.saturating_mul(usize::from(count) - 1))?;
        let call = place(&context);
        let mut made = Array::with_capacity(rows);
        for (number, from) in (1_i64..)
            .zip([Side::Left, Side::Right].into_iter().cycle())
            .take(rows)
        {
            let mut knots = Vec::with_capacity(usize::from(count) - 1);
            for column in (1..count).filter_map(Column::new) {
                let at = i64::from(column.number());
                let value: Dynamic = pattern.call_within_context(&context, (number, at))?;
                let shows = value.as_bool().map_err(|_| {
                    let kind = type_name(&value);
                    wrong_arguments(
                        format!("the function of rows over a leader gave {kind} for row {number}, column {at}"),
                        "it must give true where the leader shows and false where the other thread does, for example |row, column| column < 4".to_owned(),
                    )
                })?;
                knots.push(Knot::new(column, over_leader(from, shows)));
            }
            if from == Side::Right {
                knots.reverse();
            }
            let row = Row::new(knots);
            made.push(Dynamic::from(
                call.map_or(row.clone(), |call| row.made_at(call)),
            ));
        }
        Ok(made)
    }
}
