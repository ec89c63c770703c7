//! Setting words, chips and pictures into lines, lines onto pages, and pages into print.

use std::sync::Arc;

use hitchwork_core::colour::{Colour, Srgb};
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point, Size, Transform};
use krilla::num::NormalizedF32;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};
use krilla_svg::{SurfaceExt, SvgSettings};
use resvg::usvg::Tree;

use crate::font::{REGULAR, STRONG, Weight, shortened, width};
use crate::ink::{INK, readable_on};
use hitchwork_core::text::plain;

/// How lines of words are set; lengths in points.
#[derive(Clone, Copy, Debug)]
pub(super) struct Style {
    size: f64,
    line: f64,
    weight: Weight,
    colour: Srgb,
}

impl Style {
    pub(super) const fn regular(size: f64, line: f64) -> Self {
        Self {
            size,
            line,
            weight: Weight::Regular,
            colour: INK,
        }
    }

    pub(super) const fn strong(size: f64, line: f64) -> Self {
        Self {
            weight: Weight::Strong,
            ..Self::regular(size, line)
        }
    }

    pub(super) const fn coloured(self, colour: Srgb) -> Self {
        Self { colour, ..self }
    }

    pub(super) fn width(self, words: &str) -> f64 {
        width(words, self.weight, self.size)
    }

    /// How far to the right words begin behind their heading.
    fn behind(self, heading: &str) -> f64 {
        self.weighing(Weight::Strong, self.colour).width(heading) + self.size * 0.5
    }

    /// How wide words are with their heading before them.
    pub(super) fn width_behind(self, heading: &str, words: &str) -> f64 {
        self.behind(heading) + self.width(words)
    }

    pub(super) fn shortened(self, words: &str, most: f64) -> String {
        shortened(words, self.weight, self.size, most)
    }

    /// Where letters stand in a line, from its top.
    fn base(self) -> f64 {
        self.line * 0.5 + self.size * 0.36
    }

    const fn weighing(self, weight: Weight, colour: Srgb) -> Self {
        Self {
            weight,
            colour,
            ..self
        }
    }
}

/// What a line is made of. Lines break at the spaces of words.
#[derive(Clone, Debug)]
pub(super) enum Token {
    Words(String),
    Chip {
        number: String,
        name: Option<String>,
        colour: Srgb,
    },
    Dot(Srgb),
}

impl Token {
    pub(super) fn words(words: &str) -> Self {
        Self::Words(words.to_owned())
    }

    /// A thread by its number, on its colour.
    pub(super) fn chip(number: u16, colour: &Colour) -> Self {
        Self::Chip {
            number: number.to_string(),
            name: None,
            colour: colour.srgb,
        }
    }

    /// A thread by its number and the name of its colour, on its colour.
    pub(super) fn named(number: u16, colour: &Colour) -> Self {
        Self::Chip {
            number: number.to_string(),
            name: Some(plain(&colour.name)),
            colour: colour.srgb,
        }
    }

    pub(super) const fn dot(colour: Srgb) -> Self {
        Self::Dot(colour)
    }

    fn width(&self, style: Style) -> f64 {
        match self {
            Self::Words(words) => style.width(words),
            Self::Dot(_) => style.size,
            Self::Chip { number, name, .. } => {
                let strong = style.weighing(Weight::Strong, INK);
                let name = name.as_ref();
                let name = name.map_or(0.0, |name| style.width(name) + chip_gap(style));
                let least = style.size * 1.5;
                (strong.width(number) + name + 2.0 * chip_pad(style)).max(least)
            }
        }
    }
}

fn chip_pad(style: Style) -> f64 {
    style.size * 0.36
}

fn chip_gap(style: Style) -> f64 {
    style.size * 0.36
}

/// Something printed, at its place on the page.
#[derive(Clone, Debug)]
pub(super) struct PageItem {
    x: f64,
    y: f64,
    what: PageMark,
}

#[derive(Clone, Debug)]
enum PageMark {
    Words(String, Style),
    Ground {
        width: f64,
        height: f64,
        radius: f64,
        colour: Srgb,
    },
    Picture {
        width: f64,
        height: f64,
        tree: Arc<Tree>,
    },
}

#[derive(Clone, Debug, Default)]
struct TextLine {
    height: f64,
    items: Vec<PageItem>,
    /// Whether it stays on the page of the line after it.
    glued: bool,
}

/// Lines that stay on one page if they can.
#[derive(Clone, Debug)]
pub(super) struct Block {
    width: f64,
    lines: Vec<TextLine>,
    /// How far to the right the tokens of its last line reach.
    reach: f64,
}

impl Block {
    pub(super) const fn new(width: f64) -> Self {
        Self {
            width,
            lines: Vec::new(),
            reach: 0.0,
        }
    }

    pub(super) fn gap(&mut self, height: f64) {
        self.glue();
        self.lines.push(TextLine {
            height,
            ..TextLine::default()
        });
    }

    /// The last line stays with the next.
    pub(super) fn glue(&mut self) {
        if let Some(line) = self.lines.last_mut() {
            line.glued = true;
        }
    }

    pub(super) fn words(&mut self, words: &str, style: Style) {
        self.tokens(vec![Token::words(words)], 0.0, style);
    }

    /// A step with its number.
    pub(super) fn item(&mut self, number: usize, tokens: Vec<Token>, style: Style) {
        let indent = style.size * 1.9;
        let first = self.lines.len();
        self.tokens(tokens, indent, style);
        let number = format!("{number}.");
        let strong = style.weighing(Weight::Strong, style.colour);
        if let Some(line) = self.lines.get_mut(first) {
            line.items.insert(
                0,
                PageItem {
                    x: (indent - style.size * 0.5 - strong.width(&number)).max(0.0),
                    y: style.base(),
                    what: PageMark::Words(number, strong),
                },
            );
        }
    }

    /// Sets tokens into as many lines as they take, behind an indent; these stay together.
    pub(super) fn tokens(&mut self, tokens: Vec<Token>, indent: f64, style: Style) {
        self.set(Setter::new(style, indent, self.width), tokens);
    }

    /// Headings with their words, each in its share of one line.
    pub(super) fn beside(&mut self, cells: &[(String, String)], style: Style) {
        let share = self.width / cells.iter().map(|_| 1.0).sum::<f64>();
        let (mut items, mut x) = (Vec::new(), 0.0);
        for (heading, words) in cells {
            let strong = style.weighing(Weight::Strong, style.colour);
            let behind = x + style.behind(heading);
            for (x, words, style) in [(x, heading, strong), (behind, words, style)] {
                items.push(PageItem {
                    x,
                    y: style.base(),
                    what: PageMark::Words(words.clone(), style),
                });
            }
            x += share;
        }
        self.lines.push(TextLine {
            height: style.line,
            items,
            glued: false,
        });
    }

    /// Tokens that begin in the line of their heading.
    pub(super) fn behind(&mut self, heading: &str, tokens: Vec<Token>, style: Style) {
        let mut setter = Setter::new(style, 0.0, self.width);
        let strong = style.weighing(Weight::Strong, style.colour);
        setter.x = style.behind(heading);
        setter.line.push(PageItem {
            x: 0.0,
            y: style.base(),
            what: PageMark::Words(heading.to_owned(), strong),
        });
        self.set(setter, tokens);
    }

    /// Sets tokens at the right end of the last line if they fit there, else below it.
    pub(super) fn at_right(&mut self, tokens: Vec<Token>, style: Style) {
        let mut alone = Setter::new(style, 0.0, f64::INFINITY);
        for atom in atoms(tokens.clone(), style, self.width) {
            alone.set(atom);
        }
        let start = self.width - alone.x;
        let Some(last) = self
            .lines
            .last_mut()
            .filter(|_| self.reach + 2.0 * style.size <= start)
        else {
            self.glue();
            self.tokens(tokens, 0.0, style);
            return;
        };
        alone.end_line();
        let items = alone.lines.into_iter().flatten();
        last.items.extend(items.map(|item| PageItem {
            x: item.x + start,
            ..item
        }));
    }

    fn set(&mut self, mut setter: Setter, tokens: Vec<Token>) {
        let style = setter.style;
        for atom in atoms(tokens, style, setter.right - setter.indent) {
            setter.set(atom);
        }
        self.reach = setter.x;
        setter.end_line();
        let last = setter.lines.len().saturating_sub(1);
        for (index, items) in setter.lines.into_iter().enumerate() {
            self.lines.push(TextLine {
                height: style.line,
                items,
                glued: index < last,
            });
        }
    }

    pub(super) fn picture(&mut self, tree: Arc<Tree>, width: f64, height: f64) {
        let x = (self.width - width) / 2.0;
        self.gap(6.0);
        self.glue();
        self.lines.push(TextLine {
            height,
            items: vec![PageItem {
                x,
                y: 0.0,
                what: PageMark::Picture {
                    width,
                    height,
                    tree,
                },
            }],
            glued: false,
        });
        self.gap(6.0);
    }

    fn height(&self) -> f64 {
        self.lines.iter().map(|line| line.height).sum()
    }
}

/// What no line breaks within: tokens without a space between them.
type Atom = Vec<Token>;

fn atoms(tokens: Vec<Token>, style: Style, room: f64) -> Vec<Atom> {
    let mut atoms = Vec::new();
    let mut atom = Atom::new();
    let mut end = |atom: &mut Atom| {
        if !atom.is_empty() {
            atoms.push(std::mem::take(atom));
        }
    };
    for token in tokens {
        match token {
            Token::Words(words) => {
                for (index, word) in words.split(' ').enumerate() {
                    if index > 0 {
                        end(&mut atom);
                    }
                    for part in parts(word, style, room) {
                        atom.push(Token::Words(part));
                    }
                }
            }
            Token::Chip {
                number,
                name,
                colour,
            } => {
                let most = room - style.size * 4.0;
                let name = name.map(|name| style.shortened(&name, most));
                atom.push(Token::Chip {
                    number,
                    name,
                    colour,
                });
            }
            dot @ Token::Dot(_) => atom.push(dot),
        }
    }
    end(&mut atom);
    atoms
}

/// A word, in as many parts as it takes for each to fit into the room.
fn parts(word: &str, style: Style, room: f64) -> Vec<String> {
    let mut parts = Vec::new();
    let mut part = String::new();
    for character in word.chars() {
        part.push(character);
        if part.chars().count() > 1 && style.width(&part) > room * 0.9 {
            part.pop();
            parts.push(std::mem::replace(&mut part, character.to_string()));
        }
    }
    if !part.is_empty() {
        parts.push(part);
    }
    parts
}

/// Sets atoms into lines.
struct Setter {
    style: Style,
    indent: f64,
    right: f64,
    x: f64,
    /// Words that are set as one, and where they begin.
    run: Option<(f64, String)>,
    line: Vec<PageItem>,
    lines: Vec<Vec<PageItem>>,
}

impl Setter {
    const fn new(style: Style, indent: f64, right: f64) -> Self {
        Self {
            style,
            indent,
            right,
            x: indent,
            run: None,
            line: Vec::new(),
            lines: Vec::new(),
        }
    }

    fn set(&mut self, atom: Atom) {
        let wide: f64 = atom.iter().map(|token| token.width(self.style)).sum();
        let space = self.style.width(" ");
        if self.x > self.indent {
            if self.x + space + wide > self.right {
                self.end_line();
            } else {
                self.x += space;
                if let Some((_, words)) = &mut self.run {
                    words.push(' ');
                }
            }
        }
        for token in atom {
            let width = token.width(self.style);
            if self.x > self.indent && self.x + width > self.right {
                self.end_line();
            }
            let start = self.x;
            self.x += width;
            match token {
                Token::Words(words) => match &mut self.run {
                    Some((_, run)) => run.push_str(&words),
                    None => self.run = Some((start, words)),
                },
                Token::Dot(colour) => {
                    self.end_run();
                    let size = self.style.size;
                    self.ground(start, width, size, size / 2.0, colour);
                }
                Token::Chip {
                    number,
                    name,
                    colour,
                } => {
                    self.end_run();
                    self.chip(start, width, number, name, colour);
                }
            }
        }
    }

    fn chip(&mut self, x: f64, wide: f64, number: String, name: Option<String>, colour: Srgb) {
        let size = self.style.size;
        self.ground(x, wide, size * 1.38, size * 0.3, colour);
        let ink = readable_on(colour);
        let strong = self.style.weighing(Weight::Strong, ink);
        let pad = chip_pad(self.style);
        let number_width = strong.width(&number);
        // A number alone stands in the middle.
        let from = if name.is_some() {
            x + pad
        } else {
            x + (wide - number_width) / 2.0
        };
        let y = self.style.base();
        self.line.push(PageItem {
            x: from,
            y,
            what: PageMark::Words(number, strong),
        });
        if let Some(name) = name {
            let x = from + number_width + chip_gap(self.style);
            let style = self.style.coloured(ink);
            self.line.push(PageItem {
                x,
                y,
                what: PageMark::Words(name, style),
            });
        }
    }

    fn ground(&mut self, x: f64, width: f64, height: f64, radius: f64, colour: Srgb) {
        let y = (self.style.line - height) / 2.0;
        self.line.push(PageItem {
            x,
            y,
            what: PageMark::Ground {
                width,
                height,
                radius,
                colour,
            },
        });
    }

    fn end_run(&mut self) {
        if let Some((x, words)) = self.run.take() {
            self.line.push(PageItem {
                x,
                y: self.style.base(),
                what: PageMark::Words(words.trim_end().to_owned(), self.style),
            });
        }
    }

    fn end_line(&mut self) {
        self.end_run();
        if !self.line.is_empty() {
            self.lines.push(std::mem::take(&mut self.line));
        }
        self.x = self.indent;
    }
}

/// A place that readers can go to by its name.
#[derive(Clone, Debug)]
pub(super) struct Bookmark {
    pub(super) name: String,
    /// Whether it belongs under the one before.
    pub(super) below: bool,
    /// The page, from 0, and how far down.
    pub(super) page: usize,
    pub(super) y: f64,
}

/// Fills pages.
pub(super) struct Flow {
    width: f64,
    height: f64,
    y: f64,
    pages: Vec<Vec<PageItem>>,
    held: Vec<(Block, Bookmark)>,
    bookmarks: Vec<Bookmark>,
}

impl Flow {
    pub(super) fn new(width: f64, height: f64) -> Self {
        Self {
            width,
            height,
            y: 0.0,
            pages: vec![Vec::new()],
            held: Vec::new(),
            bookmarks: Vec::new(),
        }
    }

    pub(super) const fn width(&self) -> f64 {
        self.width
    }

    pub(super) const fn height(&self) -> f64 {
        self.height
    }

    pub(super) fn pages(&self) -> &[Vec<PageItem>] {
        &self.pages
    }

    pub(super) fn bookmarks(&self) -> &[Bookmark] {
        &self.bookmarks
    }

    /// Keeps a heading until there is something for it to stand over.
    pub(super) fn hold(&mut self, block: Block, name: &str, below: bool) {
        let bookmark = Bookmark {
            name: name.to_owned(),
            below,
            page: 0,
            y: 0.0,
        };
        self.held.push((block, bookmark));
    }

    pub(super) fn place(&mut self, block: Block) {
        let mut lines = Vec::new();
        let mut marked = Vec::new();
        for (mut head, bookmark) in std::mem::take(&mut self.held) {
            marked.push((lines.len(), bookmark));
            head.lines.iter_mut().for_each(|line| line.glued = true);
            lines.append(&mut head.lines);
        }
        lines.extend(block.lines);
        let whole = Block {
            lines,
            ..Block::new(self.width)
        };
        if self.y + whole.height() > self.height && whole.height() <= self.height {
            self.turn();
        }
        let mut marked = marked.into_iter().peekable();
        let mut index = 0;
        while index < whole.lines.len() {
            let glued = whole.lines[index..].iter().take_while(|line| line.glued);
            let end = (index + glued.count() + 1).min(whole.lines.len());
            let group = &whole.lines[index..end];
            let height: f64 = group.iter().map(|line| line.height).sum();
            if self.y + height > self.height {
                self.turn();
            }
            for (offset, line) in group.iter().enumerate() {
                while let Some((_, mut bookmark)) = marked.next_if(|(at, _)| *at == index + offset)
                {
                    (bookmark.page, bookmark.y) = (self.pages.len() - 1, self.y);
                    self.bookmarks.push(bookmark);
                }
                self.line(line);
            }
            index = end;
        }
    }

    fn line(&mut self, line: &TextLine) {
        // Room between things is none at the top of a page.
        if line.items.is_empty() && self.y == 0.0 {
            return;
        }
        if self.y + line.height > self.height {
            self.turn();
        }
        let y = self.y;
        let page = self.pages.last_mut().expect("there is a first page");
        page.extend(line.items.iter().cloned().map(|item| PageItem {
            y: item.y + y,
            ..item
        }));
        self.y += line.height;
    }

    fn turn(&mut self) {
        if self.y > 0.0 {
            self.pages.push(Vec::new());
            self.y = 0.0;
        }
    }
}

/// Puts things onto paper.
pub(super) struct Paint {
    regular: Font,
    strong: Font,
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "paper is measured in single precision"
)]
impl Paint {
    pub(super) fn new() -> Self {
        let font = |bytes: &[u8]| Font::new(bytes.to_vec().into(), 0).expect("a sound font");
        Self {
            regular: font(REGULAR),
            strong: font(STRONG),
        }
    }

    /// One thing, with the corner of the page's content at a place.
    pub(super) fn item(&self, surface: &mut Surface<'_>, item: &PageItem, corner: (f64, f64)) {
        let (x, y) = (corner.0 + item.x, corner.1 + item.y);
        match &item.what {
            PageMark::Words(words, style) => self.words(surface, words, (x, y), *style),
            PageMark::Ground {
                width,
                height,
                radius,
                colour,
            } => {
                surface.set_fill(Some(fill(*colour)));
                surface.set_stroke(Some(Stroke {
                    paint: rgb(INK).into(),
                    width: 0.5,
                    opacity: NormalizedF32::new(0.4).expect("between 0 and 1"),
                    ..Stroke::default()
                }));
                surface.draw_path(&rounded((x, y), (*width, *height), *radius));
                surface.set_stroke(None);
            }
            PageMark::Picture {
                width,
                height,
                tree,
            } => {
                surface.push_transform(&Transform::from_translate(x as f32, y as f32));
                let size = Size::from_wh(*width as f32, *height as f32).expect("a size");
                surface.draw_svg(tree, size, SvgSettings::default());
                surface.pop();
            }
        }
    }

    pub(super) fn words(
        &self,
        surface: &mut Surface<'_>,
        words: &str,
        (x, y): (f64, f64),
        style: Style,
    ) {
        let font = match style.weight {
            Weight::Regular => &self.regular,
            Weight::Strong => &self.strong,
        };
        surface.set_fill(Some(fill(style.colour)));
        surface.draw_text(
            Point::from_xy(x as f32, y as f32),
            font.clone(),
            style.size as f32,
            words,
            false,
            TextDirection::Auto,
        );
    }
}

fn rgb(colour: Srgb) -> rgb::Color {
    rgb::Color::new(colour.red, colour.green, colour.blue)
}

fn fill(colour: Srgb) -> Fill {
    Fill {
        paint: rgb(colour).into(),
        ..Fill::default()
    }
}

/// A rectangle with round corners.
#[expect(
    clippy::cast_possible_truncation,
    reason = "paper is measured in single precision"
)]
fn rounded((x, y): (f64, f64), (width, height): (f64, f64), radius: f64) -> Path {
    // How far the control points of a quarter of a circle lie from its corner.
    const REST: f64 = 0.4477;
    let (left, top, right, bottom) = (x, y, x + width, y + height);
    let (r, c) = (radius, radius * REST);
    let mut path = PathBuilder::new();
    path.move_to((left + r) as f32, top as f32);
    path.line_to((right - r) as f32, top as f32);
    let mut corner = |from: (f64, f64), to: (f64, f64), end: (f64, f64), next: (f64, f64)| {
        path.cubic_to(
            from.0 as f32,
            from.1 as f32,
            to.0 as f32,
            to.1 as f32,
            end.0 as f32,
            end.1 as f32,
        );
        path.line_to(next.0 as f32, next.1 as f32);
    };
    corner(
        (right - c, top),
        (right, top + c),
        (right, top + r),
        (right, bottom - r),
    );
    corner(
        (right, bottom - c),
        (right - c, bottom),
        (right - r, bottom),
        (left + r, bottom),
    );
    corner(
        (left + c, bottom),
        (left, bottom - c),
        (left, bottom - r),
        (left, top + r),
    );
    corner(
        (left, top + c),
        (left + c, top),
        (left + r, top),
        (left + r, top),
    );
    path.close();
    path.finish().expect("a closed path")
}
