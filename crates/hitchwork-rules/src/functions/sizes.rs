//! How large a band comes out.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::lay::Lay;
use hitchwork_core::proof::growth;
use hitchwork_core::row::Row;
use rhai::plugin::*;

use super::given::knots_of;
use crate::run::RunHandle;
use crate::sketch::Sketch;
use crate::trouble::ScriptResult;

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "sizes", sizes);
}

#[export_module]
mod sizes {
    /// `band.width_mm()`: how wide the band is, in millimetres, with the thread that the rule
    /// has named, as it will lie with the repeat that it has.
    ///
    /// A maker with another thread or a swatch gets a different width.
    ///
    /// ```rhai
    /// let plain = band(12).repeat(forward(1..12));
    /// require(plain.width_mm() < 30.0, "this is too wide for a bracelet", "hang fewer threads");
    /// plain
    /// ```
    #[rhai_fn(pure, return_raw)]
    pub fn width_mm(context: NativeCallContext, band: &mut Sketch) -> ScriptResult<f64> {
        let lay = laid(&context, band)?;
        let soft = lay.filter(Lay::is_solved).map(|lay| lay.median_width_mm());
        Ok(soft.unwrap_or_else(|| band.gauge.width_mm(band.threads)))
    }

    /// `band.repeat_mm()`: by how many millimetres each repeat makes the band longer, with the
    /// thread that the rule has named; 0.0 before there is a repeat.
    ///
    /// ```rhai
    /// let plain = band(12).repeat(forward(1..12));
    /// plain.repeats(round(160.0 / plain.repeat_mm()))
    /// ```
    #[rhai_fn(pure, return_raw)]
    pub fn repeat_mm(context: NativeCallContext, band: &mut Sketch) -> ScriptResult<f64> {
        // Every knot carries the heights of all columns on.
        let knots = knots_of(&band.repeat);
        RunHandle::of(&context).spend(knots * usize::from(band.threads).div_ceil(8))?;
        let Some(lay) = laid(&context, band)? else {
            return Ok(0.0);
        };
        if let Some(soft) = lay.repeat_mm() {
            return Ok(soft);
        }
        let half_rows = growth(&band.repeat, band.threads).per_repeat();
        Ok(band.gauge.length_mm(half_rows))
    }
}

/// Over how many knots at least it is seen how a repeat lies (our own judgement: a few widths of
/// a usual band).
const KNOTS_SEEN: usize = 300;
/// For each knot and each pair of threads beside it, so much is spent on finding how it lies
/// (measured, as steps of a rule),
const STEPS_OF_LAYING: usize = 5;
/// but no more than this, for a fabric that is too large is not laid.
const MOST_STEPS_OF_LAYING: usize = 25_000_000;

/// How the repeat lies, tied a few times; nothing where there is none, or where it has knots
/// outside the band: those are refused when the band is made, and until then have no size.
fn laid(context: &NativeCallContext, band: &Sketch) -> ScriptResult<Option<Lay>> {
    let outside = |row: &Row| {
        let mut knots = row.knots().iter();
        knots.any(|knot| knot.column().number() >= band.threads)
    };
    let knots = knots_of(&band.repeat);
    if knots == 0 || band.repeat.iter().any(outside) {
        return Ok(None);
    }
    let repeats = KNOTS_SEEN.div_ceil(knots).max(2);
    let threads = usize::from(band.threads);
    let parts = BandParts {
        palette: Colour::spoken([Srgb::new(0, 0, 0)]),
        threads: vec![0; threads],
        repeat: band.repeat.to_vec(),
        repeats: u32::try_from(repeats).expect("at most KNOTS_SEEN"),
        gauge: band.gauge,
        ..BandParts::default()
    };
    RunHandle::of(context).spend(knots * repeats)?;
    // What cannot be made is refused when it is.
    let Ok(sound) = Band::new(parts) else {
        return Ok(None);
    };
    let fabric = Fabric::of(&sound);
    if Lay::has_holes(&fabric) {
        let work = (knots * repeats).saturating_mul(threads * threads * STEPS_OF_LAYING);
        RunHandle::of(context).spend(work.min(MOST_STEPS_OF_LAYING))?;
    }
    Ok(Some(Lay::of(&fabric, &band.gauge)))
}
