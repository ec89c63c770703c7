//! The one gate that every word passes on its way to a terminal.
//!
//! Titles, names, settings, paths and whole files come from outside, and a terminal obeys
//! what it finds in them: it moves the cursor, hides lines, renames windows. So words are
//! coloured with [`Styled::styled`] alone, which marks its colours with a sign that nobody
//! outside can know; [`let_through`] turns these marks into colours, and everything else
//! that would steer a terminal into something that is seen.

use std::borrow::Cow;
use std::collections::hash_map::RandomState;
use std::fmt::Display;
use std::hash::BuildHasher;
use std::sync::LazyLock;

use hitchwork_core::text::{on_one_line, one_line, visible};
use owo_colors::Style;

/// How every colour and weight begins (ISO/IEC 6429: escape, then `[`).
const ESCAPE: char = '\u{1b}';

/// Stands for the escape character until the gate is passed; another one in every run of
/// the program. It never reaches a file or a terminal.
static MARK: LazyLock<String> =
    LazyLock::new(|| format!("{ESCAPE}{:016x}", RandomState::new().hash_one("mark")));

/// Words that can be given a colour or a weight.
pub(crate) trait Styled {
    /// The words on one line, in that style where the terminal shows it.
    fn styled(&self, style: Style) -> String;
}

impl<T: Display + ?Sized> Styled for T {
    fn styled(&self, style: Style) -> String {
        let words = self.to_string();
        // Spaces around it are part of a table.
        let safe = if words.chars().any(char::is_control) {
            one_line(&words)
        } else {
            on_one_line(&words).into_owned()
        };
        let (begin, end) = (style.prefix_formatter(), style.suffix_formatter());
        format!(
            "{}{safe}{}",
            marked(&begin.to_string()),
            marked(&end.to_string())
        )
    }
}

/// Text with colours that comes from us as a whole.
pub(crate) fn marked(ours: &str) -> String {
    ours.replace(ESCAPE, &MARK)
}

/// The text as a terminal may have it.
pub(crate) fn let_through(text: &str) -> Cow<'_, str> {
    if !text.contains(MARK.as_str()) {
        return visible(text);
    }
    let mut parts = text.split(MARK.as_str());
    let mut shown = visible(parts.next().unwrap_or_default()).into_owned();
    for part in parts {
        shown.push(ESCAPE);
        shown.push_str(&visible(part));
    }
    Cow::Owned(shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn our_colours_pass_and_those_from_outside_are_seen() {
        let title = "\u{1b}[2J\u{1b}[31mebb";
        let said = format!("{} {title}\n", "error:".styled(Style::new().bold()));
        assert_eq!(
            let_through(&said),
            "\u{1b}[1merror:\u{1b}[0m ␛[2J␛[31mebb\n"
        );
    }

    #[test]
    fn what_is_styled_stays_on_its_line() {
        let said = "ebb\nfindings none".styled(Style::new().bold());
        assert_eq!(let_through(&said), "\u{1b}[1mebb findings none\u{1b}[0m");
    }

    #[test]
    fn a_table_keeps_its_spaces() {
        assert_eq!(let_through(&"size     ".styled(Style::new())), "size     ");
    }
}
