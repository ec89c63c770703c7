//! Which rows of a band a chart shows, and on what pages.

use hitchwork_core::band::Part;
use hitchwork_core::fabric::Pass;
use hitchwork_core::tied::Tied;

use crate::error::{Error, Problem};

/// The most knots that one chart shows.
const MAX_KNOTS: u64 = 20_000;

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

impl Rows {
    /// Every tying of a part that is shown, in the order in which a band is tied.
    pub(crate) fn passes(self, tied: &Tied) -> Result<Vec<Pass<'_>>, Error> {
        if let Self::Repeat(asked) = self
            && !(1..=tied.followed().repeats()).contains(&asked)
        {
            let has = tied.followed().repeats();
            return Err(Problem::NoSuchRepeat { asked, has }.into());
        }
        let shown = |pass: &Pass<'_>| match self {
            Self::Once => pass.number() == 1,
            Self::Repeat(asked) => pass.part() == Part::Repeat && pass.number() == asked,
            Self::All => true,
        };
        let passes = || tied.followed_fabric().passes().filter(shown);
        let found: u64 = passes().map(|pass| pass.knots().len() as u64).sum();
        if found > MAX_KNOTS {
            let most = MAX_KNOTS;
            return Err(Problem::ChartTooLarge { found, most }.into());
        }
        Ok(passes().collect())
    }
}

/// Refuses a height of a page that is less than this, or absurd.
pub(crate) fn check_height(found: f64, least: f64) -> Result<(), Error> {
    let most = 20_000.0;
    if (least..=most).contains(&found) {
        return Ok(());
    }
    Err(Problem::PageHeight { found, least, most }.into())
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
