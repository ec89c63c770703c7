//! Words from outside that have to stand on one line, and whether anything of them is seen.

use std::borrow::Cow;

/// Text on one line: whatever would move the cursor becomes a space.
///
/// ```
/// assert_eq!(hitchwork_core::text::one_line("spring\ttide\r\n"), "spring tide");
/// ```
#[must_use]
pub fn one_line(text: &str) -> String {
    let is_one = text.bytes().all(|byte| matches!(byte, b' '..=b'~'));
    if is_one && text.trim_ascii().len() == text.len() && !text.contains("  ") {
        return text.to_owned();
    }
    let spaced: String = text
        .chars()
        .map(|character| {
            if character.is_control() {
                ' '
            } else {
                character
            }
        })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A name from outside on one line, where it is on several: a table may hold a name with a line
/// break, behind which it could go on as if it were words of ours. Other names stay as they are.
/// (The characters that end a line always: Unicode Standard Annex 14, 2023.)
///
/// ```
/// use hitchwork_core::text::on_one_line;
/// assert_eq!(on_one_line("spring\n  tide"), "spring tide");
/// assert_eq!(on_one_line("spring  tide"), "spring  tide");
/// ```
#[must_use]
pub fn on_one_line(name: &str) -> Cow<'_, str> {
    let ends_line =
        |character: char| matches!(character, '\n'..='\r' | '\u{85}' | '\u{2028}' | '\u{2029}');
    match name.contains(ends_line) {
        true => Cow::Owned(one_line(name)),
        false => Cow::Borrowed(name),
    }
}

/// Whether nothing of a text can be seen: it holds nothing but blanks, control characters and
/// characters that are not shown (`Default_Ignorable_Code_Point` of the Unicode Character
/// Database, 2023; and the empty braille pattern).
///
/// ```
/// use hitchwork_core::text::is_blank;
/// assert!(is_blank(" ") && is_blank("\u{200b}") && is_blank("") && !is_blank("ebb"));
/// ```
#[must_use]
pub fn is_blank(text: &str) -> bool {
    text.chars().all(|character| {
        character.is_whitespace() || character.is_control() || is_ignorable(character)
    })
}

const fn is_ignorable(character: char) -> bool {
    matches!(
        character,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}'..='\u{1160}'
            | '\u{17b4}'..='\u{17b5}' | '\u{180b}'..='\u{180f}'
            | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{2800}' | '\u{3164}'
            | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}'
            | '\u{fff0}'..='\u{fff8}' | '\u{1bca0}'..='\u{1bca3}'
            | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}'
    )
}

/// Whether a character takes no place of its own in a line: it is not shown, or is set over the one
/// before it (the blocks of combining marks of the Unicode Character Database, 2023).
pub(crate) const fn takes_no_place(character: char) -> bool {
    is_ignorable(character)
        || matches!(
            character,
            '\u{300}'..='\u{36f}' | '\u{483}'..='\u{489}' | '\u{591}'..='\u{5bd}'
                | '\u{610}'..='\u{61a}' | '\u{64b}'..='\u{65f}' | '\u{1ab0}'..='\u{1aff}'
                | '\u{1dc0}'..='\u{1dff}' | '\u{20d0}'..='\u{20ff}' | '\u{fe20}'..='\u{fe2f}'
        )
}
