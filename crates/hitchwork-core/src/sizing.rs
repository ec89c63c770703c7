//! A band made as long as it is wanted.

use crate::band::{Band, BandParts, Part};
use crate::error::{Error, Problem};
use crate::fabric::Fabric;
use crate::lay::Lay;
use crate::limits::{MAX_LENGTH_MM, MAX_REPEATS, MIN_LENGTH_MM};
use crate::proof::growth;

impl Band {
    /// The band with its repeat tied as often as it takes to be at least this long as it lies, by
    /// its growth in the long run and its gauge. What the lead-in and the lead-out add counts.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// use hitchwork_core::proof::growth;
    /// // `band`: 30 repeats of one row.
    /// let longer = band.at_least_mm(160.0)?;
    /// let half_rows = growth(longer.repeat(), 3).per_repeat() * f64::from(longer.repeats());
    /// assert!(longer.gauge().length_mm(half_rows) >= 160.0);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When that is not a length from [`MIN_LENGTH_MM`] to [`MAX_LENGTH_MM`], or would take too
    /// many knots.
    pub fn at_least_mm(self, length_mm: f64) -> Result<Self, Error> {
        if !(MIN_LENGTH_MM..=MAX_LENGTH_MM).contains(&length_mm) {
            return Err(Problem::Length { found: length_mm }.into());
        }
        let half_rows = growth(self.repeat(), self.thread_count()).per_repeat();
        let growth_mm = self.gauge().length_mm(half_rows);
        let mut band = repeated(self.into_parts(), length_mm / growth_mm)?;
        // One repeat may lie soft where a second would crowd it.
        let twice = f64::from(band.repeats().max(2));
        let several = repeated(band.clone().into_parts(), twice).unwrap_or_else(|_| band.clone());
        let lay = lay(&several);
        if let Some(growth_mm) = lay.repeat_mm() {
            return several.soft_at_least_mm(length_mm, &lay, growth_mm);
        }
        let leads = [Part::LeadIn, Part::LeadOut];
        if leads.iter().any(|part| !band.rows(*part).is_empty()) {
            let parts = band.clone().into_parts();
            let without_leads = Band::new(BandParts {
                lead_in: Vec::new(),
                lead_out: Vec::new(),
                ..parts.clone()
            })?;
            let added_mm = longest_column_mm(&band) - longest_column_mm(&without_leads);
            band = repeated(parts, (length_mm - added_mm) / growth_mm)?;
        }
        // A few repeats may grow by less than many do one by one, and mesh otherwise with leads.
        while lies_mm(&band) < length_mm && band.repeats() < MAX_REPEATS {
            let repeats = f64::from(band.repeats()) + 1.0;
            band = repeated(band.into_parts(), repeats)?;
        }
        Ok(band)
    }

    /// The same where the fabric is soft: from how this many repeats lie.
    fn soft_at_least_mm(self, length_mm: f64, lay: &Lay, growth_mm: f64) -> Result<Self, Error> {
        let ends_mm = lay.length_mm() - growth_mm * f64::from(self.repeats());
        let mut band = repeated(
            self.into_parts(),
            (length_mm - ends_mm) / growth_mm - ROUNDING,
        )?;
        // A few repeats may grow by less than many do one by one.
        loop {
            let missing_mm = length_mm - self::lay(&band).length_mm() - ROUNDING;
            if missing_mm <= 0.0 || band.repeats() >= MAX_REPEATS {
                break;
            }
            let more = (missing_mm / growth_mm).floor().max(1.0);
            let repeats = f64::from(band.repeats()) + more;
            band = repeated(band.into_parts(), repeats)?;
        }
        Ok(band)
    }
}

/// A soft band comes to rest to within so much, in millimetres or repeats (far below what
/// anybody can measure: our own judgement).
const ROUNDING: f64 = 1e-3;

fn lay(band: &Band) -> Lay {
    Lay::of(&Fabric::of(band), &band.gauge())
}

fn repeated(parts: BandParts, repeats: f64) -> Result<Band, Error> {
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to what a band can have"
    )]
    let repeats = repeats.ceil().clamp(1.0, f64::from(MAX_REPEATS)) as u32;
    Band::new(BandParts { repeats, ..parts })
}

/// How long the band lies, as a report measures it.
fn lies_mm(band: &Band) -> f64 {
    let lay = lay(band);
    if lay.is_solved() {
        lay.length_mm()
    } else {
        longest_column_mm(band)
    }
}

/// How long the longest column is on the lattice.
fn longest_column_mm(band: &Band) -> f64 {
    let half_rows = Fabric::of(band).longest_column();
    band.gauge().length_mm(f64::from(half_rows))
}
