//! How large a knot chart is drawn, and what of it stands where: one page if it can be read.

use hitchwork_core::band::Band;
use hitchwork_core::fabric::{Fabric, Thread};
use hitchwork_core::tied::Tied;

use super::lines::{KnotSection, LinedRow, RowLie, RowStack};
use super::options::{KnotChartOptions, LEAST_NUMBER_MM, PX_A_MM};
use super::tile::{NUMBER_HEIGHT, PAD, SEAM, TileSize};
use crate::ink::TextStyle;

pub(super) const MARGIN: f64 = 30.0;
const WIDTH: f64 = 720.0;
/// The largest size of a number: more is not read better at arm's length.
const MOST_FONT: f64 = 20.0;
const FONT_STEP: f64 = 0.5;
/// At most so many blocks lie beside each other.
const MOST_BLOCKS: usize = 6;
/// The room between two blocks.
pub(super) const BETWEEN_BLOCKS: f64 = 20.0;
/// The least height of a tile and what may be added where there is room, as shares of its number's size.
const LOW: f64 = 1.24;
const TALLER: [f64; 6] = [1.6, 1.45, 1.3, 1.2, 1.1, 1.0];
/// How far tiles lean or bend, as a share of the size of their numbers: wide ones, and narrow ones. Beside a
/// number that takes so much of the width, once at each side.
const LEAN: [f64; 2] = [0.58, 0.42];
const BESIDE_A_NUMBER: [f64; 2] = [1.76, 1.98];
/// The widest that positions lie apart, as shares of a number's size: half tiles, and whole ones.
const WIDEST: [f64; 2] = [2.3, 3.0];
/// Rows save room where together they take less than this part of what each would take alone.
const NESTED: f64 = 0.8;
/// The room for the heading of a part, and for the words where one ends.
pub(super) const HEADING: f64 = 22.0;
pub(super) const ENDING: f64 = 22.0;
/// The room between rows and what stands above and below them.
pub(super) const AIR: f64 = 6.0;

/// The size of numbers that are as high as they have to be.
pub(super) fn least_font() -> f64 {
    LEAST_NUMBER_MM * PX_A_MM / NUMBER_HEIGHT
}

/// How large a chart is.
#[derive(Clone, Copy, Debug)]
pub(super) struct KnotScale {
    pub(super) lie: RowLie,
    pub(super) font: f64,
    /// The height of a line of knots.
    pub(super) along: f64,
    /// How far positions lie apart.
    pub(super) across: f64,
    /// How many blocks a page has.
    pub(super) blocks: usize,
    pub(super) width: f64,
    pub(super) sideways: bool,
    /// Whether the order is told at the end also where it is that of the start.
    pub(super) tells_end: bool,
}

impl KnotScale {
    /// How many positions a tile covers.
    fn positions_a_tile(self) -> f64 {
        match self.lie {
            RowLie::Lattice => 2.0,
            RowLie::Flat => 1.0,
        }
    }

    fn lean(self) -> f64 {
        LEAN[usize::from(self.lie == RowLie::Flat)] * self.font
    }

    pub(super) fn tile(self) -> TileSize {
        TileSize {
            lean: self.lean(),
            across: self.positions_a_tile() * self.across,
            along: self.along,
            font: self.font,
            sideways: self.sideways,
        }
    }

    /// The size of the numbers of rows and of hanging threads.
    pub(super) fn small_font(self) -> f64 {
        (self.font * 0.9).clamp(least_font(), 16.0)
    }
}

/// Rows of one section that stand together, and where along the block.
pub(super) struct KnotRows<'a> {
    pub(super) section: &'a KnotSection,
    pub(super) starts_section: bool,
    pub(super) ends_section: bool,
    /// Each row with the line on which it begins.
    pub(super) rows: Vec<(f64, &'a LinedRow<'a>)>,
    /// Where the heading stands, where the rows begin, and where they end.
    pub(super) heading: f64,
    pub(super) top: f64,
    pub(super) foot: f64,
    /// Whether the order is told again below.
    pub(super) tells_order_after: bool,
}

impl KnotRows<'_> {
    pub(super) fn order_before(&self) -> &[Thread] {
        &self.rows[0].1.row.order_before
    }

    pub(super) fn order_after(&self) -> &[Thread] {
        &self.rows[self.rows.len() - 1].1.row.order_after
    }
}

/// What stands below each other, or on a chart that lies on its side, after each other.
pub(super) type KnotBlock<'a> = Vec<KnotRows<'a>>;

pub(super) struct KnotChart<'a> {
    pub(super) band: &'a Band,
    pub(super) fabric: &'a Fabric,
    pub(super) options: &'a KnotChartOptions,
    pub(super) sections: &'a [KnotSection],
}

pub(super) fn units(count: usize) -> f64 {
    f64::from(u32::try_from(count).expect("a chart has few of anything"))
}

impl<'a> KnotChart<'a> {
    pub(super) fn new(
        tied: &'a Tied,
        options: &'a KnotChartOptions,
        sections: &'a [KnotSection],
    ) -> Self {
        Self {
            band: tied.followed(),
            fabric: tied.followed_fabric(),
            options,
            sections,
        }
    }

    pub(super) fn threads(&self) -> f64 {
        f64::from(self.band.thread_count())
    }

    fn columns(&self) -> usize {
        usize::from(self.band.thread_count()) - 1
    }

    /// All rows on their lines.
    pub(super) fn lined(&self, lie: RowLie) -> Vec<Vec<LinedRow<'a>>> {
        let of_section = |section: &'a KnotSection| {
            let rows = section.rows.iter();
            rows.map(|row| LinedRow::new(row, lie, self.columns()))
                .collect()
        };
        self.sections.iter().map(of_section).collect()
    }

    /// Whether rows that follow each other save room on the lattice, as those do that slant the same way or
    /// take one line; to and fro over a leader they do not, and lie straight on the table too.
    pub(super) fn nests(&self, lattice: &[Vec<LinedRow<'a>>]) -> bool {
        let mut stack = RowStack::new(self.columns());
        let (mut reach, mut alone) = (0.0_f64, 0.0);
        let rows = || lattice.iter().flatten();
        for row in rows().chain(rows()) {
            let (line, lowest) = stack.place(row);
            stack.lay(row, line);
            reach = reach.max(lowest);
            alone += row.height();
        }
        let are_lines = rows().all(|row| row.lines.iter().all(|line| *line == 0));
        are_lines || reach < NESTED * alone
    }

    /// How wide the widest number of a thread is.
    fn number_width(&self, font: f64) -> f64 {
        let hand = TextStyle::strong(font);
        let numbers = 1..=self.band.thread_count();
        let widths = numbers.map(|number| hand.width(&number.to_string()));
        widths.fold(0.0, f64::max)
    }

    /// How wide the number of the last row is.
    fn row_number_width(&self, font: f64) -> f64 {
        let rows = self.sections.iter().map(|section| section.rows.len());
        let most = rows.max().unwrap_or(1).to_string();
        TextStyle::strong(font).width(&"0".repeat(most.len()))
    }

    /// The room beside the band for the numbers of the rows, across.
    pub(super) fn gutter(&self, scale: KnotScale) -> f64 {
        let font = scale.small_font();
        let wedge = match scale.lie {
            RowLie::Lattice => 0.0,
            RowLie::Flat => font * 0.8,
        };
        let room = if scale.sideways {
            font * 1.2
        } else {
            self.row_number_width(font) + 8.0
        };
        room + wedge + 4.0
    }

    /// The room that a hanging thread takes, across and along the band, and in how many lines they hang.
    pub(super) fn hanging(&self, scale: KnotScale) -> (f64, f64, usize) {
        let font = scale.small_font();
        let (wide, high) = (self.number_width(font) + 5.0, font * 1.3);
        let (across, along) = if scale.sideways {
            (high, wide)
        } else {
            (wide, high)
        };
        let lines = if across + 1.0 > scale.across { 2 } else { 1 };
        (across, along, lines)
    }

    /// The room along the band for the hanging threads.
    pub(super) fn order_room(&self, scale: KnotScale) -> f64 {
        let (_, along, lines) = self.hanging(scale);
        units(lines) * (along + 2.0) + AIR
    }

    /// How thick a block is, across the band.
    pub(super) fn thickness(&self, scale: KnotScale) -> f64 {
        let heading = if scale.sideways { HEADING } else { 0.0 };
        self.threads() * scale.across + 2.0 * self.gutter(scale) + heading
    }

    /// The least that positions have to lie apart.
    fn least_across(&self, scale: KnotScale) -> f64 {
        let number = if scale.sideways {
            scale.font * NUMBER_HEIGHT
        } else {
            self.number_width(scale.font)
        };
        let tile = number
            + BESIDE_A_NUMBER[usize::from(scale.sideways)] * scale.lean()
            + 2.0 * PAD
            + SEAM.0;
        let (across, ..) = self.hanging(scale);
        (tile / scale.positions_a_tile()).max((across + 1.0) / 2.0)
    }

    /// A scale by which numbers of this size fit, with so many blocks on a page; nothing where they do not.
    fn scale(&self, font: f64, blocks: usize, lie: RowLie, room: f64) -> Option<KnotScale> {
        let sideways = self.options.sideways;
        let along = match sideways {
            false => LOW * font,
            true => {
                let small = (font * 0.9).clamp(least_font(), 16.0);
                let number = self.number_width(font) + 4.0 * PAD + SEAM.1;
                number.max(self.row_number_width(small) + 4.0)
            }
        };
        let mut scale = KnotScale {
            lie,
            font,
            along,
            across: 0.0,
            blocks,
            width: WIDTH,
            sideways,
            tells_end: false,
        };
        let least = self.least_across(scale);
        let most = font * WIDEST[usize::from(lie == RowLie::Flat)];
        let thread_room = |all: f64| {
            let each = (all - units(blocks - 1) * BETWEEN_BLOCKS) / units(blocks);
            (each - self.thickness(scale)) / self.threads()
        };
        let all = if sideways { room } else { WIDTH - 2.0 * MARGIN };
        let across = thread_room(all).min(most.max(least));
        if across < least {
            // What does not fit at the least size has a larger page.
            if blocks > 1 || font > least_font() {
                return None;
            }
            scale.across = least;
            if !sideways {
                scale.width = self.thickness(scale) + 2.0 * MARGIN;
            }
            return Some(scale);
        }
        scale.across = across;
        Some(scale)
    }

    /// The scale by which a chart takes the fewest pages; of those the largest, with the fewest blocks, and
    /// with rows that lie as they do first if that is as large. And the blocks, in that scale.
    pub(super) fn fitted(
        &self,
        lined: &'a [(RowLie, Vec<Vec<LinedRow<'a>>>)],
        room: f64,
    ) -> (KnotScale, Vec<KnotBlock<'a>>) {
        let of = |lie: RowLie| {
            let found = lined.iter().find(|(of, _)| *of == lie);
            &found.expect("both are laid").1
        };
        let tried = |font: f64, most: usize| {
            let ways = (1..=MOST_BLOCKS)
                .flat_map(|blocks| lined.iter().map(move |(lie, _)| (blocks, *lie)));
            let scales = ways.filter_map(|(blocks, lie)| self.scale(font, blocks, lie, room));
            let paged = scales.map(|scale| {
                let blocks = self.blocks(scale, of(scale.lie), self.length(scale, room));
                (blocks.len().div_ceil(scale.blocks), scale)
            });
            let mut fewest: Option<(usize, KnotScale)> = None;
            for (pages, scale) in paged {
                if fewest.is_none_or(|(few, _)| pages < few) {
                    fewest = Some((pages, scale));
                }
                if pages <= most {
                    break;
                }
            }
            fewest
        };
        let least = least_font();
        let (pages, mut scale) = tried(least, 1).expect("a page grows as wide as one block");
        let (mut fits, mut too_large) = (least, MOST_FONT + FONT_STEP);
        while too_large - fits > FONT_STEP {
            let font = f64::midpoint(fits, too_large);
            match tried(font, pages).filter(|(found, _)| *found <= pages) {
                Some((_, larger)) => (fits, scale) = (font, larger),
                None => too_large = font,
            }
        }
        let rows = of(scale.lie);
        let count = |scale: KnotScale, length: f64| self.blocks(scale, rows, length).len();
        let most = pages * scale.blocks;
        let with_end = KnotScale {
            tells_end: true,
            ..scale
        };
        let scale = match count(with_end, self.length(scale, room)) <= most {
            true => with_end,
            false => scale,
        };
        let taller = TALLER.into_iter().map(|taller| KnotScale {
            along: scale.along * taller,
            ..scale
        });
        let fits = |scale: &KnotScale| count(*scale, self.length(*scale, room)) <= most;
        let scale = taller.into_iter().find(fits).unwrap_or(scale);
        // The blocks of a page are made as long as each other.
        let longest = self.length(scale, room);
        let needs = count(scale, longest);
        let (mut short, mut enough) = (0.0, longest);
        while enough - short > 1.0 {
            let length = f64::midpoint(short, enough);
            match count(scale, length) <= needs {
                true => enough = length,
                false => short = length,
            }
        }
        (scale, self.blocks(scale, rows, enough))
    }

    /// How long a block may be, where so much room is on a page.
    fn length(&self, scale: KnotScale, room: f64) -> f64 {
        if scale.sideways {
            scale.width - 2.0 * MARGIN
        } else {
            room
        }
    }

    /// All rows in blocks that are no longer than this, but for rows that are longer by themselves.
    fn blocks(
        &self,
        scale: KnotScale,
        lined: &'a [Vec<LinedRow<'a>>],
        length: f64,
    ) -> Vec<KnotBlock<'a>> {
        let order = self.order_room(scale);
        let head = if scale.sideways {
            order
        } else {
            HEADING + order
        };
        let ending = if scale.sideways { 0.0 } else { ENDING };
        let mut blocks: Vec<KnotBlock<'a>> = Vec::new();
        for (section, rows) in self.sections.iter().zip(lined) {
            let mut from = 0;
            while from < rows.len() {
                // An order that is as before, or told again at the head of the next block, is not told.
                let last = &rows[rows.len() - 1];
                let is_moved = last.row.order_after != rows[from].row.order_before;
                let end = if scale.tells_end || is_moved {
                    order
                } else {
                    0.0
                } + ending;
                let mut stack = RowStack::new(self.columns());
                let first = stack.place(&rows[from]).1 * scale.along;
                let before = blocks.last().and_then(|block| block.last());
                let used = before.map(|rows| {
                    let goes_on = rows.order_after() == section.rows[from].order_before;
                    rows.foot + ending + if goes_on { 0.0 } else { order }
                });
                let fits = |used: &f64| used + head + first + AIR + end <= length;
                let heading = used.filter(|used| from == 0 && !scale.sideways && fits(used));
                let top = heading.unwrap_or(0.0) + head;
                let mut laid: Vec<(f64, &LinedRow<'_>)> = Vec::new();
                let mut lines = 0.0_f64;
                for row in &rows[from..] {
                    let (line, lowest) = stack.place(row);
                    let is_last = from + laid.len() + 1 == rows.len();
                    let below = AIR + if is_last { end } else { 0.0 };
                    if !laid.is_empty() && top + lowest * scale.along + below > length {
                        break;
                    }
                    stack.lay(row, line);
                    lines = lines.max(lowest);
                    laid.push((line, row));
                }
                let starts_section = from == 0;
                from += laid.len();
                let placed = KnotRows {
                    section,
                    starts_section,
                    ends_section: from == rows.len(),
                    rows: laid,
                    heading: heading.unwrap_or(0.0),
                    top,
                    foot: top + lines * scale.along + AIR,
                    tells_order_after: from == rows.len() && (scale.tells_end || is_moved),
                };
                match blocks.last_mut().filter(|_| heading.is_some()) {
                    Some(block) => {
                        let before = block.last_mut().expect("no block is empty");
                        before.tells_order_after &= before.order_after() != placed.order_before();
                        block.push(placed);
                    }
                    None => blocks.push(vec![placed]),
                }
            }
        }
        blocks
    }
}
