//! The finished band in pixels, fast enough to follow a hand.
//!
//! All knots of one colour and lie look the same, so each such look is painted once, like
//! a stamp is cut, and then pressed wherever a knot lies. Small stamps are cut several
//! times larger than they are pressed, so that they can be pressed between pixels too.

mod bitmap;

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::sync::Arc;

use ::png::{BitDepth, ColorType, Compression, Encoder};
use hitchwork_core::colour::Srgb;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Node, Tree};
use sha2::{Digest, Sha256};

use self::bitmap::{Area, Bitmap, Mask, Spot, reach, whole};
use super::laid::{ByLevel, Open, runs};
use super::look::{Along, COLUMN, LIKE, Lie, Look};
use super::pen::Point;
use super::{
    CHINK, CHINK_HIGH, CHINK_WIDE, Frame, OUTLINE_STROKE, Picture, SHADOW, SHADOW_BLUR,
    SHADOW_MOVE, SHADOW_PERCENT, exact, units,
};
use crate::error::{Error, Problem};
use crate::png;
use crate::resolved;

/// The most pixels of one view.
const MAX_PIXELS: usize = 24_000_000;
/// A knot is at most so many pixels wide.
const MAX_KNOT: f64 = 1_024.0;
/// What has more pixels than that is painted only where it is seen.
const LARGE: usize = 4_000_000;
/// What is not in use goes when more bytes than that are kept.
const BYTES_KEPT: usize = 100_000_000;
/// So much of what is drawn of ends is kept.
const DRAWINGS_KEPT: usize = 32;

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
    /// # Errors
    /// When the scale is no number above 0, or the picture would be too large.
    pub fn whole(picture: &Picture, scale: f64) -> Result<Self, Error> {
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

    fn area(&self) -> Result<Area, Error> {
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

/// What there is a stamp of.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum What {
    Knot(Srgb, Lie),
    Open(Srgb, Along, i64),
    Chink,
    /// The outline of a run of knots, for the shadow: how many columns lie between the
    /// first and the last.
    Outline(i64),
}

/// What stamps depend on beside what they show; numbers by their bits.
type Make = (u64, u64, u64, bool);

/// How a picture lies under a view.
struct Lying {
    /// Pixels for a hundredth of a column.
    scale: f64,
    /// What is at the upper left corner of the picture.
    origin: Point,
    upright: bool,
    make: Make,
    /// So many times finer than pixels are the places on which stamps are pressed.
    finer: usize,
}

impl Lying {
    fn new(picture: &Picture, view: &View) -> Result<Self, Error> {
        let Frame { x, y, .. } = picture.frame();
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
            make: (
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
    fn fine_scale(&self) -> f64 {
        self.scale * self.finer as f64
    }

    /// Whether a stamp of that width and height, in hundredths of a column, is not worth
    /// its pixels.
    #[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
    fn is_large(&self, width: f64, height: f64) -> bool {
        width * height * self.fine_scale() * self.fine_scale() > LARGE as f64
    }

    fn turned(&self, (x, y): Point) -> Point {
        if self.upright { (x, y) } else { (y, -x) }
    }

    /// The nearest place on which a stamp can be pressed.
    fn place(&self, point: Point) -> Spot {
        let (x, y) = self.turned(point);
        let fine = |at: f64, from: f64| whole(((at - from) * self.fine_scale()).round());
        (fine(x, self.origin.0), fine(y, self.origin.1))
    }

    /// What of the plane lies in an area: the least and the most of x and y.
    #[expect(clippy::cast_precision_loss, reason = "pixels of a picture are few")]
    fn seen(&self, area: Area) -> (Point, Point) {
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

/// One look, cut once.
struct Stamp {
    fine: Bitmap,
    /// As it is pressed between pixels, by the place.
    pressed: Vec<Option<Bitmap>>,
}

impl Stamp {
    fn new(fine: Bitmap, finer: usize) -> Self {
        Self {
            fine,
            pressed: vec![None; finer * finer],
        }
    }

    fn press(&mut self, (x, y): Spot, finer: usize) -> (&Bitmap, Spot) {
        if finer == 1 {
            return (&self.fine, (x, y));
        }
        let step = bitmap::signed(finer);
        let (right, down) = (x.rem_euclid(step), y.rem_euclid(step));
        let at = usize::try_from(down * step + right).expect("neither is below 0");
        let fine = &self.fine;
        let pressed = self.pressed[at].get_or_insert_with(|| fine.shrunk(finer, (right, down)));
        (pressed, (x.div_euclid(step), y.div_euclid(step)))
    }

    fn bytes(&self) -> usize {
        let pressed = self.pressed.iter().flatten();
        pressed
            .chain([&self.fine])
            .map(|bitmap| size_of_val(bitmap.pixels.as_slice()))
            .sum()
    }
}

/// What is drawn of an end, read once.
struct Drawing {
    tree: Tree,
    /// Painted whole, for the scale and the origin of the last time.
    painted: Option<([u64; 3], Arc<Bitmap>)>,
    /// When it was last needed.
    needed: u64,
}

/// Which stamps are pressed where.
#[derive(Default)]
struct Pressing {
    stamps: BTreeMap<What, usize>,
    /// What each shows, and the number of its colour in the palette.
    wanted: Vec<(What, u16)>,
    places: Vec<(usize, Spot)>,
}

impl Pressing {
    fn stamp(&mut self, what: What, colour: u16) -> usize {
        *self.stamps.entry(what).or_insert_with(|| {
            self.wanted.push((what, colour));
            self.wanted.len() - 1
        })
    }
}

/// Stamps for painting the finished band in pixels, kept from one picture to the next: a
/// picture that has no look the earlier ones did not have is painted in a few milliseconds.
///
/// What is painted is what [`png::render`] would paint of the picture's SVG, but for
/// roundings: knots lie up to an eighth of their size from where they should, and never
/// more than half a pixel. Whatever was painted before, the same view of the same picture
/// gives the same bytes.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::fabric::{Options, Picture, Stamps, View};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let picture = Picture::new(&Tied::of(band), &Options::default())?;
/// let mut stamps = Stamps::default();
/// let pixels = stamps.paint(&picture, &View::whole(&picture, 0.5)?)?;
/// assert!(pixels.starts_with(b"\x89PNG"));
/// let corner = View { scale: 8.0, left: 0, top: 0, width: 64, height: 48 };
/// assert_ne!(stamps.paint(&picture, &corner)?, pixels);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Default)]
pub struct Stamps {
    stamps: BTreeMap<(Make, What), Stamp>,
    drawings: BTreeMap<[u8; 32], Drawing>,
    /// The ground of the last time: as it was drawn, and what of it was looked at.
    ground: Option<(String, View, Bitmap)>,
    /// Counts the pictures.
    now: u64,
}

impl Stamps {
    /// Paints a view of a picture as PNG.
    ///
    /// # Errors
    /// When the scale is no number above 0, or the view has too many pixels.
    pub fn paint(&mut self, picture: &Picture, view: &View) -> Result<Vec<u8>, Error> {
        let area = view.area()?;
        let lying = Lying::new(picture, view)?;
        self.now += 1;
        let levels = picture.laid.by_level();
        let mut canvas = self.ground(picture, view, area)?;
        if picture.table {
            let shadow = self.shadow(picture, &levels, &lying, area)?;
            canvas.tint(&shadow, SHADOW, SHADOW_PERCENT);
        }
        for end in &picture.ends {
            self.lay(picture, &lying, &end.below, &mut canvas)?;
        }
        self.press(picture, &levels, &lying, &mut canvas)?;
        for end in &picture.ends {
            self.lay(picture, &lying, &end.above, &mut canvas)?;
        }
        if !picture.marks.is_empty() {
            self.lay(picture, &lying, &picture.marks, &mut canvas)?;
        }
        self.tidy(lying.make);
        encoded(&canvas)
    }

    /// What lies under the band and its shadow.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_precision_loss,
        reason = "the painter works in single precision"
    )]
    fn ground(&mut self, picture: &Picture, view: &View, area: Area) -> Result<Bitmap, Error> {
        if !picture.table {
            return Ok(Bitmap::clear(area));
        }
        let (cloth, ground) = picture.ground(LIKE);
        let opening = picture.opening();
        let text = format!("{opening}<defs>{cloth}</defs>{ground}</svg>");
        if let Some((_, _, kept)) = self
            .ground
            .as_ref()
            .filter(|(drawn, looked, _)| *drawn == text && looked == view)
        {
            return Ok(kept.clone());
        }
        let mut pixmap = pixmap(area);
        let scale = view.scale as f32;
        let (left, top) = (area.left as f32, area.top as f32);
        let moved = Transform::from_row(scale, 0.0, 0.0, scale, -left, -top);
        resvg::render(&resolved::tree(&text)?, moved, &mut pixmap.as_mut());
        let painted = Bitmap::of(&pixmap, (area.left, area.top));
        self.ground = Some((text, *view, painted.clone()));
        Ok(painted)
    }

    /// Presses the open threads, the chinks and the knots.
    fn press(
        &mut self,
        picture: &Picture,
        levels: &ByLevel,
        lying: &Lying,
        canvas: &mut Bitmap,
    ) -> Result<(), Error> {
        let look = &picture.look;
        let (least, most) = lying.seen(canvas.area);
        let within = |(x, y): Point, wide: f64, up: f64, down: f64| {
            x + wide >= least.0 && x - wide <= most.0 && y + down >= least.1 && y - up <= most.1
        };
        let mut pressing = Pressing::default();
        for open in &picture.laid.open {
            let point = look.open_place(open);
            let half_rows = open.half_rows();
            let down = units(half_rows) * look.half_row + COLUMN;
            if within(point, COLUMN, COLUMN, down) {
                if lying.is_large(COLUMN, down + COLUMN) {
                    self.run_past(picture, lying, open, canvas)?;
                    continue;
                }
                let colour = look.colour(open.colour);
                let what = What::Open(colour, open.along, half_rows);
                let stamp = pressing.stamp(what, open.colour);
                pressing.places.push((stamp, lying.place(point)));
            }
        }
        for (level, columns) in levels.iter() {
            let y = units(level) * look.half_row;
            for run in runs(columns) {
                for corner in levels.chinks(level, run) {
                    let point = (units(corner) * COLUMN, y);
                    if within(point, COLUMN, COLUMN, COLUMN) {
                        let stamp = pressing.stamp(What::Chink, 0);
                        pressing.places.push((stamp, lying.place(point)));
                    }
                }
            }
        }
        let (wide, high) = (1.2 * COLUMN, 1.2 * look.half_row);
        let mut known = vec![[None; 4]; look.colour_count()];
        for knot in &picture.laid.knots {
            let point = (
                f64::from(knot.column) * COLUMN,
                f64::from(knot.level) * look.half_row,
            );
            if within(point, wide, high, high) {
                let known = &mut known[usize::from(knot.colour)][knot.lie as usize];
                let stamp = *known.get_or_insert_with(|| {
                    let what = What::Knot(look.colour(knot.colour), knot.lie);
                    pressing.stamp(what, knot.colour)
                });
                pressing.places.push((stamp, lying.place(point)));
            }
        }
        self.cut(picture, lying, &pressing.wanted)?;
        self.with(lying, &pressing, |pressed, moved| {
            canvas.put(pressed, moved);
        });
        Ok(())
    }

    /// The shadow of the band on the table.
    fn shadow(
        &mut self,
        picture: &Picture,
        levels: &ByLevel,
        lying: &Lying,
        area: Area,
    ) -> Result<Mask, Error> {
        let look = &picture.look;
        let deviation = SHADOW_BLUR * lying.scale;
        let mut mask = Mask::clear(area.grown(reach(deviation)));
        let mut pressing = Pressing::default();
        let (right, down) = SHADOW_MOVE;
        // The light does not turn with the band.
        let moved = if picture.upright {
            (right, down)
        } else {
            (-down, right)
        };
        let (least, most) = lying.seen(mask.area);
        let high = 1.3 * look.half_row;
        for (level, columns) in levels.iter() {
            let y = units(level) * look.half_row + moved.1;
            if y + high < least.1 || y - high > most.1 {
                continue;
            }
            for run in runs(columns) {
                // Long ones in pieces that share a knot.
                let mut rest = run;
                while let Some((&first, behind)) = rest.split_first() {
                    let fits = |last: &&i64| {
                        let wide = units(**last - first + 2) * COLUMN;
                        !lying.is_large(wide, 2.0 * look.half_row)
                    };
                    let further = behind
                        .iter()
                        .take_while(fits)
                        .count()
                        .max(1)
                        .min(behind.len());
                    let stamp = pressing.stamp(What::Outline(rest[further] - first), 0);
                    let point = (units(first) * COLUMN + moved.0, y);
                    pressing.places.push((stamp, lying.place(point)));
                    rest = &rest[further..];
                    if rest.len() == 1 {
                        break;
                    }
                }
            }
        }
        self.cut(picture, lying, &pressing.wanted)?;
        self.with(lying, &pressing, |pressed, moved| mask.put(pressed, moved));
        for end in &picture.ends {
            let mut drawn = format!(
                "<g transform=\"translate({} {})\" stroke=\"#000\" fill=\"none\">",
                moved.0, moved.1
            );
            end.write_shadow(&mut drawn);
            drawn.push_str("</g>");
            if let Some(painted) = self.drawn(picture, lying, &drawn, mask.area)? {
                mask.put(&painted, (0, 0));
            }
        }
        mask.blur(deviation);
        Ok(mask)
    }

    /// Gives every pressed stamp with its place.
    fn with(&mut self, lying: &Lying, pressing: &Pressing, mut put: impl FnMut(&Bitmap, Spot)) {
        let key = |what: What| (lying.make, what);
        let mut stamps: Vec<Stamp> = pressing
            .wanted
            .iter()
            .map(|(what, _)| self.stamps.remove(&key(*what)).expect("cut before"))
            .collect();
        for (stamp, place) in &pressing.places {
            let (pressed, moved) = stamps[*stamp].press(*place, lying.finer);
            put(pressed, moved);
        }
        for ((what, _), stamp) in pressing.wanted.iter().zip(stamps) {
            self.stamps.insert(key(*what), stamp);
        }
    }

    /// Cuts the stamps that are missing.
    fn cut(
        &mut self,
        picture: &Picture,
        lying: &Lying,
        wanted: &[(What, u16)],
    ) -> Result<(), Error> {
        let missing: Vec<(What, u16)> = wanted
            .iter()
            .copied()
            .filter(|(what, _)| !self.stamps.contains_key(&(lying.make, *what)))
            .collect();
        if missing.is_empty() {
            return Ok(());
        }
        let mut look = picture.look.like();
        let half_row = look.half_row;
        let mut drawn = String::new();
        for (what, colour) in &missing {
            drawn.push_str(&format!("<g transform=\"{}\">", picture.turn()));
            match *what {
                What::Knot(_, lie) => {
                    look.ask_knot(*colour, lie);
                    drawn.push_str(look.knot(*colour, lie));
                    drawn.push_str("0\"/>");
                }
                What::Open(_, along, half_rows) => {
                    look.ask_open_thread(*colour, along, half_rows);
                    let name = look.open_thread(*colour, along, half_rows);
                    drawn.push_str(&format!(r##"<use href="#{name}"/>"##));
                }
                What::Chink => drawn.push_str(&format!(
                    r#"<path d="{}" fill="{CHINK}"/>"#,
                    hexagon(CHINK_WIDE, half_row * CHINK_HIGH, 0.0)
                )),
                What::Outline(columns) => drawn.push_str(&format!(
                    r#"<path d="{}" stroke="{SHADOW}" stroke-width="{OUTLINE_STROKE}"/>"#,
                    hexagon(COLUMN, half_row, units(columns) * COLUMN),
                )),
            }
            drawn.push_str("</g>");
        }
        let tree = tree(&look.definitions(), &drawn)?;
        let scale = lying.fine_scale();
        for ((what, _), node) in missing.into_iter().zip(tree.root().children()) {
            let area = reached(node, scale, (0.0, 0.0));
            let stamp = Stamp::new(painted(node, scale, (0.0, 0.0), area), lying.finer);
            self.stamps.insert((lying.make, what), stamp);
        }
        Ok(())
    }

    /// Lays something of an end on.
    fn lay(
        &mut self,
        picture: &Picture,
        lying: &Lying,
        drawn: &str,
        canvas: &mut Bitmap,
    ) -> Result<(), Error> {
        if let Some(painted) = self.drawn(picture, lying, drawn, canvas.area)? {
            canvas.put(&painted, (0, 0));
        }
        Ok(())
    }

    /// Lays an open thread on of which no stamp is cut, because it is so long.
    fn run_past(
        &mut self,
        picture: &Picture,
        lying: &Lying,
        open: &Open,
        canvas: &mut Bitmap,
    ) -> Result<(), Error> {
        let mut look = picture.look.like();
        look.ask_open_thread(open.colour, open.along, open.half_rows());
        let (x, y) = look.open_place(open);
        let name = look.open_thread(open.colour, open.along, open.half_rows());
        let drawn = format!(
            r##"<g transform="{}"><use href="#{name}" x="{}" y="{}"/></g>"##,
            picture.turn(),
            exact(x),
            exact(y)
        );
        if let Some(painted) = self.kept(&look, lying, &drawn, canvas.area)? {
            canvas.put(&painted, (0, 0));
        }
        Ok(())
    }

    /// Something of an end, as much as is seen of it, and perhaps more.
    fn drawn(
        &mut self,
        picture: &Picture,
        lying: &Lying,
        drawn: &str,
        seen: Area,
    ) -> Result<Option<Arc<Bitmap>>, Error> {
        if drawn.is_empty() {
            return Ok(None);
        }
        let mut look = picture.look.like();
        let mut drawn = drawn.replace(&picture.look.prefix, &look.prefix);
        for colour in &picture.end_rounds {
            let named = |falls| drawn.contains(&look.round_name(*colour, falls));
            if named(true) || named(false) {
                look.ask_rounds(*colour);
            }
        }
        drawn = format!("<g transform=\"{}\">{drawn}</g>", picture.turn());
        self.kept(&look, lying, &drawn, seen)
    }

    /// Something drawn, painted as it was the last time if it was painted so.
    fn kept(
        &mut self,
        look: &Look,
        lying: &Lying,
        drawn: &str,
        seen: Area,
    ) -> Result<Option<Arc<Bitmap>>, Error> {
        let definitions = look.definitions();
        let mut digest = Sha256::new();
        digest.update(&definitions);
        digest.update(drawn);
        let drawing = match self.drawings.entry(digest.finalize().into()) {
            Entry::Occupied(kept) => kept.into_mut(),
            Entry::Vacant(free) => free.insert(Drawing {
                tree: tree(&definitions, drawn)?,
                painted: None,
                needed: 0,
            }),
        };
        drawing.needed = self.now;
        let Some(node) = drawing.tree.root().children().first() else {
            return Ok(None);
        };
        let area = reached(node, lying.scale, lying.origin);
        let Some(common) = area.common(seen) else {
            return Ok(None);
        };
        if area.count() > LARGE {
            let painted = painted(node, lying.scale, lying.origin, common);
            return Ok(Some(Arc::new(painted)));
        }
        let (x, y) = lying.origin;
        let key = [lying.scale, x, y].map(f64::to_bits);
        match &drawing.painted {
            Some((made, kept)) if *made == key => Ok(Some(Arc::clone(kept))),
            _ => {
                let painted = Arc::new(painted(node, lying.scale, lying.origin, area));
                drawing.painted = Some((key, Arc::clone(&painted)));
                Ok(Some(painted))
            }
        }
    }

    /// Forgets what is not in use, where there is too much of it.
    fn tidy(&mut self, make: Make) {
        let bytes = |stamps: &BTreeMap<_, Stamp>| stamps.values().map(Stamp::bytes).sum::<usize>();
        if bytes(&self.stamps) > BYTES_KEPT {
            self.stamps.retain(|(of, _), _| *of == make);
            if bytes(&self.stamps) > BYTES_KEPT {
                self.stamps.clear();
            }
        }
        if self.drawings.len() > DRAWINGS_KEPT {
            let mut needed: Vec<u64> = self
                .drawings
                .values()
                .map(|drawing| drawing.needed)
                .collect();
            needed.sort_unstable();
            let since = needed[needed.len() - DRAWINGS_KEPT];
            self.drawings.retain(|_, drawing| drawing.needed >= since);
        }
    }
}

/// Around a point and another further to the right.
fn hexagon(wide: f64, high: f64, further: f64) -> String {
    let (wide, high, further) = (exact(wide), exact(high), exact(further));
    format!("M-{wide} 0l{wide}-{high}h{further}l{wide} {high}-{wide} {high}h-{further}z")
}

/// Something drawn in hundredths of a column.
fn tree(definitions: &str, drawn: &str) -> Result<Tree, Error> {
    resolved::tree(&format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"><defs>{definitions}</defs>{drawn}</svg>"#
    ))
}

/// Where the painted lies, when `origin` is at the corner of the picture.
fn reached(node: &Node, scale: f64, origin: Point) -> Area {
    let Some(bounds) = node.abs_layer_bounding_box() else {
        return Area::around((0.0, 0.0), (0.0, 0.0));
    };
    let at = |x: f32, y: f32| {
        (
            (f64::from(x) - origin.0) * scale,
            (f64::from(y) - origin.1) * scale,
        )
    };
    Area::around(
        at(bounds.left(), bounds.top()),
        at(bounds.right(), bounds.bottom()),
    )
}

/// Paints what of a node lies in an area.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "the painter works in single precision"
)]
fn painted(node: &Node, scale: f64, origin: Point, area: Area) -> Bitmap {
    let mut pixmap = pixmap(area);
    if let Some(bounds) = node.abs_layer_bounding_box() {
        // The painter begins at the node's own corner.
        let at = |corner: f32, origin: f64, from: i64| {
            ((f64::from(corner) - origin) * scale - from as f64) as f32
        };
        let transform = Transform::from_row(
            scale as f32,
            0.0,
            0.0,
            scale as f32,
            at(bounds.left(), origin.0, area.left),
            at(bounds.top(), origin.1, area.top),
        );
        let _ = resvg::render_node(node, transform, &mut pixmap.as_mut());
    }
    Bitmap::of(&pixmap, (area.left, area.top))
}

fn pixmap(area: Area) -> Pixmap {
    let side = |side: usize| u32::try_from(side).expect("sides of pictures are short");
    Pixmap::new(side(area.width), side(area.height)).expect("neither side is 0, nor long")
}

/// Pixels as PNG, packed fast rather than tightly.
fn encoded(canvas: &Bitmap) -> Result<Vec<u8>, Error> {
    let mut bytes = Vec::with_capacity(4 * canvas.pixels.len());
    for [red, green, blue, covers] in &canvas.pixels {
        let own = |part: u8| match covers {
            255 => part,
            0 => 0,
            _ => u8::try_from((u32::from(part) * 255 / u32::from(*covers)).min(255))
                .expect("at most 255"),
        };
        bytes.extend([own(*red), own(*green), own(*blue), *covers]);
    }
    let side = |side: usize| u32::try_from(side).expect("sides of pictures are short");
    let mut out = Vec::new();
    let (width, height) = (side(canvas.area.width), side(canvas.area.height));
    let mut encoder = Encoder::new(&mut out, width, height);
    encoder.set_color(ColorType::Rgba);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_compression(Compression::Fastest);
    let written = encoder
        .write_header()
        .and_then(|mut writer| writer.write_image_data(&bytes));
    written.map_err(|error| Problem::Encoding {
        reason: error.to_string(),
    })?;
    Ok(out)
}
