//! A knot as a tile: its outline runs as its working thread runs.

use std::fmt::{Result, Write};

use hitchwork_core::colour::Srgb;
use hitchwork_core::knot::{Kind, Side};

use crate::ink::{Anchor, INK, PlanePoint, TextStyle, readable_on, short};

/// What is left free between two tiles, across and along, and between a number and the outline, in pixels.
pub(super) const SEAM: PlanePoint = (3.2, 2.6);
pub(super) const PAD: f64 = 1.0;
/// How far the number of a bent tile stands towards the bend, as a share of that: as far from the notch as
/// from the sides of the point. On its side, a tile is as long as its number is wide.
const TOWARDS_BEND: [f64; 2] = [0.14, 0.02];
/// How high a number is, as a share of its size.
pub(super) const NUMBER_HEIGHT: f64 = 0.727;

/// How large tiles are, and which way they lie.
#[derive(Clone, Copy, Debug)]
pub(super) struct TileSize {
    /// Across the band and along it, with the seam.
    pub(super) across: f64,
    pub(super) along: f64,
    /// The size of the number.
    pub(super) font: f64,
    /// How far a tile leans or bends.
    pub(super) lean: f64,
    /// Whether the band lies on its side.
    pub(super) sideways: bool,
}

impl TileSize {
    /// The outline of a tile round its middle, across and along.
    fn outline(self, kind: Kind) -> Vec<PlanePoint> {
        let (wide, high) = ((self.across - SEAM.0) / 2.0, (self.along - SEAM.1) / 2.0);
        let lean = self.lean;
        let outline = match kind.changes_places() {
            true => vec![
                (-wide, -high),
                (wide - lean, -high),
                (wide, high),
                (lean - wide, high),
            ],
            false => vec![
                (-wide, -high),
                (wide - lean, -high),
                (wide, 0.0),
                (wide - lean, high),
                (-wide, high),
                (lean - wide, 0.0),
            ],
        };
        let way = way(kind);
        outline.into_iter().map(|(u, v)| (u * way, v)).collect()
    }

    /// A way across and along as one on the page.
    pub(super) const fn on_page(self, (across, along): PlanePoint) -> PlanePoint {
        if self.sideways {
            (along, -across)
        } else {
            (across, along)
        }
    }

    /// Draws a tile round its middle, with a number if there is one.
    pub(super) fn write(
        self,
        out: &mut String,
        (x, y): PlanePoint,
        kind: Kind,
        colour: Srgb,
        number: &str,
    ) -> Result {
        let mut course = String::new();
        for (index, point) in self.outline(kind).into_iter().enumerate() {
            let (right, down) = self.on_page(point);
            let letter = if index == 0 { 'M' } else { 'L' };
            write!(course, "{letter}{} {}", short(x + right), short(y + down))?;
        }
        write!(
            out,
            r#"<g class="tile"><path d="{course}Z" fill="{colour}" stroke="{INK}" stroke-width="1" stroke-linejoin="round"/>"#
        )?;
        if number.is_empty() {
            out.push_str("</g>");
            return Ok(());
        }
        // A bent tile has its middle towards its bend.
        let bend = match kind.changes_places() {
            true => 0.0,
            false => way(kind) * self.lean * TOWARDS_BEND[usize::from(self.sideways)],
        };
        let (right, down) = self.on_page((bend, 0.0));
        let hand = TextStyle::strong(self.font)
            .coloured(readable_on(colour))
            .anchored(Anchor::Middle);
        let base = y + down + NUMBER_HEIGHT / 2.0 * self.font;
        hand.write(out, (x + right, base), number)?;
        out.push_str("</g>");
        Ok(())
    }
}

/// Across which way the working thread goes first: 1 to the right, -1 to the left.
fn way(kind: Kind) -> f64 {
    match kind.working_side() {
        Side::Left => 1.0,
        Side::Right => -1.0,
    }
}

/// Draws words so that their middle is at a place.
pub(super) fn write_middle(
    out: &mut String,
    hand: TextStyle,
    (x, y): PlanePoint,
    words: &str,
) -> Result {
    let hand = hand.anchored(Anchor::Middle);
    hand.write(out, (x, y + NUMBER_HEIGHT / 2.0 * hand.size), words)
}
