//! The finished band as it lies on the table.
//!
//! Every knot shows as the two wraps of its working thread, lying as they really lie;
//! where a thread runs openly from one knot to the next it is seen running there; the
//! ends have the shape in which they are tied. Columns and half rows are drawn at the
//! band's gauge, and a soft band as its lay says, each knot turned with its frame; the tails
//! are shown short.

mod axes;
mod ends;
mod frame;
mod laid;
pub(crate) mod pen;
mod picture;
mod places;
#[cfg(feature = "png")]
mod raster;
mod size;
mod soft;
mod style;
mod tile;

use hitchwork_core::tied::Tied;

pub use self::axes::Aspect;
pub use self::picture::{FabricOptions, FabricPicture};
#[doc(hidden)]
pub use self::places::PicturedKnot;
#[cfg(feature = "png")]
pub use self::raster::{RenderCache, View};
#[cfg(any(feature = "html", feature = "pdf"))]
pub(crate) use self::size::knots_of;
pub use self::size::{repeats_that_fit, repeats_to_draw};
pub(crate) use self::tile::OUTPUT as TILE_OUTPUT;
pub use self::tile::tile;
use crate::error::Error;
use crate::output::recipe::{Making, Recipe, Usual};

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "fabric",
    meaning: "The finished band as it lies on the table",
    short: "picture",
    usual: Usual::Always,
    stem: "fabric",
    making: Making::Woven(|tied, options| svg(tied, &options.fabric)),
};

/// Draws the finished band as SVG.
///
/// Each way in which a knot can look is defined once and placed where it lies; ids begin
/// with letters made from the palette and the gauge, so that several pictures can stand
/// in one page. The picture has a title and a description for those who do not see it.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::fabric::{FabricOptions, svg};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let tied = Tied::of(band);
/// let whole = svg(&tied, &FabricOptions::default())?;
/// let short = svg(&tied, &FabricOptions { repeats: Some(3), ..FabricOptions::default() })?;
/// assert!(short.len() < whole.len());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the picture would show too many knots, no repeat at all, or its size in pixels
/// for a millimetre is absurd.
pub fn svg(tied: &Tied, options: &FabricOptions) -> Result<String, Error> {
    Ok(FabricPicture::new(tied, options)?.svg())
}
