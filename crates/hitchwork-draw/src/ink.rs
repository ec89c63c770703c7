//! What charts are written with: paper, ink, words, and the chips that name threads.

use std::fmt::{Result, Write};

use hitchwork_core::band::Band;
use hitchwork_core::colour::{Colour, Srgb, contrast};

use crate::font::{FAMILY, Weight, shortened, width};
use crate::xml::escaped;

/// The paper that charts are drawn on.
pub const PAPER: Srgb = Srgb::new(0xff, 0xff, 0xff);
/// The tint of every second row.
pub const TINT: Srgb = Srgb::new(0xf3, 0xf0, 0xe9);
/// Words and outlines.
pub const INK: Srgb = Srgb::new(0x22, 0x25, 0x2b);
/// Words that matter less.
pub const QUIET: Srgb = Srgb::new(0x55, 0x5a, 0x63);
/// Lines that only divide.
pub(crate) const HAIR: Srgb = Srgb::new(0xd8, 0xd3, 0xc7);

const BLACK: Srgb = Srgb::new(0, 0, 0);
const WHITE: Srgb = Srgb::new(0xff, 0xff, 0xff);

/// Black or white, whichever is easier to read on a colour. One of the two always has a
/// contrast of at least 4.5 (the square root of 21 is 4.58).
///
/// ```
/// use hitchwork_core::colour::{Srgb, contrast};
/// use hitchwork_draw::ink::readable_on;
/// let teal = Srgb::new(0x1d, 0x6f, 0x8c);
/// assert_eq!(readable_on(teal), Srgb::new(255, 255, 255));
/// assert!(contrast(teal, readable_on(teal)) >= 4.5);
/// ```
#[must_use]
pub fn readable_on(colour: Srgb) -> Srgb {
    if contrast(colour, WHITE) > contrast(colour, BLACK) {
        WHITE
    } else {
        BLACK
    }
}

/// A point of a picture, or a direction: to the right, and down.
pub(crate) type PlanePoint = (f64, f64);

/// The ground of a chip that stands where a thread hangs, about its middle; its number comes upon it.
pub(crate) fn write_small_chip(
    out: &mut String,
    (x, y): PlanePoint,
    (width, height): (f64, f64),
    colour: Srgb,
) -> Result {
    write!(
        out,
        r#"<rect x="{}" y="{}" width="{}" height="{}" rx="2.5" fill="{colour}" stroke="{INK}" stroke-width=".8"/>"#,
        short(x - width / 2.0),
        short(y - height / 2.0),
        short(width),
        short(height)
    )
}

/// A number as short as it can be written with one decimal.
pub(crate) fn short(number: f64) -> String {
    let mut text = format!("{number:.1}");
    if text.ends_with(".0") {
        text.truncate(text.len() - 2);
    }
    if text == "-0" { "0".to_owned() } else { text }
}

/// How words stand to their place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// How words are set.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TextStyle {
    pub(crate) size: f64,
    pub(crate) weight: Weight,
    pub(crate) colour: Srgb,
    pub(crate) anchor: Anchor,
}

impl TextStyle {
    pub(crate) const fn regular(size: f64) -> Self {
        Self {
            size,
            weight: Weight::Regular,
            colour: INK,
            anchor: Anchor::Start,
        }
    }

    pub(crate) const fn strong(size: f64) -> Self {
        Self {
            weight: Weight::Strong,
            ..Self::regular(size)
        }
    }

    pub(crate) const fn quiet(self) -> Self {
        Self {
            colour: QUIET,
            ..self
        }
    }

    pub(crate) const fn coloured(self, colour: Srgb) -> Self {
        Self { colour, ..self }
    }

    pub(crate) const fn anchored(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    pub(crate) fn width(self, words: &str) -> f64 {
        width(words, self.weight, self.size)
    }

    /// Writes words with their base line at a place.
    pub(crate) fn write(self, out: &mut String, (x, y): (f64, f64), words: &str) -> Result {
        self.write_moved(out, &format!(r#"x="{}" y="{}""#, short(x), short(y)), words)
    }

    /// Writes words that run downwards from a place.
    pub(crate) fn write_downwards(
        self,
        out: &mut String,
        (x, y): (f64, f64),
        words: &str,
    ) -> Result {
        let place = format!(
            r#"transform="translate({} {}) rotate(90)""#,
            short(x),
            short(y)
        );
        self.write_moved(out, &place, words)
    }

    fn write_moved(self, out: &mut String, place: &str, words: &str) -> Result {
        write!(
            out,
            r#"<text {place} font-size="{}" fill="{}""#,
            short(self.size),
            self.colour
        )?;
        if self.weight == Weight::Strong {
            write!(out, r#" font-weight="{}""#, self.weight.number())?;
        }
        match self.anchor {
            Anchor::Start => {}
            Anchor::Middle => out.push_str(r#" text-anchor="middle""#),
            Anchor::End => out.push_str(r#" text-anchor="end""#),
        }
        write!(out, ">{}</text>", escaped(words))
    }
}

/// Writes the title of a picture at the top, cut short where it is wider than `most`.
pub(crate) fn write_title(out: &mut String, left: f64, words: &str, most: f64) -> Result {
    let hand = TextStyle::strong(19.0);
    let words = shortened(words, hand.weight, hand.size, most);
    hand.write(out, (left, TITLE_LINE), &words)
}

/// How far down the base line of a picture's title lies.
pub(crate) const TITLE_LINE: f64 = 38.0;

/// The words broken into lines that are no wider than `most`.
pub(crate) fn lines(words: &str, hand: TextStyle, most: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if hand.width(line) + hand.width(" ") + hand.width(word) <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A whole picture.
pub(crate) struct SvgDocument<'a> {
    pub(crate) title: &'a str,
    pub(crate) words: &'a str,
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) body: &'a str,
}

impl SvgDocument<'_> {
    pub(crate) fn write(&self) -> String {
        let (w, h) = (short(self.width), short(self.height));
        format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{w}" height="{h}" viewBox="0 0 {w} {h}" font-family="{FAMILY}, sans-serif">
<title>{}</title>
<desc>{}</desc>
<rect width="{w}" height="{h}" fill="{PAPER}"/>
{}</svg>
"#,
            escaped(self.title),
            escaped(self.words),
            self.body
        )
    }
}

/// What a band is called on a picture.
pub(crate) fn title(band: &Band) -> &str {
    if band.title().trim().is_empty() {
        "A band"
    } else {
        band.title()
    }
}

/// A thread's number and colour, named in a box of that colour.
pub(crate) struct Chip {
    number: u16,
    position: u16,
    colour: Srgb,
    name: String,
    whole_name: String,
    width: f64,
}

/// Height of a chip, and the distance between chips and their lines.
pub(crate) const CHIP: f64 = 17.0;
pub(crate) const BETWEEN: f64 = 4.0;

impl Chip {
    const NUMBER: TextStyle = TextStyle::strong(10.0);
    const NAME: TextStyle = TextStyle::regular(10.0);
    const PAD: f64 = 6.0;

    pub(crate) fn new(position: u16, number: u16, colour: &Colour, most: f64) -> Self {
        let room = most - 2.0 * Self::PAD - Self::NUMBER.width(&number.to_string()) - 4.0;
        let name = shortened(&colour.name, Weight::Regular, Self::NAME.size, room);
        Self {
            number,
            position,
            colour: colour.srgb,
            width: most - room + Self::NAME.width(&name),
            name,
            whole_name: colour.name.clone(),
        }
    }

    fn write(&self, out: &mut String, (x, y): (f64, f64)) -> Result {
        let Self {
            number,
            position,
            colour,
            ..
        } = self;
        let ink = readable_on(*colour);
        write!(
            out,
            r#"<g class="chip" data-position="{position}" data-thread="{number}"><title>{number} {}</title><rect x="{}" y="{}" width="{}" height="{CHIP}" rx="4" fill="{colour}" stroke="{INK}" stroke-width=".7"/>"#,
            escaped(&self.whole_name),
            short(x),
            short(y),
            short(self.width)
        )?;
        let base = y + CHIP - 5.0;
        let words = number.to_string();
        let after = x + Self::PAD + Self::NUMBER.width(&words) + 4.0;
        Self::NUMBER
            .coloured(ink)
            .write(out, (x + Self::PAD, base), &words)?;
        Self::NAME
            .coloured(ink)
            .write(out, (after, base), &self.name)?;
        out.push_str("</g>");
        Ok(())
    }
}

/// Chips in lines that are no wider than `most`, with the height that they take.
pub(crate) struct Chips {
    placed: Vec<(Chip, f64, f64)>,
    pub(crate) height: f64,
}

impl Chips {
    pub(crate) fn new(chips: impl IntoIterator<Item = Chip>, most: f64) -> Self {
        let mut placed = Vec::new();
        let (mut x, mut y) = (0.0, 0.0);
        for chip in chips {
            if x > 0.0 && x + chip.width > most {
                (x, y) = (0.0, y + CHIP + BETWEEN);
            }
            let next = x + chip.width + BETWEEN;
            placed.push((chip, x, y));
            x = next;
        }
        Self {
            placed,
            height: y + CHIP,
        }
    }

    pub(crate) fn write(&self, out: &mut String, (x, y): (f64, f64)) -> Result {
        out.push_str(r#"<g class="order">"#);
        for (chip, right, down) in &self.placed {
            chip.write(out, (x + right, y + down))?;
        }
        out.push_str("</g>\n");
        Ok(())
    }
}
