//! Rows over a leader: one thread goes straight across, and every knot ties another to it.

use std::collections::BTreeSet;

use hitchwork_core::colour::Colour;
use hitchwork_core::knot::{Column, Knot, Side};
use hitchwork_core::picture::{LeaderShows, OverLeader, Picture, over_leader};
use hitchwork_core::row::Row;
use rhai::plugin::*;
use rhai::{Array, FnPtr, Map};

use super::colours::colours_in;
use super::given::{
    check_entries, check_knots, count_of_rows, knots_of, listed, rows_in, thread_count,
    whole_numbers, wrong_arguments,
};
use super::rows::knots_in;
use super::traces::remembering;
use super::wishes::Wishes;
use crate::kinds::type_name;
use crate::run::place;
use crate::trouble::{ScriptResult, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "leaders", leaders);
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

/// What a rule may wish of a picture over leaders.
const WISHES: [&str; 5] = ["leaders", "from", "leader_shows", "along", "comes_back"];

/// A picture over leaders as it is wished: the picture as it lies on the band, and how it is tied.
fn pictured(picture: Picture, wishes: Map) -> ScriptResult<(Picture, OverLeader)> {
    let mut wishes = Wishes::new(wishes, "a picture over a leader", &WISHES)?;
    let mut how = OverLeader::default();
    if let Some(leaders) = wishes.whole("leaders", 1..=199)? {
        how.leaders = u16::try_from(leaders).unwrap_or(u16::MAX);
    }
    if let Some(value) = wishes.take("from") {
        match value.clone().try_cast::<Side>() {
            Some(side) => how.from = side,
            None => {
                return wishes.wrong("from", &value, "give LEFT or RIGHT, where the leaders hang");
            }
        }
    }
    if let Some(value) = wishes.take("leader_shows") {
        let words = value.clone().into_immutable_string().unwrap_or_default();
        how.shows = match words.as_str() {
            "ground" => LeaderShows::Ground,
            "motif" => LeaderShows::Motif,
            _ => return wishes.wrong("leader_shows", &value, "give \"ground\" or \"motif\""),
        };
    }
    if let Some(comes_back) = wishes.flag("comes_back")? {
        how.comes_back = comes_back;
    }
    let picture = match wishes.flag("along")? {
        Some(true) => picture.quarter_turned(1).map_err(|error| refused(&error))?,
        _ => picture,
    };
    let shown = picture.shown().len();
    if shown > 1 && picture.cells().iter().all(Option::is_some) {
        return Err(wrong_value(
            format!("the picture shows {shown} colours, and nobody has said which is the ground"),
            "make one of them nothing, so that it becomes the ground: picture.without(\"its name\")",
        ));
    }
    Ok((picture, how))
}

fn rows_of_picture(
    context: &NativeCallContext,
    picture: Picture,
    wishes: Map,
) -> ScriptResult<Array> {
    check_knots(context, picture.cells().len())?;
    let (picture, how) = pictured(picture, wishes)?;
    let rows = how.row_count(&picture);
    check_entries(context, rows)?;
    check_knots(context, rows * usize::from(picture.width()))?;
    let rows = how.rows(&picture).map_err(|error| refused(&error))?;
    let rows = remembering(context, rows, &picture, |_| (None, false))?;
    let call = place(context);
    let made = rows
        .into_iter()
        .map(|row| call.map_or(row.clone(), |call| row.made_at(call)));
    Ok(listed(made.collect()))
}

fn colours_of_picture(
    context: &NativeCallContext,
    picture: Picture,
    ground: &Dynamic,
    wishes: Map,
) -> ScriptResult<Array> {
    check_knots(context, picture.cells().len().saturating_mul(2))?;
    let ground = match ground.read_lock::<Colour>() {
        Some(colour) => vec![colour.clone()],
        None => match ground.read_lock::<Array>() {
            Some(list) => colours_in(&list, "the ground")?,
            None => {
                return Err(wrong_arguments(
                    format!("the ground cannot be {}", type_name(ground)),
                    "give a colour, or a list of colours".to_owned(),
                ));
            }
        },
    };
    let (picture, how) = pictured(picture, wishes)?;
    let hung = how
        .hung(&picture, &ground)
        .map_err(|error| refused(&error))?;
    Ok(hung.into_iter().map(Dynamic::from).collect())
}

#[export_module]
mod leaders {
    /// `over_leader(picture)`: rows over one leader that show a picture exactly, a row for each of
    /// its rows and a column for each of its columns; see over_leader(picture, wishes).
    ///
    /// - `picture`: a picture; what shows a colour is the motif, what shows nothing the ground
    ///
    /// Errors: as over_leader(picture, wishes).
    ///
    /// ```rhai
    /// let word = lettering("ahoy").padded(1);
    /// let night = colour("night", "#22304f");
    /// let lamp = colour("lamp", "#ffc145");
    /// band(word.width + 1)
    ///     .repeat(over_leader(word))
    ///     .colours(colours_over_leader(word.recoloured(lamp), night))
    /// ```
    #[rhai_fn(return_raw, name = "over_leader")]
    pub fn picture_over_leader(
        context: NativeCallContext,
        picture: Picture,
    ) -> ScriptResult<Array> {
        rows_of_picture(&context, picture, Map::new())
    }

    /// `over_leader(picture, wishes)`: rows over leaders that show a picture, tied as you wish.
    ///
    /// A thread hangs for each column of the picture and shows where the motif is; the leader, the
    /// first thread, goes across in each row, comes back in the next, and shows where the ground
    /// is. So every thread that hangs can have its own colour, and letters a gradient. Rows of
    /// ground are added at the end until all threads hang where they hung: one where the picture
    /// has an odd number of rows.
    ///
    /// Wishes: leader_shows, "ground" or "motif"; from, LEFT or RIGHT, the edge at which the leader
    /// hangs at the start; along, true where the picture runs along the band, turned to the right
    /// by a quarter of a circle; comes_back, false where no rows are to be added; leaders, how many
    /// there are. Several leaders hang side by side at the edge: the innermost goes first, and the
    /// others follow it in the next rows; then all come back, again the innermost first, so that
    /// two lead the rows in the order 1, 2, 2, 1.
    ///
    /// - `picture`: a picture; what shows a colour is the motif, what shows nothing the ground
    /// - `wishes`: a map, such as #{ leaders: 2, from: RIGHT }
    ///
    /// Errors: wrong-value when the picture has too many columns for a band, or has several colours
    /// and no ground; wrong-arguments when a wish cannot be.
    #[rhai_fn(return_raw, name = "over_leader")]
    pub fn picture_over_leaders(
        context: NativeCallContext,
        picture: Picture,
        wishes: Map,
    ) -> ScriptResult<Array> {
        rows_of_picture(&context, picture, wishes)
    }

    /// `colours_over_leader(picture, ground)`: the colours of all threads from left to right, so
    /// that over_leader(picture) shows the picture's own colours; see
    /// colours_over_leader(picture, ground, wishes).
    ///
    /// - `picture`: a picture in each of whose columns the motif has one colour
    /// - `ground`: a colour, which the leader takes
    ///
    /// Errors: as colours_over_leader(picture, ground, wishes).
    ///
    /// ```rhai
    /// let buoy = picture([".#.", "###"]).recoloured(colour("lamp", "#ffc145"));
    /// let sea = colour("sea", "#1d6f8c");
    /// band(4).repeat(over_leader(buoy)).colours(colours_over_leader(buoy, sea))
    /// ```
    #[rhai_fn(return_raw, name = "colours_over_leader")]
    pub fn colours_over_one_leader(
        context: NativeCallContext,
        picture: Picture,
        ground: Dynamic,
    ) -> ScriptResult<Array> {
        colours_of_picture(&context, picture, &ground, Map::new())
    }

    /// `colours_over_leader(picture, ground, wishes)`: the colours of all threads from left to
    /// right, so that over_leader(picture, wishes) shows the picture's own colours.
    ///
    /// - `picture`: a picture; in each of its columns the motif has one colour (or, where leaders
    ///   show the motif, in all rows of a leader)
    /// - `ground`: a colour; or a list with one for each leader, in the order in which they first
    ///   lead (or, where leaders show the motif, one for each column)
    /// - `wishes`: the same map as for over_leader(picture, wishes)
    ///
    /// Errors: wrong-value when a column has several colours, or the ground has too many or too few;
    /// wrong-arguments when a wish cannot be.
    #[rhai_fn(return_raw, name = "colours_over_leader")]
    pub fn colours_over_leaders(
        context: NativeCallContext,
        picture: Picture,
        ground: Dynamic,
        wishes: Map,
    ) -> ScriptResult<Array> {
        colours_of_picture(&context, picture, &ground, wishes)
    }

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
