//! Which rows of a band a working chart shows, and on what pages.

/// Which rows are drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Rows {
    /// What a maker has to learn: the lead-in, the first repeat and the lead-out.
    #[default]
    Once,
    /// One repeat, from 1.
    Repeat(u32),
    /// All that is tied.
    All,
}

/// What of a band is drawn, and on what pages.
#[derive(Clone, Debug)]
pub struct ChartOptions {
    /// Which rows are drawn.
    pub rows: Rows,
    /// The height of a page, in pixels; a page is about 720 pixels wide, more for many
    /// threads. A row is never split: one that is taller has a taller page.
    pub page_height: f64,
    /// At most this many rows on a page.
    pub rows_a_page: Option<usize>,
}

impl Default for ChartOptions {
    /// Pages in the proportions of upright A4.
    fn default() -> Self {
        Self {
            rows: Rows::Once,
            page_height: 1018.0,
            rows_a_page: None,
        }
    }
}
