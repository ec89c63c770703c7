//! Contrast of light and dark, for what is printed in or on a colour.

use super::Srgb;

/// The relative luminance of a colour, 0 for black to 1 for white (W3C, Web Content
/// Accessibility Guidelines 2.2).
///
/// ```
/// use hitchwork_core::colour::{Srgb, relative_luminance};
/// assert_eq!(relative_luminance(Srgb::new(0, 0, 0)), 0.0);
/// ```
#[must_use]
pub fn relative_luminance(colour: Srgb) -> f64 {
    let [red, green, blue] = colour.linear();
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

/// The contrast ratio of two colours, 1 for equal ones to 21 for black on white (the
/// same guidelines, which ask for 4.5 where text is to be read).
///
/// ```
/// use hitchwork_core::colour::{Srgb, contrast};
/// let white = Srgb::new(255, 255, 255);
/// assert!(contrast(white, Srgb::new(0x76, 0x76, 0x76)) >= 4.5);
/// assert!(contrast(white, Srgb::new(0x77, 0x77, 0x77)) < 4.5);
/// ```
#[must_use]
pub fn contrast(a: Srgb, b: Srgb) -> f64 {
    let (a, b) = (relative_luminance(a), relative_luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}
