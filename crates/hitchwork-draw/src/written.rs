//! A band with everything that a sheet says about it.

use hitchwork_core::band::{Band, Part};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::proof::Report;
use hitchwork_core::steps::Steps;

use crate::error::{Error, Problem};
use crate::fabric::knots_of;
use crate::strands;

/// The most knots in the rows that are written out.
const MAX_KNOTS: usize = 60_000;
/// A picture of the band shows at most so many knots, and the chart so many.
const PICTURED_KNOTS: u64 = 2_500;
const CHARTED_KNOTS: usize = 700;
/// A chart of more pages than these is for those who ask for it.
const MOST_CHART_PAGES: usize = 6;
/// A picture of a band is at most so many times as long as it is wide.
const MOST_WIDTHS: f64 = 45.0;

/// A band that is tied, proved and written out.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// use hitchwork_draw::written::Written;
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let written = Written::of(band);
/// assert_eq!(written.steps().rows[0].order_after, [2, 3, 1]);
/// let other = written.mirrored();
/// assert_eq!(other.steps().rows[0].order_after, [3, 1, 2]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Debug)]
pub struct Written {
    band: Band,
    fabric: Fabric,
    report: Report,
    steps: Steps,
}

impl Written {
    /// Ties, proves and writes out a band, for a maker of the usual habits.
    #[must_use]
    pub fn of(band: Band) -> Self {
        let fabric = Fabric::of(&band);
        let report = Report::of_fabric(&band, &fabric);
        Self::new(band, fabric, report)
    }

    /// Writes out a band that was tied and proved already, by habits of the maker's own.
    #[must_use]
    pub fn new(band: Band, fabric: Fabric, report: Report) -> Self {
        let steps = Steps::of_fabric(&band, &fabric, &report);
        Self {
            band,
            fabric,
            report,
            steps,
        }
    }

    /// The same for the other hand, for a maker of the usual habits.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self::of(self.band.mirrored())
    }

    /// The band.
    #[must_use]
    pub fn band(&self) -> &Band {
        &self.band
    }

    /// The band, tied.
    #[must_use]
    pub fn fabric(&self) -> &Fabric {
        &self.fabric
    }

    /// What was proved.
    #[must_use]
    pub fn report(&self) -> &Report {
        &self.report
    }

    /// The words to tie from.
    #[must_use]
    pub fn steps(&self) -> &Steps {
        &self.steps
    }

    /// Refuses a band whose rows are too many to be written out.
    pub(crate) fn check_length(&self) -> Result<(), Error> {
        let (found, most) = (self.written_knots(), MAX_KNOTS);
        if found > most {
            return Err(Problem::TooManyWrittenKnots { found, most }.into());
        }
        Ok(())
    }

    /// The pages of the strand chart; none where there would be too much of it.
    pub(crate) fn chart(&self, options: &strands::Options) -> Result<Vec<String>, Error> {
        if self.written_knots() > CHARTED_KNOTS {
            return Ok(Vec::new());
        }
        let mut pages = strands::pages(&self.band, &self.fabric, options)?;
        if pages.len() > MOST_CHART_PAGES {
            pages.clear();
        }
        Ok(pages)
    }

    /// How many knots the rows have that a sheet writes out: each once.
    fn written_knots(&self) -> usize {
        let runs = self.steps.rows.iter().flat_map(|row| &row.runs);
        runs.flat_map(|run| &run.stretches)
            .map(|stretch| stretch.over.len())
            .sum()
    }

    /// With how many repeats a picture shows the band: all of them, or so many that it is
    /// still seen well beside its width.
    pub(crate) fn repeats_pictured(&self) -> u32 {
        let knots = |part| knots_of(&self.band, part);
        let room = PICTURED_KNOTS.saturating_sub(knots(Part::LeadIn) + knots(Part::LeadOut));
        let fit = room / knots(Part::Repeat).max(1);
        let size = &self.report.size_mm;
        let seen = (MOST_WIDTHS * size.width / size.repeat).ceil();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to what a band can have"
        )]
        let seen = seen.clamp(1.0, f64::from(self.band.repeats())) as u32;
        u32::try_from(fit).unwrap_or(seen).clamp(1, seen)
    }
}
