//! The finished band rasterised, fast enough to follow a hand.
//!
//! All knots of one colour and lie look the same, so each such look is rasterised once, as a
//! sprite, and then blitted wherever a knot lies. Small sprites are rasterised several times
//! larger than they are blitted, so that they can lie between pixels too.
//!
//! Tiny-skia rasterises the sprites, and `bitmap` blits them: tiny-skia's own `draw_pixmap` gives
//! the same bytes and takes 3 to 6 times as long, since it sets up a pipeline for every sprite
//! (bench `pictures`: 16,200 sprites of 12 by 12 pixels take 15 ms here and 87 ms there, 1,026 of
//! 48 by 48 pixels 12 ms and 42 ms). Blitting is what a view consists of once its sprites are
//! there. What else stands in `bitmap`, halving sprites between pixels and blurring a shadow
//! that is only a mask, tiny-skia does not have.

mod bitmap;
mod sprite;
mod view;

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::sync::Arc;

use ::png::{BitDepth, ColorType, Compression, Encoder};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Node, Tree};
use sha2::{Digest, Sha256};

use self::bitmap::{Area, Bitmap, Mask, PixelPosition, reach};
use self::sprite::{Sprite, SpriteKind, SpritePlan, SpriteScale};
pub use self::view::View;
use self::view::{LARGE, ViewTransform};
use super::laid::{ByLevel, Open, runs};
use super::pen::{exact, plus, units};
use super::picture::{
    CHINK, CHINK_HIGH, CHINK_WIDE, FabricPicture, OUTLINE_STROKE, SHADOW, SHADOW_BLUR, SHADOW_MOVE,
    SHADOW_PERCENT,
};
use super::soft::{OpenCourse, SoftLayout};
use super::style::{COLUMN, FabricStyle, LIKE};
use crate::error::{Error, Problem};
use crate::ink::PlanePoint;
use crate::resolved;

/// What is not in use goes when more bytes than that are kept.
const BYTES_KEPT: usize = 100_000_000;
/// So much of what is drawn of ends is kept.
const DRAWINGS_KEPT: usize = 32;

/// What is drawn of an end, read once.
struct EndDrawing {
    tree: Tree,
    /// Painted whole, for the scale and the origin of the last time.
    painted: Option<([u64; 3], Arc<Bitmap>)>,
    /// When it was last needed.
    needed: u64,
}

/// A render cache: the sprites of the finished band, kept from one picture to the next. A
/// picture that has no look the earlier ones did not have is painted in a few milliseconds.
///
/// What is painted is what [`png::render`](crate::png::render) would paint of the picture's SVG, but for
/// roundings: knots lie up to an eighth of their size from where they should, and never
/// more than half a pixel. Whatever was painted before, the same view of the same picture
/// gives the same bytes.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::fabric::{FabricOptions, FabricPicture, RenderCache, View};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let picture = FabricPicture::new(&Tied::of(band), &FabricOptions::default())?;
/// let mut sprites = RenderCache::default();
/// let pixels = sprites.paint(&picture, &View::whole(&picture, 0.5)?)?;
/// assert!(pixels.starts_with(b"\x89PNG"));
/// let corner = View { scale: 8.0, left: 0, top: 0, width: 64, height: 48 };
/// assert_ne!(sprites.paint(&picture, &corner)?, pixels);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Default)]
pub struct RenderCache {
    sprites: BTreeMap<(SpriteScale, SpriteKind), Sprite>,
    drawings: BTreeMap<[u8; 32], EndDrawing>,
    /// The ground of the last time: as it was drawn, and what of it was looked at.
    ground: Option<(String, View, Bitmap)>,
    /// Counts the pictures.
    now: u64,
}

impl RenderCache {
    /// Paints a view of a picture as PNG.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// use hitchwork_draw::fabric::{FabricOptions, FabricPicture, RenderCache, View};
    /// let picture = FabricPicture::new(&Tied::of(band), &FabricOptions::default())?;
    /// let mut cache = RenderCache::default();
    /// let png = cache.paint(&picture, &View::whole(&picture, 0.5)?)?;
    /// assert!(png.starts_with(b"\x89PNG"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// When the scale is not a number above 0, or the view has too many pixels.
    pub fn paint(&mut self, picture: &FabricPicture, view: &View) -> Result<Vec<u8>, Error> {
        let area = view.area()?;
        let transform = ViewTransform::new(picture, view)?;
        self.now += 1;
        let levels = picture.laid.by_level();
        let mut canvas = self.ground(picture, view, area)?;
        if picture.table {
            let shadow = self.shadow(picture, &levels, &transform, area)?;
            canvas.tint(&shadow, SHADOW, SHADOW_PERCENT);
        }
        for end in &picture.ends {
            self.lay(picture, &transform, &end.below, &mut canvas)?;
        }
        self.blit(picture, &levels, &transform, &mut canvas)?;
        for end in &picture.ends {
            self.lay(picture, &transform, &end.above, &mut canvas)?;
        }
        if !picture.marks.is_empty() {
            self.lay(picture, &transform, &picture.marks, &mut canvas)?;
        }
        self.tidy(transform.sprite_scale);
        encoded(&canvas)
    }

    /// What lies under the band and its shadow.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_precision_loss,
        reason = "the painter works in single precision"
    )]
    fn ground(
        &mut self,
        picture: &FabricPicture,
        view: &View,
        area: Area,
    ) -> Result<Bitmap, Error> {
        if !picture.table && picture.key.is_empty() {
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

    /// Blits the open threads, the chinks and the knots.
    fn blit(
        &mut self,
        picture: &FabricPicture,
        levels: &ByLevel,
        transform: &ViewTransform,
        canvas: &mut Bitmap,
    ) -> Result<(), Error> {
        let look = &picture.look;
        let (least, most) = transform.seen(canvas.area);
        let within = |(x, y): PlanePoint, wide: f64, up: f64, down: f64| {
            x + wide >= least.0 && x - wide <= most.0 && y + down >= least.1 && y - up <= most.1
        };
        let mut plan = SpritePlan::default();
        for open in &picture.laid.open {
            let point = open.place(look.half_row);
            let half_rows = open.half_rows();
            let down = units(half_rows) * look.half_row + COLUMN;
            if within(point, COLUMN, COLUMN, down) {
                if transform.is_large(COLUMN, down + COLUMN) {
                    self.run_past(picture, transform, open, canvas)?;
                    continue;
                }
                let colour = look.colour(open.colour);
                let what = SpriteKind::Open(colour, open.along, half_rows);
                let sprite = plan.sprite(what, open.colour);
                plan.places.push((sprite, transform.place(point)));
            }
        }
        for (level, columns) in levels.iter() {
            let y = units(level) * look.half_row;
            for run in runs(columns) {
                for corner in levels.chinks(level, run) {
                    let point = (units(corner) * COLUMN, y);
                    if within(point, COLUMN, COLUMN, COLUMN) {
                        let sprite = plan.sprite(SpriteKind::Chink, 0);
                        plan.places.push((sprite, transform.place(point)));
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
                let sprite = *known.get_or_insert_with(|| {
                    let what = SpriteKind::Knot(look.colour(knot.colour), knot.lie);
                    plan.sprite(what, knot.colour)
                });
                plan.places.push((sprite, transform.place(point)));
            }
        }
        if let Some(soft) = &picture.soft {
            self.plan_soft(soft, picture, transform, &mut plan, canvas)?;
        }
        self.rasterise(picture, transform, &plan.wanted)?;
        self.for_each(transform, &plan, |sprite, moved| {
            canvas.put(sprite, moved);
        });
        Ok(())
    }

    /// Plans what of a soft band is seen.
    fn plan_soft(
        &mut self,
        soft: &SoftLayout,
        picture: &FabricPicture,
        transform: &ViewTransform,
        plan: &mut SpritePlan,
        canvas: &mut Bitmap,
    ) -> Result<(), Error> {
        let look = &picture.look;
        let (least, most) = transform.seen(canvas.area);
        let within = |(x, y): PlanePoint, (left, up): PlanePoint, (right, down): PlanePoint| {
            x + right >= least.0 && x + left <= most.0 && y + down >= least.1 && y + up <= most.1
        };
        for open in &soft.open {
            let (from, to) = open.shape.extent();
            let (from, to) = (plus(from, ROOM, -1.0), plus(to, ROOM, 1.0));
            if !within(open.from, from, to) {
                continue;
            }
            if transform.is_large(to.0 - from.0, to.1 - from.1) {
                self.run_along(picture, transform, open, canvas)?;
                continue;
            }
            let what = SpriteKind::Course(look.colour(open.colour), open.shape);
            let sprite = plan.sprite(what, open.colour);
            plan.places.push((sprite, transform.place(open.from)));
        }
        let (up, down) = (plus((0.0, 0.0), ROOM, -2.0), plus((0.0, 0.0), ROOM, 2.0));
        for chink in &soft.chinks {
            if within(chink.centre, up, down) {
                let sprite = plan.sprite(SpriteKind::TurnedChink(chink.frame, chink.size), 0);
                plan.places.push((sprite, transform.place(chink.centre)));
            }
        }
        for (from, seam) in &soft.seams {
            if within(*from, up, down) {
                let sprite = plan.sprite(SpriteKind::Seam(*seam), 0);
                plan.places.push((sprite, transform.place(*from)));
            }
        }
        for knot in &soft.knots {
            if within(knot.body.centre, up, down) {
                let what = SpriteKind::Turned(look.colour(knot.colour), knot.lie, knot.body.frame);
                let sprite = plan.sprite(what, knot.colour);
                plan.places
                    .push((sprite, transform.place(knot.body.centre)));
            }
        }
        Ok(())
    }

    /// The shadow of the band on the table.
    fn shadow(
        &mut self,
        picture: &FabricPicture,
        levels: &ByLevel,
        transform: &ViewTransform,
        area: Area,
    ) -> Result<Mask, Error> {
        let look = &picture.look;
        let deviation = SHADOW_BLUR * transform.scale;
        let mut mask = Mask::clear(area.grown(reach(deviation)));
        let mut plan = SpritePlan::default();
        let (right, down) = SHADOW_MOVE;
        // The light does not turn with the band.
        let moved = if picture.upright {
            (right, down)
        } else {
            (-down, right)
        };
        let (least, most) = transform.seen(mask.area);
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
                        !transform.is_large(wide, 2.0 * look.half_row)
                    };
                    let further = behind
                        .iter()
                        .take_while(fits)
                        .count()
                        .max(1)
                        .min(behind.len());
                    let sprite = plan.sprite(SpriteKind::Outline(rest[further] - first), 0);
                    let point = (units(first) * COLUMN + moved.0, y);
                    plan.places.push((sprite, transform.place(point)));
                    rest = &rest[further..];
                    if rest.len() == 1 {
                        break;
                    }
                }
            }
        }
        for body in picture.soft.iter().flat_map(SoftLayout::bodies) {
            let point = plus(body.centre, moved, 1.0);
            let room = 2.0 * COLUMN.max(look.half_row);
            let (x, y) = point;
            if x + room < least.0 || x - room > most.0 || y + room < least.1 || y - room > most.1 {
                continue;
            }
            let sprite = plan.sprite(SpriteKind::Body(body.frame), 0);
            plan.places.push((sprite, transform.place(point)));
        }
        self.rasterise(picture, transform, &plan.wanted)?;
        self.for_each(transform, &plan, |sprite, moved| mask.put(sprite, moved));
        for end in &picture.ends {
            let mut drawn = format!(
                "<g transform=\"translate({} {})\" stroke=\"#000\" fill=\"none\">",
                moved.0, moved.1
            );
            end.write_shadow(&mut drawn);
            drawn.push_str("</g>");
            if let Some(painted) = self.drawn(picture, transform, &drawn, mask.area)? {
                mask.put(&painted, (0, 0));
            }
        }
        mask.blur(deviation);
        Ok(mask)
    }

    /// Gives every sprite of a plan with its place.
    fn for_each(
        &mut self,
        transform: &ViewTransform,
        plan: &SpritePlan,
        mut put: impl FnMut(&Bitmap, PixelPosition),
    ) {
        let key = |what: SpriteKind| (transform.sprite_scale, what);
        let mut sprites: Vec<Sprite> = plan
            .wanted
            .iter()
            .map(|(what, _)| self.sprites.remove(&key(*what)).expect("rasterised before"))
            .collect();
        for (sprite, place) in &plan.places {
            let (pixels, moved) = sprites[*sprite].at(*place, transform.finer);
            put(pixels, moved);
        }
        for ((what, _), sprite) in plan.wanted.iter().zip(sprites) {
            self.sprites.insert(key(*what), sprite);
        }
    }

    /// Rasterises the sprites that are missing.
    fn rasterise(
        &mut self,
        picture: &FabricPicture,
        transform: &ViewTransform,
        wanted: &[(SpriteKind, u16)],
    ) -> Result<(), Error> {
        let missing: Vec<(SpriteKind, u16)> = wanted
            .iter()
            .copied()
            .filter(|(what, _)| !self.sprites.contains_key(&(transform.sprite_scale, *what)))
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
                SpriteKind::Knot(_, lie) => {
                    look.ask_knot(*colour, lie);
                    drawn.push_str(look.knot(*colour, lie));
                    drawn.push_str("0\"/>");
                }
                SpriteKind::Open(_, along, half_rows) => {
                    look.ask_open_thread(*colour, along, half_rows);
                    let name = look.open_thread(*colour, along, half_rows);
                    drawn.push_str(&format!(r##"<use href="#{name}"/>"##));
                }
                SpriteKind::Chink => drawn.push_str(&format!(
                    r#"<path d="{}" fill="{CHINK}"/>"#,
                    hexagon(CHINK_WIDE, half_row * CHINK_HIGH, 0.0)
                )),
                SpriteKind::Outline(columns) => drawn.push_str(&format!(
                    r#"<path d="{}" stroke="{SHADOW}" stroke-width="{OUTLINE_STROKE}"/>"#,
                    hexagon(COLUMN, half_row, units(columns) * COLUMN),
                )),
                SpriteKind::Turned(_, lie, frame) => {
                    look.ask_turned_knot(*colour, lie, frame);
                    drawn.push_str(look.turned_knot(*colour, lie, frame));
                    drawn.push_str("0\"/>");
                }
                SpriteKind::Course(_, shape) => {
                    look.ask_course(*colour, shape);
                    let name = look.course(*colour, shape);
                    drawn.push_str(&format!(r##"<use href="#{name}"/>"##));
                }
                SpriteKind::TurnedChink(frame, size) => drawn.push_str(&format!(
                    r#"<path d="M{}{}" fill="{CHINK}"/>"#,
                    exactly(frame.chink_start(size)),
                    frame.chink(size)
                )),
                SpriteKind::Seam(seam) => drawn.push_str(&format!(
                    r#"<path d="M0 0{}" fill="{CHINK}"/>"#,
                    seam.outline()
                )),
                SpriteKind::Body(frame) => drawn.push_str(&format!(
                    r#"<path d="M{}{}" stroke="{SHADOW}" stroke-width="{OUTLINE_STROKE}"/>"#,
                    exactly(frame.outline_start()),
                    frame.outline()
                )),
            }
            drawn.push_str("</g>");
        }
        let tree = tree(&look.definitions(), &drawn)?;
        let scale = transform.fine_scale();
        for ((what, _), node) in missing.into_iter().zip(tree.root().children()) {
            let area = reached(node, scale, (0.0, 0.0));
            let sprite = Sprite::new(painted(node, scale, (0.0, 0.0), area), transform.finer);
            self.sprites.insert((transform.sprite_scale, what), sprite);
        }
        Ok(())
    }

    /// Lays something of an end on.
    fn lay(
        &mut self,
        picture: &FabricPicture,
        transform: &ViewTransform,
        drawn: &str,
        canvas: &mut Bitmap,
    ) -> Result<(), Error> {
        if let Some(painted) = self.drawn(picture, transform, drawn, canvas.area)? {
            canvas.put(&painted, (0, 0));
        }
        Ok(())
    }

    /// Lays an open thread on of which no sprite is made, because it is so long.
    fn run_past(
        &mut self,
        picture: &FabricPicture,
        transform: &ViewTransform,
        open: &Open,
        canvas: &mut Bitmap,
    ) -> Result<(), Error> {
        let mut look = picture.look.like();
        look.ask_open_thread(open.colour, open.along, open.half_rows());
        let (x, y) = open.place(look.half_row);
        let name = look.open_thread(open.colour, open.along, open.half_rows());
        let drawn = format!(
            r##"<g transform="{}"><use href="#{name}" x="{}" y="{}"/></g>"##,
            picture.turn(),
            exact(x),
            exact(y)
        );
        if let Some(painted) = self.kept(&look, transform, &drawn, canvas.area)? {
            canvas.put(&painted, (0, 0));
        }
        Ok(())
    }

    /// The same for one of a soft band.
    fn run_along(
        &mut self,
        picture: &FabricPicture,
        transform: &ViewTransform,
        open: &OpenCourse,
        canvas: &mut Bitmap,
    ) -> Result<(), Error> {
        let mut look = picture.look.like();
        look.ask_course(open.colour, open.shape);
        let drawn = format!(
            r##"<g transform="{}"><use href="#{}" x="{}" y="{}"/></g>"##,
            picture.turn(),
            look.course(open.colour, open.shape),
            exact(open.from.0),
            exact(open.from.1)
        );
        if let Some(painted) = self.kept(&look, transform, &drawn, canvas.area)? {
            canvas.put(&painted, (0, 0));
        }
        Ok(())
    }

    /// Something of an end, as much as is seen of it, and perhaps more.
    fn drawn(
        &mut self,
        picture: &FabricPicture,
        transform: &ViewTransform,
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
        self.kept(&look, transform, &drawn, seen)
    }

    /// Something drawn, painted as it was the last time if it was painted so.
    fn kept(
        &mut self,
        look: &FabricStyle,
        transform: &ViewTransform,
        drawn: &str,
        seen: Area,
    ) -> Result<Option<Arc<Bitmap>>, Error> {
        let definitions = look.definitions();
        let mut digest = Sha256::new();
        digest.update(&definitions);
        digest.update(drawn);
        let drawing = match self.drawings.entry(digest.finalize().into()) {
            Entry::Occupied(kept) => kept.into_mut(),
            Entry::Vacant(free) => free.insert(EndDrawing {
                tree: tree(&definitions, drawn)?,
                painted: None,
                needed: 0,
            }),
        };
        drawing.needed = self.now;
        let Some(node) = drawing.tree.root().children().first() else {
            return Ok(None);
        };
        let area = reached(node, transform.scale, transform.origin);
        let Some(common) = area.common(seen) else {
            return Ok(None);
        };
        if area.count() > LARGE {
            let painted = painted(node, transform.scale, transform.origin, common);
            return Ok(Some(Arc::new(painted)));
        }
        let (x, y) = transform.origin;
        let key = [transform.scale, x, y].map(f64::to_bits);
        match &drawing.painted {
            Some((made, kept)) if *made == key => Ok(Some(Arc::clone(kept))),
            _ => {
                let painted = Arc::new(painted(node, transform.scale, transform.origin, area));
                drawing.painted = Some((key, Arc::clone(&painted)));
                Ok(Some(painted))
            }
        }
    }

    /// Forgets what is not in use, where there is too much of it.
    fn tidy(&mut self, sprite_scale: SpriteScale) {
        let bytes =
            |sprites: &BTreeMap<_, Sprite>| sprites.values().map(Sprite::bytes).sum::<usize>();
        if bytes(&self.sprites) > BYTES_KEPT {
            self.sprites.retain(|(of, _), _| *of == sprite_scale);
            if bytes(&self.sprites) > BYTES_KEPT {
                self.sprites.clear();
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

/// As much room as the stroke of a thread, or half a knot, takes.
const ROOM: PlanePoint = (COLUMN, COLUMN);

fn exactly((x, y): PlanePoint) -> String {
    format!("{} {}", exact(x), exact(y))
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
fn reached(node: &Node, scale: f64, origin: PlanePoint) -> Area {
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
fn painted(node: &Node, scale: f64, origin: PlanePoint, area: Area) -> Bitmap {
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

/// Pixels as PNG, and not packed at all: whoever looks sits at the same machine, where packing and
/// unpacking take longer than the way there.
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
    encoder.set_compression(Compression::NoCompression);
    let written = encoder
        .write_header()
        .and_then(|mut writer| writer.write_image_data(&bytes));
    written.map_err(|error| Problem::Encoding {
        reason: error.to_string(),
    })?;
    Ok(out)
}
