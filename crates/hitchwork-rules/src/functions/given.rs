//! What functions are given, read as what they take; and what they may make, asked beforehand.

use hitchwork_core::knot::Knot;
use hitchwork_core::picture::Picture;
use hitchwork_core::row::Row;
use rhai::{Dynamic, NativeCallContext};

use super::tied_picture::TiedPicture;
use crate::error::Diagnostic;
use crate::kinds::type_name;
use crate::run::RunHandle;
use crate::trouble::{ScriptResult, stop, wrong_value};

/// A list of columns or positions from a whole number, a range or a list.
pub(super) fn whole_numbers(value: &Dynamic, what: &str) -> ScriptResult<Vec<i64>> {
    if let Ok(number) = value.as_int() {
        return Ok(vec![number]);
    }
    if let Some(range) = value.read_lock::<std::ops::Range<i64>>() {
        return within_reason(range.start, range.end.saturating_sub(1), what);
    }
    if let Some(range) = value.read_lock::<std::ops::RangeInclusive<i64>>() {
        return within_reason(*range.start(), *range.end(), what);
    }
    if let Some(list) = value.read_lock::<rhai::Array>() {
        let number = |entry: &Dynamic| {
            entry.as_int().map_err(|_| {
                wrong_value(
                    format!("a list of {what} holds {}", type_name(entry)),
                    "give whole numbers, such as [1, 3, 5]",
                )
            })
        };
        return list.iter().map(number).collect();
    }
    Err(wrong_arguments(
        format!("{what} cannot be {}", type_name(value)),
        "give a whole number (3), a range (1..threads) or a list ([1, 3, 5])".to_owned(),
    ))
}

/// More columns than any band has are a slip, and would only fill the memory.
pub(super) fn within_reason(first: i64, last: i64, what: &str) -> ScriptResult<Vec<i64>> {
    let most = i64::from(hitchwork_core::band::MAX_THREADS);
    if last >= first && (first < -most || last > 10 * most) {
        return Err(wrong_value(
            format!("{what} from {first} to {last} lie outside any band"),
            format!("a band has at most {most} threads"),
        ));
    }
    Ok((first..=last).collect())
}

pub(super) fn wrong_arguments(message: String, help: String) -> Box<rhai::EvalAltResult> {
    stop(Diagnostic::new("wrong-arguments", message, help))
}

/// The rows in a list, or the one row that was given instead. Rows may share their knots and
/// so be many in little room: here they are counted, for all that is done with them.
pub(super) fn rows_in(
    context: &NativeCallContext,
    value: Dynamic,
    what: &str,
) -> ScriptResult<Vec<Row>> {
    let rows = all_rows(&value, what)?;
    check_entries(context, rows.len())?;
    check_knots(context, knots_of(&rows))?;
    Ok(rows)
}

/// What to give where rows belong, and this was given.
fn rows_instead(value: &Dynamic) -> &'static str {
    if value.is::<TiedPicture>() {
        "give its rows, and hang its colours: let tied = solved(art); band(tied.threads).repeat(tied.rows).colours(tied.colours)"
    } else if value.is::<Picture>() {
        "tie the picture first: over_leader(art) gives rows, and solved(art) finds its knots, with rows, colours and threads"
    } else {
        "give a row, or a list of rows: [out, back]"
    }
}

pub(super) fn all_rows(value: &Dynamic, what: &str) -> ScriptResult<Vec<Row>> {
    if let Some(row) = value.read_lock::<Row>() {
        return Ok(vec![row.clone()]);
    }
    let Some(list) = value.read_lock::<rhai::Array>() else {
        return Err(wrong_arguments(
            format!("{what} cannot be {}", type_name(value)),
            rows_instead(value).to_owned(),
        ));
    };
    let mut rows = Vec::new();
    gather(&list, what, &mut rows)?;
    Ok(rows)
}

/// The rows in a list and in the lists within it.
pub(super) fn gather(list: &rhai::Array, what: &str, rows: &mut Vec<Row>) -> ScriptResult<()> {
    for entry in list {
        if let Some(row) = entry.read_lock::<Row>() {
            rows.push(row.clone());
        } else if let Some(inner) = entry.read_lock::<rhai::Array>() {
            gather(&inner, what, rows)?;
        } else {
            return Err(wrong_arguments(
                format!("{what} holds {} where a row should be", type_name(entry)),
                "every entry of the list must be a row, such as forward(1..threads)".to_owned(),
            ));
        }
    }
    Ok(())
}

/// The rows that a script ended in.
pub(crate) fn rows_of(value: Dynamic) -> ScriptResult<Vec<Row>> {
    all_rows(&value, "what the script ends in")
}

/// Rows as the list that a rule handles.
pub(super) fn listed(rows: Vec<Row>) -> rhai::Array {
    rows.into_iter().map(Dynamic::from).collect()
}

pub(super) fn times_of(times: i64) -> ScriptResult<usize> {
    usize::try_from(times).map_err(|_| {
        wrong_value(
            format!("nothing can be tied {times} times"),
            "give 0 or more",
        )
    })
}

/// Every how many columns something comes.
pub(super) fn step_of(step: i64) -> ScriptResult<usize> {
    usize::try_from(step).map_err(|_| {
        wrong_value(
            format!("there is no counting in steps of {step}"),
            "give a step of 1 or more: 2 keeps every second one",
        )
    })
}

/// How many rows there are to be.
pub(super) fn count_of_rows(rows: i64) -> ScriptResult<usize> {
    usize::try_from(rows)
        .map_err(|_| wrong_value(format!("there cannot be {rows} rows"), "give 0 or more"))
}

/// The symmetry of that name.
pub(super) fn group_named(name: &str) -> ScriptResult<hitchwork_core::proof::Frieze> {
    use hitchwork_core::proof::Frieze;
    Frieze::named(name).ok_or_else(|| {
        let shown: String = name.chars().take(60).collect();
        wrong_value(
            format!("there is no symmetry called {shown}"),
            format!(
                "it is one of {}",
                Frieze::ALL.map(|group| group.to_string()).join(", ")
            ),
        )
    })
}

/// A number of threads that a band can have.
pub(super) fn thread_count(threads: i64) -> ScriptResult<u16> {
    use hitchwork_core::band::{MAX_THREADS, MIN_THREADS};
    u16::try_from(threads)
        .ok()
        .filter(|count| (MIN_THREADS..=MAX_THREADS).contains(count))
        .ok_or_else(|| {
            wrong_value(
                format!("a band has {MIN_THREADS} to {MAX_THREADS} threads, not {threads}"),
                "give another number of threads",
            )
        })
}

/// Refuses to make a longer list than a run may.
pub(super) fn check_entries(context: &NativeCallContext, entries: usize) -> ScriptResult<()> {
    let most = RunHandle::of(context).budget().limits.list_entries;
    if entries > most {
        let message = format!("the rule makes a list of {entries} rows; it may make {most}");
        return Err(stop(Diagnostic::new("limit-size", message, SAY_REPEATS)));
    }
    Ok(())
}

/// Before this many knots are made or gone through: refuses more than a run may have at once,
/// and counts the work and the room that they take.
pub(super) fn check_knots(context: &NativeCallContext, knots: usize) -> ScriptResult<()> {
    check_places(context, knots, size_of::<Knot>())
}

/// The same where every knot takes this many bytes.
pub(super) fn check_places(
    context: &NativeCallContext,
    knots: usize,
    bytes: usize,
) -> ScriptResult<()> {
    at_most(context, knots)?;
    let run = RunHandle::of(context);
    // What takes more room takes longer, too.
    run.spend(knots.saturating_mul(bytes.div_ceil(size_of::<Knot>())))?;
    run.make_room(knots.saturating_mul(bytes))
}

/// Counts some knots, and refuses them where with others there are more than a run may have
/// at once.
pub(super) fn check_more_knots(
    context: &NativeCallContext,
    knots: usize,
    all: usize,
) -> ScriptResult<()> {
    at_most(context, all)?;
    check_knots(context, knots)
}

pub(super) fn at_most(context: &NativeCallContext, knots: usize) -> ScriptResult<()> {
    let most = RunHandle::of(context).budget().limits.knots;
    if knots > most {
        let message = format!("the rule makes {knots} knots at once; it may make {most}");
        return Err(stop(Diagnostic::new("limit-size", message, SAY_REPEATS)));
    }
    Ok(())
}

/// What a cell takes while a picture is read from text or set in letters.
const CELL_BYTES: usize = 8;

/// Before this many cells are made or gone through: counts the work and the room that they take.
pub(super) fn check_cells(context: &NativeCallContext, cells: usize) -> ScriptResult<()> {
    let run = RunHandle::of(context);
    run.spend(cells)?;
    run.make_room(cells.saturating_mul(CELL_BYTES))
}

/// What the places of a lattice take for each knot while rows are made for a symmetry.
pub(super) const PLACE_BYTES: usize = 400;

pub(super) const SAY_REPEATS: &str =
    "let what comes again and again stand once in the repeat, and say how often with repeats(…)";

/// How many knots rows have.
pub(super) fn knots_of(rows: &[Row]) -> usize {
    rows.iter().map(Row::len).sum()
}
