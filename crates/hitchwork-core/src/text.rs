//! The text in the bytes of a file that people have saved, whatever they saved it with.

use std::borrow::Cow;

use crate::error::{Error, Problem};

/// The text in these bytes: UTF-8, or UTF-16 where a byte order mark says so; the mark itself
/// is no part of the text.
///
/// ```
/// use hitchwork_core::text::decoded;
/// assert_eq!(decoded("\u{feff}ebb".as_bytes())?, "ebb");
/// assert_eq!(decoded(b"\xff\xfee\0b\0b\0")?, "ebb");
/// let wrong = decoded(b"high\nlow \xe9bb").expect_err("that is Latin-1");
/// assert_eq!(wrong.to_string(), "line 2 holds a character that is not UTF-8");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When the bytes are no text in such an encoding, with the line.
pub fn decoded(bytes: &[u8]) -> Result<Cow<'_, str>, Error> {
    match bytes {
        [0xff, 0xfe, rest @ ..] => wide(rest, u16::from_le_bytes),
        [0xfe, 0xff, rest @ ..] => wide(rest, u16::from_be_bytes),
        _ => {
            let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
            let text = std::str::from_utf8(bytes).map_err(|error| {
                let before = &bytes[..error.valid_up_to()];
                let line = 1 + before.iter().filter(|byte| **byte == b'\n').count();
                not_text(format!("line {line} holds a character that is not UTF-8"))
            })?;
            Ok(Cow::Borrowed(text))
        }
    }
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
        Ok(text) if whole => Ok(Cow::Owned(text)),
        _ => Err(not_text(
            "the file begins as UTF-16 text and does not go on so".to_owned(),
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
