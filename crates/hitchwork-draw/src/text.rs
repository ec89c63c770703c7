//! The maker's sheet as plain text, for the terminal and for print.
//!
//! A line is at most [`COLUMNS`] characters wide; what does not fit continues below, indented
//! further than its first line. Sections have a heading in capitals. Every row has a heading,
//! its steps by number, and the order to check it by.

use crate::output::recipe::{Making, Recipe, Usual};
use hitchwork_core::band::Part;
use hitchwork_core::steps::{LEAD_OUT_IS_TIED, Run, SaidRows, Steps, words};
use hitchwork_core::tied::Tied;

use hitchwork_core::text::plain;

/// How wide a line is at most.
pub const COLUMNS: usize = 78;

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "text",
    meaning: "The sheet that a maker ties from, as text",
    short: "sheet as text",
    usual: Usual::ForOne,
    stem: "sheet",
    making: Making::Document("txt", |tied, _| Ok(sheet(tied).into_bytes())),
};

/// Lays the steps of a band out as a sheet.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// # let band = Band::new(BandParts {
/// #     palette: vec![Colour::new("teal", Srgb::new(20, 120, 140)), Colour::new("amber", Srgb::new(240, 190, 60))],
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// // `band`: three threads, the leftmost leads every row.
/// let sheet = hitchwork_draw::text::sheet(&Tied::of(band));
/// assert!(sheet.contains("Row 1 of 1 (repeat)\n"));
/// assert!(sheet.contains("Order now: 2 3 1\n"));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[must_use]
pub fn sheet(tied: &Tied) -> String {
    let steps = tied.steps();
    let mut sheet = TextSheet::default();
    sheet.title(&steps.title);
    for paragraph in steps
        .notes
        .split('\n')
        .filter(|paragraph| !paragraph.trim().is_empty())
    {
        sheet.paragraph(paragraph);
    }

    sheet.heading("THREADS");
    sheet.paragraph("Numbered from left to right, as they hang at the start.");
    for thread in &steps.threads {
        sheet.item(&format!("{:>4}  ", thread.number), &thread.colour.name);
    }

    sheet.heading("TAKE CARE");
    for caution in &steps.cautions {
        sheet.item("- ", caution);
    }

    sheet.heading("CUT");
    for sentence in &steps.meant_for {
        sheet.paragraph(sentence);
    }
    for cut in &steps.cuts {
        sheet.item("- ", cut);
    }
    sheet.paragraph(&steps.cutting);
    if !steps.shopping.is_empty() {
        sheet.heading("BUY");
        for purchase in &steps.shopping {
            sheet.item("- ", purchase);
        }
    }
    if !steps.stash.is_empty() {
        sheet.heading("FROM THE STASH");
        for colour in &steps.stash {
            sheet.item("- ", colour);
        }
    }
    sheet.heading("SIZE AND TIME");
    for measure in &steps.measures {
        sheet.item("- ", measure);
    }
    if !steps.know.is_empty() {
        sheet.heading("GOOD TO KNOW");
        for line in &steps.know {
            sheet.item("- ", line);
        }
    }

    sheet.heading("THE KNOTS OF THIS BAND");
    for knot in &steps.knots {
        sheet.item("- ", knot);
    }

    sheet.heading("START");
    sheet.numbered(&steps.start);

    sheet.heading("ROWS");
    sheet.paragraph(&steps.reading);
    let (before, after): (Vec<&SaidRows>, Vec<&SaidRows>) = steps
        .said
        .iter()
        .partition(|said| said.part != Part::LeadOut);
    sheet.rows(steps, &before);

    if steps.repeats > 1 {
        sheet.heading("THE NEXT REPEATS");
        next_repeats(steps, &mut sheet);
    }
    if !after.is_empty() {
        sheet.heading("THE LEAD-OUT");
        sheet.paragraph(LEAD_OUT_IS_TIED);
        sheet.rows(steps, &after);
    }

    sheet.heading("STOP");
    sheet.paragraph(&steps.stop);
    sheet.heading("FINISH");
    sheet.numbered(&steps.finish);
    if !steps.origin.is_empty() {
        sheet.gap();
        sheet.paragraph(&steps.origin);
    }
    sheet.text
}

fn next_repeats(steps: &Steps, sheet: &mut TextSheet) {
    sheet.paragraph(&steps.again);
    for next in &steps.next_repeats {
        let (number, name) = (next.leader.number, &next.leader.colour.name);
        let known_by = words(&next.pieces(), number, name);
        sheet.hanging(&(known_by + &spaced(&next.order)));
    }
    sheet.paragraph(&steps.comes_round);
}

fn spaced(order: &[u16]) -> String {
    order
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(" ")
}

#[derive(Default)]
struct TextSheet {
    text: String,
}

impl TextSheet {
    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn gap(&mut self) {
        self.text.push('\n');
    }

    fn title(&mut self, title: &str) {
        let title = plain(title);
        let lines = textwrap::wrap(&title, COLUMNS);
        let width = lines
            .iter()
            .map(|line| textwrap::core::display_width(line))
            .max()
            .unwrap_or(0);
        for line in lines {
            self.line(&line);
        }
        self.line(&"=".repeat(width));
    }

    fn heading(&mut self, heading: &str) {
        self.gap();
        self.line(heading);
    }

    fn paragraph(&mut self, text: &str) {
        self.item("", text);
    }

    /// Text whose further lines are indented.
    fn hanging(&mut self, text: &str) {
        self.wrapped("", "  ", text);
    }

    /// Text behind a mark; further lines begin below the text.
    fn item(&mut self, mark: &str, text: &str) {
        self.wrapped(mark, &" ".repeat(mark.len()), text);
    }

    fn wrapped(&mut self, mark: &str, indent: &str, text: &str) {
        let text = plain(text);
        // Most fit: where they could be broken need not be found out.
        let width = match text.is_ascii() {
            true => text.len(),
            false => textwrap::core::display_width(&text),
        };
        if mark.len() + width <= COLUMNS {
            self.text.push_str(mark);
            self.line(&text);
            return;
        }
        let options = textwrap::Options::new(COLUMNS)
            .initial_indent(mark)
            .subsequent_indent(indent)
            .word_splitter(textwrap::WordSplitter::NoHyphenation)
            .word_separator(if text.is_ascii() {
                // A knot's name stays whole, and other scripts need not be thought of.
                textwrap::WordSeparator::AsciiSpace
            } else {
                textwrap::WordSeparator::new()
            });
        for line in textwrap::wrap(&text, options) {
            self.line(&line);
        }
    }

    fn numbered(&mut self, sentences: &[String]) {
        for (number, sentence) in (1..).zip(sentences) {
            self.item(&format!("{number}. "), sentence);
        }
    }

    fn rows(&mut self, steps: &Steps, said: &[&SaidRows]) {
        for said in said {
            self.gap();
            self.line(&said.heading());
            match &said.words {
                Some(words) => self.paragraph(words),
                None => {
                    let runs = steps.rows_of(said).flat_map(|row| &row.runs);
                    let runs: Vec<String> = runs.map(Run::words).collect();
                    self.numbered(&runs);
                }
            }
            if let Some(order) = &said.order_after {
                self.item("Order now: ", &spaced(order));
            }
        }
    }
}
