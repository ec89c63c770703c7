//! The one font family of every picture and print, Inter 4 (OFL-1.1; its licence lies
//! beside it in `fonts`), and how wide words are in it.
//!
//! Pictures hold their words as words, so that they can be searched, read aloud and
//! restyled. A picture that is a file of its own carries the letters that it uses with
//! it: see [`carried`]. A page that shows many pictures gives the font once instead.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use roxmltree::{Document, Node};
use subsetter::{GlyphRemapper, subset};
use ttf_parser::{Face, GlyphId, RawFace, Tag};

use crate::error::{Error, Problem};

/// The name of the family, as pictures and style sheets ask for it.
pub const FAMILY: &str = "Inter";

/// The letters of running text, weight 400, as TrueType.
pub const REGULAR: &[u8] = include_bytes!("../fonts/Inter-Regular.ttf");

/// The letters of headings and numbers, weight 600, as TrueType.
pub const STRONG: &[u8] = include_bytes!("../fonts/Inter-SemiBold.ttf");

/// How heavy letters are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Weight {
    /// Running text.
    Regular,
    /// Headings and numbers.
    Strong,
}

impl Weight {
    /// The weight as style sheets give it.
    #[must_use]
    pub const fn number(self) -> u16 {
        match self {
            Self::Regular => 400,
            Self::Strong => 600,
        }
    }

    fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => REGULAR,
            Self::Strong => STRONG,
        }
    }

    fn face(self) -> &'static Face<'static> {
        static FACES: LazyLock<[Face<'static>; 2]> = LazyLock::new(|| {
            [REGULAR, STRONG].map(|bytes| Face::parse(bytes, 0).expect("we ship a sound font"))
        });
        match self {
            Self::Regular => &FACES[0],
            Self::Strong => &FACES[1],
        }
    }
}

/// How wide a line of words is at a size, both in the same unit, without kerning.
///
/// ```
/// use hitchwork_draw::font::{Weight, width};
/// let teal = width("teal", Weight::Regular, 10.0);
/// assert!((15.0..25.0).contains(&teal));
/// assert_eq!(width("teal", Weight::Regular, 20.0), 2.0 * teal);
/// assert!(width("teal", Weight::Strong, 10.0) > teal);
/// ```
#[must_use]
pub fn width(words: &str, weight: Weight, size: f64) -> f64 {
    let face = weight.face();
    let advance = |character: char| {
        let glyph = face.glyph_index(character).unwrap_or(GlyphId(0));
        u32::from(face.glyph_hor_advance(glyph).unwrap_or(0))
    };
    let units: u32 = words.chars().map(advance).sum();
    f64::from(units) * size / f64::from(face.units_per_em())
}

/// The words, cut short with an ellipsis where they are wider than `most`.
///
/// ```
/// use hitchwork_draw::font::{Weight, shortened};
/// assert_eq!(shortened("teal", Weight::Regular, 10.0, 50.0), "teal");
/// assert_eq!(shortened("light goldenrod", Weight::Regular, 10.0, 50.0), "light gol…");
/// ```
#[must_use]
pub fn shortened(words: &str, weight: Weight, size: f64, most: f64) -> String {
    if width(words, weight, size) <= most {
        return words.to_owned();
    }
    let room = most - width("…", weight, size);
    let mut kept = String::new();
    let mut taken = 0.0;
    for character in words.chars() {
        taken += width(character.encode_utf8(&mut [0; 4]), weight, size);
        if taken > room {
            break;
        }
        kept.push(character);
    }
    kept.truncate(kept.trim_end().len());
    kept.push('…');
    kept
}

/// A picture of this crate as a file of its own: with the letters that it uses, so that it
/// looks the same on a machine that has never heard of the font. A picture without words
/// stays as it is.
///
/// ```
/// let words = r#"<svg xmlns="http://www.w3.org/2000/svg"><text font-family="Inter">tide</text></svg>"#;
/// let whole = hitchwork_draw::font::carried(words)?;
/// assert!(whole.contains("@font-face"));
/// assert!(whole.len() < 8_000);
/// # Ok::<(), hitchwork_draw::Error>(())
/// ```
///
/// # Errors
/// When a text with words is not XML.
pub fn carried(svg: &str) -> Result<String, Error> {
    // Fabrics are long and hold no words: they need not be read.
    if !svg.contains("<text") {
        return Ok(svg.to_owned());
    }
    let document = Document::parse(svg).map_err(|error| Problem::NotAPicture {
        reason: error.to_string(),
    })?;
    let mut used: BTreeMap<u16, Vec<char>> = BTreeMap::new();
    for text in document.descendants().filter(Node::is_text) {
        let Some(parent) = text.parent_element() else {
            continue;
        };
        if !parent
            .ancestors()
            .any(|node| node.tag_name().name() == "text")
        {
            continue;
        }
        let weight = parent
            .ancestors()
            .find_map(|node| node.attribute("font-weight"))
            .and_then(|weight| weight.parse().ok());
        used.entry(weight.unwrap_or(Weight::Regular.number()))
            .or_default()
            .extend(text.text().unwrap_or_default().chars());
    }
    if used.is_empty() {
        return Ok(svg.to_owned());
    }
    let mut style = String::from("<style>");
    for (number, characters) in used {
        let weight = if number == Weight::Strong.number() {
            Weight::Strong
        } else {
            Weight::Regular
        };
        let letters = STANDARD.encode(letters(weight, characters));
        style.push_str(&format!(
            "@font-face{{font-family:{FAMILY};font-weight:{};src:url(data:font/ttf;base64,{letters})}}",
            weight.number()
        ));
    }
    style.push_str("</style>");
    // Behind the title and description, which have to come first.
    let root = document.root_element();
    let first = root
        .children()
        .find(|node| node.is_element() && !["title", "desc"].contains(&node.tag_name().name()));
    let at = first.map_or(svg.len(), |node| node.range().start);
    Ok(format!("{}{style}\n{}", &svg[..at], &svg[at..]))
}

/// A font of these characters only, as far as the font has them.
pub(crate) fn letters(weight: Weight, mut characters: Vec<char>) -> Vec<u8> {
    characters.sort_unstable();
    characters.dedup();
    let face = weight.face();
    let mut glyphs = GlyphRemapper::new();
    let mapped: Vec<(char, u16)> = characters
        .into_iter()
        .filter_map(|character| {
            let glyph = face.glyph_index(character)?;
            Some((character, glyphs.remap(glyph.0)))
        })
        .collect();
    let bare = subset(weight.bytes(), 0, &glyphs).expect("we ship a sound font");
    let mut tables = tables(&bare);
    // What a page needs and a print does not: which character is which glyph, and the
    // measures by which lines are set.
    tables.insert(*b"cmap", character_map(&mapped));
    let measures = face.raw_face().table(Tag::from_bytes(b"OS/2"));
    tables.insert(*b"OS/2", measures.unwrap_or_default().to_vec());
    assembled(tables)
}

type Tables = BTreeMap<[u8; 4], Vec<u8>>;

/// The tables of a font file (OpenType 1.9, "Organization of an OpenType font").
fn tables(font: &[u8]) -> Tables {
    let raw = RawFace::parse(font, 0).expect("the subsetter writes sound fonts");
    raw.table_records
        .into_iter()
        .map(|record| {
            let table = raw.table(record.tag).unwrap_or_default();
            (record.tag.to_bytes(), table.to_vec())
        })
        .collect()
}

/// A table `cmap` with one subtable of format 12, a group for every character.
fn character_map(mapped: &[(char, u16)]) -> Vec<u8> {
    let count = u32::try_from(mapped.len()).expect("a font has few glyphs");
    let mut map = Vec::new();
    // Version 0, one record: Windows, all of Unicode, 12 bytes from the start.
    for number in [0_u16, 1, 3, 10] {
        map.extend(number.to_be_bytes());
    }
    map.extend(12_u32.to_be_bytes());
    map.extend([0, 12, 0, 0]);
    for number in [16 + 12 * count, 0, count] {
        map.extend(number.to_be_bytes());
    }
    for &(character, glyph) in mapped {
        for number in [character.into(), character.into(), u32::from(glyph)] {
            map.extend(number.to_be_bytes());
        }
    }
    map
}

fn checksum(bytes: &[u8]) -> u32 {
    bytes
        .chunks(4)
        .map(|chunk| {
            let mut word = [0; 4];
            word[..chunk.len()].copy_from_slice(chunk);
            u32::from_be_bytes(word)
        })
        .fold(0, u32::wrapping_add)
}

/// Where the table `head` keeps the checksum of the whole font, and what the whole then
/// comes to.
const WHOLE_CHECKSUM: (std::ops::Range<usize>, u32) = (8..12, 0xb1b0_afba);

fn assembled(mut tables: Tables) -> Vec<u8> {
    if let Some(head) = tables.get_mut(b"head") {
        head[WHOLE_CHECKSUM.0].fill(0);
    }
    let count = u16::try_from(tables.len()).expect("a font has few tables");
    let power = count.ilog2();
    let mut font = 0x0001_0000_u32.to_be_bytes().to_vec();
    let range = 16 << power;
    let power = u16::try_from(power).expect("below 16");
    for number in [count, range, power, 16 * count - range] {
        font.extend(number.to_be_bytes());
    }
    let mut at = font.len() + 16 * tables.len();
    let mut head_at = None;
    for (tag, table) in &tables {
        let place = |number: usize| u32::try_from(number).expect("a font is small");
        if tag == b"head" {
            head_at = Some(at);
        }
        font.extend(tag);
        for number in [checksum(table), place(at), place(table.len())] {
            font.extend(number.to_be_bytes());
        }
        at += table.len().next_multiple_of(4);
    }
    for table in tables.values() {
        font.extend(table);
        font.resize(font.len().next_multiple_of(4), 0);
    }
    if let Some(head) = head_at {
        let rest = WHOLE_CHECKSUM.1.wrapping_sub(checksum(&font));
        font[head..][WHOLE_CHECKSUM.0].copy_from_slice(&rest.to_be_bytes());
    }
    font
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_letters_cut_out_look_and_measure_as_before() {
        #[derive(Default, PartialEq, Debug)]
        struct Outline(Vec<f32>);
        impl ttf_parser::OutlineBuilder for Outline {
            fn move_to(&mut self, x: f32, y: f32) {
                self.0.extend([x, y]);
            }
            fn line_to(&mut self, x: f32, y: f32) {
                self.0.extend([x, y]);
            }
            fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
                self.0.extend([x1, y1, x, y]);
            }
            fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
                self.0.extend([x1, y1, x2, y2, x, y]);
            }
            fn close(&mut self) {}
        }
        let outline = |face: &Face<'_>, character| {
            let glyph = face.glyph_index(character).expect("a glyph");
            let mut outline = Outline::default();
            face.outline_glyph(glyph, &mut outline);
            (outline, face.glyph_hor_advance(glyph))
        };
        for weight in [Weight::Regular, Weight::Strong] {
            // An accented letter is made of two others, which have to come with it.
            let wanted = "Ebbe, é 10 →";
            let cut = letters(weight, wanted.chars().collect());
            let few = Face::parse(&cut, 0).expect("a font");
            for character in wanted.chars() {
                assert_eq!(
                    outline(&few, character),
                    outline(weight.face(), character),
                    "{character}"
                );
            }
            assert_eq!(few.glyph_index('z'), None);
            assert_eq!(few.ascender(), weight.face().ascender());
            assert_eq!(checksum(&cut), WHOLE_CHECKSUM.1);
        }
    }
}
