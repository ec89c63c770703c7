//! How much of a band one picture shows.

use hitchwork_core::band::{Band, Part};

use crate::error::{Error, Problem};

/// The most knots that one picture shows: what the painter still takes.
pub(super) const MAX_KNOTS: u64 = 40_000;

/// How many knots a part has, tied once.
pub(crate) fn knots_of(band: &Band, part: Part) -> u64 {
    band.rows(part).iter().map(|row| row.len() as u64).sum()
}

pub(super) fn check_size(band: &Band, repeats: u32) -> Result<(), Error> {
    let once = knots_of(band, Part::LeadIn) + knots_of(band, Part::LeadOut);
    let found = once + knots_of(band, Part::Repeat) * u64::from(repeats);
    if found > MAX_KNOTS {
        return Err(Problem::TooManyKnots {
            found,
            most: MAX_KNOTS,
            repeats: repeats_that_fit(band).into(),
        }
        .into());
    }
    Ok(())
}

/// With how many of its repeats a band can be drawn: all of them, fewer where it has too
/// many knots for one picture, or 0 where not even one fits.
///
/// ```
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// # let band = |repeats| Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats,
/// #     ..BandParts::default() });
/// use hitchwork_draw::fabric::repeats_that_fit;
/// // `band`: this many repeats of two knots.
/// assert_eq!(repeats_that_fit(&band(40)?), 40);
/// assert_eq!(repeats_that_fit(&band(40_000)?), 20_000);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[must_use]
pub fn repeats_that_fit(band: &Band) -> u32 {
    let once = knots_of(band, Part::LeadIn) + knots_of(band, Part::LeadOut);
    let fit = MAX_KNOTS.saturating_sub(once) / knots_of(band, Part::Repeat).max(1);
    u32::try_from(fit).map_or(band.repeats(), |fit| fit.min(band.repeats()))
}

/// How many knots of a band are drawn that is too long to be drawn whole.
const ENOUGH_KNOTS: u64 = 4_000;

/// With how many repeats a band is drawn where nobody says: all of them, or as many as
/// show well what it is like where they are too many for one picture.
#[must_use]
pub fn repeats_to_draw(band: &Band) -> u32 {
    let fit = repeats_that_fit(band);
    if fit == band.repeats() || fit == 0 {
        return band.repeats();
    }
    let enough = ENOUGH_KNOTS / knots_of(band, Part::Repeat).max(1);
    u32::try_from(enough).unwrap_or(fit).clamp(1, fit)
}
