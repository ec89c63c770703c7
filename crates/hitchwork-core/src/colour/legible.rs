//! Whether colours can be told apart at the size at which they are seen.

use super::{Gradient, Palette, Srgb, Vision, ciede2000, difference};
use crate::craft::Gauge;

/// The distance of eye and hands at which one ties, in millimetres (common practice, no
/// source; also the usual distance of near-vision charts, from memory).
pub const TYING_DISTANCE_MM: f64 = 400.0;

/// The sizes at which the model was tested, in degrees.
const TESTED_DEGREES: (f64, f64) = (1.0 / 3.0, 6.0);

/// A and B of the model for L*, a* and b*.
const SIZE_MODEL: [(f64, f64); 3] = [(10.16, 1.50), (10.68, 3.08), (10.70, 5.74)];

/// Share of viewers who must see a difference for it to count: one half, as in other
/// perceptibility limits.
const VIEWERS: f64 = 0.5;

/// CIEDE2000 at which half of all viewers accept two large patches as the same, and that
/// at which half see any difference at all (Paravina and others 2015, also ISO/TR 28642,
/// both from memory).
const ACCEPTED_AS_SAME: f64 = 1.8;
const SEEN_AT_ALL: f64 = 0.8;

/// The most colours for which a palette is tried out.
const MOST_TRIED: usize = 40;

/// The size at which something is seen, as the angle that it fills.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    degrees: f64,
}

impl Sight {
    /// Something of that angle, in degrees.
    #[must_use]
    pub const fn of_degrees(degrees: f64) -> Self {
        Self { degrees }
    }

    /// Something `size_mm` wide at `distance_mm` from the eye: 2 atan(size / 2 distance).
    ///
    /// ```
    /// use hitchwork_core::colour::Sight;
    /// let knot = Sight::of_mm(1.5, 400.0);
    /// assert!((knot.degrees() - 0.2149).abs() < 1e-4);
    /// ```
    #[must_use]
    pub fn of_mm(size_mm: f64, distance_mm: f64) -> Self {
        Self::of_degrees(2.0 * libm::atan2(size_mm, 2.0 * distance_mm).to_degrees())
    }

    /// A knot of that gauge in your hands. The side of a knot is the pitch of the
    /// columns times the root of two, since it stands on its corner.
    #[must_use]
    pub fn of_knot(gauge: &Gauge) -> Self {
        Self::of_mm(
            gauge.column_mm * std::f64::consts::SQRT_2,
            TYING_DISTANCE_MM,
        )
    }

    /// The angle in degrees.
    #[must_use]
    pub const fn degrees(self) -> f64 {
        self.degrees
    }

    /// The differences in L*, a* and b* that the given share of viewers (0 to 1) sees:
    /// ND(p, s) = p (A + B / s), of Stone, Szafir and Setlur, "An engineering model for
    /// color difference as a function of size", 22nd IS&T Color and Imaging Conference,
    /// 2014. Published for 1/3 to 6 degrees; outside it is an extrapolation.
    #[must_use]
    pub fn noticeable(self, viewers: f64) -> [f64; 3] {
        SIZE_MODEL.map(|(a, b)| viewers * (a + b / self.degrees))
    }

    /// The angle, or the nearest one for which the model was tested. A knot is a little
    /// smaller than that, but it hangs on a thread of the same colour.
    fn tested(self) -> Self {
        Self::of_degrees(self.degrees.clamp(TESTED_DEGREES.0, TESTED_DEGREES.1))
    }

    /// By how much the lightness that is just noticed is greater than on large patches.
    fn handicap(self) -> f64 {
        let of = |sight: Self| sight.noticeable(VIEWERS)[0];
        of(self.tested()) / of(Self::of_degrees(TESTED_DEGREES.1))
    }

    /// Whether two colours can be told apart at this size.
    ///
    /// Two things must hold. By the size model the difference is noticed by half of the
    /// viewers: L*, a* and b* differ, each in parts of its noticeable difference, by 1 or
    /// more altogether. And CIEDE2000, which knows better than CIELAB how little is seen
    /// among vivid colours, is above what is accepted as the same on large patches, 1.8,
    /// grown as the model's lightness grows for this size.
    ///
    /// ```
    /// use hitchwork_core::{colour::{Sight, Srgb, Vision}, craft::Gauge};
    /// let knot = Sight::of_knot(&Gauge::default());
    /// let (teal, sea) = (Srgb::new(0x0f, 0x8a, 0x8a), Srgb::new(0x12, 0x90, 0x8c));
    /// assert!(!knot.tells_apart(teal, sea, Vision::Normal));
    /// assert!(knot.tells_apart(teal, Srgb::new(0x98, 0x4a, 0x8a), Vision::Normal));
    /// ```
    #[must_use]
    pub fn tells_apart(self, a: Srgb, b: Srgb, vision: Vision) -> bool {
        let (a, b) = (vision.sees(a), vision.sees(b));
        let noticed = self.tested().noticeable(VIEWERS);
        let (first, second) = (a.cielab(), b.cielab());
        let parts = (0..3).map(|axis| (first[axis] - second[axis]) / noticed[axis]);
        parts.map(|part| part * part).sum::<f64>() >= 1.0
            && difference(a, b) >= ACCEPTED_AS_SAME * self.handicap()
    }

    /// The first two colours, as indices, between which nobody sees any difference.
    pub(crate) fn taken_for_one(self, colours: &[Srgb]) -> Option<(usize, usize)> {
        let labs: Vec<[f64; 3]> = colours.iter().map(|colour| colour.cielab()).collect();
        let least = SEEN_AT_ALL * self.handicap();
        // CIEDE2000 weighs L* by 1 / 1.75 or more: cheap, and enough for nearly all pairs.
        let one = |a: &[f64; 3], b: &[f64; 3]| {
            (a[0] - b[0]).abs() < 1.75 * least && ciede2000(*a, *b) < least
        };
        (0..labs.len()).find_map(|at| {
            let mut after = at + 1..labs.len();
            after
                .find(|other| one(&labs[at], &labs[*other]))
                .map(|other| (at, other))
        })
    }

    /// The neighbours, as pairs of indices, that cannot be told apart; the last beside the
    /// first too if the colours are cyclic.
    ///
    /// ```
    /// use hitchwork_core::{colour::{Sight, Srgb, Vision}, craft::Gauge};
    /// let knot = Sight::of_knot(&Gauge::default());
    /// let greys = [20, 200, 203].map(|level| Srgb::new(level, level, level));
    /// assert_eq!(knot.alike_neighbours(&greys, false, Vision::Normal), [(1, 2)]);
    /// ```
    #[must_use]
    pub fn alike_neighbours(
        self,
        colours: &[Srgb],
        cyclic: bool,
        vision: Vision,
    ) -> Vec<(usize, usize)> {
        let count = colours.len();
        let pairs = match (count, cyclic) {
            (0 | 1, _) => 0,
            (2, _) | (_, false) => count - 1,
            (_, true) => count,
        };
        (0..pairs)
            .map(|at| (at, (at + 1) % count))
            .filter(|&(a, b)| !self.tells_apart(colours[a], colours[b], vision))
            .collect()
    }
}

impl Palette {
    /// Into how many colours, at most 40, the palette can be spread round and round so
    /// that all neighbours are still told apart at this size; and so can all smaller
    /// numbers from 3. Nothing where not even 3 can.
    ///
    /// ```
    /// use hitchwork_core::{colour::{Sight, Vision, palette}, craft::Gauge};
    /// let tide = palette("spring tide").expect("built in");
    /// let knot = Sight::of_knot(&Gauge::default());
    /// assert!(tide.told_apart_up_to(knot, &[Vision::Normal]) >= Some(12));
    /// ```
    #[must_use]
    pub fn told_apart_up_to(&self, sight: Sight, visions: &[Vision]) -> Option<usize> {
        if self.colours.is_empty() {
            return None;
        }
        let gradient = Gradient::new(self.colours.clone());
        let walked = gradient.walked();
        let passes = |count: &usize| {
            let values: Vec<Srgb> = if *count == self.colours.len() {
                self.colours.iter().map(|colour| colour.srgb).collect()
            } else {
                walked
                    .values(*count)
                    .iter()
                    .map(|(_, value)| *value)
                    .collect()
            };
            let sound = |vision: &Vision| sight.alike_neighbours(&values, true, *vision).is_empty();
            visions.iter().all(sound)
        };
        (3..=MOST_TRIED).take_while(passes).last()
    }
}
