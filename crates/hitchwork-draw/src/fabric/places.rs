//! Where each knot is seen in the picture: for whoever points at one.

use super::picture::FabricPicture;
use super::style::COLUMN;
use crate::ink::PlanePoint;

/// A knot as it is seen in the picture at its own size.
#[derive(Clone, Copy, Debug, PartialEq)]
#[doc(hidden)]
pub struct PicturedKnot {
    /// Its middle, in pixels from the left and from the upper edge.
    pub at: (f64, f64),
    /// The place in the band's palette of the colour that shows.
    pub colour: u16,
}

impl FabricPicture {
    /// All knots, in the order in which they are tied: those of the lead-in, of each repeat that is
    /// drawn, and of the lead-out.
    #[doc(hidden)]
    #[must_use]
    pub fn knot_places(&self) -> Vec<PicturedKnot> {
        let frame = self.frame();
        let place = |(x, y): PlanePoint, colour| {
            let (x, y) = if self.upright { (x, y) } else { (y, -x) };
            let pixels = |at: f64, from: f64| (at - from) * self.pixels_per_unit;
            PicturedKnot {
                at: (pixels(x, frame.x), pixels(y, frame.y)),
                colour,
            }
        };
        match &self.soft {
            Some(soft) => {
                let knots = soft.knots.iter();
                knots
                    .map(|knot| place(knot.body.centre, knot.colour))
                    .collect()
            }
            None => {
                let centre = |column: u16, level: i32| {
                    let across = f64::from(column) * COLUMN;
                    (across, f64::from(level) * self.look.half_row)
                };
                let knots = self.laid.knots.iter();
                knots
                    .map(|knot| place(centre(knot.column, knot.level), knot.colour))
                    .collect()
            }
        }
    }

    /// How wide a column is in the picture at its own size, in pixels.
    #[doc(hidden)]
    #[must_use]
    pub fn column_pixels(&self) -> f64 {
        COLUMN * self.pixels_per_unit
    }
}
