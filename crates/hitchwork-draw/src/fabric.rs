//! The finished band as it lies on the table.
//!
//! Every knot shows as the two wraps of its working thread, lying as they really lie;
//! where a thread runs openly from one knot to the next it is seen running there; the
//! ends have the shape in which they are tied. Columns and half rows are drawn at the
//! band's gauge; the tails are shown short.

mod axes;
mod ends;
mod look;
pub(crate) mod pen;
mod tile;

use std::fmt::Write;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::fabric::{Fabric, Pass, Thread};

pub use self::axes::Aspect;
use self::ends::{Setting, Which};
use self::look::{Along, COLUMN, Lie, Look};
use self::pen::{Bounds, push_number, short};
pub use self::tile::tile;
use crate::error::{Error, Problem};
use crate::ink::title;
use crate::xml::escaped;

/// The most knots that one picture shows: what the painter still takes.
const MAX_KNOTS: u64 = 40_000;
/// The room around the band, in hundredths of a column.
const MARGIN: f64 = 130.0;
const LEAST_PIXELS_PER_MM: f64 = 0.01;
const MOST_PIXELS_PER_MM: f64 = 1_000.0;

/// What of a band is drawn, and how.
#[derive(Clone, Debug)]
pub struct Options {
    /// Draw the band with at most so many repeats; all of them if there is no number.
    /// A band shortened so is tied anew and has its lead-out and its finish.
    pub repeats: Option<u32>,
    /// Whether the start lies at the top. Otherwise the band lies along, its start at the
    /// left and its left edge below.
    pub upright: bool,
    /// The picture's own size: so many pixels for a millimetre of the band.
    pub pixels_per_mm: f64,
    /// Whether the band lies on a table and throws a shadow on it. Otherwise there is
    /// nothing behind it.
    pub table: bool,
    /// Marks the axes, glides and centres of the endless repeat of the knots or the colours.
    pub symmetry: Option<Aspect>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            repeats: None,
            upright: false,
            pixels_per_mm: 10.0,
            table: true,
            symmetry: None,
        }
    }
}

/// Draws the finished band as SVG.
///
/// Each way in which a knot can look is defined once and placed where it lies; ids begin
/// with letters made from the palette and the gauge, so that several pictures can stand
/// in one page. The picture has a title and a description for those who do not see it.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, fabric::Fabric, knot::Kind, row::Row};
/// use hitchwork_draw::fabric::{Options, svg};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let whole = svg(&band, &Fabric::of(&band), &Options::default())?;
/// let short = svg(&band, &Fabric::of(&band), &Options { repeats: Some(3), ..Options::default() })?;
/// assert!(short.len() < whole.len());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the picture would show too many knots, no repeat at all, or its size in pixels
/// for a millimetre is absurd.
pub fn svg(band: &Band, fabric: &Fabric, options: &Options) -> Result<String, Error> {
    check_scale(options)?;
    let repeats = options.repeats.unwrap_or(u32::MAX).min(band.repeats());
    if repeats == 0 {
        return Err(Problem::NoRepeats.into());
    }
    check_size(band, repeats)?;
    if repeats == band.repeats() {
        return Ok(Picture::new(band, fabric, repeats, options).write(band, options.table));
    }
    let mut parts = band.clone().into_parts();
    parts.repeats = repeats;
    let shorter = Band::new(parts).expect("a band with fewer repeats is a band");
    Ok(
        Picture::new(&shorter, &Fabric::of(&shorter), band.repeats(), options)
            .write(band, options.table),
    )
}

fn check_scale(options: &Options) -> Result<(), Error> {
    let found = options.pixels_per_mm;
    if (LEAST_PIXELS_PER_MM..=MOST_PIXELS_PER_MM).contains(&found) {
        return Ok(());
    }
    let (least, most) = (LEAST_PIXELS_PER_MM, MOST_PIXELS_PER_MM);
    Err(Problem::PixelsPerMm { found, least, most }.into())
}

/// How many knots a part has, tied once.
pub(crate) fn knots_of(band: &Band, part: Part) -> u64 {
    band.rows(part).iter().map(|row| row.len() as u64).sum()
}

fn check_size(band: &Band, repeats: u32) -> Result<(), Error> {
    let once = knots_of(band, Part::LeadIn) + knots_of(band, Part::LeadOut);
    let found = once + knots_of(band, Part::Repeat) * u64::from(repeats);
    if found > MAX_KNOTS {
        return Err(Problem::TooManyKnots {
            found,
            most: MAX_KNOTS,
            repeats: repeats_that_fit(band).into(),
        }
        .into());
    }
    Ok(())
}

/// With how many of its repeats a band can be drawn: all of them, fewer where it has too
/// many knots for one picture, or 0 where not even one fits.
///
/// ```
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// # let band = |repeats| Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats,
/// #     ..BandParts::default() });
/// use hitchwork_draw::fabric::repeats_that_fit;
/// // `band`: so many repeats of two knots.
/// assert_eq!(repeats_that_fit(&band(40)?), 40);
/// assert_eq!(repeats_that_fit(&band(40_000)?), 20_000);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[must_use]
pub fn repeats_that_fit(band: &Band) -> u32 {
    let once = knots_of(band, Part::LeadIn) + knots_of(band, Part::LeadOut);
    let fit = MAX_KNOTS.saturating_sub(once) / knots_of(band, Part::Repeat).max(1);
    u32::try_from(fit).map_or(band.repeats(), |fit| fit.min(band.repeats()))
}

/// How many knots of a band are drawn that is too long to be drawn whole.
const ENOUGH_KNOTS: u64 = 4_000;

/// With how many repeats a band is drawn where nobody says: all of them, or as many as
/// show well what it is like where they are too many for one picture.
#[must_use]
pub fn repeats_to_draw(band: &Band) -> u32 {
    let fit = repeats_that_fit(band);
    if fit == band.repeats() || fit == 0 {
        return band.repeats();
    }
    let enough = ENOUGH_KNOTS / knots_of(band, Part::Repeat).max(1);
    u32::try_from(enough).unwrap_or(fit).clamp(1, fit)
}

/// What has been tied so far.
struct Tied {
    /// For each position: the seam that its thread came out of, once it has been tied.
    left_at: Vec<Option<i64>>,
    /// For each position: the seam of its first knot.
    first_seams: Vec<i64>,
    /// The levels and columns of the knots.
    places: Vec<(i64, i64)>,
    /// Where the columns lie, and the levels, as they are written.
    across: Vec<String>,
    down: Numerals,
    /// Only what lies in these half rows is drawn, and from the first of them on.
    window: Option<(i64, i64)>,
}

impl Tied {
    fn nothing(threads: usize, window: Option<(i64, i64)>) -> Self {
        Self {
            left_at: vec![None; threads],
            first_seams: vec![-1; threads],
            places: Vec::new(),
            across: across(threads),
            down: Numerals::default(),
            window,
        }
    }

    /// Whether something between two levels touches what is drawn.
    fn shows(&self, from: i64, to: i64) -> bool {
        self.window
            .is_none_or(|(first, end)| to >= first - 2 && from <= end + 2)
    }

    /// A level as it is drawn.
    fn drawn(&self, level: i64) -> i64 {
        level - self.window.map_or(0, |(first, _)| first)
    }
}

/// The layers of a picture, from the table upwards.
struct Picture {
    look: Look,
    threads: usize,
    bounds: Bounds,
    upright: bool,
    pixels_per_unit: f64,
    shadow: String,
    chinks: String,
    under: String,
    open: String,
    knots: String,
    above: String,
    words: String,
}

impl Picture {
    fn empty(band: &Band, fabric: &Fabric, options: &Options, what: &str, words: String) -> Self {
        let look = Look::new(band, options.upright, what);
        let half_rows = f64::from(fabric.half_rows());
        let bounds = Bounds::around(
            (0.0, -look.half_row),
            (
                COLUMN * f64::from(band.thread_count()),
                (half_rows - 1.0) * look.half_row,
            ),
        );
        Self {
            look,
            threads: usize::from(band.thread_count()),
            bounds,
            upright: options.upright,
            pixels_per_unit: options.pixels_per_mm * band.gauge().column_mm / COLUMN,
            shadow: String::new(),
            chinks: String::new(),
            under: String::new(),
            open: String::new(),
            knots: String::new(),
            above: String::new(),
            words,
        }
    }

    fn new(band: &Band, fabric: &Fabric, in_all: u32, options: &Options) -> Self {
        let mut words = description(band, fabric, in_all, options);
        let marked = options.symmetry.map(|aspect| {
            let pattern = axes::pattern(band, aspect);
            words.push_str(&axes::words(aspect, pattern.as_ref()));
            pattern
        });
        let mut picture = Self::empty(band, fabric, options, "whole", words);
        let written = "writing to a string does not fail";
        picture.draw(band, fabric).expect(written);
        if let Some(pattern) = marked.flatten() {
            picture.mark(band, fabric, &pattern).expect(written);
        }
        picture
    }

    /// Ties one pass: its knots, and the open threads that lead to them.
    fn tie(&mut self, pass: Pass<'_>, fabric: &Fabric, tied: &mut Tied) {
        let mut order: Vec<Thread> = pass.order_before().to_vec();
        let count = order.len();
        self.knots.push_str("<g>");
        for knot in pass.knots() {
            let level = i64::from(knot.level);
            let right = usize::from(knot.column.number());
            for at in [right - 1, right] {
                match tied.left_at[at].replace(level) {
                    Some(seam) if tied.shows(seam, level) => {
                        let (from, to) = (tied.drawn(seam), tied.drawn(level) - 1);
                        self.open_thread(at, count, from, to, fabric.colour(order[at]));
                    }
                    Some(_) => {}
                    None => tied.first_seams[at] = level - 1,
                }
            }
            if knot.kind.changes_places() {
                order.swap(right - 1, right);
            }
            if !tied.shows(level, level) {
                continue;
            }
            let level = tied.drawn(level);
            let colour = fabric.colour(knot.working);
            self.knots
                .push_str(self.look.knot(colour, Lie::of(knot.kind)));
            self.knots.push_str(&tied.across[right]);
            self.knots.push_str(r#"" y=""#);
            let half_row = self.look.half_row;
            self.knots
                .push_str(tied.down.at(level, |level| units(level) * half_row));
            self.knots.push_str(r#""/>"#);
            tied.places.push((level, i64::from(knot.column.number())));
        }
        self.knots.push_str("</g>\n");
    }

    fn draw(&mut self, band: &Band, fabric: &Fabric) -> std::fmt::Result {
        let count = usize::from(band.thread_count());
        let mut tied = Tied::nothing(count, None);
        for pass in fabric.passes() {
            self.tie(pass, fabric, &mut tied);
        }
        let Tied {
            left_at,
            first_seams,
            mut places,
            ..
        } = tied;
        let last_seams: Vec<i64> = left_at.iter().map(|seam| seam.unwrap_or(-1)).collect();

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
        let start = Setting {
            which: Which::Start,
            end: band.start(),
            colours: &first_colours,
            edge: &first_levels,
            seams: &first_seams,
        };
        let finish = Setting {
            which: Which::Finish,
            end: band.finish(),
            colours: &last_colours,
            edge: &last_levels,
            seams: &last_seams,
        };
        for end in [start, finish] {
            let drawn = end.draw(&mut self.look, &mut self.bounds);
            for (at, seam) in drawn.seams.iter().flatten().enumerate() {
                let (from, to) = (*seam.min(&end.seams[at]), *seam.max(&end.seams[at]));
                self.open_thread(at, count, from, to, end.colours[at]);
            }
            self.under.push_str(&drawn.below);
            self.above.push_str(&drawn.above);
            for (path, width) in drawn.shadow {
                write!(
                    self.shadow,
                    r##"<path d="{path}" stroke-width="{}"/>"##,
                    short(width)
                )?;
            }
            places.extend(drawn.knots);
        }
        self.silhouette(places);
        Ok(())
    }

    fn open_thread(&mut self, at: usize, count: usize, from: i64, to: i64, colour: u16) {
        if to <= from {
            return;
        }
        let along = match at {
            0 => Along::LeftEdge,
            at if at + 1 == count => Along::RightEdge,
            _ => Along::Inside,
        };
        self.open.push_str(r##"<use href="#"##);
        self.open
            .push_str(self.look.open_thread(colour, along, to - from));
        self.open.push_str(r#"" x="#);
        let at = f64::from(u16::try_from(at).expect("MAX_THREADS fits"));
        place(
            &mut self.open,
            (at + 0.5) * COLUMN,
            (units(from) + 0.5) * self.look.half_row,
        );
    }

    /// The outline of the knots for the shadow, on every level one stretch for each run of
    /// knots that touch; and the dark in the chinks where knots meet corner to corner.
    fn silhouette(&mut self, places: Vec<(i64, i64)>) {
        let across = across(self.threads);
        let levels = ByLevel::new(places);
        let half_row = self.look.half_row;
        let (up, right) = (short(half_row), short(COLUMN));
        let (half, high) = (half_row * 0.3, short(half_row * 0.3));
        let sides = format!("l-30 {high} 30 {high} 30-{high}z");
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
        for (level, columns) in levels.iter() {
            y.clear();
            push_number(&mut y, units(level) * half_row);
            chink_y.clear();
            push_number(&mut chink_y, units(level) * half_row - half);
            let mut next = columns.iter().copied().peekable();
            while let Some(first) = next.next() {
                let mut last = first;
                while next.next_if_eq(&(last + 2)).is_some() {
                    last += 2;
                    if levels.tied(level - 1, last - 1) && levels.tied(level + 1, last - 1) {
                        start(&mut chinks, last - 1, &chink_y);
                        chinks.push_str(&sides);
                    }
                }
                let wide = wides.at(last - first, |columns| units(columns) * COLUMN);
                start(&mut path, first - 1, &y);
                for piece in [&there, wide, &back, wide, "z"] {
                    path.push_str(piece);
                }
            }
        }
        self.shadow.push_str(r#"<path d=""#);
        self.shadow.push_str(&path);
        self.shadow
            .push_str(r##"" fill="#2b2115" stroke-width="20"/>"##);
        self.chinks.push_str(r#"<path d=""#);
        self.chinks.push_str(&chinks);
        self.chinks.push_str(r##"" fill="#241c18"/>"##);
    }

    /// Writes the layers, with or without what lies under the band.
    fn write_layers(&self, out: &mut String, turn: &str, table: bool) {
        let Self { look, shadow, .. } = self;
        let layers = [
            &self.under,
            &self.open,
            &self.chinks,
            &self.knots,
            &self.above,
        ];
        let all: usize = layers.iter().map(|layer| layer.len()).sum();
        out.reserve(all + shadow.len() + 1_000);
        if table {
            out.push_str(&format!(
                r##"<g transform="translate(22 40)" opacity=".38"><g filter="url(#{}blur)"><g transform="{turn}" fill="none" stroke="#2b2115">"##,
                look.prefix
            ));
            out.push_str(shadow);
            out.push_str("</g></g></g>\n");
        }
        out.push_str(&format!("<g transform=\"{turn}\">\n"));
        for layer in layers {
            out.push_str("<g>");
            out.push_str(layer);
            out.push_str("</g>\n");
        }
        out.push_str("</g>\n</svg>\n");
    }

    fn write(&self, band: &Band, table: bool) -> String {
        let Bounds { least, most } = self.bounds;
        let (least, most) = (
            (least.0 - MARGIN, least.1 - MARGIN),
            (most.0 + MARGIN, most.1 + MARGIN),
        );
        let (x, y, width, height, turn) = if self.upright {
            (least.0, least.1, most.0 - least.0, most.1 - least.1, "")
        } else {
            (
                least.1,
                -most.0,
                most.1 - least.1,
                most.0 - least.0,
                "rotate(-90)",
            )
        };
        let prefix = &self.look.prefix;
        let (vx, vy, vw, vh) = (exact(x), exact(y), exact(width), exact(height));
        let (cloth, ground) = if table {
            (
                format!(
                    r##"<linearGradient id="{prefix}table" x2="0" y2="1"><stop stop-color="#f6f3ec"/><stop offset="1" stop-color="#e9e4d9"/></linearGradient>
<filter id="{prefix}blur" x="-5%" y="-20%" width="110%" height="140%"><feGaussianBlur stdDeviation="26"/></filter>
"##
                ),
                format!(
                    r##"<rect x="{vx}" y="{vy}" width="{vw}" height="{vh}" rx="90" fill="url(#{prefix}table)"/>
"##
                ),
            )
        } else {
            (String::new(), String::new())
        };
        let mut out = format!(
            r##"<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{}" height="{}" viewBox="{vx} {vy} {vw} {vh}">
<title>{}</title>
<desc>{}</desc>
<defs>
{cloth}{}</defs>
{ground}"##,
            exact(width * self.pixels_per_unit),
            exact(height * self.pixels_per_unit),
            escaped(title(band)),
            escaped(&self.words),
            self.look.definitions(),
        );
        self.write_layers(&mut out, turn, table);
        out
    }
}

/// A number with one decimal, if it needs one.
fn exact(number: f64) -> String {
    let mut text = String::new();
    push_number(&mut text, number);
    text
}

/// A level, a seam or a column as a number to reckon with.
fn units(level: i64) -> f64 {
    f64::from(i32::try_from(level).expect("MAX_KNOTS bounds the levels"))
}

/// Where each column lies, from 0 for the left edge, as it is written.
fn across(threads: usize) -> Vec<String> {
    let column = |column| exact(f64::from(column) * COLUMN);
    (0..=u16::try_from(threads).expect("MAX_THREADS fits"))
        .map(column)
        .collect()
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

/// The columns that are tied on every level.
struct ByLevel {
    least: i64,
    /// Where each level's columns begin; one more for the end.
    starts: Vec<usize>,
    columns: Vec<i64>,
}

impl ByLevel {
    fn new(places: Vec<(i64, i64)>) -> Self {
        let least = places.iter().map(|place| place.0).min().unwrap_or(0);
        let most = places.iter().map(|place| place.0).max().unwrap_or(0);
        let index = |level: i64| usize::try_from(level - least).expect("not below the least");
        let mut starts = vec![0; index(most) + 2];
        for (level, _) in &places {
            starts[index(*level) + 1] += 1;
        }
        for at in 1..starts.len() {
            starts[at] += starts[at - 1];
        }
        let mut free = starts.clone();
        let mut columns = vec![0; places.len()];
        for (level, column) in places {
            let at = &mut free[index(level)];
            columns[*at] = column;
            *at += 1;
        }
        for ends in starts.windows(2) {
            columns[ends[0]..ends[1]].sort_unstable();
        }
        Self {
            least,
            starts,
            columns,
        }
    }

    fn at(&self, level: i64) -> &[i64] {
        usize::try_from(level - self.least)
            .ok()
            .and_then(|at| self.starts.get(at..at + 2))
            .map_or(&[], |ends| &self.columns[ends[0]..ends[1]])
    }

    fn tied(&self, level: i64, column: i64) -> bool {
        self.at(level).binary_search(&column).is_ok()
    }

    fn iter(&self) -> impl Iterator<Item = (i64, &[i64])> {
        (self.least..)
            .take(self.starts.len() - 1)
            .map(|level| (level, self.at(level)))
    }
}

fn description(band: &Band, fabric: &Fabric, in_all: u32, options: &Options) -> String {
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
        gauge.width_mm(band.thread_count()),
        gauge.length_mm(f64::from(fabric.half_rows())),
    )
}
