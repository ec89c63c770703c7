//! The same colour in the spaces of colour science. Conversions are those of the
//! `palette` crate with its portable mathematics.

use palette::convert::IntoColorUnclamped;
use palette::{FromColor, IntoColor, Lab as FloatLab, LinSrgb, Oklab};
use palette::{Srgb as FloatSrgb, white_point::D65};

use super::Srgb;

fn float(colour: Srgb) -> FloatSrgb<f64> {
    let unit = |part: u8| f64::from(part) / 255.0;
    FloatSrgb::new(unit(colour.red), unit(colour.green), unit(colour.blue))
}

pub(super) fn oklab(colour: Srgb) -> Oklab<f64> {
    Oklab::from_color(float(colour))
}

pub(super) fn cielab(colour: Srgb) -> FloatLab<D65, f64> {
    FloatLab::from_color(float(colour))
}

pub(super) fn rounded(colour: FloatSrgb<f64>) -> Srgb {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0..=255 first"
    )]
    let part = |unit: f64| (unit * 255.0).round().clamp(0.0, 255.0) as u8;
    Srgb::new(part(colour.red), part(colour.green), part(colour.blue))
}

/// Distance in OKLab.
pub(super) fn distance(a: Oklab<f64>, b: Oklab<f64>) -> f64 {
    let (lightness, green_red, blue_yellow) = (a.l - b.l, a.a - b.a, a.b - b.b);
    libm::sqrt(lightness * lightness + green_red * green_red + blue_yellow * blue_yellow)
}

/// Where a conversion's own rounding may carry a colour of the gamut just outside.
const GAMUT_EDGE: f64 = 1e-9;

/// The colour itself, or, outside the sRGB gamut, the most colourful one inside of the
/// same OKLCH lightness and hue.
pub(super) fn within_gamut(colour: Oklab<f64>) -> Oklab<f64> {
    let sound = |colour: Oklab<f64>| {
        let light: LinSrgb<f64> = colour.into_color_unclamped();
        let within = |part: f64| (-GAMUT_EDGE..=1.0 + GAMUT_EDGE).contains(&part);
        within(light.red) && within(light.green) && within(light.blue)
    };
    let colour = Oklab::new(colour.l.clamp(0.0, 1.0), colour.a, colour.b);
    if sound(colour) {
        return colour;
    }
    let duller = |vividness: f64| Oklab::new(colour.l, colour.a * vividness, colour.b * vividness);
    let (mut inside, mut outside) = (0.0, 1.0);
    for _ in 0..30 {
        let between = f64::midpoint(inside, outside);
        if sound(duller(between)) {
            inside = between;
        } else {
            outside = between;
        }
    }
    duller(inside)
}

/// The nearest 8-bit colour of the same hue.
pub(super) fn srgb(colour: Oklab<f64>) -> Srgb {
    let float: FloatSrgb<f64> = within_gamut(colour).into_color();
    rounded(float)
}

impl Srgb {
    /// Linear light: red, green and blue from 0 to 1 (IEC 61966-2-1).
    ///
    /// ```
    /// use hitchwork_core::colour::Srgb;
    /// assert_eq!(Srgb::new(255, 0, 0).linear(), [1.0, 0.0, 0.0]);
    /// ```
    #[must_use]
    pub fn linear(self) -> [f64; 3] {
        let light: LinSrgb<f64> = float(self).into_linear();
        [light.red, light.green, light.blue]
    }

    /// The 8-bit colour nearest to linear light; parts outside 0 to 1 are clipped.
    ///
    /// ```
    /// use hitchwork_core::colour::Srgb;
    /// assert_eq!(Srgb::from_linear([1.2, 0.5, -0.1]), Srgb::new(255, 188, 0));
    /// ```
    #[must_use]
    pub fn from_linear([red, green, blue]: [f64; 3]) -> Self {
        let unit = |part: f64| part.clamp(0.0, 1.0);
        rounded(FloatSrgb::from_linear(LinSrgb::new(
            unit(red),
            unit(green),
            unit(blue),
        )))
    }

    /// OKLab (Ottosson 2020): lightness 0 to 1, green to red, blue to yellow.
    #[must_use]
    pub fn oklab(self) -> [f64; 3] {
        let colour = oklab(self);
        [colour.l, colour.a, colour.b]
    }

    /// The 8-bit colour nearest to this place in OKLab (Ottosson 2020); beyond sRGB, of the same
    /// lightness and hue.
    ///
    /// ```
    /// use hitchwork_core::colour::Srgb;
    /// let teal = Srgb::new(29, 111, 140);
    /// assert_eq!(Srgb::from_oklab(teal.oklab()), teal);
    /// ```
    #[must_use]
    pub fn from_oklab([lightness, green_red, blue_yellow]: [f64; 3]) -> Self {
        srgb(Oklab::new(lightness, green_red, blue_yellow))
    }

    /// CIELAB under D65 (ISO/CIE 11664-4): L* 0 to 100, a*, b*.
    #[must_use]
    pub fn cielab(self) -> [f64; 3] {
        let colour = cielab(self);
        [colour.l, colour.a, colour.b]
    }
}
