//! The knot chart: every knot of a repeat as a tile, to tie from with the page beside the hands.
//!
//! A tile runs as the thread that ties its knot runs, from its top to its foot: it leans to the right
//! for a forward knot and to the left for a backward one; where the thread comes back, the tile is bent,
//! out to the right and back, or out to the left and back. It has that thread's colour and its number, so
//! that nothing hangs on colour. Rows are those of the sheet, numbered at both edges. They lie on the
//! lattice of the band, or flat where they would take much more room there, as rows over a leader do.
//!
//! A chart takes one page as long as its numbers can be read at arm's length; rows go on in blocks side by
//! side before they go on upon another page. [`PX_A_MM`] says how large a page is meant to be.

mod fit;
mod key;
mod lines;
mod options;
mod page;
mod tile;

use hitchwork_core::fabric::Pass;
use hitchwork_core::tied::Tied;

use self::fit::KnotChart;
use self::lines::KnotSection;
pub use self::options::{KnotChartOptions, LEAST_NUMBER_MM, PX_A_MM};
use crate::error::Error;
use crate::output::recipe::{Making, Recipe, Usual};
use crate::strands::check_height;

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "knots",
    meaning: "The knot chart: every knot as a tile that runs the way its thread runs, to tie from at arm's length",
    short: "knot chart",
    usual: Usual::Never,
    stem: "knots",
    making: Making::Pages(|tied, options| pages(tied, &options.knots)),
};

/// Draws the knot chart as SVG, one text for each page: one alone as long as that can be read.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::knots::{KnotChartOptions, pages};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let pages = pages(&Tied::of(band), &KnotChartOptions::default())?;
/// assert_eq!(pages.len(), 1);
/// assert!(pages[0].contains("Row 1: thread 1 forward, thread 1 forward."));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the band has no such repeat, too many knots would be shown, or the height of a page is absurd.
pub fn pages(tied: &Tied, options: &KnotChartOptions) -> Result<Vec<String>, Error> {
    let sections = sections(tied, options)?;
    let chart = KnotChart::new(tied, options, &sections);
    Ok(chart.write().expect("writing to a string does not fail"))
}

fn sections(tied: &Tied, options: &KnotChartOptions) -> Result<Vec<KnotSection>, Error> {
    check_height(options.page_height, 400.0)?;
    let section = |pass: Pass<'_>| KnotSection {
        part: pass.part(),
        pass: pass.number(),
        rows: pass.rows(),
    };
    let passes = options.rows.passes(tied)?;
    Ok(passes.into_iter().map(section).collect())
}
