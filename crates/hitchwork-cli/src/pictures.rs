//! The pictures of a band, each as the files that it makes.

use std::path::Path;

use hitchwork_core::colour::{Colour, Sight};
use hitchwork_core::proof::Drift;
use hitchwork_core::tied::Tied;
pub(crate) use hitchwork_draw::pages::names;
use hitchwork_draw::{Error, fabric, font, gradient, order, png, strands, thread_use};

use crate::arguments::Picture;
use crate::trouble::Trouble;

/// How the pictures are wanted.
#[derive(Default)]
pub(crate) struct Wishes {
    pub(crate) fabric: fabric::Options,
    pub(crate) strands: strands::Options,
}

/// A picture as SVG: one text, or one for each page.
pub(crate) fn svg(picture: Picture, tied: &Tied, wishes: &Wishes) -> Result<Vec<String>, Error> {
    let one = |svg: String| vec![svg];
    match picture {
        Picture::Fabric => fabric::svg(tied, &wishes.fabric).map(one),
        Picture::Tile => fabric::tile(tied, &wishes.fabric).map(one),
        Picture::Strands => strands::pages(tied, &wishes.strands),
        Picture::Order => Ok(one(order::svg(tied))),
        Picture::Thread => Ok(one(thread_use::svg(tied))),
        Picture::Gradient => {
            let band = tied.band();
            let colours: Vec<Colour> = band
                .used_colours()
                .into_iter()
                .map(|index| band.palette()[usize::from(index)].clone())
                .collect();
            let cyclic = Drift::of_band(band).is_some();
            let sight = Sight::of_knot(&band.gauge());
            gradient::svg(band.title(), &colours, cyclic, sight).map(one)
        }
    }
}

/// The kinds of file that hold a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    Svg,
    Png,
}

impl Form {
    /// The kind that the name of a file asks for.
    pub(crate) fn of(out: &Path) -> Result<Self, Trouble> {
        let ending = out.extension().and_then(|ending| ending.to_str());
        match ending.map(str::to_ascii_lowercase).as_deref() {
            Some("svg") => Ok(Self::Svg),
            Some("png") => Ok(Self::Png),
            _ => Err(Trouble::new(
                "the name of the picture does not say what kind it shall be",
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
