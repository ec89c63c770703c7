//! The maker's sheet as pages to print.
//!
//! Words are words that can be searched and copied, pictures are drawn in lines and not in
//! dots, and the letters that are used are inside. A row stays on one page together with the
//! order to check it by; one that is longer than a page is broken between its steps, and its
//! last step stays with the order.

mod paper;
mod press;
mod rows;

use std::sync::Arc;

use hitchwork_core::band::Part;
use hitchwork_core::craft::Shape;
use hitchwork_core::steps::{LEAD_OUT_IS_TIED, NextRepeat, Piece, SaidRows, Steps};
use hitchwork_core::tied::Tied;
use krilla::Document;
use krilla::destination::XyzDestination;
use krilla::geom::{Point, Size};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;

pub use self::paper::Paper;
use self::press::{Block, Flow, Paint, Style, Token};
use crate::error::{Error, Problem};
use crate::ink::{INK, QUIET};
use crate::output::recipe::{Making, Recipe, Usual};
use crate::resolved::tree;
use crate::sheet::RowChart;
use crate::{fabric, order, sheet};
use hitchwork_core::text::plain;

/// The margins at the sides, above and below, in points.
const SIDE: f64 = 51.0;
const ABOVE: f64 = 48.0;
const BELOW: f64 = 58.0;
/// How tall the picture of the band may be, in points.
const PICTURE_HEIGHT: f64 = 110.0;
/// How much room a chart must leave for what stands on its page already, in points.
const CHART_HEAD: f64 = 60.0;

const TITLE: Style = Style::strong(25.0, 30.0);
const HEADING: Style = Style::strong(15.0, 21.0);
const ROW: Style = Style::strong(11.0, 18.0);
const TEXT: Style = Style::regular(10.5, 16.0);
const STEP: Style = Style::regular(10.5, 18.0);
const SMALL: Style = Style::regular(8.5, 12.0).coloured(QUIET);

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "pdf",
    meaning: "The sheet that a maker ties from, as pages to print",
    short: "sheet to print",
    usual: Usual::Never,
    stem: "sheet",
    making: Making::Document("pdf", |tied, options| sheet(tied, options.paper)),
};

/// Writes the sheet of a band as PDF.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::pdf::{self, Paper};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let pages = pdf::sheet(&Tied::of(band), Paper::A4)?;
/// assert!(pages.starts_with(b"%PDF-"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the rows of the band have too many knots to be written out, or no picture can
/// be drawn of it.
pub fn sheet(tied: &Tied, paper: Paper) -> Result<Vec<u8>, Error> {
    sheet::check_length(tied)?;
    let (width, height) = paper.size_pt();
    let flow = Flow::new(width - 2.0 * SIDE, height - ABOVE - BELOW);
    // Charts are about 720 pixels wide.
    let chart_height = (flow.height() - CHART_HEAD) / flow.width() * 720.0;
    let mut sheet = PdfSheet {
        tied,
        flow,
        chart: sheet::chart(tied, chart_height)?,
    };
    sheet.write()?;
    print(&sheet, paper)
}

struct PdfSheet<'a> {
    tied: &'a Tied,
    flow: Flow,
    chart: RowChart,
}

impl PdfSheet<'_> {
    fn steps(&self) -> &Steps {
        self.tied.steps()
    }

    fn write(&mut self) -> Result<(), Error> {
        let steps = self.tied.steps();
        self.head()?;
        self.care();
        if !steps.know.is_empty() {
            self.listed("Good to know", &steps.know);
        }
        self.materials();
        self.listed("The knots of this band", &steps.knots);
        self.start()?;
        self.rows_to_tie();
        self.heading("Finish");
        let mut finish = Block::new(self.flow.width());
        finish.words(&plain(&steps.stop), TEXT);
        Self::numbered_in(&mut finish, &steps.finish);
        if !steps.origin.is_empty() {
            finish.gap(8.0);
            finish.words(&plain(&steps.origin), SMALL);
        }
        self.flow.place(finish);
        // Charts fill pages: what is read goes on without a gap before them.
        self.chart()
    }

    /// Title, notes, the band and its measures.
    fn head(&mut self) -> Result<(), Error> {
        let steps = self.tied.steps();
        let width = self.flow.width();
        let mut head = Block::new(width);
        head.words(&plain(&steps.title), TITLE);
        for note in steps.notes.lines().filter(|note| !note.trim().is_empty()) {
            head.words(&plain(note), TEXT.coloured(QUIET));
        }
        self.flow.place(head);
        self.band()?;
        let mut facts = Block::new(width);
        for measure in &steps.measures {
            facts.words(&plain(measure), TEXT);
        }
        self.flow.place(facts);
        Ok(())
    }

    /// What to cut, to buy and to take from the stash.
    fn materials(&mut self) {
        let tied = self.tied;
        let steps = tied.steps();
        self.heading("Cut");
        for sentence in &steps.meant_for {
            self.paragraph(sentence);
        }
        let mut lines = Vec::new();
        for (words, cut) in steps.cuts.iter().zip(&tied.cut_list().cuts) {
            let mut line = Block::new(self.flow.width());
            let mut tokens = Vec::new();
            if let Some(thread) = cut.threads.first() {
                let colour = &steps.threads[usize::from(*thread) - 1].colour;
                tokens.extend([Token::dot(colour.srgb), Token::words("  ")]);
            }
            tokens.push(Token::words(&plain(words)));
            line.tokens(tokens, 0.0, TEXT);
            lines.push(line);
        }
        self.ending_in(lines, &steps.cutting);
        for (heading, lines) in [("Buy", &steps.shopping), ("From the stash", &steps.stash)] {
            if !lines.is_empty() {
                self.listed(heading, lines);
            }
        }
    }

    fn listed(&mut self, heading: &str, lines: &[String]) {
        self.heading(heading);
        for line in lines {
            self.paragraph(line);
        }
    }

    /// The threads as they hang, and how they come to hang so.
    fn start(&mut self) -> Result<(), Error> {
        let steps = self.tied.steps();
        self.heading("Start");
        let mut hanging = Block::new(self.flow.width());
        hanging.words("The threads, from left to right:", TEXT);
        let names = steps.threads.iter().flat_map(|thread| {
            [
                Token::named(thread.number, &thread.colour),
                Token::words(" "),
            ]
        });
        hanging.tokens(names.collect(), 0.0, STEP);
        self.flow.place(hanging);
        self.gap(4.0);
        self.numbered(&steps.start);
        // Of a flat start it shows how the threads hang, as the head of a knot chart does.
        if self.chart.tells_all && self.tied.band().start().shape == Shape::Flat {
            return Ok(());
        }
        self.picture(&order::svg(self.tied), f64::INFINITY)
    }

    fn rows_to_tie(&mut self) {
        let steps = self.tied.steps();
        self.heading_over("Tie", &steps.reading);
        let (before, after): (Vec<&SaidRows>, Vec<&SaidRows>) = steps
            .said
            .iter()
            .partition(|said| said.part != Part::LeadOut);
        self.rows(&before);
        if steps.repeats > 1 {
            self.next_repeats();
        }
        if !after.is_empty() {
            self.heading_below("The lead-out", LEAD_OUT_IS_TIED);
            self.rows(&after);
        }
    }

    /// The cautions, before anything is cut.
    fn care(&mut self) {
        let steps = self.tied.steps();
        self.heading("Take care");
        let mut care = Block::new(self.flow.width());
        for caution in &steps.cautions {
            care.words(&plain(caution), TEXT);
            care.gap(3.0);
        }
        self.flow.place(care);
    }

    fn band(&mut self) -> Result<(), Error> {
        let tied = self.tied;
        let shown = sheet::repeats_pictured(tied);
        let options = fabric::FabricOptions {
            repeats: Some(shown),
            table: false,
            ..fabric::FabricOptions::default()
        };
        let svg = fabric::svg(tied, &options)?;
        self.picture(&svg, PICTURE_HEIGHT)?;
        let repeats = tied.band().repeats();
        if shown < repeats {
            let mut caption = Block::new(self.flow.width());
            caption.words(
                &format!("Drawn with {shown} of its {repeats} repeats."),
                SMALL,
            );
            self.flow.place(caption);
        }
        Ok(())
    }

    fn chart(&mut self) -> Result<(), Error> {
        if self.chart.pages.is_empty() {
            return Ok(());
        }
        self.heading(self.chart.name);
        let height = self.flow.height() - CHART_HEAD;
        for page in std::mem::take(&mut self.chart.pages) {
            self.picture(&page, height)?;
        }
        Ok(())
    }

    /// A picture as wide as the page, or as tall as it may be.
    fn picture(&mut self, svg: &str, tallest: f64) -> Result<(), Error> {
        let tree = tree(svg)?;
        let (own_width, own_height) = (
            f64::from(tree.size().width()),
            f64::from(tree.size().height()),
        );
        let tallest = tallest.min(self.flow.height());
        let scale = (self.flow.width() / own_width).min(tallest / own_height);
        let mut block = Block::new(self.flow.width());
        block.picture(Arc::new(tree), own_width * scale, own_height * scale);
        self.flow.place(block);
        Ok(())
    }

    fn heading(&mut self, name: &str) {
        self.begin(name, HEADING, 18.0, false, "");
    }

    /// A heading with words that belong to it.
    fn heading_over(&mut self, name: &str, words: &str) {
        self.begin(name, HEADING, 18.0, false, words);
    }

    fn heading_below(&mut self, name: &str, words: &str) {
        self.begin(name, ROW, 10.0, true, words);
    }

    /// A heading waits for what comes next, so as not to stand alone below.
    fn begin(&mut self, name: &str, style: Style, above: f64, below: bool, words: &str) {
        let mut block = Block::new(self.flow.width());
        block.gap(above);
        block.words(name, style);
        block.gap(3.0);
        if !words.is_empty() {
            block.words(words, TEXT);
            block.gap(4.0);
        }
        self.flow.hold(block, name, below);
    }

    fn gap(&mut self, height: f64) {
        let mut block = Block::new(self.flow.width());
        block.gap(height);
        self.flow.place(block);
    }

    fn paragraph(&mut self, words: &str) {
        let mut block = Block::new(self.flow.width());
        block.words(&plain(words), TEXT);
        block.gap(4.0);
        self.flow.place(block);
    }

    /// Lines, the last of which stays with the words that end them.
    fn ending_in(&mut self, mut lines: Vec<Block>, words: &str) {
        let mut last = lines.pop().unwrap_or_else(|| Block::new(self.flow.width()));
        for line in lines {
            self.flow.place(line);
        }
        last.gap(4.0);
        last.glue();
        last.words(&plain(words), TEXT);
        last.gap(4.0);
        self.flow.place(last);
    }

    fn numbered(&mut self, sentences: &[String]) {
        let mut block = Block::new(self.flow.width());
        Self::numbered_in(&mut block, sentences);
        self.flow.place(block);
    }

    /// Numbered sentences under others, on one page if they can be.
    fn numbered_in(block: &mut Block, sentences: &[String]) {
        block.gap(4.0);
        for (number, sentence) in (1..).zip(sentences) {
            block.item(number, vec![Token::words(&plain(sentence))], TEXT);
            block.gap(3.0);
        }
    }

    fn next_repeats(&mut self) {
        let tied = self.tied;
        let steps = tied.steps();
        self.heading_below("The next repeats", &steps.again);
        let line = |next: &NextRepeat| {
            let mut block = Block::new(self.flow.width());
            let mut tokens = self.tokens(&next.pieces(), next.leader.number);
            tokens.extend(self.chips(&next.order));
            block.tokens(tokens, 0.0, STEP);
            block
        };
        let lines: Vec<Block> = steps.next_repeats.iter().map(line).collect();
        self.ending_in(lines, &steps.comes_round);
    }

    /// The pieces of a sentence in which this thread works.
    fn tokens(&self, pieces: &[Piece], worker: u16) -> Vec<Token> {
        let token = |piece: &Piece| match piece {
            Piece::Words(words) => Token::words(words),
            Piece::Named => self.chip(worker, true),
            Piece::Thread(thread) => self.chip(*thread, false),
        };
        pieces.iter().map(token).collect()
    }

    fn chip(&self, thread: u16, named: bool) -> Token {
        let colour = &self.steps().threads[usize::from(thread) - 1].colour;
        if named {
            Token::named(thread, colour)
        } else {
            Token::chip(thread, colour)
        }
    }

    fn chips(&self, order: &[u16]) -> Vec<Token> {
        let chips = order
            .iter()
            .flat_map(|thread| [self.chip(*thread, false), Token::words(" ")]);
        chips.collect()
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "pages are measured in single precision"
)]
fn print(sheet: &PdfSheet<'_>, paper: Paper) -> Result<Vec<u8>, Error> {
    let (width, height) = paper.size_pt();
    let steps = sheet.steps();
    let title = plain(&steps.title);
    let mut document = Document::new();
    document.set_metadata(
        Metadata::new()
            .title(title.clone())
            .description(format!("How to tie {title}, row by row."))
            .language("en".to_owned())
            .creator(format!("Hitchwork {}", env!("CARGO_PKG_VERSION"))),
    );
    let paint = Paint::new();
    let pages = sheet.flow.pages();
    for (index, page) in pages.iter().enumerate() {
        let size = Size::from_wh(width as f32, height as f32).expect("paper has a size");
        let mut printed = document.start_page_with(PageSettings::new(size));
        let mut surface = printed.surface();
        for item in page {
            paint.item(&mut surface, item, (SIDE, ABOVE));
        }
        let foot = height - BELOW + 30.0;
        let number = format!("{} of {}", index + 1, pages.len());
        let room = width - 2.0 * SIDE - SMALL.width(&number) - 12.0;
        paint.words(
            &mut surface,
            &SMALL.shortened(&title, room),
            (SIDE, foot),
            SMALL,
        );
        let right = width - SIDE - SMALL.width(&number);
        paint.words(&mut surface, &number, (right, foot), SMALL.coloured(INK));
        surface.finish();
        printed.finish();
    }
    let mut outline = Outline::new();
    let mut nodes: Vec<OutlineNode> = Vec::new();
    for bookmark in sheet.flow.bookmarks() {
        let point = Point::from_xy(0.0, (bookmark.y + ABOVE) as f32);
        let place = XyzDestination::new(bookmark.page, point);
        let node = OutlineNode::new(bookmark.name.clone(), place);
        match nodes.last_mut().filter(|_| bookmark.below) {
            Some(above) => above.push_child(node),
            None => nodes.push(node),
        }
    }
    for node in nodes {
        outline.push_child(node);
    }
    document.set_outline(outline);
    document.finish().map_err(|error| {
        Problem::Printing {
            reason: format!("{error:?}"),
        }
        .into()
    })
}
