//! What stands round the rows of a knot chart: the colours above, the key below, and all of it in words.

use std::collections::BTreeMap;
use std::fmt::{Result as Written, Write};

use hitchwork_core::band::Part;
use hitchwork_core::fabric::Thread;
use hitchwork_core::knot::Kind;

use super::fit::{AIR, KnotBlock, KnotChart, KnotScale, MARGIN, units};
use super::lines::{LinedRow, RowStart};
use super::tile::TileSize;
use crate::font::shortened;
use crate::ink::{INK, PAPER, PlanePoint, TextStyle, lines, short};
use crate::strands::Rows;

pub(super) const WORDS: TextStyle = TextStyle::regular(12.0);
const NUMBERS: TextStyle = TextStyle::strong(12.0);
const LINE: f64 = 18.0;
const KEY_WORDS: TextStyle = TextStyle::regular(11.5);
const KEY_WORDS_LINE: f64 = 15.0;
const SWATCH: f64 = 12.0;
/// The room of a kind of knot in the key, and the tile that shows it.
const KEY_LINE: f64 = 26.0;
const KEY_TILE: TileSize = TileSize {
    across: 44.0,
    along: 23.0,
    font: 13.0,
    lean: 8.0,
    sideways: false,
};

/// A colour with the numbers of its threads, in lines as wide as the page.
pub(super) struct ColourLines {
    index: u16,
    place: PlanePoint,
    numbers: Vec<String>,
    name: String,
}

/// What the key of a chart says.
pub(super) struct KnotKey {
    kinds: Vec<(Kind, Vec<String>)>,
    reading: Vec<String>,
}

fn kind_room(words: &[String]) -> f64 {
    KEY_LINE.max(units(words.len()) * KEY_WORDS_LINE + 5.0)
}

impl KnotChart<'_> {
    /// The colours with the numbers of their threads, and how high that is.
    pub(super) fn colours(&self, wide: f64) -> (Vec<ColourLines>, f64) {
        let mut threads: BTreeMap<u16, Vec<u16>> = BTreeMap::new();
        for (number, index) in (1..).zip(self.band.thread_colours()) {
            threads.entry(*index).or_default().push(number);
        }
        let mut first: Vec<(u16, Vec<u16>)> = threads.into_iter().collect();
        first.sort_by_key(|(_, threads)| threads[0]);
        let (mut x, mut y) = (0.0, 0.0);
        let colour = |(index, threads): (u16, Vec<u16>)| {
            let name = &self.band.palette()[usize::from(index)].name;
            let name = shortened(name, WORDS.weight, WORDS.size, wide / 2.0);
            let most = wide - SWATCH - WORDS.width(&name) - 24.0;
            let numbers = lines(&in_spans(&threads), NUMBERS, most);
            let widest = numbers.iter().map(|line| NUMBERS.width(line));
            let own = SWATCH + 6.0 + widest.fold(0.0, f64::max) + 6.0 + WORDS.width(&name);
            if x > 0.0 && x + own > wide {
                (x, y) = (0.0, y + LINE);
            }
            let place = (x, y);
            x += own + 20.0;
            y += LINE * units(numbers.len() - 1);
            ColourLines {
                index,
                place,
                numbers,
                name,
            }
        };
        let colours: Vec<ColourLines> = first.into_iter().map(colour).collect();
        (colours, y + LINE + 4.0)
    }

    pub(super) fn write_colour(&self, out: &mut String, colour: &ColourLines) -> Written {
        let srgb = self.band.palette()[usize::from(colour.index)].srgb;
        let (x, y) = (MARGIN + colour.place.0, self.head() + colour.place.1);
        write!(
            out,
            r#"<g class="colour"><rect x="{}" y="{}" width="{SWATCH}" height="{SWATCH}" rx="2" fill="{srgb}" stroke="{INK}" stroke-width=".8"/>"#,
            short(x),
            short(y - SWATCH + 1.0),
        )?;
        let mut right = x + SWATCH + 6.0;
        for (index, line) in colour.numbers.iter().enumerate() {
            NUMBERS.write(out, (x + SWATCH + 6.0, y + LINE * units(index)), line)?;
            right = right.max(x + SWATCH + 12.0 + NUMBERS.width(line));
        }
        WORDS.write(out, (right, y), &colour.name)?;
        out.push_str("</g>\n");
        Ok(())
    }

    /// What the tiles mean, each kind of knot that is used with its words, how to read the chart, and how
    /// high all of it is.
    pub(super) fn key(&self, lined: &[Vec<LinedRow<'_>>], wide: f64) -> (KnotKey, f64) {
        let used = |kind: &Kind| {
            let mut knots = self.sections.iter().flat_map(|section| &section.rows);
            knots.any(|row| row.knots.iter().any(|knot| knot.kind == *kind))
        };
        let room = wide - KEY_TILE.across - 10.0;
        let kinds = Kind::ALL.into_iter().filter(used);
        let kinds: Vec<(Kind, Vec<String>)> = kinds
            .map(|kind| {
                (
                    kind,
                    lines(&format!("{kind}: {}.", kind.how()), KEY_WORDS, room),
                )
            })
            .collect();
        let reading = lines(&self.reading(lined), KEY_WORDS, wide);
        let high = kinds.iter().map(|(_, words)| kind_room(words));
        let high = high.sum::<f64>() + units(reading.len()) * KEY_WORDS_LINE + AIR;
        (KnotKey { kinds, reading }, high)
    }

    /// How the chart is read.
    fn reading(&self, lined: &[Vec<LinedRow<'_>>]) -> String {
        let rows = || lined.iter().flatten();
        let sideways = self.options.sideways;
        let (ends, above, upper) = match sideways {
            false => ("its top to its foot", "from above", "the upper"),
            true => ("its left end to its right", "from the left", "the left"),
        };
        let mut reading = vec![format!(
            "A tile is a knot between two threads. From {ends} it runs as the thread runs that ties it; colour and number are that thread's. Tie the rows one after another, {above}."
        )];
        if rows().any(|row| row.lines.iter().any(|line| *line > 0)) {
            reading.push(format!(
                "Of two tiles of a row that touch, {upper} one comes first."
            ));
        }
        if sideways {
            reading.push(
                "The band lies on its side: its left edge is at the foot of the chart.".to_owned(),
            );
        }
        if rows().any(|row| row.start != RowStart::Anywhere) {
            reading.push("A row with a wedge begins there, and goes on tile by tile.".to_owned());
        }
        if rows().any(|row| row.start == RowStart::BothEdges) {
            reading.push("With two wedges it goes from both edges to the middle.".to_owned());
        }
        let moves = self.band.repeats() > 1
            && self.options.rows == Rows::Once
            && self.sections.iter().any(|section| {
                let rows = &section.rows;
                let (first, last) = (&rows[0], &rows[rows.len() - 1]);
                section.part == Part::Repeat && first.order_before != last.order_after
            });
        if moves {
            reading.push("Numbers and colours are those of the first repeat; later repeats have the same knots at the same places, tied by the threads that hang there then.".to_owned());
        }
        reading.join(" ")
    }

    pub(super) fn write_key(
        &self,
        out: &mut String,
        scale: KnotScale,
        key: &KnotKey,
        top: f64,
    ) -> Written {
        out.push_str("<g class=\"key\">\n");
        let mut y = top;
        let tile = TileSize {
            sideways: scale.sideways,
            ..KEY_TILE
        };
        let tile = match scale.sideways {
            // What lies on its side is as wide and as high.
            true => TileSize {
                across: KEY_TILE.along,
                along: KEY_TILE.across,
                ..tile
            },
            false => tile,
        };
        for (kind, words) in &key.kinds {
            let room = kind_room(words);
            let middle = (MARGIN + KEY_TILE.across / 2.0, y + room / 2.0);
            tile.write(out, middle, *kind, PAPER, "")?;
            let first = y + room / 2.0 - units(words.len() - 1) * KEY_WORDS_LINE / 2.0 + 4.0;
            for (index, line) in words.iter().enumerate() {
                let down = units(index) * KEY_WORDS_LINE;
                let place = (MARGIN + KEY_TILE.across + 10.0, first + down);
                KEY_WORDS.write(out, place, line)?;
            }
            out.push('\n');
            y += room;
        }
        for (index, line) in key.reading.iter().enumerate() {
            let down = 13.0 + units(index) * KEY_WORDS_LINE;
            KEY_WORDS.write(out, (MARGIN, y + down), line)?;
        }
        out.push_str("</g>\n");
        Ok(())
    }

    /// All that a page shows, for those who hear it.
    pub(super) fn words(&self, blocks: &[KnotBlock<'_>], number: usize, count: usize) -> String {
        let mut words = String::from("The knot chart: every knot as a tile, row by row.");
        if count > 1 {
            words.push_str(&format!(" Page {number} of {count}."));
        }
        let numbers = |order: &[Thread]| {
            let numbers: Vec<String> = order.iter().map(ToString::to_string).collect();
            numbers.join(" ")
        };
        for rows in blocks.iter().flatten() {
            let (heading, order) = (self.heading(rows), numbers(rows.order_before()));
            words.push_str(&format!(" {heading}. The threads hang so: {order}."));
            for (_, row) in &rows.rows {
                let knots = row.row.knots.iter();
                let knots = knots.map(|knot| format!("thread {} {}", knot.working, knot.kind));
                let knots: Vec<String> = knots.collect();
                words.push_str(&format!(" Row {}: {}.", row.row.row, knots.join(", ")));
            }
            if let Some(ending) = self.ending(rows) {
                words.push_str(&format!(" {ending}."));
            }
            if rows.tells_order_after {
                words.push_str(&format!(
                    " Now they hang so: {}.",
                    numbers(rows.order_after())
                ));
            }
        }
        words
    }
}

/// "1, 3, 5 to 8": numbers in rising order, those that follow each other as one span.
fn in_spans(numbers: &[u16]) -> String {
    let spans = numbers.chunk_by(|one, next| one + 1 == *next);
    let span = |span: &[u16]| match span {
        [one] => one.to_string(),
        [one, other] => format!("{one}, {other}"),
        [first, .., last] => format!("{first} to {last}"),
        [] => String::new(),
    };
    spans.map(span).collect::<Vec<_>>().join(", ")
}
