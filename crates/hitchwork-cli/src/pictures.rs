//! The pictures of a band, each as the files that it makes.

use hitchwork_core::band::Band;
use hitchwork_core::colour::{Colour, Sight};
use hitchwork_core::craft::{Habits, cut_list, thread_lengths};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::proof::Report;
use hitchwork_draw::{Error, fabric, gradient, order, strands, thread_use};

use crate::arguments::Picture;

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
            let used = |index: &usize| {
                let threads = band.thread_colours().iter();
                threads.copied().any(|colour| usize::from(colour) == *index)
            };
            let colours: Vec<Colour> = (0..band.palette().len())
                .filter(used)
                .map(|index| band.palette()[index].clone())
                .collect();
            let cyclic = Report::of_fabric(band, tied).drift.is_some();
            let sight = Sight::of_knot(&band.gauge());
            gradient::svg(band.title(), &colours, cyclic, sight).map(one)
        }
    }
}

/// The names of files that hold so many pages: `stem.svg`, or `stem-1.svg` and so on.
pub(crate) fn names(stem: &str, extension: &str, pages: usize) -> Vec<String> {
    if pages == 1 {
        return vec![format!("{stem}.{extension}")];
    }
    (1..=pages)
        .map(|page| format!("{stem}-{page}.{extension}"))
        .collect()
}
