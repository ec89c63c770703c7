//! A knot chart written, page by page.

use std::collections::BTreeMap;
use std::fmt::{Error as NotWritten, Result as Written, Write};

use hitchwork_core::band::Part;
use hitchwork_core::fabric::Thread;
use hitchwork_core::knot::{Kind, Side};

use super::fit::{
    AIR, BETWEEN_BLOCKS, ENDING, HEADING, KnotBlock, KnotChart, KnotRows, KnotScale, MARGIN, units,
};
use super::lines::{FIVE, LinedRow, RowLie, RowStart};
use super::tile::{TileSize, write_middle};
use crate::font::shortened;
use crate::ink::{
    Anchor, INK, PAPER, PlanePoint, SvgDocument, TITLE_LINE, TextStyle, lines, readable_on, short,
    title, write_title,
};
use crate::strands::Rows;
use hitchwork_core::text::counted;

/// Where the colours begin below the title.
const HEAD: f64 = 62.0;
const WORDS: TextStyle = TextStyle::regular(12.0);
const NUMBERS: TextStyle = TextStyle::strong(12.0);
const LINE: f64 = 18.0;
const SWATCH: f64 = 12.0;
/// The room of a kind of knot in the key, and the tile that shows it.
const KEY_LINE: f64 = 27.0;
const KEY_TILE: TileSize = TileSize {
    across: 44.0,
    along: 24.0,
    font: 13.0,
    sideways: false,
};
const FOOT: f64 = 22.0;

/// A colour with the numbers of its threads, in lines as wide as the page.
struct ColourLines {
    index: u16,
    place: PlanePoint,
    numbers: Vec<String>,
    name: String,
}

impl KnotChart<'_> {
    /// The pages of the chart.
    pub(super) fn write(&self) -> Result<Vec<String>, NotWritten> {
        let lined = [RowLie::Lattice, RowLie::Flat].map(|lie| (lie, self.lined(lie)));
        let wide = 720.0 - 2.0 * MARGIN;
        let top = HEAD + self.colours(wide).1;
        // The key says more of a chart that lies flat.
        let key = self.key(RowLie::Flat, wide).1;
        let room = (self.options.page_height - top - AIR - key - FOOT).max(80.0);
        let (scale, blocks) = self.fitted(&lined, room);
        let pages: Vec<&[KnotBlock<'_>]> = blocks.chunks(scale.blocks).collect();
        let count = pages.len();
        (1..)
            .zip(pages)
            .map(|(number, blocks)| self.page(scale, blocks, number, count))
            .collect()
    }

    fn page(
        &self,
        scale: KnotScale,
        blocks: &[KnotBlock<'_>],
        number: usize,
        count: usize,
    ) -> Result<String, NotWritten> {
        let mut body = String::new();
        let wide = scale.width - 2.0 * MARGIN;
        write_title(&mut body, MARGIN, title(self.band), wide - 90.0)?;
        if count > 1 {
            let words = format!("page {number} of {count}");
            let right = WORDS.anchored(Anchor::End);
            right.write(&mut body, (scale.width - MARGIN, TITLE_LINE), &words)?;
        }
        let (colours, high) = self.colours(wide);
        for colour in &colours {
            self.write_colour(&mut body, colour)?;
        }
        let top = HEAD + high;
        let thick = self.thickness(scale);
        let all = units(blocks.len()) * (thick + BETWEEN_BLOCKS) - BETWEEN_BLOCKS;
        let mut foot = top;
        for (index, block) in blocks.iter().enumerate() {
            let beside = units(index) * (thick + BETWEEN_BLOCKS);
            let corner = match scale.sideways {
                false => ((scale.width - all) / 2.0 + beside, top),
                true => (MARGIN, top + beside),
            };
            self.write_block(&mut body, scale, block, corner)?;
            foot = foot.max(corner.1 + if scale.sideways { thick } else { self.reach(scale, block) });
        }
        let (key, high) = self.key(scale.lie, wide);
        self.write_key(&mut body, scale, &key, foot + AIR)?;
        let sheet = SvgDocument {
            title: &format!("{}: knots", title(self.band)),
            words: &self.words(blocks, number, count),
            width: scale.width,
            height: foot + AIR + high + FOOT,
            body: &body,
        };
        Ok(sheet.write())
    }

    /// How far a block reaches along.
    fn reach(&self, scale: KnotScale, block: &KnotBlock<'_>) -> f64 {
        let last = &block[block.len() - 1];
        let ending = self.ending(last).map_or(0.0, |_| ENDING);
        last.foot + ending + self.order_room(scale)
    }

    /// The colours with the numbers of their threads, and how high that is.
    fn colours(&self, wide: f64) -> (Vec<ColourLines>, f64) {
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

    fn write_colour(&self, out: &mut String, colour: &ColourLines) -> Written {
        let srgb = self.band.palette()[usize::from(colour.index)].srgb;
        let (x, y) = (MARGIN + colour.place.0, HEAD + colour.place.1);
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

    /// A place of a block on the page: across the band from its left edge, and along it.
    fn on_page(&self, scale: KnotScale, corner: PlanePoint, (across, along): PlanePoint) -> PlanePoint {
        let gutter = self.gutter(scale);
        match scale.sideways {
            false => (corner.0 + gutter + across, corner.1 + along),
            true => (
                corner.0 + along,
                corner.1 + HEADING + gutter + self.threads() * scale.across - across,
            ),
        }
    }

    fn write_block(
        &self,
        out: &mut String,
        scale: KnotScale,
        block: &KnotBlock<'_>,
        corner: PlanePoint,
    ) -> Written {
        out.push_str("<g class=\"block\">\n");
        for rows in block {
            let heading = match scale.sideways {
                false => (corner.0, corner.1 + rows.heading + 14.0),
                true => (corner.0, corner.1 + 14.0),
            };
            let room = if scale.sideways { scale.width - 2.0 * MARGIN } else { self.thickness(scale) };
            let hand = TextStyle::strong(13.0);
            let words = self.heading(rows);
            let words = shortened(&words, hand.weight, hand.size, room);
            out.push_str("<g class=\"rows\">\n");
            hand.write(out, heading, &words)?;
            let before = rows.top - self.order_room(scale);
            self.write_order(out, scale, corner, before, rows.order_before(), true)?;
            for (first, row) in &rows.rows {
                self.write_row(out, scale, corner, (rows.top, *first), row)?;
            }
            let foot = rows.foot;
            let mut below = foot;
            if let Some(words) = self.ending(rows) {
                self.write_ending(out, scale, corner, rows, &words)?;
                below += if scale.sideways { 0.0 } else { ENDING };
            }
            if rows.tells_order_after {
                self.write_order(out, scale, corner, below, rows.order_after(), false)?;
            }
            out.push_str("</g>\n");
        }
        out.push_str("</g>\n");
        Ok(())
    }

    fn heading(&self, rows: &KnotRows<'_>) -> String {
        let (part, all) = (rows.section.part, rows.section.rows.len());
        let name = match (part, self.options.rows) {
            (Part::LeadIn, _) => "Lead-in".to_owned(),
            (Part::LeadOut, _) => "Lead-out".to_owned(),
            (Part::Repeat, Rows::Once) => "Repeat".to_owned(),
            (Part::Repeat, _) => {
                format!("Repeat {} of {}", rows.section.pass, self.band.repeats())
            }
        };
        let (first, last) = (rows.rows[0].1.row.row, rows.rows[rows.rows.len() - 1].1.row.row);
        let which = match rows.starts_section && rows.ends_section {
            true => counted(all, "row"),
            false => format!("rows {first} to {last} of {all}"),
        };
        let often = match (part, self.options.rows, self.band.repeats()) {
            (Part::Repeat, Rows::Once, 2..) => format!(", tied {} times", self.band.repeats()),
            _ => String::new(),
        };
        format!("{name}: {which}{often}")
    }

    /// What is said where a repeat ends that is tied again.
    fn ending(&self, rows: &KnotRows<'_>) -> Option<String> {
        let again = self.options.rows == Rows::Once && self.band.repeats() > 1;
        let ends = rows.ends_section && rows.section.part == Part::Repeat;
        (again && ends).then(|| {
            let repeats = self.band.repeats();
            format!("The repeat ends: again from row 1, {repeats} times in all")
        })
    }

    fn write_ending(
        &self,
        out: &mut String,
        scale: KnotScale,
        corner: PlanePoint,
        rows: &KnotRows<'_>,
        words: &str,
    ) -> Written {
        let edge = self.threads() * scale.across;
        let gutter = self.gutter(scale);
        let (from, to) = (
            self.on_page(scale, corner, (-gutter, rows.foot)),
            self.on_page(scale, corner, (edge + gutter, rows.foot)),
        );
        write!(
            out,
            r#"<path d="M{} {}L{} {}" stroke="{INK}" stroke-width="2.4"/>"#,
            short(from.0),
            short(from.1),
            short(to.0),
            short(to.1)
        )?;
        if scale.sideways {
            let end = WORDS.anchored(Anchor::End);
            let room = scale.width - MARGIN;
            let place = ((corner.0 + rows.foot).max(corner.0 + 480.0).min(room), corner.1 + 14.0);
            return end.write(out, place, words);
        }
        let words = shortened(words, WORDS.weight, WORDS.size, self.thickness(scale));
        WORDS.write(out, (corner.0, from.1 + 15.0), &words)
    }

    /// The threads as they hang, each over its position.
    fn write_order(
        &self,
        out: &mut String,
        scale: KnotScale,
        corner: PlanePoint,
        along: f64,
        order: &[Thread],
        is_before: bool,
    ) -> Written {
        let font = scale.small_font();
        let (across, high, count) = self.hanging(scale);
        let name = if is_before { "hanging" } else { "hanging-after" };
        write!(out, r#"<g class="{name}">"#)?;
        for (index, thread) in order.iter().enumerate() {
            let line = units(index % count);
            let place = ((units(index) + 0.5) * scale.across, along + line * (high + 2.0) + high / 2.0);
            let (x, y) = self.on_page(scale, corner, place);
            let (wide, tall) = if scale.sideways { (high, across) } else { (across, high) };
            let colour = self.band.palette()[usize::from(self.fabric.colour(*thread))].srgb;
            write!(
                out,
                r#"<rect x="{}" y="{}" width="{}" height="{}" rx="2.5" fill="{colour}" stroke="{INK}" stroke-width=".8"/>"#,
                short(x - wide / 2.0),
                short(y - tall / 2.0),
                short(wide),
                short(tall)
            )?;
            let hand = TextStyle::strong(font).coloured(readable_on(colour));
            write_middle(out, hand, (x, y), &thread.number().to_string())?;
        }
        out.push_str("</g>\n");
        Ok(())
    }

    fn write_row(
        &self,
        out: &mut String,
        scale: KnotScale,
        corner: PlanePoint,
        (top, first): (f64, f64),
        row: &LinedRow<'_>,
    ) -> Written {
        let along = |line: u32| top + (first + f64::from(line) + 0.5) * scale.along;
        out.push_str(r#"<g class="row">"#);
        for (knot, line) in row.row.knots.iter().zip(&row.lines) {
            let across = f64::from(knot.column.number()) * scale.across;
            let place = self.on_page(scale, corner, (across, along(*line)));
            let colour = self.band.palette()[usize::from(self.fabric.colour(knot.working))].srgb;
            let number = knot.working.number().to_string();
            scale.tile().write(out, place, knot.kind, colour, &number)?;
        }
        for side in [Side::Left, Side::Right] {
            self.write_row_number(out, scale, corner, (side, along(row.line_at(side))), row)?;
        }
        out.push_str("</g>\n");
        Ok(())
    }

    /// The number of a row at an edge, every fifth on dark ground, with a wedge where the row begins.
    fn write_row_number(
        &self,
        out: &mut String,
        scale: KnotScale,
        corner: PlanePoint,
        (side, along): (Side, f64),
        row: &LinedRow<'_>,
    ) -> Written {
        let font = scale.small_font();
        let (edge, out_of) = match side {
            Side::Left => (0.0, -1.0),
            Side::Right => (self.threads() * scale.across, 1.0),
        };
        let begins = match row.start {
            RowStart::Anywhere => false,
            RowStart::Edge(edge) => edge == side,
            RowStart::BothEdges => true,
        };
        let wedge = match scale.lie {
            RowLie::Lattice => 0.0,
            RowLie::Flat => font * 0.8,
        };
        if begins {
            let at = |across, along| self.on_page(scale, corner, (edge + out_of * across, along));
            wedge_at(out, [at(2.0, along), at(2.0 + wedge * 0.8, along - font * 0.38), at(2.0 + wedge * 0.8, along + font * 0.38)])?;
        }
        let words = row.row.row.to_string();
        let hand = TextStyle::strong(font);
        let is_five = row.row.row % FIVE == 0;
        let (wide, high) = (hand.width(&words) + 6.0, font * 1.15);
        let across = if scale.sideways { high } else { wide };
        let middle = edge + out_of * (wedge + 2.0 + across / 2.0);
        let (x, y) = self.on_page(scale, corner, (middle, along));
        out.push_str(r#"<g class="row-number">"#);
        if is_five {
            write!(
                out,
                r#"<rect x="{}" y="{}" width="{}" height="{}" rx="3" fill="{INK}"/>"#,
                short(x - wide / 2.0),
                short(y - high / 2.0),
                short(wide),
                short(high)
            )?;
        }
        let hand = if is_five { hand.coloured(PAPER) } else { hand };
        write_middle(out, hand, (x, y), &words)?;
        out.push_str("</g>");
        Ok(())
    }

    /// What the tiles mean, each kind of knot that is used with its words, how to read the chart, and how
    /// high all of it is.
    fn key(&self, lie: RowLie, wide: f64) -> (KnotKey, f64) {
        let used = |kind: &Kind| {
            let mut knots = self.sections.iter().flat_map(|section| &section.rows);
            knots.any(|row| row.knots.iter().any(|knot| knot.kind == *kind))
        };
        let room = wide - KEY_TILE.across - 10.0;
        let kinds = Kind::ALL.into_iter().filter(used);
        let kinds: Vec<(Kind, Vec<String>)> = kinds
            .map(|kind| (kind, lines(&format!("{kind}: {}.", kind.how()), WORDS, room)))
            .collect();
        let reading = lines(&self.reading(lie), WORDS, wide);
        let high = kinds.iter().map(|(_, words)| kind_room(words));
        let high = high.sum::<f64>() + units(reading.len()) * LINE + AIR;
        (KnotKey { kinds, reading }, high)
    }

    /// How the chart is read.
    fn reading(&self, lie: RowLie) -> String {
        let sideways = self.options.sideways;
        let (ends, above, upper) = match sideways {
            false => ("its top to its foot", "from above", "the upper"),
            true => ("its left end to its right", "from the left", "the left"),
        };
        let mut reading = vec![format!(
            "A tile is a knot between two threads. From {ends} it runs as the thread runs that ties it; colour and number are that thread's. Tie the rows {above}, one after another; of two tiles of a row that touch, {upper} one first."
        )];
        if sideways {
            reading.push(
                "The band lies on its side: its left edge is at the foot of the chart.".to_owned(),
            );
        }
        if lie == RowLie::Flat {
            reading.push("A row with a wedge begins there, and goes on tile by tile; with two, it goes from both edges to the middle.".to_owned());
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

    fn write_key(&self, out: &mut String, scale: KnotScale, key: &KnotKey, top: f64) -> Written {
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
            let first = y + room / 2.0 - units(words.len() - 1) * LINE / 2.0 + 4.0;
            for (index, line) in words.iter().enumerate() {
                let place = (MARGIN + KEY_TILE.across + 10.0, first + units(index) * LINE);
                WORDS.write(out, place, line)?;
            }
            out.push('\n');
            y += room;
        }
        for (index, line) in key.reading.iter().enumerate() {
            WORDS.write(out, (MARGIN, y + 12.0 + units(index) * LINE), line)?;
        }
        out.push_str("</g>\n");
        Ok(())
    }

    /// All that a page shows, for those who hear it.
    fn words(&self, blocks: &[KnotBlock<'_>], number: usize, count: usize) -> String {
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
                words.push_str(&format!(" Now they hang so: {}.", numbers(rows.order_after())));
            }
        }
        words
    }
}

/// What the key of a chart says.
struct KnotKey {
    kinds: Vec<(Kind, Vec<String>)>,
    reading: Vec<String>,
}

fn kind_room(words: &[String]) -> f64 {
    KEY_LINE.max(units(words.len()) * LINE + 4.0)
}

fn wedge_at(out: &mut String, [tip, one, other]: [PlanePoint; 3]) -> Written {
    let at = |(x, y): PlanePoint| format!("{} {}", short(x), short(y));
    let (tip, one, other) = (at(tip), at(one), at(other));
    write!(out, r#"<path class="wedge" d="M{tip}L{one}L{other}Z" fill="{INK}"/>"#)
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
