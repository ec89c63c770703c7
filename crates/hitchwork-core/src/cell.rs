//! Words in the cells of a table that a spreadsheet may open.
//!
//! A spreadsheet takes a cell that begins with `=`, `+`, `-` or `@` for a formula, and runs
//! it: a colour called `=HYPERLINK(…)` would be a trap for whoever opens the table. The usual
//! remedy is an apostrophe before such words, which spreadsheets take for "this is text"
//! (OWASP, "CSV Injection"; from memory). All our tables are written so, and all our readers
//! take the apostrophe away again.

use std::borrow::Cow;

/// Words as they are written into a cell: those that a spreadsheet would calculate, and those
/// that would be mistaken for such words made harmless, begin with an apostrophe.
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

#[cfg(test)]
mod tests {
    use super::{neutral, original};
    use crate::colour::Stash;

    /// All words of up to five of the letters that matter, and one that does not.
    fn all_words() -> Vec<String> {
        let letters = [' ', '\'', '=', '+', '-', '@', '\t', '\u{ff1d}', 'a'];
        let mut words = vec![String::new()];
        let mut longest = words.clone();
        for _ in 0..5 {
            longest = longest
                .iter()
                .flat_map(|word| letters.map(|letter| format!("{word}{letter}")))
                .collect();
            words.extend(longest.iter().cloned());
        }
        words
    }

    #[test]
    fn what_is_written_is_harmless_and_is_read_back() {
        for word in all_words() {
            let cell = neutral(&word);
            assert_eq!(original(&cell), word, "{word:?}");
            let first = cell.trim_start_matches(' ').chars().next();
            assert!(
                !matches!(first, Some('=' | '+' | '-' | '@' | '\t' | '\u{ff1d}')),
                "{word:?} is written as {cell:?}"
            );
        }
        assert_eq!(neutral("7.5"), "7.5");
        assert_eq!(neutral("a=1"), "a=1");
        assert_eq!(neutral("'tis"), "'tis");
        for sign in ["\rx", "\nx", "\u{ff0b}x", "\u{ff0d}x", "\u{ff20}x"] {
            assert!(neutral(sign).starts_with('\''), "{sign:?}");
        }
    }

    #[test]
    fn a_stash_reads_names_as_they_were_before_they_were_made_harmless() {
        for name in ["=HYPERLINK(x)", "@sail", "'-dusk", "lagoon", "'tis"] {
            let table = format!("name,colour\n\"{}\",#23979f\n", neutral(name));
            let stash = Stash::read(table.as_bytes()).expect("a stash");
            assert_eq!(stash.threads()[0].name, name);
        }
    }
}
