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
mod lines;
mod page;
mod tile;

use hitchwork_core::band::Part;
use hitchwork_core::fabric::{Pass, TiedRow};
use hitchwork_core::tied::Tied;

use self::fit::KnotChart;
use crate::error::{Error, Problem};
use crate::output::recipe::{Making, Recipe, Usual};
use crate::strands::Rows;

/// The most knots that one chart shows.
const MAX_KNOTS: u64 = 20_000;

/// So many pixels of a chart are a millimetre where it is printed as wide as A4 with margins of 18 mm:
/// 720 pixels are 174 mm.
pub const PX_A_MM: f64 = 720.0 / 174.0;

/// Every number on a tile is at least so many millimetres high: twice what a good eye can just read at
/// 60 cm, where 5 minutes of arc are 0.9 mm (ISO 8596:2017, acuity 1.0; twice as much is our own
/// judgement).
pub const LEAST_NUMBER_MM: f64 = 2.0;

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "knots",
    meaning: "The knot chart: every knot as a tile that runs the way its thread runs, to tie from at arm's length",
    short: "knot chart",
    usual: Usual::Never,
    stem: "knots",
    making: Making::Pages(|tied, options| pages(tied, &options.knots)),
};

/// What of a band a knot chart shows, and how.
#[derive(Clone, Debug)]
pub struct KnotChartOptions {
    /// Which rows are drawn.
    pub rows: Rows,
    /// Whether the band lies on its side, its start at the left and its left edge at the foot, instead of
    /// hanging from its start.
    pub sideways: bool,
    /// The height of a page, in pixels; a page is 720 pixels wide, more for very many threads.
    pub page_height: f64,
}

impl Default for KnotChartOptions {
    /// The band hangs, on pages in the proportions of upright A4.
    fn default() -> Self {
        Self {
            rows: Rows::Once,
            sideways: false,
            page_height: 1018.0,
        }
    }
}

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

/// One tying of a part, with its rows.
struct KnotSection {
    part: Part,
    pass: u32,
    rows: Vec<TiedRow>,
}

fn sections(tied: &Tied, options: &KnotChartOptions) -> Result<Vec<KnotSection>, Error> {
    let (band, fabric) = (tied.followed(), tied.followed_fabric());
    let (found, least, most) = (options.page_height, 400.0, 20_000.0);
    if !(least..=most).contains(&found) {
        return Err(Problem::PageHeight { found, least, most }.into());
    }
    if let Rows::Repeat(asked) = options.rows
        && !(1..=band.repeats()).contains(&asked)
    {
        let has = band.repeats();
        return Err(Problem::NoSuchRepeat { asked, has }.into());
    }
    let shown = |pass: &Pass<'_>| match options.rows {
        Rows::Once => pass.number() == 1,
        Rows::Repeat(asked) => pass.part() == Part::Repeat && pass.number() == asked,
        Rows::All => true,
    };
    let knots = |pass: Pass<'_>| pass.knots().len() as u64;
    let found: u64 = fabric.passes().filter(shown).map(knots).sum();
    if found > MAX_KNOTS {
        let most = MAX_KNOTS;
        return Err(Problem::ChartTooLarge { found, most }.into());
    }
    let section = |pass: Pass<'_>| KnotSection {
        part: pass.part(),
        pass: pass.number(),
        rows: pass.rows(),
    };
    Ok(fabric.passes().filter(shown).map(section).collect())
}
