//! How large a knot comes out.

use serde::{Deserialize, Serialize};

use super::Yarn;
use super::thread::diameter_mm;
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
    /// How much thread the maker's knots take, as a share of what the model says: 1 unless
    /// a swatch was measured.
    #[serde(default = "as_the_model", skip_serializing_if = "is_as_the_model")]
    #[cfg_attr(feature = "schema", schemars(range(min = 0.3, max = 3.0)))]
    pub take_up: f64,
}

fn as_the_model() -> f64 {
    1.0
}

#[allow(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature that serde asks for"
)]
fn is_as_the_model(take_up: &f64) -> bool {
    *take_up == 1.0
}

/// The side of a knot in thread diameters: two wraps side by side, and half a diameter for
/// the pair of threads that crosses them, a quarter at either side (our own judgement;
/// makers find 2.4 to 2.7, common practice, no source).
pub(super) const KNOT_IN_DIAMETERS: f64 = 2.5;

impl Gauge {
    /// The gauge of a thread of this diameter, by the derivation above.
    ///
    /// ```
    /// use hitchwork_core::craft::Gauge;
    /// let cord = Gauge::from_diameter(1.0)?;
    /// // A knot is about two and a half thread diameters square.
    /// assert!((cord.knot_mm() - 2.5).abs() < 1e-9);
    /// assert!(Gauge::from_diameter(0.0).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the diameter is not a number from 0.05 to 10 mm.
    pub fn from_diameter(thread_mm: f64) -> Result<Self, Error> {
        let pitch = KNOT_IN_DIAMETERS * thread_mm * std::f64::consts::FRAC_1_SQRT_2;
        Self {
            thread_mm,
            column_mm: pitch,
            half_row_mm: pitch,
            take_up: 1.0,
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
        diameter_mm(tex, fibre_g_per_cm3, packing)
    }

    /// The gauge itself if it can be that of a band.
    ///
    /// ```
    /// use hitchwork_core::craft::Gauge;
    /// assert!(Gauge::default().checked().is_ok());
    /// let absurd = Gauge { column_mm: f64::NAN, ..Gauge::default() };
    /// assert!(absurd.checked().is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a size is not a number, or lies outside 0.05 to 10 mm for the thread and 0.05 to
    /// 50 mm for the knot, or the take-up outside 0.3 to 3.
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
        super::within("the take-up of thread", self.take_up, 0.3, 3.0, "")?;
        Ok(self)
    }

    /// The side of a knot: the square that stands on its corner.
    #[must_use]
    pub fn knot_mm(&self) -> f64 {
        libm::hypot(self.column_mm, self.half_row_mm)
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
    /// cotton of 1.52 g/cm3 packed to 0.6, to a hundredth of a millimetre.
    fn default() -> Self {
        let floss = Yarn::class("floss").expect("built in");
        let thread_mm = libm::round(floss.diameter_mm() * 100.0) / 100.0;
        let pitch =
            libm::round(KNOT_IN_DIAMETERS * thread_mm * std::f64::consts::FRAC_1_SQRT_2 * 100.0)
                / 100.0;
        Self {
            thread_mm,
            column_mm: pitch,
            half_row_mm: pitch,
            take_up: 1.0,
        }
    }
}
