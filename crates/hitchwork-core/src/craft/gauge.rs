//! How large a knot comes out.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Problem};

/// The size of a tied knot, in millimetres, from the thread or from a maker's swatch.
///
/// A double half hitch is two wraps of the working thread round a core as thick as
/// itself. Two wraps side by side and the pair of threads that lies across them make a
/// knot about two and a half thread diameters square. On the finished band the square
/// stands on its corner, so that neighbouring columns, and half rows, lie its side over
/// the root of two apart. (Derivation our own; the range of 2.4 to 2.7 diameters is
/// common practice, no source.)
///
/// ```
/// use hitchwork_core::craft::Gauge;
/// let floss = Gauge::default();
/// let twelve_threads = floss.width_mm(12);
/// assert!((10.0..16.0).contains(&twelve_threads));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Gauge {
    /// Diameter of the thread.
    #[cfg_attr(feature = "schema", schemars(range(min = 0.05, max = 10.0)))]
    pub thread_mm: f64,
    /// Distance between neighbouring columns.
    #[cfg_attr(feature = "schema", schemars(range(min = 0.05, max = 50.0)))]
    pub column_mm: f64,
    /// Height of a half row.
    #[cfg_attr(feature = "schema", schemars(range(min = 0.05, max = 50.0)))]
    pub half_row_mm: f64,
}

/// The side of a knot in thread diameters.
const KNOT_IN_DIAMETERS: f64 = 2.5;

impl Gauge {
    /// The gauge of a thread of this diameter, by the derivation above.
    ///
    /// # Errors
    /// When the diameter is no number from 0.05 to 10 mm.
    pub fn from_diameter(thread_mm: f64) -> Result<Self, Error> {
        let pitch = KNOT_IN_DIAMETERS * thread_mm * std::f64::consts::FRAC_1_SQRT_2;
        Self {
            thread_mm,
            column_mm: pitch,
            half_row_mm: pitch,
        }
        .checked()
    }

    /// The diameter of a thread in millimetres from its linear density in tex (grams per
    /// kilometre), the density of its fibre and the share of its section that is fibre:
    /// d = sqrt(4 T / (pi rho phi)), the mass balance of a cylinder.
    ///
    /// ```
    /// use hitchwork_core::craft::Gauge;
    /// let mm = Gauge::diameter_mm(20.0, 1.52, 0.6);
    /// assert!((mm - 0.167_099).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn diameter_mm(tex: f64, fibre_g_per_cm3: f64, packing: f64) -> f64 {
        // tex / 1000 is grams per metre, which is also square millimetres times g/cm3.
        libm::sqrt(4.0 * tex / 1000.0 / (std::f64::consts::PI * fibre_g_per_cm3 * packing))
    }

    /// The gauge itself if it can be that of a band.
    ///
    /// # Errors
    /// When a size is no number, or lies outside 0.05 to 10 mm for the thread and 0.05 to
    /// 50 mm for the knot.
    pub fn checked(self) -> Result<Self, Error> {
        let within = |what, range, found: f64, most: f64| {
            let sound = found.is_finite() && (0.05..=most).contains(&found);
            if sound {
                Ok(())
            } else {
                Err(Error::from(Problem::Gauge { what, range, found }))
            }
        };
        within(
            "the thread's diameter",
            "0.05 to 10 mm",
            self.thread_mm,
            10.0,
        )?;
        within(
            "the width of a column",
            "0.05 to 50 mm",
            self.column_mm,
            50.0,
        )?;
        within(
            "the height of a half row",
            "0.05 to 50 mm",
            self.half_row_mm,
            50.0,
        )?;
        Ok(self)
    }

    /// How wide a band of `threads` threads lies: its columns, and half a knot beyond the
    /// outermost on both sides.
    #[must_use]
    pub fn width_mm(&self, threads: u16) -> f64 {
        f64::from(threads) * self.column_mm
    }

    /// How long that many half rows are.
    #[must_use]
    pub fn length_mm(&self, half_rows: f64) -> f64 {
        half_rows * self.half_row_mm
    }
}

impl Default for Gauge {
    /// Six-strand cotton floss of 250 tex (from memory: an 8 m skein weighs about 2 g),
    /// cotton of 1.52 g/cm3 packed to 0.6.
    fn default() -> Self {
        let thread_mm = libm::round(Self::diameter_mm(250.0, 1.52, 0.6) * 100.0) / 100.0;
        let pitch =
            libm::round(KNOT_IN_DIAMETERS * thread_mm * std::f64::consts::FRAC_1_SQRT_2 * 100.0)
                / 100.0;
        Self {
            thread_mm,
            column_mm: pitch,
            half_row_mm: pitch,
        }
    }
}
