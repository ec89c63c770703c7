//! What of a picture is looked at, and how its plane lies under the pixels of that.

use super::bitmap::{Area, PixelPosition, whole};
use super::sprite::SpriteScale;
use crate::error::{Error, Problem};
use crate::fabric::picture::{FabricPicture, ViewBox};
use crate::fabric::style::COLUMN;
use crate::ink::PlanePoint;
use crate::png;

/// The most pixels of one view.
const MAX_PIXELS: usize = 24_000_000;
/// A knot is at most this many pixels wide.
const MAX_KNOT: f64 = 1_024.0;
/// What has more pixels than that is painted only where it is seen.
pub(super) const LARGE: usize = 4_000_000;

/// The part of a picture that is looked at, in pixels of the picture when it is `scale`
/// times as large as its own size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// How many times as large as its own size the picture is.
    pub scale: f64,
    /// How far from the left edge of the picture the view begins.
    pub left: u32,
    /// How far from its upper edge.
    pub top: u32,
    /// How wide the view is.
    pub width: u32,
    /// How high.
    pub height: u32,
}

impl View {
    /// The whole of a picture.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// use hitchwork_draw::fabric::{FabricOptions, FabricPicture, View};
    /// let picture = FabricPicture::new(&Tied::of(band), &FabricOptions::default())?;
    /// let view = View::whole(&picture, 1.0)?;
    /// assert_eq!(f64::from(view.width), picture.size().0.ceil());
    /// assert!(View::whole(&picture, 0.0).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// When the scale is not a number above 0, or the picture would be too large.
    pub fn whole(picture: &FabricPicture, scale: f64) -> Result<Self, Error> {
        png::check_scale(scale)?;
        let (width, height) = picture.size();
        let side = |own: f64| u32::try_from(whole((own * scale).ceil()).max(1)).unwrap_or(u32::MAX);
        let view = Self {
            scale,
            left: 0,
            top: 0,
            width: side(width),
            height: side(height),
        };
        view.area().map(|_| view)
    }

    pub(super) fn area(&self) -> Result<Area, Error> {
        png::check_scale(self.scale)?;
        let side = |side: u32| usize::try_from(side).unwrap_or(usize::MAX);
        let area = Area {
            left: self.left.into(),
            top: self.top.into(),
            width: side(self.width.max(1)),
            height: side(self.height.max(1)),
        };
        if area.count() > MAX_PIXELS {
            return Err(Problem::TooManyPixels {
                width: self.width.into(),
                height: self.height.into(),
                most: MAX_PIXELS as u64,
            }
            .into());
        }
        Ok(area)
    }
}

/// From the plane of a picture to the pixels of a view.
pub(super) struct ViewTransform {
    /// Pixels for a hundredth of a column.
    pub(super) scale: f64,
    /// What is at the upper left corner of the picture.
    pub(super) origin: PlanePoint,
    upright: bool,
    pub(super) sprite_scale: SpriteScale,
    /// The places at which sprites are blitted are this many times finer than pixels.
    pub(super) finer: usize,
}

impl ViewTransform {
    pub(super) fn new(picture: &FabricPicture, view: &View) -> Result<Self, Error> {
        let ViewBox { x, y, .. } = picture.frame();
        let scale = picture.pixels_per_unit * view.scale;
        let (half_row, thread) = (picture.look.half_row, picture.look.thread);
        let knot = 2.0 * COLUMN * scale;
        if knot > MAX_KNOT {
            let (width, height) = picture.size();
            return Err(Problem::TooManyPixels {
                width: (width * view.scale).round(),
                height: (height * view.scale).round(),
                most: MAX_PIXELS as u64,
            }
            .into());
        }
        Ok(Self {
            scale,
            origin: (x, y),
            upright: picture.upright,
            sprite_scale: (
                scale.to_bits(),
                half_row.to_bits(),
                thread.to_bits(),
                picture.upright,
            ),
            finer: if knot <= 24.0 {
                4
            } else if knot <= 96.0 {
                2
            } else {
                1
            },
        })
    }

    #[expect(clippy::cast_precision_loss, reason = "1, 2 or 4")]
    pub(super) fn fine_scale(&self) -> f64 {
        self.scale * self.finer as f64
    }

    /// Whether a sprite of that width and height, in hundredths of a column, is not worth
    /// its pixels.
    #[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
    pub(super) fn is_large(&self, width: f64, height: f64) -> bool {
        width * height * self.fine_scale() * self.fine_scale() > LARGE as f64
    }

    pub(super) fn turned(&self, (x, y): PlanePoint) -> PlanePoint {
        if self.upright { (x, y) } else { (y, -x) }
    }

    /// The nearest place at which a sprite can be blitted.
    pub(super) fn place(&self, point: PlanePoint) -> PixelPosition {
        let (x, y) = self.turned(point);
        let fine = |at: f64, from: f64| whole(((at - from) * self.fine_scale()).round());
        (fine(x, self.origin.0), fine(y, self.origin.1))
    }

    /// What of the plane lies in an area: the least and the most of x and y.
    #[expect(clippy::cast_precision_loss, reason = "pixels of a picture are few")]
    pub(super) fn seen(&self, area: Area) -> (PlanePoint, PlanePoint) {
        let at = |x: i64, y: i64| {
            let (x, y) = (
                self.origin.0 + x as f64 / self.scale,
                self.origin.1 + y as f64 / self.scale,
            );
            if self.upright { (x, y) } else { (-y, x) }
        };
        let (one, other) = (at(area.left, area.top), at(area.right(), area.bottom()));
        (
            (one.0.min(other.0), one.1.min(other.1)),
            (one.0.max(other.0), one.1.max(other.1)),
        )
    }
}
