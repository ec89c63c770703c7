//! How far apart two colours are to the eye.

use palette::{Lab, color_difference::Ciede2000, white_point::D65};

use super::{Srgb, space::cielab};

/// The CIEDE2000 difference between two CIELAB colours [L*, a*, b*] (ISO/CIE 11664-6,
/// with all three parametric factors 1), which is 0 for equal ones and about 1 where a
/// trained eye begins to see it side by side.
///
/// ```
/// use hitchwork_core::colour::ciede2000;
/// // Sharma, Wu and Dalal (2005), Table 1, pair 17.
/// let far = ciede2000([50.0, 2.5, 0.0], [73.0, 25.0, -18.0]);
/// assert!((far - 27.1492).abs() < 1e-4);
/// ```
#[must_use]
pub fn ciede2000(a: [f64; 3], b: [f64; 3]) -> f64 {
    let lab = |[l, a, b]: [f64; 3]| Lab::<D65, f64>::new(l, a, b);
    lab(a).difference(lab(b))
}

/// The CIEDE2000 difference between two sRGB colours.
///
/// ```
/// use hitchwork_core::colour::{Srgb, difference};
/// let (teal, plum) = (Srgb::new(0, 128, 128), Srgb::new(142, 69, 133));
/// assert!(difference(teal, plum) > 40.0);
/// assert_eq!(difference(teal, teal), 0.0);
/// ```
#[must_use]
pub fn difference(a: Srgb, b: Srgb) -> f64 {
    cielab(a).difference(cielab(b))
}
