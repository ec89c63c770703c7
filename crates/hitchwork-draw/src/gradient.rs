//! The steps of a gradient: its colours in order, and how far each is from the next to
//! the eye.

use std::fmt::Write;

use hitchwork_core::colour::{Colour, Sight, Vision, difference};
use hitchwork_core::proof::Drift;
use hitchwork_core::tied::Tied;

use crate::error::{Error, Problem};
use crate::font::shortened;
use crate::ink::{
    Anchor, HAIR, INK, QUIET, SvgDocument, TextStyle, lines, readable_on, short, write_title,
};
use crate::output::recipe::{Making, Recipe, Usual};

const WIDTH: f64 = 720.0;
const MARGIN: f64 = 30.0;
const LEFT: f64 = MARGIN + 26.0;
const ROOM: f64 = WIDTH - MARGIN - LEFT;
const SWATCH: (f64, f64) = (16.0, 58.0);
const TALL: f64 = 132.0;
const BAR: f64 = 96.0;
const LINE: f64 = TALL + BAR + 58.0;
/// The most colours that are drawn.
const MOST: usize = 1_000;

/// The colours that a band uses, in the order of its palette.
fn of_band(tied: &Tied) -> Result<String, Error> {
    let band = tied.band();
    let colours: Vec<Colour> = band
        .used_colours()
        .into_iter()
        .map(|index| band.palette()[usize::from(index)].clone())
        .collect();
    let cyclic = Drift::of_band(band).is_some();
    let sight = Sight::of_knot(&band.gauge());
    svg(band.title(), &colours, cyclic, sight)
}

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "gradient",
    meaning: "The steps between the colours",
    short: "steps of the colours",
    usual: Usual::Never,
    stem: "gradient",
    making: Making::Chart(|tied, _| of_band(tied)),
};

/// Draws the colours of a gradient in order as SVG, and under every meeting of two the
/// difference between them by CIEDE2000 (ISO/CIE 11664-6). Of a cyclic gradient the step
/// from the last colour to the first is drawn too. Neighbours that cannot be told apart at
/// the given size are marked.
///
/// ```
/// use hitchwork_core::{colour::{Sight, palette}, craft::Gauge};
/// use hitchwork_draw::gradient::svg;
/// let gull = palette("gull").expect("built in");
/// let picture = svg(&gull.name, &gull.colours, true, Sight::of_knot(&Gauge::default()))?;
/// assert_eq!(picture.matches("class=\"difference\"").count(), gull.colours.len());
/// # Ok::<(), hitchwork_draw::Error>(())
/// ```
///
/// # Errors
/// When there are fewer than two colours, or more than 1,000.
pub fn svg(title: &str, colours: &[Colour], cyclic: bool, sight: Sight) -> Result<String, Error> {
    let found = colours.len();
    if found < 2 {
        return Err(Problem::OneColour.into());
    }
    if found > MOST {
        return Err(Problem::TooManyColours { found, most: MOST }.into());
    }
    // Of two colours, the way back is the way there.
    let steps = if cyclic && found > 2 {
        found
    } else {
        found - 1
    };
    let differences: Vec<f64> = (0..steps)
        .map(|at| difference(colours[at].srgb, colours[(at + 1) % found].srgb))
        .collect();
    let least = differences.iter().copied().fold(f64::MAX, f64::min);
    let most = differences.iter().copied().fold(0.0, f64::max);
    let alike = |at: usize| {
        let (a, b) = (colours[at].srgb, colours[(at + 1) % found].srgb);
        !sight.tells_apart(a, b, Vision::Normal)
    };
    let picture = GradientChart {
        colours,
        differences: &differences,
        alike: (0..steps).map(alike).collect(),
        most,
    };
    let (least, most_said) = (format!("{least:.1}"), format!("{most:.1}"));
    let between = match () {
        () if steps == 1 => format!("the step between them is {least}"),
        () if least == most_said => format!("every step between them is {least}"),
        () => format!("the steps between them are {least} to {most_said}"),
    };
    let summary = format!(
        "{found} colours{}; {between}; about 1 is just visible, 10 is another colour (CIEDE2000).",
        if cyclic { ", round and round" } else { "" }
    );
    let mut body = String::new();
    let height = picture
        .draw(title, &summary, &mut body)
        .expect("writing to a string does not fail");
    let names: Vec<&str> = colours.iter().map(|colour| colour.name.as_str()).collect();
    let sheet = SvgDocument {
        title: &format!("{title}: the steps of the gradient"),
        words: &format!("{summary} In order: {}.", names.join(", ")),
        width: WIDTH,
        height,
        body: &body,
    };
    Ok(sheet.write())
}

struct GradientChart<'a> {
    colours: &'a [Colour],
    differences: &'a [f64],
    alike: Vec<bool>,
    most: f64,
}

fn units(count: usize) -> f64 {
    f64::from(u32::try_from(count).expect("at most MOST"))
}

impl GradientChart<'_> {
    fn draw(&self, title: &str, summary: &str, out: &mut String) -> Result<f64, std::fmt::Error> {
        let room = WIDTH - 2.0 * MARGIN;
        write_title(out, MARGIN, title, room)?;
        let mut y = 44.0;
        let words = format!(
            "{summary} The bars show how far each colour is from the next: even bars look even.{}",
            if self.alike.contains(&true) {
                " Where it says alike, the two cannot be told apart at the size of a knot."
            } else {
                ""
            }
        );
        for line in lines(&words, TextStyle::regular(11.0), room) {
            y += 15.0;
            TextStyle::regular(11.0)
                .quiet()
                .write(out, (MARGIN, y), &line)?;
        }
        y += 20.0;
        let count = self.colours.len();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a small number above 1"
        )]
        let a_line = (ROOM / SWATCH.0) as usize;
        let rows = count.div_ceil(a_line);
        let a_line = count.div_ceil(rows);
        let wide = (ROOM / (units(a_line) + 0.5)).min(SWATCH.1);
        for row in 0..rows {
            let shown = row * a_line..count.min((row + 1) * a_line);
            self.line(out, shown, wide, y)?;
            y += LINE;
        }
        Ok(y)
    }

    fn line(
        &self,
        out: &mut String,
        shown: std::ops::Range<usize>,
        wide: f64,
        y: f64,
    ) -> std::fmt::Result {
        let first = shown.start;
        let x = |at: usize| LEFT + units(at - first) * wide;
        for at in shown.clone() {
            let Colour { name, srgb } = &self.colours[at];
            write!(
                out,
                r#"<rect class="swatch" x="{}" y="{}" width="{}" height="{TALL}" fill="{srgb}" stroke="{INK}" stroke-width=".6"/>"#,
                short(x(at)),
                short(y),
                short(wide)
            )?;
            let hand =
                TextStyle::regular((wide * 0.6).clamp(8.0, 11.0)).coloured(readable_on(*srgb));
            let words = shortened(
                &format!("{} {name}", at + 1),
                hand.weight,
                hand.size,
                TALL - 14.0,
            );
            let middle = x(at) + wide / 2.0 - hand.size * 0.36;
            hand.write_downwards(out, (middle, y + 8.0), &words)?;
        }
        let base = y + TALL + BAR + 26.0;
        let scale = (BAR - 6.0) / self.most.max(1.0);
        write!(
            out,
            r#"<path d="M{LEFT} {b}H{}" stroke="{QUIET}"/><path d="M{LEFT} {m}H{}" stroke="{HAIR}" stroke-dasharray="4 3"/>"#,
            short(x(shown.end - 1) + wide * 1.4),
            short(x(shown.end - 1) + wide * 1.4),
            b = short(base),
            m = short(base - self.mean() * scale),
        )?;
        TextStyle::regular(9.0)
            .quiet()
            .anchored(Anchor::End)
            .write(out, (LEFT - 5.0, base - self.mean() * scale + 3.0), "mean")?;
        let bar = (wide * 0.42).min(18.0);
        let size = (wide * 0.42).clamp(6.5, 10.0);
        for at in shown.filter(|at| *at < self.differences.len()) {
            let (high, middle) = (self.differences[at] * scale, x(at) + wide);
            let (fill, ink) = if self.alike[at] {
                ("#ffffff", QUIET)
            } else {
                ("#8f979f", INK)
            };
            write!(
                out,
                r#"<g class="difference" data-from="{}"><rect x="{}" y="{}" width="{}" height="{}" fill="{fill}" stroke="{ink}" stroke-width=".9"/>"#,
                at + 1,
                short(middle - bar / 2.0),
                short(base - high),
                short(bar),
                short(high)
            )?;
            let hand = TextStyle::strong(size).anchored(Anchor::Middle);
            hand.write(
                out,
                (middle, base - high - 4.0),
                &format!("{:.1}", self.differences[at]),
            )?;
            if self.alike[at] {
                TextStyle::regular(size).anchored(Anchor::Middle).write(
                    out,
                    (middle, base + size + 3.0),
                    "alike",
                )?;
            }
            out.push_str("</g>\n");
        }
        Ok(())
    }

    fn mean(&self) -> f64 {
        self.differences.iter().sum::<f64>() / units(self.differences.len())
    }
}
