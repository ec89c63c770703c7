//! The start: the threads as they hang, each with its number, the name of its colour and
//! the length to cut, and how they are brought out of their bundle, step by step.

use std::fmt::{self, Write};

use hitchwork_core::band::Band;
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::craft::{CutList, Shape, bringing_out, folds};
use hitchwork_core::knot::{Kind, Side};
use hitchwork_core::tied::Tied;

use crate::font::shortened;
use crate::ink::{
    Anchor, HAIR, INK, PAPER, QUIET, SvgDocument, TINT, TITLE_LINE, TextStyle, lines, readable_on,
    short, title, write_title,
};
use crate::output::recipe::{Making, Recipe, Usual};

const WIDTH: f64 = 720.0;
const MARGIN: f64 = 30.0;
const ROOM: f64 = WIDTH - 2.0 * MARGIN;
/// The least and greatest distance between threads that hang side by side.
const PITCH: (f64, f64) = (25.0, 44.0);
const RIBBON: f64 = 19.0;
/// A step of the bringing out.
const PANEL: (f64, f64) = (152.0, 150.0);
const PANELS: usize = 4;
/// Up to this many threads are brought out one by one; of more, the first and the last.
const MOST_STEPS: usize = 12;
const FIRST_STEPS: usize = 6;
const LAST_STEPS: usize = 1;

const TEXT: TextStyle = TextStyle::regular(11.0).quiet();
const HEADING: TextStyle = TextStyle::strong(13.0);

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "order",
    meaning: "The threads as they hang at the start, and how they are brought out",
    short: "order of the threads",
    usual: Usual::ForOne,
    stem: "order",
    making: Making::Chart(|tied, _| Ok(svg(tied))),
};

/// Draws how the threads hang at the start, and how they come to hang so, as SVG.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let picture = hitchwork_draw::order::svg(&Tied::of(band));
/// assert_eq!(picture.matches("class=\"hanging\"").count(), 3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn svg(tied: &Tied) -> String {
    let (band, cuts) = (tied.band(), tied.cut_list());
    let mut page = OrderPage {
        band,
        out: String::new(),
        y: TITLE_LINE,
    };
    page.draw(cuts).expect("writing to a string does not fail");
    SvgDocument {
        title: &format!("{}: how the threads hang", title(band)),
        words: &words(band, cuts),
        width: WIDTH,
        height: page.y + 14.0,
        body: &page.out,
    }
    .write()
}

fn words(band: &Band, cuts: &CutList) -> String {
    let threads = (1..).zip(band.colours()).map(|(number, colour)| {
        let length = length(cuts, number).map_or(String::new(), |length| format!(", {length} cm"));
        format!("{number} {}{length}", colour.name)
    });
    format!(
        "The threads at the start, from left to right: {}. It begins with: {}.",
        threads.collect::<Vec<_>>().join("; "),
        band.start().shape.name()
    )
}

/// In whole centimetres.
fn length(cuts: &CutList, number: u16) -> Option<String> {
    let mm = cuts.thread_mm.get(usize::from(number) - 1)?;
    Some(format!("{:.0}", mm / 10.0))
}

fn units(count: usize) -> f64 {
    f64::from(u32::try_from(count).expect("a band has few threads"))
}

struct OrderPage<'a> {
    band: &'a Band,
    out: String,
    /// How far down the page is filled.
    y: f64,
}

impl OrderPage<'_> {
    fn colour(&self, number: u16) -> &Colour {
        let index = self.band.thread_colours()[usize::from(number) - 1];
        &self.band.palette()[usize::from(index)]
    }

    fn text(&mut self, words: &str) -> fmt::Result {
        for line in lines(words, TEXT, ROOM) {
            self.y += 15.0;
            TEXT.write(&mut self.out, (MARGIN, self.y), &line)?;
        }
        self.out.push('\n');
        Ok(())
    }

    fn heading(&mut self, words: &str) -> fmt::Result {
        self.y += 34.0;
        HEADING.write(&mut self.out, (MARGIN, self.y), words)?;
        self.y += 3.0;
        Ok(())
    }

    fn draw(&mut self, cuts: &CutList) -> fmt::Result {
        let band = self.band;
        write_title(&mut self.out, MARGIN, title(band), ROOM)?;
        self.y += 5.0;
        let length = match band.start().shape {
            Shape::Loop => "the length of each half",
            _ => "the length to cut",
        };
        self.text(&format!("The threads as they hang at the start, from left to right: number, colour, and {length} in centimetres."))?;
        self.hanging(cuts)?;
        let count = band.thread_count();
        match band.start().shape {
            Shape::Flat => {
                self.heading("Laid side by side")?;
                self.text("Knot the threads together, tape the knot to the table, and lay them side by side in this order.")?;
            }
            Shape::Loop => {
                self.heading("Folded in half")?;
                self.text("The arcs above join the two halves of one piece: cut it as long as both together, and fold it between them. Where halves do not hang side by side, they cross the others just below the knot.")?;
            }
            Shape::HalfTriangleLeft => {
                self.bringing_out("Brought out one by one", Side::Left, 1, count)?;
            }
            Shape::HalfTriangleRight => {
                self.bringing_out("Brought out one by one", Side::Right, 1, count)?;
            }
            Shape::Triangle => {
                let half = count / 2;
                self.bringing_out("The left bundle, from the middle out", Side::Right, 1, half)?;
                let first = count - half + 1;
                self.bringing_out(
                    "The right bundle, from the middle out",
                    Side::Left,
                    first,
                    half,
                )?;
                if count % 2 == 1 {
                    self.text(&format!(
                        "Thread {} hangs between the two bundles.",
                        half + 1
                    ))?;
                }
            }
        }
        self.y += 14.0;
        Ok(())
    }

    /// All threads side by side, in as many lines as they need.
    fn hanging(&mut self, cuts: &CutList) -> fmt::Result {
        let band = self.band;
        let count = usize::from(band.thread_count());
        let name = TextStyle::regular(11.0);
        let most = 190.0;
        let longest = band
            .colours()
            .map(|colour| name.width(&colour.name).min(most))
            .fold(0.0, f64::max);
        let tall = longest + 34.0;
        let folded = match band.start().shape {
            Shape::Loop => folds(&band.thread_values()).unwrap_or_default(),
            _ => Vec::new(),
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a small number above 1"
        )]
        let a_line = (ROOM / PITCH.0) as usize;
        let lines = count.div_ceil(a_line);
        let a_line = count.div_ceil(lines);
        let pitch = (ROOM / units(a_line)).min(PITCH.1);
        let left = MARGIN + (ROOM - pitch * units(a_line)) / 2.0;
        for line in 0..lines {
            let threads: Vec<usize> = (line * a_line..count.min((line + 1) * a_line)).collect();
            let x = |at: usize| left + (units(at - line * a_line) + 0.5) * pitch;
            let arcs: Vec<(usize, usize)> = folded
                .iter()
                .map(|fold| fold.halves.map(|half| usize::from(half) - 1))
                .map(|[first, second]| (first, second))
                .filter(|(first, second)| threads.contains(first) && threads.contains(second))
                .collect();
            let rise =
                |first: usize, second: usize| (9.0 + pitch * 0.3 * units(second - first)).min(70.0);
            let above = arcs
                .iter()
                .map(|arc| rise(arc.0, arc.1))
                .fold(6.0, f64::max);
            let top = self.y + above + 22.0;
            for (first, second) in arcs {
                let path = format!(
                    "M{} {top}C{} {t} {} {t} {} {top}",
                    short(x(first)),
                    short(x(first)),
                    short(x(second)),
                    short(x(second)),
                    top = short(top),
                    t = short(top - rise(first, second) * 4.0 / 3.0),
                );
                let number = u16::try_from(first + 1).expect("MAX_THREADS fits");
                self.ribbon(&path, self.colour(number).srgb, 4.0)?;
            }
            for &at in &threads {
                let number = u16::try_from(at + 1).expect("MAX_THREADS fits");
                self.hung(number, (x(at), top), tall, most, cuts)?;
            }
            if folded.is_empty() {
                self.tape(
                    (x(threads[0]) - pitch / 2.0, top - 4.0),
                    pitch * units(threads.len()),
                )?;
            }
            for &at in &threads {
                let number = u16::try_from(at + 1).expect("MAX_THREADS fits");
                self.plate(number, (x(at), top + 11.0), 10.5)?;
            }
            self.y = top + tall + 20.0;
        }
        Ok(())
    }

    /// One thread with all that is said of it.
    fn hung(
        &mut self,
        number: u16,
        (x, top): (f64, f64),
        tall: f64,
        most: f64,
        cuts: &CutList,
    ) -> fmt::Result {
        let Colour { name, srgb } = self.colour(number).clone();
        let (left, bottom) = (x - RIBBON / 2.0, top + tall);
        write!(
            self.out,
            r#"<g class="hanging" data-thread="{number}"><path d="M{l} {t}h{RIBBON}v{h}l-{half} -5l-{half} 5z" fill="{srgb}" stroke="{INK}" stroke-width=".9"/>"#,
            l = short(left),
            t = short(top),
            h = short(tall),
            half = short(RIBBON / 2.0),
        )?;
        let hand = TextStyle::regular(11.0).coloured(readable_on(srgb));
        let shown = shortened(&name, hand.weight, hand.size, most);
        hand.write_downwards(&mut self.out, (x - 4.0, top + 25.0), &shown)?;
        if let Some(length) = length(cuts, number) {
            TextStyle::strong(10.5).anchored(Anchor::Middle).write(
                &mut self.out,
                (x, bottom + 13.0),
                &length,
            )?;
        }
        self.out.push_str("</g>\n");
        Ok(())
    }

    fn tape(&mut self, (x, y): (f64, f64), width: f64) -> fmt::Result {
        writeln!(
            self.out,
            r#"<rect x="{}" y="{}" width="{}" height="8" rx="2" fill="{TINT}" stroke="{QUIET}" stroke-width=".8"/>"#,
            short(x),
            short(y),
            short(width)
        )
    }

    fn ribbon(&mut self, path: &str, colour: Srgb, width: f64) -> fmt::Result {
        writeln!(
            self.out,
            r#"<g fill="none" stroke-linecap="round"><path d="{path}" stroke="{INK}" stroke-width="{}"/><path d="{path}" stroke="{colour}" stroke-width="{}"/></g>"#,
            short(width + 1.8),
            short(width)
        )
    }

    fn plate(&mut self, number: u16, (x, y): (f64, f64), size: f64) -> fmt::Result {
        let colour = self.colour(number).srgb;
        let hand = TextStyle::strong(size)
            .coloured(readable_on(colour))
            .anchored(Anchor::Middle);
        let words = number.to_string();
        let width = (hand.width(&words) + 6.0).max(size + 4.0);
        write!(
            self.out,
            r#"<rect x="{}" y="{}" width="{}" height="{}" rx="3" fill="{colour}" stroke="{INK}" stroke-width=".8"/>"#,
            short(x - width / 2.0),
            short(y - size / 2.0 - 2.0),
            short(width),
            short(size + 4.0)
        )?;
        hand.write(&mut self.out, (x, y + size * 0.36), &words)?;
        self.out.push('\n');
        Ok(())
    }

    /// A bundle of `count` threads from `first` on, from which they come one by one.
    fn bringing_out(&mut self, heading: &str, from: Side, first: u16, count: u16) -> fmt::Result {
        if count < 2 {
            return Ok(());
        }
        let (kind, order) = bringing_out(from, count);
        let order: Vec<u16> = order.iter().map(|position| position + first - 1).collect();
        self.heading(heading)?;
        let last = order[order.len() - 1];
        self.text(&format!(
            "Each thread ties one {kind} knot round all that are still in the bundle, and is laid to the {from}. The last, {last}, ties none."
        ))?;
        self.y += 12.0;
        let steps = order.len() - 1;
        let shown: Vec<usize> = if steps < MOST_STEPS {
            (1..=steps).collect()
        } else {
            (1..=FIRST_STEPS)
                .chain(steps + 1 - LAST_STEPS..=steps)
                .collect()
        };
        let across = (ROOM - PANEL.0 * units(PANELS)) / units(PANELS - 1);
        let mut place = 0;
        let mut before = 0;
        for step in shown {
            if step > before + 1 {
                let skipped = (order[before], order[step - 2]);
                let corner = self.corner(place, across);
                self.and_so_on(skipped, corner)?;
                place += 1;
            }
            let corner = self.corner(place, across);
            self.step(step, &order, kind, corner)?;
            before = step;
            place += 1;
        }
        self.y += (PANEL.1 + across) * units(place.div_ceil(PANELS));
        Ok(())
    }

    fn corner(&self, place: usize, across: f64) -> (f64, f64) {
        (
            MARGIN + (PANEL.0 + across) * units(place % PANELS),
            self.y + (PANEL.1 + across) * units(place / PANELS),
        )
    }

    fn panel(&mut self, (x, y): (f64, f64)) -> fmt::Result {
        writeln!(
            self.out,
            r#"<rect x="{}" y="{}" width="{}" height="{}" rx="8" fill="{PAPER}" stroke="{HAIR}"/>"#,
            short(x),
            short(y),
            short(PANEL.0),
            short(PANEL.1)
        )
    }

    fn and_so_on(&mut self, (from, to): (u16, u16), (x, y): (f64, f64)) -> fmt::Result {
        self.panel((x, y))?;
        let middle = x + PANEL.0 / 2.0;
        let hand = TextStyle::strong(12.0).anchored(Anchor::Middle);
        hand.write(
            &mut self.out,
            (middle, y + PANEL.1 / 2.0 - 4.0),
            "and so on",
        )?;
        let words = if from == to {
            format!("thread {from}")
        } else {
            format!("threads {from} to {to}")
        };
        TEXT.anchored(Anchor::Middle).write(
            &mut self.out,
            (middle, y + PANEL.1 / 2.0 + 13.0),
            &words,
        )?;
        self.out.push('\n');
        Ok(())
    }

    /// The bundle after this many threads have been brought out.
    fn step(&mut self, step: usize, order: &[u16], kind: Kind, (x, y): (f64, f64)) -> fmt::Result {
        write!(self.out, r#"<g class="step" data-step="{step}">"#)?;
        self.panel((x, y))?;
        let number = order[step - 1];
        let name = self.colour(number).name.clone();
        TextStyle::strong(10.5).write(
            &mut self.out,
            (x + 9.0, y + 17.0),
            &shortened(
                &format!("{number} {name}"),
                TextStyle::strong(10.5).weight,
                10.5,
                PANEL.0 - 18.0,
            ),
        )?;
        // Drawn for a bundle that runs down to the right, and turned over for the other.
        let falls = kind == Kind::Backward;
        let count = units(order.len());
        let pitch = ((PANEL.0 - 30.0) / count).min(20.0);
        let start = (PANEL.0 - pitch * count) / 2.0;
        let across = |at: f64| if falls { x + at } else { x + PANEL.0 - at };
        let column = |at: usize| start + (units(at) + 0.5) * pitch;
        let slope = (56.0 / (pitch * count)).min(0.8);
        let (top, bottom) = (y + 34.0, y + PANEL.1 - 22.0);
        let on_bundle = |along: f64| top + 8.0 + (along - start) * slope;
        let thin = (pitch * 0.42).clamp(1.2, 5.0);
        // Those still in the bundle: together along the slant, and then free.
        let left = order.len() - step;
        let knot_at = column(step - 1);
        for (at, thread) in order.iter().enumerate().skip(step).rev() {
            let share = units(at - step) - (units(left) - 1.0) / 2.0;
            let spread = share * thin * 0.7;
            let path = format!(
                "M{} {}L{} {}C{} {} {} {} {} {}",
                short(across(start - 6.0)),
                short(on_bundle(start - 6.0) - spread * 0.8),
                short(across(knot_at)),
                short(on_bundle(knot_at) - spread * 0.8),
                short(across(knot_at + pitch * 0.6)),
                short(on_bundle(knot_at + pitch * 0.6) - spread * 0.8),
                short(across(column(at))),
                short(on_bundle(knot_at) + 14.0),
                short(across(column(at))),
                short(bottom),
            );
            let colour = self.colour(*thread).srgb;
            self.ribbon(&path, colour, thin)?;
        }
        let reach = (thin * 0.35 * units(left) + 5.0).min(17.0);
        for (at, thread) in order.iter().enumerate().take(step) {
            let middle = on_bundle(column(at));
            let path = format!(
                "M{} {}C{} {} {} {} {} {}V{}",
                short(across(column(at) + pitch * 0.34)),
                short(middle - reach),
                short(across(column(at) + pitch * 0.1)),
                short(middle),
                short(across(column(at))),
                short(middle + reach * 0.4),
                short(across(column(at))),
                short(middle + reach),
                short(bottom)
            );
            let colour = self.colour(*thread).srgb;
            let new = at + 1 == step;
            self.ribbon(&path, colour, if new { thin * 1.5 } else { thin })?;
        }
        let tape = across(start - 6.0);
        write!(
            self.out,
            r#"<rect x="{}" y="{}" width="10" height="24" rx="2" fill="{TINT}" stroke="{QUIET}" stroke-width=".8"/>"#,
            short(tape - 5.0),
            short(top - 9.0)
        )?;
        self.plate(number, (across(column(step - 1)), bottom + 9.0), 9.0)?;
        self.out.push_str("</g>\n");
        Ok(())
    }
}
