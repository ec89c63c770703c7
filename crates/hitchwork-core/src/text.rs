//! Text from outside: the bytes of files as text, whatever they were saved with; and titles,
//! names and settings made safe to stand among words of ours.

use std::borrow::Cow;
use std::fmt::Display;

use crate::error::{Error, Problem};
pub(crate) use crate::line::takes_no_place;
pub use crate::line::{is_blank, on_one_line, one_line};

/// Text without marks that would turn the words around it, and without non-characters.
///
/// ```
/// assert_eq!(hitchwork_core::text::harmless("ebb\u{202e}tide"), "ebbtide");
/// ```
#[must_use]
pub fn harmless(text: &str) -> String {
    text.chars()
        .filter(|character| !forces_direction(*character) && !is_no_character(*character))
        .collect()
}

/// The same on one line.
///
/// ```
/// assert_eq!(hitchwork_core::text::plain(" ebb\n\u{202e}tide "), "ebb tide");
/// ```
#[must_use]
pub fn plain(text: &str) -> String {
    one_line(&harmless(text))
}

/// "1 row", "3 rows".
///
/// ```
/// use hitchwork_core::text::counted;
/// assert_eq!((counted(1, "row"), counted(3, "row")), ("1 row".to_owned(), "3 rows".to_owned()));
/// ```
#[must_use]
pub fn counted<N: Copy + Display + PartialEq + From<u8>>(number: N, thing: &str) -> String {
    let plural = if number == N::from(1) { "" } else { "s" };
    format!("{number} {thing}{plural}")
}

/// The same words with a capital at their beginning.
///
/// ```
/// use hitchwork_core::text::capitalised;
/// assert_eq!((capitalised("ebb tide"), capitalised("ésope"), capitalised("")), ("Ebb tide".to_owned(), "Ésope".to_owned(), String::new()));
/// ```
#[doc(hidden)]
#[must_use]
pub fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next();
    let capital = first.into_iter().flat_map(char::to_uppercase);
    capital.chain(letters).collect()
}

/// Text whose lines stay lines and in which everything else that would steer a terminal is
/// shown instead of obeyed: the control characters of ISO/IEC 6429 as their pictures (U+2400
/// and following; a replacement character for those that have none), and no marks that
/// would turn the words around them.
///
/// ```
/// use hitchwork_core::text::visible;
/// assert_eq!(visible("ebb\u{1b}[2Jtide\n"), "ebb␛[2Jtide\n");
/// assert_eq!(visible("ebb\u{9b}2Jtide"), "ebb\u{fffd}2Jtide");
/// ```
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    let passes = |character: char| matches!(character, '\n' | '\t') || !steers(character);
    if text.chars().all(passes) {
        return Cow::Borrowed(text);
    }
    // Many files of other systems end their lines so.
    let text = text.replace("\r\n", "\n");
    let shown = text.chars().filter_map(|character| match character {
        character if passes(character) => Some(character),
        '\u{7f}' => Some('\u{2421}'),
        '\0'..='\u{1f}' => char::from_u32(0x2400 + u32::from(character)),
        character if character.is_control() => Some(char::REPLACEMENT_CHARACTER),
        _ => None,
    });
    Cow::Owned(shown.collect())
}

/// Whether a character steers what shows text instead of being seen: a control character, a
/// mark that turns the words around it, or a non-character.
///
/// ```
/// use hitchwork_core::text::steers;
/// assert!(steers('\u{1b}') && steers('\u{9b}') && steers('\u{202e}') && !steers('é'));
/// ```
#[must_use]
pub fn steers(character: char) -> bool {
    character.is_control() || forces_direction(character) || is_no_character(character)
}

/// The text in these bytes: UTF-8, or UTF-16 where a byte order mark says so; the mark itself
/// is not a part of the text. A carriage return alone ends a line too, as older systems write it,
/// and becomes a line feed. There is no zero character in text: where one stands, it is most
/// likely UTF-16 without a mark, which is never guessed.
///
/// ```
/// use hitchwork_core::text::decoded;
/// assert_eq!(decoded("\u{feff}ebb".as_bytes())?, "ebb");
/// assert_eq!(decoded(b"\xff\xfee\0b\0b\0")?, "ebb");
/// assert_eq!(decoded(b"ebb\rflood\r\nslack")?, "ebb\nflood\r\nslack");
/// let unmarked = decoded(b"e\0b\0b\0").expect_err("which of two it is, nobody has said");
/// assert!(unmarked.to_string().contains("UTF-16 without a byte order mark"));
/// let wrong = decoded(b"high\nlow \xe9bb").expect_err("that is Latin-1");
/// assert_eq!(wrong.to_string(), "line 2 holds a character that is not UTF-8");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When the bytes are not text in such an encoding, with the line.
pub fn decoded(bytes: &[u8]) -> Result<Cow<'_, str>, Error> {
    let text = match bytes {
        [0xff, 0xfe, rest @ ..] => wide(rest, u16::from_le_bytes)?,
        [0xfe, 0xff, rest @ ..] => wide(rest, u16::from_be_bytes)?,
        _ => {
            let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
            // Before all else: what is UTF-16 is seldom UTF-8 by chance.
            without_zeros(bytes)?;
            let text = std::str::from_utf8(bytes).map_err(|error| {
                let line = line_behind(&bytes[..error.valid_up_to()]);
                not_text(format!("line {line} holds a character that is not UTF-8"))
            })?;
            Cow::Borrowed(text)
        }
    };
    Ok(with_line_feeds(text))
}

fn without_zeros(bytes: &[u8]) -> Result<(), Error> {
    match bytes.iter().position(|byte| *byte == 0) {
        None => Ok(()),
        Some(at) => Err(not_text(format!(
            "line {} holds a zero byte, which no text has: the file may be UTF-16 without a byte order mark",
            line_behind(&bytes[..at])
        ))),
    }
}

/// The number of the line that goes on behind these bytes.
fn line_behind(before: &[u8]) -> usize {
    let lone = |at: usize| before[at] == b'\r' && before.get(at + 1) != Some(&b'\n');
    let ends = (0..before.len()).filter(|at| before[*at] == b'\n' || lone(*at));
    1 + ends.count()
}

/// Text whose lines end in a line feed, where they ended in a carriage return alone.
fn with_line_feeds(text: Cow<'_, str>) -> Cow<'_, str> {
    if !text.contains('\r') {
        return text;
    }
    let mut letters = text.chars().peekable();
    let mut fed = String::with_capacity(text.len());
    while let Some(letter) = letters.next() {
        let ends = letter == '\r' && letters.peek() != Some(&'\n');
        fed.push(if ends { '\n' } else { letter });
    }
    Cow::Owned(fed)
}

/// The text without a byte order mark, for whoever was given it as text.
#[must_use]
pub fn unmarked(text: &str) -> &str {
    text.strip_prefix('\u{feff}').unwrap_or(text)
}

fn wide(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<Cow<'_, str>, Error> {
    let units = bytes.chunks_exact(2);
    let whole = units.remainder().is_empty();
    let units = units.map(|two| unit([two[0], two[1]]));
    match char::decode_utf16(units).collect::<Result<String, _>>() {
        Ok(text) if whole => {
            without_zeros(text.as_bytes())?;
            Ok(Cow::Owned(text))
        }
        _ => Err(not_text(
            "the file begins as UTF-16 text and does not go on that way".to_owned(),
        )),
    }
}

fn not_text(message: String) -> Error {
    let help = "save the file as UTF-8 text; most editors offer that when saving (spreadsheets call it CSV UTF-8)";
    Problem::Listing {
        message,
        help: help.to_owned(),
    }
    .into()
}

const fn forces_direction(character: char) -> bool {
    matches!(character, '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn is_no_character(character: char) -> bool {
    let code = u32::from(character);
    matches!(code & 0xffff, 0xfffe | 0xffff) || matches!(code, 0xfdd0..=0xfdef)
}

#[cfg(test)]
mod tests {
    use super::visible;

    #[test]
    fn no_control_character_but_line_ends_and_tabs_stays_as_it_is() {
        for code in (0..0x20).chain(0x7f..0xa0) {
            let character = char::from_u32(code).expect("controls are characters");
            let text = format!("a{character}b");
            let shown = visible(&text);
            let stays = matches!(character, '\n' | '\t');
            assert_eq!(shown == text, stays, "U+{code:04X}");
            assert_eq!(
                shown.chars().filter(|c| c.is_control()).count(),
                usize::from(stays)
            );
        }
    }

    #[test]
    fn words_of_any_script_stay_as_they_are() {
        for text in ["Ebbe und Flut", "прилив", "あげしお", "מָה", "🪢 knot"] {
            assert_eq!(visible(text), text);
        }
    }
}
