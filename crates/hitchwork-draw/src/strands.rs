//! The working chart, after Artin's convention for braid diagrams (E. Artin, "Theorie der
//! Zöpfe", 1925): every thread is a ribbon that runs down the page without a break, and
//! where two cross, the ribbon below is interrupted.
//!
//! The working thread of a knot passes over. A knot after which both threads are where
//! they were is a hook: the working thread passes over the core, goes round it, and
//! returns below. Rows are banded and numbered, and after every row the order of the
//! threads is restated in chips with number and colour name. Numbers and names carry all
//! of it; colour only helps.
//!
//! What is drawn is written into the picture as data too: rows (`data-row`), the course of
//! each strand through a row (`data-thread`, `data-from`, `data-to`), and every crossing
//! (`data-over`, `data-under`), so that a chart can be read back as a braid.

mod course;
mod options;

use std::fmt::Write;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::fabric::{Fabric, Pass, Thread, TiedRow};
use hitchwork_core::tied::Tied;

use self::course::{Courses, Curve, Strand, StrandPiece};
pub(crate) use self::options::check_height;
pub use self::options::{ChartOptions, Rows};
use crate::error::Error;
use crate::ink::{
    Anchor, Chip, Chips, HAIR, INK, PAPER, SvgDocument, TINT, TITLE_LINE, TextStyle, lines,
    readable_on, short, title, write_small_chip, write_title,
};
use crate::output::recipe::{Making, Recipe, Usual};

const MARGIN: f64 = 30.0;
/// The width of the chips at the left, and the room between them and the strands.
const PANEL: f64 = 214.0;
const GUTTER: f64 = 26.0;
/// The distance between two positions.
const PITCH: (f64, f64) = (15.0, 40.0);
/// How much closer the strands may lie where that saves a page.
const CLOSER: [f64; 4] = [1.0, 0.9, 0.8, 0.7];
/// How much taller a low row may be drawn than it has to be.
const STRETCH: f64 = 1.7;
/// The room above and below the knots of a row, where the numbers of the strands stand.
const EDGE: f64 = 15.0;
const FOOT: f64 = 26.0;
const HEAD: f64 = 58.0;
const LEGEND: TextStyle = TextStyle::regular(11.0).quiet();
const LINE: f64 = 15.0;

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "strands",
    meaning: "The working chart: every thread as a ribbon, row by row, in as many pages as it takes",
    short: "working chart",
    usual: Usual::ForOne,
    stem: "strands",
    making: Making::Pages(|tied, options| pages(tied, &options.strands)),
};

/// Draws the working chart as SVG, one text for each page. The order of the threads is
/// carried over from page to page.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::strands::{ChartOptions, pages};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let pages = pages(&Tied::of(band), &ChartOptions::default())?;
/// assert_eq!(pages.len(), 1);
/// assert!(pages[0].contains(r#"data-thread="1" data-from="1" data-to="3""#));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the band has no such repeat, too many knots would be shown, or the height of a
/// page is absurd.
pub fn pages(tied: &Tied, options: &ChartOptions) -> Result<Vec<String>, Error> {
    check_height(options.page_height, 200.0)?;
    let passes = options.rows.passes(tied)?;
    let rows: Vec<TiedRow> = passes.into_iter().flat_map(Pass::rows).collect();
    let charts = CLOSER.map(|closer| Chart::new(tied, options, closer));
    let laid = charts.iter().map(|chart| (chart, chart.paged(&rows)));
    let (chart, laid) = laid
        .reduce(|wider, closer| {
            if closer.1.len() < wider.1.len() {
                closer
            } else {
                wider
            }
        })
        .expect("CLOSER is not empty");
    Ok(chart
        .write(&laid)
        .expect("writing to a string does not fail"))
}

struct Chart<'a> {
    band: &'a Band,
    fabric: &'a Fabric,
    options: &'a ChartOptions,
    width: f64,
    pitch: f64,
}

/// A row, laid out.
struct LaidRow<'a> {
    row: &'a TiedRow,
    courses: Courses,
    chips: Chips,
    height: f64,
}

/// What stands on a page, from the top.
enum ChartBlock<'a> {
    /// The order that hangs before the next row, and what to say of it.
    Order(String, Chips, Vec<Thread>),
    Row(LaidRow<'a>),
}

impl ChartBlock<'_> {
    /// The room above an order's words, and from there to its chips.
    const ORDER_ABOVE: f64 = 18.0;
    const ORDER_HEAD: f64 = 20.0;

    fn height(&self) -> f64 {
        match self {
            Self::Order(_, chips, _) => Self::ORDER_ABOVE + Self::ORDER_HEAD + chips.height + 16.0,
            Self::Row(row) => row.height,
        }
    }
}

/// The height at which a page's blocks begin, that at which they end, and the blocks.
type ChartPage<'a> = (f64, f64, Vec<ChartBlock<'a>>);

fn units(count: usize) -> f64 {
    f64::from(u32::try_from(count).expect("a chart has few of anything"))
}

impl<'a> Chart<'a> {
    fn new(tied: &'a Tied, options: &'a ChartOptions, closer: f64) -> Self {
        let (band, fabric) = (tied.followed(), tied.followed_fabric());
        let before = MARGIN + PANEL + GUTTER;
        let threads = f64::from(band.thread_count());
        let pitch = ((720.0 - before - MARGIN) / threads).min(PITCH.1) * closer;
        let pitch = pitch.max(PITCH.0);
        Self {
            band,
            fabric,
            options,
            width: (before + pitch * threads + MARGIN).max(720.0),
            pitch,
        }
    }

    fn x(&self, position: usize) -> f64 {
        let (left, right) = (MARGIN + PANEL + GUTTER, self.width - MARGIN);
        let threads = f64::from(self.band.thread_count());
        f64::midpoint(left, right) + (units(position) + 0.5 - threads / 2.0) * self.pitch
    }

    fn chips(&self, order: &[Thread], most: f64) -> Chips {
        let chips = order.iter().zip(1..).map(|(thread, position)| {
            let index = self.fabric.colour(*thread);
            let colour = &self.band.palette()[usize::from(index)];
            Chip::new(position, thread.number(), colour, most.min(PANEL))
        });
        Chips::new(chips, most)
    }

    fn order(&self, words: String, order: &[Thread]) -> ChartBlock<'a> {
        let chips = self.chips(order, self.width - 2.0 * MARGIN);
        ChartBlock::Order(words, chips, order.to_vec())
    }

    fn lay(&self, row: &'a TiedRow) -> LaidRow<'a> {
        let courses = Courses::new(row);
        let natural = courses.height() * self.pitch;
        let chips = self.chips(&row.order_after, PANEL);
        let panel = 50.0 + chips.height + 12.0;
        let height = (natural + 2.0 * EDGE).max(panel);
        LaidRow {
            row,
            courses,
            chips,
            height,
        }
    }

    /// The rows on pages, each with its height.
    fn paged(&self, rows: &'a [TiedRow]) -> Vec<ChartPage<'a>> {
        let mut pages: Vec<ChartPage<'a>> = Vec::new();
        let mut on_page = 0;
        for (at, row) in rows.iter().enumerate() {
            let before = at.checked_sub(1).map(|at| &rows[at]);
            let laid = self.lay(row);
            let broken = before.is_some_and(|before| before.order_after != row.order_before);
            let order = || self.order(self.order_words(before, row, broken), &row.order_before);
            let used = pages.last().map_or(f64::MAX, |page| page.1);
            let break_height = if broken { order().height() } else { 0.0 };
            let full = used + break_height + laid.height + FOOT > self.options.page_height
                || self
                    .options
                    .rows_a_page
                    .is_some_and(|most| on_page >= most.max(1));
            if full {
                let order = order();
                let top = if pages.is_empty() {
                    HEAD + self.legend().1
                } else {
                    HEAD
                };
                pages.push((top, top + order.height(), vec![order]));
                on_page = 0;
            } else if broken {
                let page = pages.last_mut().expect("full if there is none");
                let order = order();
                page.1 += order.height();
                page.2.push(order);
            }
            let page = pages.last_mut().expect("full if there is none");
            page.1 += laid.height;
            page.2.push(ChartBlock::Row(laid));
            on_page += 1;
        }
        pages
    }

    fn write(&self, pages: &[ChartPage<'a>]) -> Result<Vec<String>, std::fmt::Error> {
        let count = pages.len();
        let mut written = Vec::with_capacity(count);
        for (number, (top, bottom, blocks)) in pages.iter().enumerate() {
            let mut body = String::new();
            self.head(&mut body, number, count)?;
            if number == 0 {
                for (line, down) in self.legend().0.iter().zip(0_u16..) {
                    let y = HEAD + LINE * f64::from(down);
                    LEGEND.write(&mut body, (MARGIN, y), line)?;
                }
                body.push('\n');
            }
            let mut y = *top;
            for (at, block) in blocks.iter().enumerate() {
                match block {
                    ChartBlock::Order(words, chips, _) => {
                        self.write_order(&mut body, y, words, chips)?;
                    }
                    ChartBlock::Row(laid) => self.write_row(&mut body, y, laid, at)?,
                }
                y += block.height();
            }
            // Numbers of strands stand across the line between two rows, over both.
            let mut y = *top;
            for block in blocks {
                y += block.height();
                match block {
                    ChartBlock::Order(_, _, order) => self.plates(&mut body, order, y)?,
                    ChartBlock::Row(laid) => self.plates(&mut body, &laid.row.order_after, y)?,
                }
            }
            let sheet = SvgDocument {
                title: &format!("{}: strands", title(self.band)),
                words: &self.words(blocks, number, count),
                width: self.width,
                height: bottom + FOOT,
                body: &body,
            };
            written.push(sheet.write());
        }
        Ok(written)
    }

    fn head(&self, out: &mut String, page: usize, pages: usize) -> std::fmt::Result {
        let room = self.width - 2.0 * MARGIN - 90.0;
        write_title(out, MARGIN, title(self.band), room)?;
        if pages > 1 {
            TextStyle::regular(11.0)
                .quiet()
                .anchored(Anchor::End)
                .write(
                    out,
                    (self.width - MARGIN, TITLE_LINE),
                    &format!("page {} of {pages}", page + 1),
                )?;
        }
        out.push('\n');
        Ok(())
    }

    fn order_words(&self, before: Option<&TiedRow>, row: &TiedRow, broken: bool) -> String {
        match before {
            _ if broken && row.part == Part::LeadOut => format!(
                "After {} the lead-out begins, and the threads hang so",
                match self.band.repeats() {
                    1 => "the repeat".to_owned(),
                    repeats => format!("all {repeats} repeats"),
                }
            ),
            None if row.part == Part::Repeat && row.pass > 1 => {
                format!("Before repeat {} the threads hang so", row.pass)
            }
            None => "Hang the threads in this order".to_owned(),
            Some(before) => format!(
                "Carried over: the order after {}",
                self.row_name(before).to_lowercase()
            ),
        }
    }

    fn row_name(&self, row: &TiedRow) -> String {
        format!("Row {} {}", row.row, self.of_part(row))
    }

    fn of_part(&self, row: &TiedRow) -> String {
        let rows = self.band.rows(row.part).len();
        match (row.part, self.options.rows) {
            (Part::Repeat, Rows::Once) => format!("of {rows}, repeat"),
            (Part::Repeat, _) => format!("of {rows}, repeat {}", row.pass),
            (part, _) => format!("of {rows}, {part}"),
        }
    }

    fn write_order(
        &self,
        out: &mut String,
        y: f64,
        words: &str,
        chips: &Chips,
    ) -> std::fmt::Result {
        let y = y + ChartBlock::ORDER_ABOVE;
        TextStyle::strong(11.0).write(out, (MARGIN, y + 11.0), words)?;
        chips.write(out, (MARGIN, y + ChartBlock::ORDER_HEAD))
    }

    /// The numbers of the strands where they pass from row to row.
    fn plates(&self, out: &mut String, order: &[Thread], y: f64) -> std::fmt::Result {
        let size = (self.pitch * 0.34).clamp(6.5, 9.5);
        out.push_str(r#"<g class="numbers">"#);
        for (position, thread) in order.iter().enumerate() {
            let words = thread.number().to_string();
            let colour = self.colour(*thread);
            let hand = TextStyle::strong(size)
                .coloured(readable_on(colour))
                .anchored(Anchor::Middle);
            let (width, high) = (
                (hand.width(&words) + 5.0).max(self.ribbon() + 3.0),
                size + 4.0,
            );
            let x = self.x(position);
            write_small_chip(out, (x, y), (width, high), colour)?;
            hand.write(out, (x, y + size * 0.36), &words)?;
        }
        out.push_str("</g>\n");
        Ok(())
    }

    fn colour(&self, thread: Thread) -> hitchwork_core::colour::Srgb {
        self.band.palette()[usize::from(self.fabric.colour(thread))].srgb
    }

    fn ribbon(&self) -> f64 {
        self.pitch * 0.34
    }

    fn write_row(
        &self,
        out: &mut String,
        y: f64,
        laid: &LaidRow<'_>,
        number: usize,
    ) -> std::fmt::Result {
        let LaidRow {
            row,
            courses,
            chips,
            height,
        } = laid;
        let ground = if number % 2 == 1 { TINT } else { PAPER };
        writeln!(
            out,
            r#"<g class="row" data-part="{}" data-pass="{}" data-row="{}"><rect x="{}" y="{}" width="{}" height="{}" fill="{ground}"/><path d="M{} {}h{}" stroke="{HAIR}"/>"#,
            row.part,
            row.pass,
            row.row,
            short(MARGIN - 12.0),
            short(y),
            short(self.width - 2.0 * MARGIN + 24.0),
            short(*height),
            short(MARGIN - 12.0),
            short(y + height),
            short(self.width - 2.0 * MARGIN + 24.0),
        )?;
        let name = TextStyle::strong(15.0);
        let words = format!("Row {}", row.row);
        name.write(out, (MARGIN, y + 24.0), &words)?;
        TextStyle::regular(10.0).quiet().write(
            out,
            (MARGIN + name.width(&words) + 6.0, y + 24.0),
            &self.of_part(row),
        )?;
        TextStyle::regular(10.0).quiet().write(
            out,
            (MARGIN, y + height - chips.height - 17.0),
            "then hang, left to right",
        )?;
        chips.write(out, (MARGIN, y + height - chips.height - 11.0))?;

        let natural = courses.height() * self.pitch;
        let stretch = ((height - 2.0 * EDGE) / natural).clamp(1.0, STRETCH);
        let drawing = RowPlacement {
            left: self.x(0),
            top: y + (height - natural * stretch) / 2.0,
            across: self.pitch,
            down: self.pitch * stretch,
        };
        self.write_courses(out, courses, drawing, (y, y + height), ground)?;
        out.push_str("</g>\n");
        Ok(())
    }

    fn write_courses(
        &self,
        out: &mut String,
        courses: &Courses,
        drawing: RowPlacement,
        (top, bottom): (f64, f64),
        ground: hitchwork_core::colour::Srgb,
    ) -> std::fmt::Result {
        let ribbon = self.ribbon();
        let (rim, gap) = (ribbon + 2.0, ribbon + (self.pitch * 0.3).max(6.0));
        let paths: Vec<String> = courses
            .strands
            .iter()
            .map(|strand| drawing.strand(strand, top, bottom))
            .collect();
        write!(
            out,
            r#"<g fill="none"><g stroke="{INK}" stroke-width="{}">"#,
            short(rim)
        )?;
        for path in &paths {
            write!(out, r#"<path d="{path}"/>"#)?;
        }
        write!(out, r#"</g><g stroke-width="{}">"#, short(ribbon))?;
        for (path, strand) in paths.iter().zip(&courses.strands) {
            writeln!(
                out,
                r#"<path class="strand" data-thread="{}" data-from="{}" data-to="{}" stroke="{}" d="{path}"/>"#,
                strand.thread,
                strand.from + 1,
                strand.to + 1,
                self.colour(strand.thread)
            )?;
        }
        out.push_str("</g>");
        for tied in &courses.knots {
            write!(
                out,
                r#"<g class="knot" data-column="{}" data-kind="{}">"#,
                tied.knot.column, tied.knot.kind
            )?;
            for crossing in &tied.crossings {
                let path = drawing.curve_alone(crossing.curve);
                let longer = drawing.curve_alone(crossing.longer);
                write!(
                    out,
                    r#"<g data-over="{}" data-under="{}"><path stroke="{ground}" stroke-width="{}" d="{path}"/><path stroke="{INK}" stroke-width="{}" d="{path}"/><path stroke="{}" stroke-width="{}" d="{longer}"/></g>"#,
                    crossing.over,
                    crossing.under,
                    short(gap),
                    short(rim),
                    self.colour(crossing.over),
                    short(ribbon),
                )?;
            }
            out.push_str("</g>\n");
        }
        out.push_str("</g>");
        Ok(())
    }

    /// How to read it, in lines; and how tall they are.
    fn legend(&self) -> (Vec<String>, f64) {
        let words = "Read it from the top. Every ribbon is a thread; where two cross, the one on top is the working thread, whose colour shows. A hook goes round its neighbour and comes back.";
        let lines = lines(words, LEGEND, self.width - 2.0 * MARGIN);
        let height = LINE * units(lines.len()) - 8.0;
        (lines, height)
    }

    fn words(&self, blocks: &[ChartBlock<'_>], page: usize, pages: usize) -> String {
        let mut words = String::from(
            "The working chart: every thread runs down as a ribbon, and the working thread of a knot passes over.",
        );
        if pages > 1 {
            words.push_str(&format!(" Page {} of {pages}.", page + 1));
        }
        let numbers = |order: &[Thread]| {
            let numbers: Vec<String> = order.iter().map(ToString::to_string).collect();
            numbers.join(" ")
        };
        for block in blocks {
            match block {
                ChartBlock::Order(said, _, order) => {
                    words.push_str(&format!(" {said}: {}.", numbers(order)));
                }
                ChartBlock::Row(laid) => words.push_str(&format!(
                    " After {} they hang: {}.",
                    self.row_name(laid.row).to_lowercase(),
                    numbers(&laid.row.order_after)
                )),
            }
        }
        words
    }
}

/// Where a row lies on the page.
#[derive(Clone, Copy)]
struct RowPlacement {
    left: f64,
    top: f64,
    across: f64,
    down: f64,
}

impl RowPlacement {
    fn at(self, (x, y): (f64, f64)) -> String {
        format!(
            "{} {}",
            short(self.left + x * self.across),
            short(self.top + y * self.down)
        )
    }

    fn curve(self, Curve([_, a, b, c]): Curve) -> String {
        format!("C{} {} {}", self.at(a), self.at(b), self.at(c))
    }

    fn curve_alone(self, curve: Curve) -> String {
        format!("M{}{}", self.at(curve.0[0]), self.curve(curve))
    }

    /// A strand from the top of the row to its bottom.
    fn strand(self, strand: &Strand, top: f64, bottom: f64) -> String {
        let x = |position: usize| short(self.left + units(position) * self.across);
        let mut path = format!("M{} {}V{}", x(strand.from), short(top), short(self.top));
        for piece in &strand.pieces {
            match piece {
                StrandPiece::Down(y) => {
                    path.push_str(&format!("V{}", short(self.top + y * self.down)));
                }
                StrandPiece::Round(curve) => path.push_str(&self.curve(*curve)),
            }
        }
        path.push_str(&format!("V{}", short(bottom)));
        path
    }
}
