//! What is remembered of the pictures that are tied, where somebody wants to know.

use std::num::NonZeroU32;

use hitchwork_core::colour::Srgb;
use hitchwork_core::picture::Picture;
use hitchwork_core::row::Row;
use rhai::NativeCallContext;

use crate::run::RunHandle;
use crate::trace::PictureTrace;
use crate::trouble::ScriptResult;

/// Rows that show a picture, whose knots know the numbers of its cells, with the numbers by which
/// the whole run knows them. `wanted` says which colour a cell asks for, where knots were looked
/// for to show it, and whether another shows.
pub(super) fn remembering(
    context: &NativeCallContext,
    rows: Vec<Row>,
    picture: &Picture,
    wanted: impl Fn(NonZeroU32) -> (Option<Srgb>, bool),
) -> ScriptResult<Vec<Row>> {
    let run = RunHandle::of(context);
    if run.state().trace.is_none() {
        return Ok(rows);
    }
    run.make_room(PictureTrace::bytes(picture.cells().len()))?;
    let mut state = run.state();
    Ok(match &mut state.trace {
        Some(trace) => trace.tied(rows, picture, wanted),
        None => rows,
    })
}
