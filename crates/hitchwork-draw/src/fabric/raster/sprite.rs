//! One look of a knot, a thread or a shadow, rasterised once and blitted wherever it lies.

use std::collections::BTreeMap;

use hitchwork_core::colour::Srgb;

use super::bitmap::{Bitmap, PixelPosition, signed};
use crate::fabric::frame::{ChinkSize, CourseShape, Quad, TurnedFrame};
use crate::fabric::style::{Along, Lie};

/// What a sprite shows.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum SpriteKind {
    Knot(Srgb, Lie),
    Open(Srgb, Along, i64),
    Chink,
    /// The outline of a run of knots, for the shadow: how many columns lie between the
    /// first and the last.
    Outline(i64),
    /// A knot of a soft band, turned with its frame.
    Turned(Srgb, Lie, TurnedFrame),
    /// An open thread of a soft band.
    Course(Srgb, CourseShape),
    /// The dark at a corner of a knot with this frame.
    TurnedChink(TurnedFrame, ChinkSize),
    /// The dark under the seam of two knots.
    Seam(Quad),
    /// What a knot covers, for the shadow.
    Body(TurnedFrame),
}

/// What sprites depend on beside what they show; numbers by their bits.
pub(super) type SpriteScale = (u64, u64, u64, bool);

/// One look, rasterised once.
pub(super) struct Sprite {
    fine: Bitmap,
    /// As it lies between pixels, by the place.
    shifted: Vec<Option<Bitmap>>,
}

impl Sprite {
    pub(super) fn new(fine: Bitmap, finer: usize) -> Self {
        Self {
            fine,
            shifted: vec![None; finer * finer],
        }
    }

    /// The pixels to blit at a place, and where.
    pub(super) fn at(&mut self, (x, y): PixelPosition, finer: usize) -> (&Bitmap, PixelPosition) {
        if finer == 1 {
            return (&self.fine, (x, y));
        }
        let step = signed(finer);
        let (right, down) = (x.rem_euclid(step), y.rem_euclid(step));
        let at = usize::try_from(down * step + right).expect("neither is below 0");
        let fine = &self.fine;
        let shifted = self.shifted[at].get_or_insert_with(|| fine.shrunk(finer, (right, down)));
        (shifted, (x.div_euclid(step), y.div_euclid(step)))
    }

    pub(super) fn bytes(&self) -> usize {
        let shifted = self.shifted.iter().flatten();
        shifted
            .chain([&self.fine])
            .map(|bitmap| size_of_val(bitmap.pixels.as_slice()))
            .sum()
    }
}

/// Which sprites are blitted where.
#[derive(Default)]
pub(super) struct SpritePlan {
    sprites: BTreeMap<SpriteKind, usize>,
    /// What each shows, and the number of its colour in the palette.
    pub(super) wanted: Vec<(SpriteKind, u16)>,
    pub(super) places: Vec<(usize, PixelPosition)>,
}

impl SpritePlan {
    pub(super) fn sprite(&mut self, what: SpriteKind, colour: u16) -> usize {
        *self.sprites.entry(what).or_insert_with(|| {
            self.wanted.push((what, colour));
            self.wanted.len() - 1
        })
    }
}
