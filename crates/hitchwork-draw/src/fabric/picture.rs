//! The finished band, laid out and written as SVG.

use std::collections::BTreeSet;
use std::fmt::Write;

use hitchwork_core::band::Band;
use hitchwork_core::colour::Srgb;
use hitchwork_core::fabric::Thread;
use hitchwork_core::tied::Tied;

use super::axes::{self, Aspect};
use super::ends::{Drawn, EndSource, Which};
use super::laid::{Layout, runs};
use super::pen::{Bounds, exact, pair, push_number, short, units};
use super::size::check_size;
use super::soft::{Rim, SoftLayout};
use super::style::{COLUMN, FabricStyle};
use crate::error::{Error, Problem};
use crate::font::FAMILY;
use crate::ink::{PlanePoint, TextStyle, lines, title};
use crate::xml::escaped;

/// The room around the band, in hundredths of a column.
const MARGIN: f64 = 130.0;
/// The words that say what the marks mean, and how far apart their lines are, in hundredths of a
/// column: about a millimetre and a half on a band of floss.
const KEY: TextStyle = TextStyle::regular(130.0);
const KEY_LINE: f64 = 180.0;
/// The light comes from the upper left, and not from a point.
pub(super) const SHADOW_MOVE: PlanePoint = (22.0, 40.0);
pub(super) const SHADOW_BLUR: f64 = 26.0;
pub(super) const SHADOW_PERCENT: u8 = 38;
pub(super) const SHADOW: Srgb = Srgb::new(0x2b, 0x21, 0x15);
/// Where four knots meet it is dark.
pub(super) const CHINK: Srgb = Srgb::new(0x24, 0x1c, 0x18);
/// How far that reaches to the sides, and up and down in half rows.
pub(super) const CHINK_WIDE: f64 = 30.0;
pub(super) const CHINK_HIGH: f64 = 0.3;
/// The outline of the knots is drawn with a stroke, so that no gap is left between them.
pub(super) const OUTLINE_STROKE: u8 = 20;
const LEAST_PIXELS_PER_MM: f64 = 0.01;
const MOST_PIXELS_PER_MM: f64 = 1_000.0;

/// What of a band is drawn, and how.
#[derive(Clone, Debug)]
pub struct FabricOptions {
    /// Draw the band with at most this many repeats; all of them if there is no number.
    /// A band shortened like this is tied again and has its lead-out and its finish.
    pub repeats: Option<u32>,
    /// Whether the start lies at the top. Otherwise the band lies along, its start at the
    /// left and its left edge below.
    pub upright: bool,
    /// The picture's own size: this many pixels for a millimetre of the band.
    pub pixels_per_mm: f64,
    /// Whether the band lies on a table and throws a shadow on it. Otherwise there is
    /// nothing behind it.
    pub table: bool,
    /// Marks the axes, glides and centres of the endless repeat of the knots or the colours.
    pub symmetry: Option<Aspect>,
    /// Pins a band straight that bends by itself. One whose symmetry is marked is pinned anyway.
    pub straight: bool,
}

impl Default for FabricOptions {
    fn default() -> Self {
        Self {
            repeats: None,
            upright: false,
            pixels_per_mm: 10.0,
            table: true,
            symmetry: None,
            straight: false,
        }
    }
}

pub(super) fn check_scale(options: &FabricOptions) -> Result<(), Error> {
    let found = options.pixels_per_mm;
    if (LEAST_PIXELS_PER_MM..=MOST_PIXELS_PER_MM).contains(&found) {
        return Ok(());
    }
    let (least, most) = (LEAST_PIXELS_PER_MM, MOST_PIXELS_PER_MM);
    Err(Problem::PixelsPerMm { found, least, most }.into())
}

/// The finished band, laid out but not yet drawn: where everything lies and how it looks.
///
/// One picture can be written as SVG, and be painted in pixels part by part with [`RenderCache`](super::RenderCache).
pub struct FabricPicture {
    pub(super) title: String,
    pub(super) look: FabricStyle,
    /// What lies on the lattice,
    pub(super) laid: Layout,
    /// or where everything of a soft band lies.
    pub(super) soft: Option<SoftLayout>,
    /// Start and finish.
    pub(super) ends: Vec<Drawn>,
    /// The colours of their wraps.
    pub(super) end_rounds: BTreeSet<u16>,
    /// What is marked on it, and what stands below it to say what the marks mean, in lines.
    pub(super) marks: String,
    pub(super) key: Vec<String>,
    pub(super) bounds: Bounds,
    pub(super) upright: bool,
    pub(super) table: bool,
    pub(super) pixels_per_unit: f64,
    pub(super) words: String,
}

/// What of the plane a picture shows, in hundredths of a column, the band lying as wished.
pub(super) struct ViewBox {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) width: f64,
    pub(super) height: f64,
}

impl FabricPicture {
    /// Lays out the finished band.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// use hitchwork_draw::fabric::{FabricOptions, FabricPicture};
    /// let tied = Tied::of(band);
    /// let (wide, high) = FabricPicture::new(&tied, &FabricOptions::default())?.size();
    /// assert!(wide > high, "it lies along");
    /// let none = FabricOptions { repeats: Some(0), ..FabricOptions::default() };
    /// assert!(FabricPicture::new(&tied, &none).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// When the picture would show too many knots, no repeat at all, or its size in pixels
    /// for a millimetre is absurd.
    pub fn new(tied: &Tied, options: &FabricOptions) -> Result<Self, Error> {
        check_scale(options)?;
        let band = tied.band();
        let repeats = options.repeats.unwrap_or(u32::MAX).min(band.repeats());
        if repeats == 0 {
            return Err(Problem::NoRepeats.into());
        }
        check_size(band, repeats)?;
        if repeats == band.repeats() {
            return Ok(Self::whole(tied, repeats, options));
        }
        let mut parts = band.clone().into_parts();
        parts.repeats = repeats;
        let shorter = Band::new(parts).expect("a band with fewer repeats is a band");
        Ok(Self::whole(&Tied::of(shorter), band.repeats(), options))
    }

    /// Its own width and height in pixels.
    #[must_use]
    pub fn size(&self) -> (f64, f64) {
        let ViewBox { width, height, .. } = self.frame();
        // As it is written, with one decimal.
        let pixels = |units: f64| (units * self.pixels_per_unit * 10.0).round() / 10.0;
        (pixels(width), pixels(height))
    }

    pub(super) fn empty(tied: &Tied, options: &FabricOptions, what: &str, words: String) -> Self {
        let band = tied.band();
        let look = FabricStyle::new(band, options.upright, what);
        let half_rows = f64::from(tied.fabric().half_rows());
        let bounds = Bounds::around(
            (0.0, -look.half_row),
            (
                COLUMN * f64::from(band.thread_count()),
                (half_rows - 1.0) * look.half_row,
            ),
        );
        Self {
            title: title(band).to_owned(),
            look,
            laid: Layout::nothing(band.thread_count(), None),
            soft: None,
            ends: Vec::new(),
            end_rounds: BTreeSet::new(),
            marks: String::new(),
            key: Vec::new(),
            bounds,
            upright: options.upright,
            table: options.table,
            pixels_per_unit: options.pixels_per_mm * band.gauge().column_mm / COLUMN,
            words,
        }
    }

    fn whole(tied: &Tied, in_all: u32, options: &FabricOptions) -> Self {
        let mut words = description(tied, in_all, options);
        let marked = options.symmetry.map(|aspect| {
            let pattern = axes::pattern(tied.band(), aspect);
            words.push_str(&axes::words(aspect, pattern.as_ref()));
            pattern
        });
        let is_pinned = tied.lay().is_solved() && (options.straight || options.symmetry.is_some());
        let what = if is_pinned { "whole pinned" } else { "whole" };
        let mut picture = Self::empty(tied, options, what, words);
        picture.lay(tied, options);
        if let (Some(aspect), Some(pattern)) = (options.symmetry, &marked) {
            let room = picture.frame().width - 2.0 * MARGIN;
            picture.key = lines(&axes::key(aspect, pattern.as_ref()), KEY, room);
        }
        if let Some(pattern) = marked.flatten() {
            let within = picture.soft.as_ref().map(SoftLayout::knot_bounds);
            picture.marks = axes::marks(tied, &pattern, picture.look.half_row, within)
                .expect("writing to a string does not fail");
        }
        picture
    }

    /// Lays the whole band with its ends.
    fn lay(&mut self, tied: &Tied, options: &FabricOptions) {
        let (band, fabric) = (tied.band(), tied.fabric());
        let (soft, rims) = soft_layout(tied, options).unzip();
        let mut laid = match soft {
            None => Layout::whole(fabric),
            Some(_) => Layout::nothing(fabric.thread_count(), None),
        };
        if let Some(soft) = &soft {
            self.bounds = soft.bounds(self.look.thread);
        }
        self.soft = soft;
        let [start_rim, finish_rim] = [0, 1].map(|end| rims.as_ref().map(|rims| &rims[end]));
        let colours = |order: &[Thread]| {
            order
                .iter()
                .map(|thread| fabric.colour(*thread))
                .collect::<Vec<_>>()
        };
        let first_order: Vec<_> = fabric
            .passes()
            .next()
            .map(|pass| pass.order_before().to_vec())
            .unwrap_or_default();
        let (first_colours, last_colours) = (colours(&first_order), colours(fabric.final_order()));
        let (first_levels, last_levels) = (fabric.first_levels(), fabric.last_levels());
        let (first_seams, last_seams) = (laid.first_seams.clone(), laid.last_seams());
        let start = EndSource {
            which: Which::Start,
            end: band.start(),
            colours: &first_colours,
            edge: &first_levels,
            seams: &first_seams,
            rim: start_rim,
        };
        let finish = EndSource {
            which: Which::Finish,
            end: band.finish(),
            colours: &last_colours,
            edge: &last_levels,
            seams: &last_seams,
            rim: finish_rim,
        };
        for end in [start, finish] {
            let drawn = end.draw(&mut self.look, &mut self.bounds);
            for (at, seam) in (0_u16..).zip(drawn.seams.iter().flatten()) {
                let fabric_seam = end.seams[usize::from(at)];
                let (from, to) = (*seam.min(&fabric_seam), *seam.max(&fabric_seam));
                if end.rim.is_none() {
                    laid.run_openly(at, from, to, end.colours[usize::from(at)]);
                }
            }
            laid.bundle_knots.extend(&drawn.knots);
            if let (Some(soft), Some(rim)) = (&mut self.soft, end.rim) {
                soft.bundle_knots.extend(&drawn.bodies);
                soft.run_to_end(rim, &drawn.meets, end.colours);
                laid.bundle_knots.clear();
            }
            self.ends.push(drawn);
        }
        self.end_rounds = self.look.rounds().clone();
        self.show(laid);
    }

    /// What has been laid is what is shown.
    pub(super) fn show(&mut self, laid: Layout) {
        for knot in &laid.knots {
            self.look.ask_knot(knot.colour, knot.lie);
        }
        for open in &laid.open {
            self.look
                .ask_open_thread(open.colour, open.along, open.half_rows());
        }
        if let Some(soft) = &self.soft {
            soft.ask(&mut self.look);
        }
        self.laid = laid;
    }

    fn write_knots(&self, out: &mut String) {
        if let Some(soft) = &self.soft {
            soft.write_knots(out, &self.look);
        }
        let across = across(self.laid.threads);
        let mut down = Numerals::default();
        let half_row = self.look.half_row;
        let mut from = 0;
        for to in &self.laid.passes {
            out.push_str("<g>");
            for knot in &self.laid.knots[from..*to] {
                out.push_str(self.look.knot(knot.colour, knot.lie));
                out.push_str(&across[usize::from(knot.column)]);
                out.push_str(r#"" y=""#);
                out.push_str(down.at(knot.level.into(), |level| units(level) * half_row));
                out.push_str(r#""/>"#);
            }
            out.push_str("</g>\n");
            from = *to;
        }
    }

    fn write_open_threads(&self, out: &mut String) {
        if let Some(soft) = &self.soft {
            soft.write_open_threads(out, &self.look);
        }
        for open in &self.laid.open {
            out.push_str(r##"<use href="#"##);
            let half_rows = open.half_rows();
            out.push_str(self.look.open_thread(open.colour, open.along, half_rows));
            out.push_str(r#"" x="#);
            let (x, y) = open.place(self.look.half_row);
            place(out, x, y);
        }
    }

    /// The outline of the knots for the shadow, on every level one stretch for each run of
    /// knots that touch; and the dark in the chinks where knots meet corner to corner.
    fn silhouette(&self) -> (String, String) {
        if let Some(soft) = &self.soft {
            return soft.silhouette();
        }
        let across = across(self.laid.threads);
        let half_row = self.look.half_row;
        let (up, right) = (short(half_row), short(COLUMN));
        let half = half_row * CHINK_HIGH;
        let (wide, high) = (short(CHINK_WIDE), short(half));
        let sides = format!("l-{wide} {high} {wide} {high} {wide}-{high}z");
        let (there, back) = (
            format!("l{right}-{up}h"),
            format!("l{right} {up}-{right} {up}h-"),
        );
        let (mut path, mut chinks) = (String::new(), String::new());
        let (mut wides, mut y, mut chink_y) = (Numerals::default(), String::new(), String::new());
        let start = |out: &mut String, corner: i64, y: &str| {
            out.push('M');
            out.push_str(&across[usize::try_from(corner).expect("columns count from 1")]);
            out.push(' ');
            out.push_str(y);
        };
        let levels = self.laid.by_level();
        for (level, columns) in levels.iter() {
            y.clear();
            push_number(&mut y, units(level) * half_row);
            chink_y.clear();
            push_number(&mut chink_y, units(level) * half_row - half);
            for run in runs(columns) {
                let (first, last) = (run[0], run[run.len() - 1]);
                for corner in levels.chinks(level, run) {
                    start(&mut chinks, corner, &chink_y);
                    chinks.push_str(&sides);
                }
                let wide = wides.at(last - first, |columns| units(columns) * COLUMN);
                start(&mut path, first - 1, &y);
                for piece in [&there, wide, &back, wide, "z"] {
                    path.push_str(piece);
                }
            }
        }
        (path, chinks)
    }

    /// Writes the layers, from the shadow upwards.
    pub(super) fn write_layers(&self, out: &mut String) {
        let turn = self.turn();
        let (outline, chinks) = self.silhouette();
        out.reserve(2 * outline.len() + chinks.len() + 45 * self.laid.knots.len() + 50_000);
        if self.table {
            write!(
                out,
                r##"<g transform="translate({})" opacity=".{SHADOW_PERCENT}"><g filter="url(#{}blur)"><g transform="{turn}" fill="none" stroke="{SHADOW}">"##,
                pair(SHADOW_MOVE),
                self.look.prefix
            )
            .expect("writing to a string does not fail");
            for end in &self.ends {
                end.write_shadow(out);
            }
            out.push_str(r#"<path d=""#);
            out.push_str(&outline);
            writeln!(
                out,
                r#"" fill="{SHADOW}" stroke-width="{OUTLINE_STROKE}"/></g></g></g>"#
            )
            .expect("writing to a string does not fail");
        }
        out.push_str("<g transform=\"");
        out.push_str(turn);
        out.push_str("\">\n<g>");
        self.write_ends(out, |end| &end.below);
        out.push_str("</g>\n<g>");
        self.write_open_threads(out);
        out.push_str("</g>\n<g><path d=\"");
        out.push_str(&chinks);
        out.push_str("\" fill=\"");
        out.push_str(&CHINK.to_string());
        out.push_str("\"/></g>\n<g>");
        self.write_knots(out);
        out.push_str("</g>\n<g>");
        self.write_ends(out, |end| &end.above);
        out.push_str(&self.marks);
        out.push_str("</g>\n</g>\n</svg>\n");
    }

    fn write_ends(&self, out: &mut String, layer: impl Fn(&Drawn) -> &str) {
        for end in &self.ends {
            out.push_str(layer(end));
        }
    }

    /// How what is drawn upright is turned, so that it lies as is wished.
    pub(super) fn turn(&self) -> &'static str {
        if self.upright { "" } else { "rotate(-90)" }
    }

    pub(super) fn frame(&self) -> ViewBox {
        let Bounds { least, most } = self.bounds;
        let (least, most) = (
            (least.0 - MARGIN, least.1 - MARGIN),
            (most.0 + MARGIN, most.1 + MARGIN),
        );
        let (across, down) = (most.0 - least.0, most.1 - least.1);
        let (x, y, width, height) = if self.upright {
            (least.0, least.1, across, down)
        } else {
            (least.1, -most.0, down, across)
        };
        ViewBox {
            x,
            y,
            width,
            height: height + self.key_height(),
        }
    }

    /// How high the words below the band are, with the room around them.
    fn key_height(&self) -> f64 {
        match self.key.len() {
            0 => 0.0,
            lines => {
                f64::from(u32::try_from(lines).expect("few lines")) * KEY_LINE + KEY_LINE / 2.0
            }
        }
    }

    /// The words below the band.
    fn key(&self) -> String {
        if self.key.is_empty() {
            return String::new();
        }
        let ViewBox { x, y, height, .. } = self.frame();
        let mut key = format!(r#"<g class="key" font-family="{FAMILY}, sans-serif">"#);
        let mut base = y + height - self.key_height() + KEY_LINE / 2.0;
        for line in &self.key {
            KEY.write(&mut key, (x + MARGIN, base), line)
                .expect("writing to a string does not fail");
            base += KEY_LINE;
        }
        key + "</g>\n"
    }

    /// The definitions and the ground of a picture, under names that begin so: the table, and the
    /// words on it.
    pub(super) fn ground(&self, prefix: &str) -> (String, String) {
        if !self.table {
            return (String::new(), self.key());
        }
        let ViewBox {
            x,
            y,
            width,
            height,
        } = self.frame();
        let (x, y, width, height) = (exact(x), exact(y), exact(width), exact(height));
        // A band that bends may be as high as it is long.
        let blurred = match self.soft {
            None => r#"x="-5%" y="-20%" width="110%" height="140%""#.to_owned(),
            Some(_) => format!(
                r#"filterUnits="userSpaceOnUse" x="{x}" y="{y}" width="{width}" height="{height}""#
            ),
        };
        (
            format!(
                r##"<linearGradient id="{prefix}table" x2="0" y2="1"><stop stop-color="#f6f3ec"/><stop offset="1" stop-color="#e9e4d9"/></linearGradient>
<filter id="{prefix}blur" {blurred}><feGaussianBlur stdDeviation="{SHADOW_BLUR}"/></filter>
"##
            ),
            format!(
                r##"<rect x="{x}" y="{y}" width="{width}" height="{height}" rx="90" fill="url(#{prefix}table)"/>
{}"##,
                self.key()
            ),
        )
    }

    /// How its SVG begins.
    pub(super) fn opening(&self) -> String {
        let (own_width, own_height) = self.size();
        let ViewBox {
            x,
            y,
            width,
            height,
        } = self.frame();
        format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{}" height="{}" viewBox="{} {} {} {}">"#,
            exact(own_width),
            exact(own_height),
            exact(x),
            exact(y),
            exact(width),
            exact(height),
        )
    }

    /// Writes the picture as SVG.
    #[must_use]
    pub fn svg(&self) -> String {
        let (cloth, ground) = self.ground(&self.look.prefix);
        let mut out = format!(
            "{}\n<title>{}</title>\n<desc>{}</desc>\n<defs>\n{cloth}{}</defs>\n{ground}",
            self.opening(),
            escaped(&self.title),
            escaped(&self.words),
            self.look.definitions(),
        );
        self.write_layers(&mut out);
        out
    }
}

/// Where everything lies on a band that does not lie on the lattice, and where it begins and ends.
fn soft_layout(tied: &Tied, options: &FabricOptions) -> Option<(SoftLayout, [Rim; 2])> {
    let lay = tied.lay();
    if !lay.is_solved() {
        return None;
    }
    let (fabric, gauge) = (tied.fabric(), tied.band().gauge());
    Some(if options.straight || options.symmetry.is_some() {
        SoftLayout::whole(fabric, &lay.straightened(fabric), &gauge)
    } else {
        SoftLayout::whole(fabric, lay, &gauge)
    })
}

/// Where each column lies, from 0 for the left edge, as it is written.
fn across(threads: u16) -> Vec<String> {
    let column = |column| exact(f64::from(column) * COLUMN);
    (0..=threads).map(column).collect()
}

/// Numbers that are written again and again, by what they stand for.
#[derive(Default)]
struct Numerals {
    texts: Vec<String>,
}

impl Numerals {
    /// What stands for a level or a width not far below 0.
    fn at(&mut self, index: i64, number: impl Fn(i64) -> f64) -> &str {
        const BELOW: i64 = 8;
        let place = usize::try_from(index + BELOW).expect("not far below 0");
        if self.texts.len() <= place {
            self.texts.resize_with(place + 1, String::new);
        }
        let text = &mut self.texts[place];
        if text.is_empty() {
            push_number(text, number(index));
        }
        text
    }
}

/// Where something is placed, up to the end of its element: the value of `x`, and `y`.
fn place(out: &mut String, x: f64, y: f64) {
    out.push('"');
    push_number(out, x);
    out.push_str(r#"" y=""#);
    push_number(out, y);
    out.push_str(r#""/>"#);
}

fn description(tied: &Tied, in_all: u32, options: &FabricOptions) -> String {
    let band = tied.band();
    let mut colours: Vec<&str> = Vec::new();
    for colour in band.colours() {
        if !colours.contains(&colour.name.as_str()) {
            colours.push(&colour.name);
        }
    }
    let gauge = band.gauge();
    let repeats = band.repeats();
    let shown = match (repeats, in_all) {
        (1, 1) => "1 repeat".to_owned(),
        (few, all) if few < all => format!("Drawn with {few} of its {all} repeats"),
        (all, _) => format!("{all} repeats"),
    };
    let lay = tied.lay();
    let (width_mm, length_mm) = if lay.is_solved() {
        (lay.median_width_mm(), lay.length_mm())
    } else {
        (
            gauge.width_mm(band.thread_count()),
            gauge.length_mm(f64::from(tied.fabric().half_rows())),
        )
    };
    format!(
        "The finished band, {}. {} threads in {}: {}. {shown}; about {:.0} mm wide and {:.0} mm long without its tails, which are drawn short.",
        if options.upright {
            "its start at the top"
        } else {
            "its start at the left"
        },
        band.thread_count(),
        if colours.len() == 1 {
            "1 colour".to_owned()
        } else {
            format!("{} colours", colours.len())
        },
        colours.join(", "),
        width_mm,
        length_mm,
    )
}
