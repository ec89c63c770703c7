//! What a colour looks like to people who see two primary colours instead of three.

use std::fmt;

use serde::Serialize;

use super::Srgb;

/// How somebody sees colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Vision {
    /// With three kinds of cones.
    Normal,
    /// Without the cones for long waves: red looks dark, and like green.
    Protanopia,
    /// Without the cones for middle waves: red and green look alike.
    Deuteranopia,
    /// Without the cones for short waves: blue and green look alike.
    Tritanopia,
}

type Matrix = [[f64; 3]; 3];

const PROTANOPIA: Matrix = [
    [0.152_286, 1.052_583, -0.204_868],
    [0.114_503, 0.786_281, 0.099_216],
    [-0.003_882, -0.048_116, 1.051_998],
];
const DEUTERANOPIA: Matrix = [
    [0.367_322, 0.860_646, -0.227_968],
    [0.280_085, 0.672_501, 0.047_413],
    [-0.011_820, 0.042_940, 0.968_881],
];
const TRITANOPIA: Matrix = [
    [1.255_528, -0.076_749, -0.178_779],
    [-0.078_411, 0.930_809, 0.147_602],
    [0.004_733, 0.691_367, 0.303_900],
];

impl Vision {
    /// Every kind.
    pub const ALL: &[Self] = &[
        Self::Normal,
        Self::Protanopia,
        Self::Deuteranopia,
        Self::Tritanopia,
    ];

    /// The kinds that miss one kind of cones.
    pub const DICHROMACIES: &[Self] = &[Self::Protanopia, Self::Deuteranopia, Self::Tritanopia];

    /// Linear light as it appears, before clipping to what a screen can show: the
    /// matrices at full severity of Machado, Oliveira and Fernandes, "A
    /// physiologically-based model for simulation of color vision deficiency", IEEE TVCG
    /// 15(6), 2009.
    #[must_use]
    pub fn sees_light(self, light: [f64; 3]) -> [f64; 3] {
        let matrix = match self {
            Self::Normal => return light,
            Self::Protanopia => PROTANOPIA,
            Self::Deuteranopia => DEUTERANOPIA,
            Self::Tritanopia => TRITANOPIA,
        };
        matrix.map(|row| row[0] * light[0] + row[1] * light[1] + row[2] * light[2])
    }

    /// The colour as it appears.
    ///
    /// ```
    /// use hitchwork_core::colour::{Srgb, Vision, difference};
    /// let (buoy, weed) = (Srgb::new(200, 60, 60), Srgb::new(95, 120, 50));
    /// let [seen, also] = [buoy, weed].map(|colour| Vision::Deuteranopia.sees(colour));
    /// assert!(difference(seen, also) < difference(buoy, weed) / 2.0);
    /// ```
    #[must_use]
    pub fn sees(self, colour: Srgb) -> Srgb {
        match self {
            Self::Normal => colour,
            _ => Srgb::from_linear(self.sees_light(colour.linear())),
        }
    }

    /// What it is called.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Normal => "normal colour vision",
            Self::Protanopia => "eyes that see no red (protanopia)",
            Self::Deuteranopia => "eyes that see no green (deuteranopia)",
            Self::Tritanopia => "eyes that see no blue (tritanopia)",
        }
    }
}

impl fmt::Display for Vision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
