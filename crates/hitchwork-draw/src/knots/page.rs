//! A knot chart written, page by page.

use std::fmt::{Error as NotWritten, Result as Written, Write};

use hitchwork_core::band::Part;
use hitchwork_core::fabric::Thread;
use hitchwork_core::knot::Side;

use super::fit::{
    AIR, BETWEEN_BLOCKS, ENDING, HEADING, KnotBlock, KnotChart, KnotRows, KnotScale, MARGIN, units,
};
use super::key::{KnotKey, WORDS};
use super::lines::{FIVE, LinedRow, RowLie, RowStart};
use super::tile::write_middle;
use crate::font::shortened;
use crate::ink::{
    Anchor, INK, PAPER, PlanePoint, SvgDocument, TITLE_LINE, TextStyle, readable_on, short, title,
    write_small_chip, write_title,
};
use crate::strands::Rows;
use hitchwork_core::text::counted;

/// Where the colours begin, below a title and without one.
const HEAD: f64 = 62.0;
const HEAD_ALONE: f64 = 22.0;
const FOOT: f64 = 22.0;

impl KnotChart<'_> {
    /// The pages of the chart.
    pub(super) fn write(&self) -> Result<Vec<String>, NotWritten> {
        let mut lined = [RowLie::Lattice, RowLie::Flat].map(|lie| (lie, self.lined(lie)));
        if !self.nests(&lined[0].1) {
            lined.reverse();
        }
        let wide = 720.0 - 2.0 * MARGIN;
        let top = self.head() + self.colours(wide).1;
        let keys = lined.iter().map(|(_, lined)| self.key(lined, wide).1);
        let key = keys.fold(0.0, f64::max);
        let room = (self.options.page_height - top - AIR - key - FOOT).max(80.0);
        let (scale, blocks) = self.fitted(&lined, room);
        let pages: Vec<&[KnotBlock<'_>]> = blocks.chunks(scale.blocks).collect();
        let count = pages.len();
        let of_lie = lined.iter().find(|(lie, _)| *lie == scale.lie);
        let (key, high) = self.key(
            of_lie.map_or(&[], |(_, lined)| lined),
            scale.width - 2.0 * MARGIN,
        );
        let page = |(number, blocks)| self.page(scale, blocks, (&key, high), (number, count));
        (1..).zip(pages).map(page).collect()
    }

    /// Where the colours begin.
    pub(super) const fn head(&self) -> f64 {
        if self.options.titled {
            HEAD
        } else {
            HEAD_ALONE
        }
    }

    fn page(
        &self,
        scale: KnotScale,
        blocks: &[KnotBlock<'_>],
        (key, key_height): (&KnotKey, f64),
        (number, count): (usize, usize),
    ) -> Result<String, NotWritten> {
        let mut body = String::new();
        let wide = scale.width - 2.0 * MARGIN;
        if self.options.titled {
            write_title(&mut body, MARGIN, title(self.band), wide - 90.0)?;
        }
        if count > 1 && self.options.titled {
            let words = format!("page {number} of {count}");
            let right = WORDS.anchored(Anchor::End);
            right.write(&mut body, (scale.width - MARGIN, TITLE_LINE), &words)?;
        }
        let (colours, high) = self.colours(wide);
        for colour in &colours {
            self.write_colour(&mut body, colour)?;
        }
        let top = self.head() + high;
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
            foot = foot.max(
                corner.1
                    + if scale.sideways {
                        thick
                    } else {
                        self.reach(scale, block)
                    },
            );
        }
        self.write_key(&mut body, scale, key, foot + AIR)?;
        let sheet = SvgDocument {
            title: &format!("{}: knots", title(self.band)),
            words: &self.words(blocks, number, count),
            width: scale.width,
            height: foot + AIR + key_height + FOOT,
            body: &body,
        };
        Ok(sheet.write())
    }

    /// How far a block reaches along.
    fn reach(&self, scale: KnotScale, block: &KnotBlock<'_>) -> f64 {
        let last = &block[block.len() - 1];
        let ending = self.ending(last).map_or(0.0, |_| ENDING);
        let order = match last.tells_order_after {
            true => self.order_room(scale),
            false => 0.0,
        };
        last.foot + ending + order
    }

    /// A place of a block on the page: across the band from its left edge, and along it.
    fn on_page(
        &self,
        scale: KnotScale,
        corner: PlanePoint,
        (across, along): PlanePoint,
    ) -> PlanePoint {
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
            let room = if scale.sideways {
                scale.width - 2.0 * MARGIN
            } else {
                self.thickness(scale)
            };
            out.push_str("<g class=\"rows\">\n");
            let (hand, words) = self.fitted_heading(rows, room);
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
                below += if scale.sideways { AIR } else { ENDING };
            }
            if rows.tells_order_after {
                self.write_order(out, scale, corner, below, rows.order_after(), false)?;
            }
            out.push_str("</g>\n");
        }
        out.push_str("</g>\n");
        Ok(())
    }

    /// The heading as it fits: in whole, smaller, or shorter.
    fn fitted_heading(&self, rows: &KnotRows<'_>, room: f64) -> (TextStyle, String) {
        let sizes = [13.0, 11.0].map(TextStyle::strong);
        let all = self.headings(rows);
        let forms = all.iter().flat_map(|words| sizes.map(|hand| (hand, words)));
        let mut fitting = forms.filter(|(hand, words)| hand.width(words) <= room);
        match fitting.next() {
            Some((hand, words)) => (hand, words.clone()),
            None => (
                sizes[1],
                shortened(&all[1], sizes[1].weight, sizes[1].size, room),
            ),
        }
    }

    pub(super) fn heading(&self, rows: &KnotRows<'_>) -> String {
        let [whole, _] = self.headings(rows);
        whole
    }

    /// What stands over rows: which they are, and how often they are tied; in whole, and in short.
    fn headings(&self, rows: &KnotRows<'_>) -> [String; 2] {
        let (part, all) = (rows.section.part, rows.section.rows.len());
        let name = match (part, self.options.rows) {
            (Part::LeadIn, _) => "Lead-in".to_owned(),
            (Part::LeadOut, _) => "Lead-out".to_owned(),
            (Part::Repeat, Rows::Once) => "Repeat".to_owned(),
            (Part::Repeat, _) => {
                format!("Repeat {} of {}", rows.section.pass, self.band.repeats())
            }
        };
        let (first, last) = (
            rows.rows[0].1.row.row,
            rows.rows[rows.rows.len() - 1].1.row.row,
        );
        let which = match rows.starts_section && rows.ends_section {
            true => counted(all, "row"),
            false => format!("rows {first} to {last} of {all}"),
        };
        match (part, self.options.rows, self.band.repeats()) {
            (Part::Repeat, Rows::Once, times @ 2..) => [
                format!("{name}: {which}, tied {times} times"),
                format!("{name}, {times} times"),
            ],
            _ => [format!("{name}: {which}"), name],
        }
    }

    /// What is said where a repeat ends that is tied again.
    pub(super) fn ending(&self, rows: &KnotRows<'_>) -> Option<String> {
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
            let place = (
                (corner.0 + rows.foot).max(corner.0 + 480.0).min(room),
                corner.1 + 14.0,
            );
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
        let name = if is_before {
            "hanging"
        } else {
            "hanging-after"
        };
        write!(out, r#"<g class="{name}">"#)?;
        for (index, thread) in order.iter().enumerate() {
            let line = units(index % count);
            let place = (
                (units(index) + 0.5) * scale.across,
                along + line * (high + 2.0) + high / 2.0,
            );
            let (x, y) = self.on_page(scale, corner, place);
            let (wide, tall) = if scale.sideways {
                (high, across)
            } else {
                (across, high)
            };
            let colour = self.band.palette()[usize::from(self.fabric.colour(*thread))].srgb;
            write_small_chip(out, (x, y), (wide, tall), colour)?;
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
            wedge_at(
                out,
                [
                    at(2.0, along),
                    at(2.0 + wedge * 0.8, along - font * 0.38),
                    at(2.0 + wedge * 0.8, along + font * 0.38),
                ],
            )?;
        }
        let words = row.row.row.to_string();
        let hand = TextStyle::strong(font);
        let is_five = row.row.row.is_multiple_of(FIVE);
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
}

fn wedge_at(out: &mut String, [tip, one, other]: [PlanePoint; 3]) -> Written {
    let at = |(x, y): PlanePoint| format!("{} {}", short(x), short(y));
    let (tip, one, other) = (at(tip), at(one), at(other));
    write!(
        out,
        r#"<path class="wedge" d="M{tip}L{one}L{other}Z" fill="{INK}"/>"#
    )
}
