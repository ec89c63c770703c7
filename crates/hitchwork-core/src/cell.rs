//! Words in the cells of a table that a spreadsheet may open.
//!
//! A spreadsheet takes a cell that begins with `=`, `+`, `-` or `@` for a formula, and runs
//! it: a colour called `=HYPERLINK(…)` would be a trap for whoever opens the table. The usual
//! remedy is an apostrophe before such words, which spreadsheets take for "this is text"
//! (OWASP, "CSV Injection"; from memory). All our tables are written so, and all our readers
//! take the apostrophe away again.

use std::borrow::Cow;

/// Words as they are written into a cell: those that a spreadsheet would reckon with, and
/// those that would be mistaken for such ones made harmless, have an apostrophe before them.
///
/// ```
/// use hitchwork_core::cell::{neutral, original};
/// assert_eq!(neutral("lagoon"), "lagoon");
/// assert_eq!(neutral("=1+1"), "'=1+1");
/// assert_eq!(original("'=1+1"), "=1+1");
/// assert_eq!(original("'tis lagoon"), "'tis lagoon");
/// ```
#[must_use]
pub fn neutral(words: &str) -> Cow<'_, str> {
    match reckoned_with(words) {
        true => Cow::Owned(format!("'{words}")),
        false => Cow::Borrowed(words),
    }
}

/// The words that were written into a cell by [`neutral`]; others stay as they are.
#[must_use]
pub fn original(cell: &str) -> &str {
    let bare = cell.strip_prefix('\'');
    bare.filter(|bare| reckoned_with(bare)).unwrap_or(cell)
}

/// Whether a sign of reckoning comes first, behind blanks and apostrophes that some
/// spreadsheet may drop. Tabs and line ends count: they part cells where quotation marks
/// are not minded. The wide signs are those of East Asian keyboards.
fn reckoned_with(words: &str) -> bool {
    let sign = words.trim_start_matches([' ', '\'']).chars().next();
    matches!(
        sign,
        Some(
            '=' | '+'
                | '-'
                | '@'
                | '\t'
                | '\r'
                | '\n'
                | '\u{ff1d}'
                | '\u{ff0b}'
                | '\u{ff0d}'
                | '\u{ff20}'
        )
    )
}
