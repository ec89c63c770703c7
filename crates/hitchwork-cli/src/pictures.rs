//! The pictures of a band, each as the files that it makes.

use std::path::Path;

use hitchwork_core::band::Band;
use hitchwork_core::colour::{Colour, Sight};
use hitchwork_core::craft::{Habits, cut_list, thread_lengths};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::proof::Drift;
pub(crate) use hitchwork_draw::pages::names;
use hitchwork_draw::{Error, fabric, font, gradient, order, png, strands, thread_use};

use crate::arguments::Picture;
use crate::trouble::Trouble;

/// How the pictures are wanted.
#[derive(Default)]
pub(crate) struct Wishes {
    pub(crate) fabric: fabric::Options,
    pub(crate) strands: strands::Options,
    pub(crate) habits: Habits,
}

/// A picture as SVG: one text, or one for each page.
pub(crate) fn svg(
    picture: Picture,
    band: &Band,
    tied: &Fabric,
    wishes: &Wishes,
) -> Result<Vec<String>, Error> {
    let one = |svg: String| vec![svg];
    match picture {
        Picture::Fabric => fabric::svg(band, tied, &wishes.fabric).map(one),
        Picture::Tile => fabric::tile(band, &wishes.fabric).map(one),
        Picture::Strands => strands::pages(band, tied, &wishes.strands),
        Picture::Order | Picture::Thread => {
            let lengths = thread_lengths(band, tied, &wishes.habits);
            let cuts = cut_list(band, &lengths, &wishes.habits);
            Ok(one(match picture {
                Picture::Order => order::svg(band, &cuts),
                _ => thread_use::svg(band, &lengths, &cuts),
            }))
        }
        Picture::Gradient => {
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
