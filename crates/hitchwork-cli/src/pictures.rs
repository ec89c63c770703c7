//! Pictures as files.

use std::path::Path;

pub(crate) use hitchwork_draw::pages::names;
use hitchwork_draw::{Error, font, png};

use crate::trouble::Trouble;

/// The kinds of file that hold a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum PictureFormat {
    Svg,
    Png,
}

impl PictureFormat {
    /// The kind that the name of a file asks for.
    pub(crate) fn of(out: &Path) -> Result<Self, Trouble> {
        let ending = out.extension().and_then(|ending| ending.to_str());
        match ending.map(str::to_ascii_lowercase).as_deref() {
            Some("svg") => Ok(Self::Svg),
            Some("png") => Ok(Self::Png),
            _ => Err(Trouble::new(
                "the name of the picture does not say what kind of file it is to be",
                "end the file's name in .svg or .png",
            )),
        }
    }

    /// A picture as a file of its own, with its letters; `scale` is that of a PNG.
    pub(crate) fn bytes(self, svg: &str, scale: f64) -> Result<Vec<u8>, Error> {
        match self {
            Self::Svg => font::carried(svg).map(String::into_bytes),
            Self::Png => png::render(svg, scale),
        }
    }
}
