//! Rows written as grids of marks.

use hitchwork_core::knot::{Knot, Place};
use hitchwork_core::row::{self, Row};
use rhai::plugin::*;
use rhai::{Array, ImmutableString};

use super::given::{check_knots, listed, rows_in, thread_count};
use crate::error::{Diagnostic, SourceSpan};
use crate::run::{RunHandle, place};
use crate::trouble::{ScriptResult, stop};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "grids", grids);
}

/// Where a text that was given to a function is written in the rule.
pub(super) struct TextPlace {
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
pub(super) fn written_at(context: &NativeCallContext, text: &str) -> Option<TextPlace> {
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
pub(super) fn misplaced(
    error: &hitchwork_core::Error,
    written: Option<&TextPlace>,
) -> Box<EvalAltResult> {
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
mod grids {
    /// `grid(text)`: rows from a text in which each line is a row and each character stands
    /// for the knot in its column. The marks draw the path of the working thread, with the start
    /// of the band at the top: \ down to the right (forward), / down to the left (backward),
    /// > out to the right and back (forward_backward), < out to the left and back
    /// (backward_forward); a . or a space means no knot. Write the text between backticks.
    /// Indentation that all lines share does not count, and lines without marks are skipped.
    /// Rows are tied from left to right, backward knots side by side from right to
    /// left.
    ///
    /// - `text`: a line for each row, a mark for each column
    ///
    /// Errors: wrong-value when a character is not a mark, or lies beyond any band.
    ///
    /// ```rhai
    /// grid(`
    ///     \.\.
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
}
