//! How large a band comes out.

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
    /// has named.
    ///
    /// A maker with another thread or a swatch gets a different width.
    ///
    /// ```rhai
    /// let plain = band(12).repeat(forward(1..12));
    /// require(plain.width_mm() < 30.0, "this is too wide for a bracelet", "hang fewer threads");
    /// plain
    /// ```
    #[rhai_fn(pure)]
    pub fn width_mm(band: &mut Sketch) -> f64 {
        band.gauge.width_mm(band.threads)
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
        let outside = |row: &Row| {
            let mut knots = row.knots().iter();
            knots.any(|knot| knot.column().number() >= band.threads)
        };
        // Knots outside the band are refused when it is made; until then they have no size.
        if band.repeat.is_empty() || band.repeat.iter().any(outside) {
            return Ok(0.0);
        }
        let half_rows = growth(&band.repeat, band.threads).per_repeat();
        Ok(band.gauge.length_mm(half_rows))
    }
}
