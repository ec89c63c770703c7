//! Files of pictures as pixels: PNG (W3C, *Portable Network Graphics Specification*, third
//! edition, 2025), and the plain formats of Netpbm.

use std::io::Cursor;

use hitchwork_core::Error as CoreError;
use hitchwork_core::picture::{Cell, MAX_PIXELS, Picture, PixelGrid, is_netpbm, netpbm};
use png::{ColorType, Decoder, DecodingError, Encoder, Limits, Transformations};

/// How the names of files end that hold pictures of pixels.
const PIXEL_ENDINGS: [&str; 5] = ["png", "pbm", "pgm", "ppm", "pnm"];

/// How that of a picture ends that is written as text.
const TEXT_ENDING: &str = "txt";

/// How the names of files end that hold pictures.
///
/// ```
/// use hitchwork_rules::picture_file::{is_called_pixels, is_called_text, picture_endings};
/// let named = |ending: &str| format!("anchor.{}", ending.to_uppercase());
/// assert!(picture_endings().map(named).all(|name| is_called_pixels(&name) != is_called_text(&name)));
/// assert!(!is_called_pixels("png") && !is_called_text("anchor.text"));
/// ```
#[doc(hidden)]
pub fn picture_endings() -> impl Iterator<Item = &'static str> {
    PIXEL_ENDINGS.into_iter().chain([TEXT_ENDING])
}

/// Whether a file is called as those are that hold pixels.
#[doc(hidden)]
#[must_use]
pub fn is_called_pixels(name: &str) -> bool {
    PIXEL_ENDINGS.iter().any(|ending| ends_in(name, ending))
}

/// Whether a file is called as those are that are written as text.
#[doc(hidden)]
#[must_use]
pub fn is_called_text(name: &str) -> bool {
    ends_in(name, TEXT_ENDING)
}

fn ends_in(name: &str, ending: &str) -> bool {
    name.rsplit_once('.')
        .is_some_and(|(_, given)| given.eq_ignore_ascii_case(ending))
}

/// The first bytes of a PNG file.
const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";

/// The most bytes that the library may take besides the pixels.
const MOST_BYTES: usize = 64 << 20;

/// Why the bytes of a file are no picture. As text it says so, complete in one line.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
pub struct PictureUnread {
    message: String,
    help: String,
}

impl PictureUnread {
    /// What to do about it.
    #[must_use]
    pub fn help(&self) -> &str {
        &self.help
    }
}

impl From<CoreError> for PictureUnread {
    fn from(error: CoreError) -> Self {
        Self {
            message: error.to_string(),
            help: error.help().unwrap_or_default(),
        }
    }
}

/// Whether bytes begin as those of a picture do that [`pixels`] reads.
#[must_use]
pub fn is_picture(bytes: &[u8]) -> bool {
    bytes.starts_with(PNG) || is_netpbm(bytes)
}

/// How many pixels the picture says that it has, so that room can be asked for before it is
/// read; nothing where it does not say so at its beginning.
#[must_use]
pub fn promised(bytes: &[u8]) -> Option<u64> {
    let header = bytes.strip_prefix(PNG)?;
    let number = |at: usize| {
        let four = header.get(at..at + 4)?;
        four.try_into()
            .ok()
            .map(|four| u64::from(u32::from_be_bytes(four)))
    };
    number(8)?.checked_mul(number(12)?)
}

/// The pixels of a picture in a PNG, PBM, PGM or PPM file.
///
/// All kinds of PNG are read, 16 bits as the upper 8 of them. Of one that moves, the picture is
/// taken that programs show which know of no movement: as a rule the first.
///
/// ```
/// use hitchwork_rules::picture_file::pixels;
/// let two = pixels(b"P1 2 1  1 0").map_err(|unread| unread.to_string())?;
/// assert_eq!((two.width(), two.height()), (2, 1));
/// assert!(pixels(b"GIF89a").is_err());
/// # Ok::<(), String>(())
/// ```
///
/// # Errors
/// When it is none of these, is damaged or cut short, or has too many pixels.
pub fn pixels(bytes: &[u8]) -> Result<PixelGrid, PictureUnread> {
    if is_netpbm(bytes) {
        return Ok(netpbm(bytes)?);
    }
    if !bytes.starts_with(PNG) {
        return Err(PictureUnread {
            message: "this is not a picture that can be read".to_owned(),
            help: "save it as PNG (or as PBM, PGM or PPM)".to_owned(),
        });
    }
    let limits = Limits { bytes: MOST_BYTES };
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), limits);
    decoder.set_transformations(Transformations::normalize_to_color8());
    // What is written beside the pixels is of no use here, and may be packed to swell.
    decoder.set_ignore_text_chunk(true);
    decoder.set_ignore_iccp_chunk(true);
    let mut reader = decoder.read_info().map_err(|error| damaged(&error))?;
    let (width, height) = reader.info().size();
    if u64::from(width) * u64::from(height) > MAX_PIXELS {
        return Err(PixelGrid::too_many(width, height).into());
    }
    let size = reader.output_buffer_size();
    let size = size.ok_or_else(|| PixelGrid::too_many(width, height))?;
    let mut buffer = vec![0; size];
    let frame = reader
        .next_frame(&mut buffer)
        .map_err(|error| damaged(&error))?;
    let rgba: Vec<[u8; 4]> = match frame.color_type {
        ColorType::Grayscale => each::<1>(&buffer, |[grey]| [grey, grey, grey, 255]),
        ColorType::GrayscaleAlpha => {
            each::<2>(&buffer, |[grey, opacity]| [grey, grey, grey, opacity])
        }
        ColorType::Rgb => each::<3>(&buffer, |[red, green, blue]| [red, green, blue, 255]),
        // A palette has been looked up.
        ColorType::Rgba | ColorType::Indexed => each::<4>(&buffer, |rgba| rgba),
    };
    Ok(PixelGrid::new(width, height, rgba)?)
}

/// A picture as a PNG with a pixel for each cell, clear where nothing is shown: [`pixels`] reads the
/// same cells and colours back.
///
/// ```
/// use hitchwork_core::picture::Picture;
/// use hitchwork_core::colour::{Colour, Srgb};
/// use hitchwork_rules::picture_file::{pixels, png_of};
/// let lamp = Colour::new("lamp", Srgb::new(255, 193, 69));
/// let two = Picture::new(2, vec![lamp], vec![Some(0), None])?;
/// let read = pixels(&png_of(&two)).map_err(|unread| unread.to_string())?;
/// assert_eq!(read.picture()?, two);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(hidden)]
#[must_use]
pub fn png_of(picture: &Picture) -> Vec<u8> {
    let colours = picture.colours();
    let pixel = |cell: &Cell| {
        let shown = cell.map(|number| colours[usize::from(number)].srgb);
        shown.map_or([0; 4], |srgb| [srgb.red, srgb.green, srgb.blue, 255])
    };
    let pixels: Vec<u8> = picture.cells().iter().flat_map(pixel).collect();
    let mut file = Vec::new();
    let (width, height) = (picture.width().into(), picture.height().into());
    let mut encoder = Encoder::new(&mut file, width, height);
    encoder.set_color(ColorType::Rgba);
    let written = encoder.write_header().and_then(|mut writer| {
        writer.write_image_data(&pixels)?;
        writer.finish()
    });
    written.expect("all pixels are there, and memory takes them");
    file
}

fn each<const PARTS: usize>(buffer: &[u8], one: impl Fn([u8; PARTS]) -> [u8; 4]) -> Vec<[u8; 4]> {
    let (pixels, _) = buffer.as_chunks::<PARTS>();
    pixels.iter().map(|parts| one(*parts)).collect()
}

fn damaged(error: &DecodingError) -> PictureUnread {
    let message = match error {
        DecodingError::IoError(_) => "the PNG ends before its last row".to_owned(),
        DecodingError::LimitsExceeded => "the PNG takes too much memory to read".to_owned(),
        _ => "the PNG is damaged".to_owned(),
    };
    PictureUnread {
        message,
        help: "save the picture once more from the program that made it".to_owned(),
    }
}
