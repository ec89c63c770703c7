//! What of a band a knot chart shows, and how large it is meant to be.

use crate::strands::Rows;

/// So many pixels of a chart are a millimetre where it is printed as wide as A4 with margins of 18 mm:
/// 720 pixels are 174 mm.
pub const PX_A_MM: f64 = 720.0 / 174.0;

/// Every number on a tile is at least so many millimetres high: twice what a good eye can just read at
/// 60 cm, where 5 minutes of arc are 0.9 mm (ISO 8596:2017, from memory, acuity 1.0; twice as much is our own
/// judgement).
pub const LEAST_NUMBER_MM: f64 = 2.0;

/// What of a band a knot chart shows, and how.
#[derive(Clone, Debug)]
pub struct KnotChartOptions {
    /// Which rows are drawn.
    pub rows: Rows,
    /// Whether the band lies on its side, its start at the left and its left edge at the foot, instead of
    /// hanging from its start.
    pub sideways: bool,
    /// Whether the band's title stands above, as over a picture of its own.
    pub titled: bool,
    /// The height of a page, in pixels; a page is 720 pixels wide, more for very many threads.
    pub page_height: f64,
}

impl Default for KnotChartOptions {
    /// The band hangs, its title above, on pages in the proportions of upright A4.
    fn default() -> Self {
        Self {
            rows: Rows::Once,
            sideways: false,
            titled: true,
            page_height: 1018.0,
        }
    }
}
