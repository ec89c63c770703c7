//! Pictures in the plain formats of Netpbm: black and white (PBM), grey (PGM) and colour (PPM),
//! each as text or as bytes. (Jef Poskanzer's formats as the manual pages pbm(5), pgm(5) and
//! ppm(5) of Netpbm describe them, 2013.)

use super::pixels::{MAX_PIXELS, PixelGrid};
use super::wrong;
use crate::error::Error;

/// Whether bytes begin as such a file does.
#[must_use]
pub fn is_netpbm(bytes: &[u8]) -> bool {
    matches!(bytes, [b'P', b'1'..=b'6', next, ..] if next.is_ascii_whitespace() || *next == b'#')
}

/// What the first two bytes say.
#[derive(Clone, Copy)]
struct NetpbmForm {
    /// Black and white, where 1 is black.
    is_bits: bool,
    /// How many values a pixel has.
    values: usize,
    is_text: bool,
}

struct NetpbmCursor<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl NetpbmCursor<'_> {
    /// Passes over white space, and over comments from a # to the end of their line.
    fn skip(&mut self) {
        while let Some(byte) = self.bytes.get(self.at) {
            match byte {
                b'#' => {
                    let rest = &self.bytes[self.at..];
                    let line = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r'));
                    self.at += line.unwrap_or(rest.len());
                }
                byte if byte.is_ascii_whitespace() => self.at += 1,
                _ => return,
            }
        }
    }

    fn number(&mut self, what: &str) -> Result<u32, Error> {
        self.skip();
        let rest = &self.bytes[self.at..];
        let digits = rest.iter().take_while(|byte| byte.is_ascii_digit()).count();
        let text = std::str::from_utf8(&rest[..digits]).unwrap_or_default();
        self.at += digits;
        text.parse().map_err(|_| match rest.is_empty() {
            true => cut_short(),
            false => wrong(
                format!(
                    "there is no number for {what} at byte {} of the picture",
                    self.at + 1
                ),
                SAVE_AGAIN,
            ),
        })
    }

    /// The next digit, 0 or 1; digits of bits may stand without spaces.
    fn bit(&mut self) -> Result<u32, Error> {
        self.skip();
        let byte = self.bytes.get(self.at).ok_or_else(cut_short)?;
        self.at += 1;
        match byte {
            b'0' => Ok(0),
            b'1' => Ok(1),
            _ => Err(wrong(
                format!("byte {} of the picture is neither 0 nor 1", self.at),
                SAVE_AGAIN,
            )),
        }
    }
}

const SAVE_AGAIN: &str = "save the picture once more from the program that made it";

fn cut_short() -> Error {
    wrong("the picture ends before its last row", SAVE_AGAIN)
}

/// Reads such a picture; values beyond 8 bits are rounded to the nearest of 256.
///
/// ```
/// use hitchwork_core::picture::netpbm;
/// let two = netpbm(b"P3 2 1 15 # a red cell and a white one\n15 0 0  15 15 15")?;
/// assert_eq!(two.colour(0, 0), [255, 0, 0, 255]);
/// assert_eq!(two.colour(1, 0), [255, 255, 255, 255]);
/// assert!(netpbm(b"P6 2 1 255 abc").is_err());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When it is cut short, holds something else than numbers, or has no pixels or too many.
pub fn netpbm(bytes: &[u8]) -> Result<PixelGrid, Error> {
    let form = match bytes {
        [b'P', digit @ b'1'..=b'6', ..] => NetpbmForm {
            is_bits: matches!(digit, b'1' | b'4'),
            values: if matches!(digit, b'3' | b'6') { 3 } else { 1 },
            is_text: *digit <= b'3',
        },
        _ => return Err(wrong("this is not a PBM, PGM or PPM file", SAVE_AGAIN)),
    };
    let mut cursor = NetpbmCursor { bytes, at: 2 };
    let width = cursor.number("the width")?;
    let height = cursor.number("the height")?;
    let most = match form.is_bits {
        true => 1,
        false => cursor.number("the greatest value")?,
    };
    if !(1..=65_535).contains(&most) {
        return Err(wrong(
            format!("the greatest value is {most}; it is 1 to 65535 in such a file"),
            SAVE_AGAIN,
        ));
    }
    let pixels = u64::from(width) * u64::from(height);
    if pixels == 0 || pixels > MAX_PIXELS {
        return Err(PixelGrid::too_many(width, height));
    }
    let values = match form.is_text {
        true => text_values(&mut cursor, form, pixels, most)?,
        false => byte_values(&cursor, form, (width, height), most)?,
    };
    let part = |value: u32| {
        let part = (value * 255 + most / 2) / most;
        u8::try_from(part).expect("at most the greatest value")
    };
    let rgba = values.chunks(form.values).map(|values| match values {
        [red, green, blue] => [part(*red), part(*green), part(*blue), 255],
        // A 1 is black where there are only bits.
        values => {
            let grey = part(values[0]);
            let grey = if form.is_bits { 255 - grey } else { grey };
            [grey, grey, grey, 255]
        }
    });
    PixelGrid::new(width, height, rgba.collect())
}

fn checked(value: u32, most: u32) -> Result<u32, Error> {
    if value > most {
        return Err(wrong(
            format!("a value of the picture is {value}, and the greatest is {most}"),
            SAVE_AGAIN,
        ));
    }
    Ok(value)
}

fn text_values(
    cursor: &mut NetpbmCursor,
    form: NetpbmForm,
    pixels: u64,
    most: u32,
) -> Result<Vec<u32>, Error> {
    // Each value takes a byte at least, so that no room is made for what is not there.
    let count = usize::try_from(pixels)
        .unwrap_or(usize::MAX)
        .saturating_mul(form.values);
    if cursor.bytes.len() - cursor.at < count {
        return Err(cut_short());
    }
    let mut value = || match form.is_bits {
        true => cursor.bit(),
        false => checked(cursor.number("a value")?, most),
    };
    (0..count).map(|_| value()).collect()
}

fn byte_values(
    cursor: &NetpbmCursor,
    form: NetpbmForm,
    (width, height): (u32, u32),
    most: u32,
) -> Result<Vec<u32>, Error> {
    // One white space stands before the first byte.
    let data = cursor.bytes.get(cursor.at + 1..).unwrap_or_default();
    let (width, height) = (width as usize, height as usize);
    let wide = most > 255;
    let row_bytes = match form.is_bits {
        true => width.div_ceil(8),
        false => width * form.values * if wide { 2 } else { 1 },
    };
    let data = data
        .get(..row_bytes.saturating_mul(height))
        .ok_or_else(cut_short)?;
    if form.is_bits {
        let bit = |row: &[u8], at: usize| u32::from(row[at / 8] >> (7 - at % 8) & 1);
        let rows = data.chunks_exact(row_bytes);
        return Ok(rows
            .flat_map(|row| (0..width).map(move |at| bit(row, at)))
            .collect());
    }
    let values = data.chunks_exact(if wide { 2 } else { 1 });
    let value = |bytes: &[u8]| {
        let value = bytes
            .iter()
            .fold(0, |value, byte| value << 8 | u32::from(*byte));
        checked(value, most)
    };
    values.map(value).collect()
}
