//! How much of a band a sheet shows.

use hitchwork_core::band::Part;
use hitchwork_core::tied::Tied;

use crate::error::{Error, Problem};
use crate::fabric::knots_of;
use crate::{knots, strands};

/// The most knots in the rows that are written out.
const MAX_KNOTS: usize = 60_000;
/// A picture of the band shows at most this many knots, and the chart this many.
const PICTURED_KNOTS: u64 = 2_500;
const CHARTED_KNOTS: usize = 700;
/// A chart of more pages than these is for those who ask for it.
const MOST_CHART_PAGES: usize = 6;
/// The same of a knot chart, which has more on a page. It is as wide as other pages up to so many threads.
const KNOTS_IN_CHART: usize = 4_000;
const MOST_KNOT_PAGES: usize = 3;
const MOST_CHARTED_THREADS: u16 = 48;
/// A picture of a band is at most this many times as long as it is wide.
const MOST_WIDTHS: f64 = 45.0;

/// Refuses a band whose rows are too many to be written out.
pub(crate) fn check_length(tied: &Tied) -> Result<(), Error> {
    let (found, most) = (written_knots(tied), MAX_KNOTS);
    if found > most {
        return Err(Problem::TooManyWrittenKnots { found, most }.into());
    }
    Ok(())
}

/// The rows as a chart, with what it is called.
pub(crate) struct RowChart {
    pub(crate) name: &'static str,
    /// Whether the rows can be tied from it alone.
    pub(crate) tells_all: bool,
    pub(crate) pages: Vec<String>,
}

/// The chart of the rows, on pages of this height: of knots where every row is told by its positions, since
/// there is then no way of a thread to follow, or many short ones; else of strands. It has no pages where
/// there would be too many of them.
pub(crate) fn chart(tied: &Tied, page_height: f64) -> Result<RowChart, Error> {
    let tells_all = tied.steps().is_told_by_positions();
    let mut chart = match tells_all {
        true => RowChart {
            name: "The rows as a chart of knots",
            tells_all,
            pages: knot_pages(tied, page_height)?,
        },
        false => RowChart {
            name: "The rows as a chart of strands",
            tells_all,
            pages: strand_pages(tied, page_height)?,
        },
    };
    chart.tells_all &= !chart.pages.is_empty();
    Ok(chart)
}

fn knot_pages(tied: &Tied, page_height: f64) -> Result<Vec<String>, Error> {
    if written_knots(tied) > KNOTS_IN_CHART {
        return Ok(Vec::new());
    }
    let options = knots::KnotChartOptions {
        titled: false,
        page_height,
        ..knots::KnotChartOptions::default()
    };
    let mut pages = knots::pages(tied, &options)?;
    // Scaled down to the sheet, a wider page could not be read.
    if pages.len() > MOST_KNOT_PAGES || tied.band().thread_count() > MOST_CHARTED_THREADS {
        pages.clear();
    }
    Ok(pages)
}

fn strand_pages(tied: &Tied, page_height: f64) -> Result<Vec<String>, Error> {
    if written_knots(tied) > CHARTED_KNOTS || !tied.steps().moves_threads() {
        return Ok(Vec::new());
    }
    let options = strands::ChartOptions {
        page_height,
        ..strands::ChartOptions::default()
    };
    let mut pages = strands::pages(tied, &options)?;
    if pages.len() > MOST_CHART_PAGES {
        pages.clear();
    }
    Ok(pages)
}

/// How many knots the rows have that a sheet writes out: each once.
fn written_knots(tied: &Tied) -> usize {
    let runs = tied.steps().rows.iter().flat_map(|row| &row.runs);
    runs.flat_map(|run| &run.stretches)
        .map(|stretch| stretch.others.len())
        .sum()
}

/// With how many repeats a picture shows the band: all of them, or so many that it is
/// still seen well beside its width.
pub(crate) fn repeats_pictured(tied: &Tied) -> u32 {
    let knots = |part| knots_of(tied.band(), part);
    let room = PICTURED_KNOTS.saturating_sub(knots(Part::LeadIn) + knots(Part::LeadOut));
    let fit = room / knots(Part::Repeat).max(1);
    let size = &tied.report().size_mm;
    let seen = (MOST_WIDTHS * size.width / size.repeat).ceil();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to what a band can have"
    )]
    let seen = seen.clamp(1.0, f64::from(tied.band().repeats())) as u32;
    u32::try_from(fit).unwrap_or(seen).clamp(1, seen)
}
