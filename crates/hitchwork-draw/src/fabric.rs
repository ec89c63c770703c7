//! The finished band as it lies on the table.
//!
//! Every knot shows as the two wraps of its working thread, lying as they really lie;
//! where a thread runs openly from one knot to the next it is seen running there; the
//! ends have the shape in which they are tied. Columns and half rows are drawn at the
//! band's gauge; the tails are shown short.

mod ends;
mod look;
mod pen;

use std::fmt::Write;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::fabric::Fabric;

use self::ends::{Setting, Which};
use self::look::{Along, COLUMN, Lie, Look};
use self::pen::{Bounds, pair, short};
use crate::error::{Error, Problem};
use crate::xml::escaped;

/// The most knots that one picture shows.
const MAX_KNOTS: u64 = 60_000;
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
}

impl Default for Options {
    fn default() -> Self {
        Self {
            repeats: None,
            upright: false,
            pixels_per_mm: 10.0,
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
    let found = options.pixels_per_mm;
    if !(LEAST_PIXELS_PER_MM..=MOST_PIXELS_PER_MM).contains(&found) {
        return Err(Problem::PixelsPerMm {
            found,
            least: LEAST_PIXELS_PER_MM,
            most: MOST_PIXELS_PER_MM,
        }
        .into());
    }
    let repeats = options.repeats.unwrap_or(u32::MAX).min(band.repeats());
    if repeats == 0 {
        return Err(Problem::NoRepeats.into());
    }
    check_size(band, repeats)?;
    if repeats == band.repeats() {
        return Ok(Picture::new(band, fabric, repeats, options).write(band));
    }
    let mut parts = band.clone().into_parts();
    parts.repeats = repeats;
    let shorter = Band::new(parts).expect("a band with fewer repeats is a band");
    Ok(Picture::new(&shorter, &Fabric::of(&shorter), band.repeats(), options).write(band))
}

fn check_size(band: &Band, repeats: u32) -> Result<(), Error> {
    let knots = |part: Part| {
        band.rows(part)
            .iter()
            .map(|row| row.len() as u64)
            .sum::<u64>()
    };
    let once = knots(Part::LeadIn) + knots(Part::LeadOut);
    let found = once + knots(Part::Repeat) * u64::from(repeats);
    if found > MAX_KNOTS {
        let repeats = MAX_KNOTS.saturating_sub(once) / knots(Part::Repeat).max(1);
        return Err(Problem::TooManyKnots {
            found,
            most: MAX_KNOTS,
            repeats,
        }
        .into());
    }
    Ok(())
}

/// The layers of a picture, from the table upwards.
struct Picture {
    look: Look,
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
    fn new(band: &Band, fabric: &Fabric, in_all: u32, options: &Options) -> Self {
        let look = Look::new(band, options.upright);
        let half_rows = f64::from(fabric.half_rows());
        let bounds = Bounds::around(
            (0.0, -look.half_row),
            (
                COLUMN * f64::from(band.thread_count()),
                (half_rows - 1.0) * look.half_row,
            ),
        );
        let mut picture = Self {
            look,
            bounds,
            upright: options.upright,
            pixels_per_unit: options.pixels_per_mm * band.gauge().column_mm / COLUMN,
            shadow: String::new(),
            chinks: String::new(),
            under: String::new(),
            open: String::new(),
            knots: String::new(),
            above: String::new(),
            words: description(band, fabric, in_all, options),
        };
        picture
            .draw(band, fabric)
            .expect("writing to a string does not fail");
        picture
    }

    fn draw(&mut self, band: &Band, fabric: &Fabric) -> std::fmt::Result {
        let count = usize::from(band.thread_count());
        // For each position: the seam that its thread came out of, once it has been tied.
        let mut left_at: Vec<Option<i64>> = vec![None; count];
        let mut first_seams = vec![-1; count];
        let mut places: Vec<(i64, i64)> = Vec::new();
        for pass in fabric.passes() {
            let mut order = pass.order_before().to_vec();
            self.knots.push_str("<g>");
            for knot in pass.knots() {
                let level = i64::from(knot.level);
                let right = usize::from(knot.column.number());
                for at in [right - 1, right] {
                    match left_at[at].replace(level) {
                        Some(seam) => {
                            self.open_thread(at, count, seam, level - 1, fabric.colour(order[at]))?;
                        }
                        None => first_seams[at] = level - 1,
                    }
                }
                if knot.kind.changes_places() {
                    order.swap(right - 1, right);
                }
                let name = self
                    .look
                    .knot(fabric.colour(knot.working), Lie::of(knot.kind));
                let (x, y) = (
                    COLUMN * f64::from(knot.column.number()),
                    f64::from(knot.level) * self.look.half_row,
                );
                write!(
                    self.knots,
                    r##"<use href="#{name}" x="{}" y="{}"/>"##,
                    short(x),
                    short(y)
                )?;
                places.push((level, i64::from(knot.column.number())));
            }
            self.knots.push_str("</g>\n");
        }
        let last_seams: Vec<i64> = left_at.iter().map(|seam| seam.unwrap_or(-1)).collect();

        let colours = |order: &[hitchwork_core::fabric::Thread]| {
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
                self.open_thread(at, count, from, to, end.colours[at])?;
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
        self.silhouette(places)
    }

    fn open_thread(
        &mut self,
        at: usize,
        count: usize,
        from: i64,
        to: i64,
        colour: u16,
    ) -> std::fmt::Result {
        if to <= from {
            return Ok(());
        }
        let along = match at {
            0 => Along::LeftEdge,
            at if at + 1 == count => Along::RightEdge,
            _ => Along::Inside,
        };
        let name = self.look.open_thread(colour, along, to - from);
        #[expect(
            clippy::cast_precision_loss,
            reason = "positions and half rows of a picture are few"
        )]
        let (x, y) = (
            (at as f64 + 0.5) * COLUMN,
            (from as f64 + 0.5) * self.look.half_row,
        );
        write!(
            self.open,
            r##"<use href="#{name}" x="{}" y="{}"/>"##,
            short(x),
            short(y)
        )
    }

    /// The outline of the knots for the shadow, on every level one stretch for each run of
    /// knots that touch; and the dark in the chinks where knots meet corner to corner.
    fn silhouette(&mut self, mut places: Vec<(i64, i64)>) -> std::fmt::Result {
        places.sort_unstable();
        #[expect(
            clippy::cast_precision_loss,
            reason = "columns and half rows of a picture are few"
        )]
        let at =
            |level: i64, corner: i64| (COLUMN * corner as f64, level as f64 * self.look.half_row);
        let tied = |level: i64, column: i64| places.binary_search(&(level, column)).is_ok();
        let (up, right) = (short(self.look.half_row), short(COLUMN));
        let (mut path, mut chinks) = (String::new(), String::new());
        let mut next = places.iter().copied().peekable();
        while let Some((level, first)) = next.next() {
            let mut last = first;
            while next.next_if_eq(&(level, last + 2)).is_some() {
                last += 2;
                if tied(level - 1, last - 1) && tied(level + 1, last - 1) {
                    let (x, y) = at(level, last - 1);
                    let high = self.look.half_row * 0.3;
                    write!(
                        chinks,
                        "M{}l-30 {high} 30 {high} 30-{high}z",
                        pair((x, y - high)),
                        high = short(high)
                    )?;
                }
            }
            let (start, end) = (at(level, first - 1), at(level, last - 1));
            write!(
                path,
                "M{}l{right}-{up}h{}l{right} {up}-{right} {up}h-{}z",
                pair(start),
                short(end.0 - start.0),
                short(end.0 - start.0)
            )?;
        }
        write!(
            self.shadow,
            r##"<path d="{path}" fill="#2b2115" stroke-width="20"/>"##
        )?;
        write!(self.chinks, r##"<path d="{chinks}" fill="#241c18"/>"##)
    }

    fn write(&self, band: &Band) -> String {
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
        let title = if band.title().trim().is_empty() {
            "A band"
        } else {
            band.title()
        };
        let prefix = &self.look.prefix;
        let (vx, vy, vw, vh) = (short(x), short(y), short(width), short(height));
        format!(
            r##"<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{}" height="{}" viewBox="{vx} {vy} {vw} {vh}">
<title>{}</title>
<desc>{}</desc>
<defs>
<linearGradient id="{prefix}table" x2="0" y2="1"><stop stop-color="#f6f3ec"/><stop offset="1" stop-color="#e9e4d9"/></linearGradient>
<filter id="{prefix}blur" x="-5%" y="-20%" width="110%" height="140%"><feGaussianBlur stdDeviation="26"/></filter>
{}</defs>
<rect x="{vx}" y="{vy}" width="{vw}" height="{vh}" rx="90" fill="url(#{prefix}table)"/>
<g transform="translate(22 40)" opacity=".38"><g filter="url(#{prefix}blur)"><g transform="{turn}" fill="none" stroke="#2b2115">{}</g></g></g>
<g transform="{turn}">
<g>{}</g>
<g>{}</g>
{}
{}<g>{}</g>
</g>
</svg>
"##,
            short(width * self.pixels_per_unit),
            short(height * self.pixels_per_unit),
            escaped(title),
            escaped(&self.words),
            self.look.definitions(),
            self.shadow,
            self.under,
            self.open,
            self.chinks,
            self.knots,
            self.above,
        )
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
