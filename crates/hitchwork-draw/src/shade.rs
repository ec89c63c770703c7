//! Lighter and darker shades of a thread's colour, in OKLab (Ottosson 2020).

use hitchwork_core::colour::Srgb;
use palette::{FromColor, IntoColor, Oklab, Srgb as FloatSrgb};

/// The shades in which one thread is painted.
#[derive(Clone, Copy)]
pub(crate) struct Shades {
    /// Where the thread dives under its neighbours.
    pub(crate) deep: Srgb,
    /// Where its round turns away from the light.
    pub(crate) rim: Srgb,
    /// The colour itself.
    pub(crate) plain: Srgb,
    /// Where its ridge catches the light.
    pub(crate) ridge: Srgb,
}

impl Shades {
    pub(crate) fn of(colour: Srgb) -> Self {
        let lab = oklab(colour);
        let at = |lightness: f64, vividness: f64| {
            srgb(Oklab::new(lightness, lab.a * vividness, lab.b * vividness))
        };
        // Black thread on a table is not black: without some light its knots could not be told apart.
        let lightness = lab.l.max(0.17);
        let lift = 0.13 * (1.05 - lightness) + 0.3 * (0.3 - lightness).max(0.0);
        Self {
            deep: at(lab.l * 0.46, 0.8),
            rim: at(lab.l * 0.74, 0.97),
            plain: if lab.l < lightness {
                at(lightness, 1.0)
            } else {
                colour
            },
            ridge: at(lightness + lift, 0.98),
        }
    }
}

fn oklab(colour: Srgb) -> Oklab<f64> {
    let unit = |part: u8| f64::from(part) / 255.0;
    Oklab::from_color(FloatSrgb::new(
        unit(colour.red),
        unit(colour.green),
        unit(colour.blue),
    ))
}

fn srgb(colour: Oklab<f64>) -> Srgb {
    let float: FloatSrgb<f64> = colour.into_color();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0..=255 first"
    )]
    let part = |unit: f64| (unit * 255.0).round().clamp(0.0, 255.0) as u8;
    Srgb::new(part(float.red), part(float.green), part(float.blue))
}
