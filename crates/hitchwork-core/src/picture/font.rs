//! Words as pictures, in letters of a bitmap font.
//!
//! Fonts are read in the Glyph Bitmap Distribution Format (Adobe, specification 2.2, 1993).

use std::collections::BTreeMap;
use std::sync::LazyLock;

use super::{Cell, Picture, wrong};
use crate::colour::{Colour, Srgb};
use crate::error::Error;
use crate::limits::MAX_PICTURE_COLUMNS;
use crate::text::{self, counted};

/// The most that a letter may measure in each direction, and lie away from its place.
const MOST_CELLS: i32 = MAX_PICTURE_COLUMNS as i32;

/// At most this many letters that a font lacks are named.
const MOST_NAMED: usize = 10;

/// The cells of a letter, without empty columns at its sides.
#[derive(Clone, Debug, Default)]
struct Letter {
    /// How many rows the top of its first row lies above the line on which letters stand.
    top: i32,
    /// Its columns from the left, each from the top.
    columns: Vec<Vec<bool>>,
}

/// A font of letters made of cells.
///
/// ```
/// use hitchwork_core::picture::{Font, Lettering};
/// let ebb = Font::built_in().lettering("ebb", &Lettering::default())?;
/// assert_eq!((ebb.width(), ebb.height()), (14, 9));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Font {
    letters: BTreeMap<char, Letter>,
    /// How many rows a line has above and below that on which letters stand.
    above: i32,
    below: i32,
}

/// How words are set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lettering {
    /// The colour of the letters.
    pub colour: Colour,
    /// How many empty columns lie between two letters.
    pub letter_space: usize,
    /// How many empty columns a space takes.
    pub word_space: usize,
    /// Whether the words run along the band from its start, instead of across it: turned to the
    /// right by a quarter of a circle.
    pub along: bool,
}

impl Default for Lettering {
    /// In ink, one column between letters and three between words, across the band.
    fn default() -> Self {
        Self {
            colour: Colour::new("ink", Srgb::new(0x22, 0x30, 0x4f)),
            letter_space: 1,
            word_space: 3,
            along: false,
        }
    }
}

/// The letters of *Fixed*, 6 by 9, from the misc-fixed fonts of the X Window System, in the public
/// domain: Latin with its accents, Greek, Cyrillic, digits and signs.
static BUILT_IN: LazyLock<Font> = LazyLock::new(|| {
    Font::read(include_bytes!("../../fonts/fixed-6x9.bdf")).expect("read by a test")
});

impl Font {
    /// The font that Hitchwork carries: 664 letters and signs, in lines of 9 rows.
    #[must_use]
    pub fn built_in() -> &'static Self {
        &BUILT_IN
    }

    /// Reads a font from the bytes of a BDF file. Its letters must be numbered as in Unicode.
    ///
    /// # Errors
    /// When it is not such a file, is cut short, or a number in it is wrong: with its line.
    pub fn read(bytes: &[u8]) -> Result<Self, Error> {
        let text = text::decoded(bytes)?;
        FontReading::new(&text).font()
    }

    /// All letters that it has, by their code points.
    pub fn letters(&self) -> impl Iterator<Item = char> + '_ {
        let drawn = self
            .letters
            .iter()
            .filter(|(_, letter)| !letter.columns.is_empty());
        drawn.map(|(letter, _)| *letter)
    }

    /// How many rows a line has; letters that are higher make theirs higher.
    #[must_use]
    pub fn height(&self) -> usize {
        usize::try_from(self.above + self.below).unwrap_or(0)
    }

    /// Words on one line, each letter as wide as it is, in the order of their characters.
    ///
    /// The line is as high as the font says, whatever the letters, so that several words stand on
    /// the same line; [`Picture::trimmed`] makes it as high as the word.
    ///
    /// # Errors
    /// When the font lacks letters, there is nothing to set, or the words are longer than a
    /// picture may be.
    pub fn lettering(&self, words: &str, how: &Lettering) -> Result<Picture, Error> {
        self.check_letters(words)?;
        let known = |letter: char| {
            let drawn = self.letters.get(&letter);
            drawn.filter(|letter| !letter.columns.is_empty())
        };
        let all = || words.chars().filter_map(known);
        let above = all().map(|letter| letter.top).fold(self.above, i32::max);
        let lowest = |letter: &Letter| letter.columns[0].len() as i64 - i64::from(letter.top);
        let below = all().map(lowest).fold(i64::from(self.below), i64::max);
        let height = usize::try_from(i64::from(above) + below).unwrap_or(0);
        let mut columns: Vec<Vec<Cell>> = Vec::new();
        let mut after_letter = false;
        for letter in words.chars() {
            let letter = known(letter);
            let space = match letter {
                None => how.word_space,
                Some(_) if after_letter => how.letter_space,
                Some(_) => 0,
            };
            after_letter = letter.is_some();
            if columns.len().saturating_add(space) > usize::from(crate::limits::MAX_PICTURE_ROWS) {
                return Err(too_long());
            }
            columns.resize(columns.len() + space, vec![None; height]);
            for cells in letter.iter().flat_map(|letter| &letter.columns) {
                let from = usize::try_from(above - letter.map_or(0, |letter| letter.top));
                let mut column = vec![None; height];
                let inside = column.iter_mut().skip(from.unwrap_or(0));
                for (cell, is_ink) in inside.zip(cells) {
                    *cell = is_ink.then_some(0);
                }
                columns.push(column);
            }
        }
        if columns.is_empty() || height == 0 {
            return Err(wrong(
                "there are no words to set",
                "give at least one letter",
            ));
        }
        let room = match how.along {
            true => crate::limits::MAX_PICTURE_ROWS,
            false => MAX_PICTURE_COLUMNS,
        };
        if columns.len() > usize::from(room) {
            return Err(too_long());
        }
        let colours = vec![how.colour.clone()];
        let long = u16::try_from(columns.len()).map_err(|_| too_long())?;
        let high = u16::try_from(height).map_err(|_| too_long())?;
        match how.along {
            // What was above comes to lie at the right.
            true => {
                let rows = columns.iter().flat_map(|column| column.iter().rev());
                Picture::new(high, colours, rows.copied().collect())
            }
            false => {
                let row = |row: usize| columns.iter().map(move |column| column[row]);
                Picture::new(long, colours, (0..height).flat_map(row).collect())
            }
        }
    }

    fn check_letters(&self, words: &str) -> Result<(), Error> {
        let mut lacking: Vec<char> = Vec::new();
        for letter in words.chars().filter(|letter| *letter != ' ') {
            if !self.letters.contains_key(&letter) && !lacking.contains(&letter) {
                lacking.push(letter);
                if lacking.len() > MOST_NAMED {
                    break;
                }
            }
        }
        if lacking.is_empty() {
            return Ok(());
        }
        let more = if lacking.len() > MOST_NAMED {
            " and others"
        } else {
            ""
        };
        let named = |letter: &char| {
            let code = u32::from(*letter);
            match letter.is_control() || letter.is_whitespace() {
                true => format!("U+{code:04X}"),
                false => format!("{letter} (U+{code:04X})"),
            }
        };
        let listed: Vec<String> = lacking.iter().take(MOST_NAMED).map(named).collect();
        Err(wrong(
            format!("the font has no {}{more}", listed.join(", ")),
            "write it in other letters, or give a font in a BDF file that has them; words stand on one line, and several lines are put together with above",
        ))
    }
}

fn too_long() -> Error {
    wrong(
        "the words are longer than a picture may be",
        "set fewer words at once, or let them run along the band (along: true), where there is room for 2,000 rows; across it there is room for 200 columns",
    )
}

/// A font while it is read.
struct FontReading<'a> {
    lines: std::iter::Enumerate<std::str::Lines<'a>>,
    /// The number of the line that was read last.
    line: usize,
    bounds: Option<[i32; 4]>,
    above: Option<i32>,
    below: Option<i32>,
    promised: Option<i32>,
    found: usize,
    letters: BTreeMap<char, Letter>,
}

/// A line: its first word, and what stands behind it.
type FontLine<'a> = (&'a str, &'a str);

impl<'a> FontReading<'a> {
    fn new(text: &'a str) -> Self {
        Self {
            lines: text.lines().enumerate(),
            line: 0,
            bounds: None,
            above: None,
            below: None,
            promised: None,
            found: 0,
            letters: BTreeMap::new(),
        }
    }

    fn next(&mut self) -> Result<FontLine<'a>, Error> {
        let (at, line) = self.lines.next().ok_or_else(|| {
            wrong(
                "the font ends before its last line, ENDFONT",
                "it may be cut short: fetch or save it once more",
            )
        })?;
        self.line = at + 1;
        let line = line.trim();
        let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
        Ok((word, rest.trim()))
    }

    fn wrong(&self, what: impl std::fmt::Display) -> Error {
        wrong(
            format!("line {} of the font: {what}", self.line),
            "a font is a file in the Glyph Bitmap Distribution Format (BDF); save it once more from the program that made it",
        )
    }

    /// The whole numbers behind a word.
    fn numbers<const COUNT: usize>(
        &self,
        (word, rest): FontLine,
        range: std::ops::RangeInclusive<i32>,
    ) -> Result<[i32; COUNT], Error> {
        let number = |text: &str| text.parse().ok().filter(|number| range.contains(number));
        let numbers: Option<Vec<i32>> = rest.split_whitespace().take(COUNT).map(number).collect();
        numbers
            .and_then(|numbers| numbers.try_into().ok())
            .ok_or_else(|| {
                let (least, most) = (range.start(), range.end());
                let count = match COUNT {
                    1 => "a whole number".to_owned(),
                    count => format!("{count} whole numbers"),
                };
                self.wrong(format!("{word} needs {count} from {least} to {most}"))
            })
    }

    fn font(mut self) -> Result<Font, Error> {
        if self.next().map_or("", |(word, _)| word) != "STARTFONT" {
            return Err(self.wrong("a font begins with STARTFONT"));
        }
        loop {
            let entry = self.next()?;
            match entry.0 {
                "FONTBOUNDINGBOX" => {
                    self.bounds = Some(self.numbers(entry, -MOST_CELLS..=MOST_CELLS)?);
                }
                "FONT_ASCENT" => self.above = Some(self.numbers::<1>(entry, 0..=MOST_CELLS)?[0]),
                "FONT_DESCENT" => self.below = Some(self.numbers::<1>(entry, 0..=MOST_CELLS)?[0]),
                "CHARSET_REGISTRY" => self.check_numbering(entry.1)?,
                "DWIDTH" => self.check_step(entry)?,
                "CHARS" => self.promised = Some(self.numbers::<1>(entry, 0..=1_114_112)?[0]),
                "STARTCHAR" => self.letter()?,
                "ENDFONT" => break,
                _ => {}
            }
        }
        let found = self.found;
        let promised = self.promised.and_then(|count| usize::try_from(count).ok());
        if let Some(promised) = promised.filter(|promised| *promised != found) {
            return Err(self.wrong(format!(
                "CHARS says {promised} letters, and there are {found}"
            )));
        }
        if self
            .letters
            .values()
            .all(|letter| letter.columns.is_empty())
        {
            return Err(self.wrong("it has no letters with a place in Unicode"));
        }
        let [_, high, _, low] = self.bounds.unwrap_or_default();
        let (above, below) = (self.above.unwrap_or(high + low), self.below.unwrap_or(-low));
        Ok(Font {
            letters: self.letters,
            above: above.max(0),
            below: below.max(0),
        })
    }

    /// Latin-1 numbers its letters as Unicode does; others do not.
    fn check_numbering(&self, registry: &str) -> Result<(), Error> {
        let registry = registry.trim_matches('"');
        match registry.to_ascii_uppercase().as_str() {
            "" | "ISO10646" | "ISO8859" => Ok(()),
            _ => {
                let shown = crate::error::shortened(registry);
                Err(self.wrong(format!(
                    "its letters are numbered by {shown}, not as in Unicode"
                )))
            }
        }
    }

    /// How far it is from a letter to the next. Letters are set as wide as they are, but a number
    /// that no letter can have says that the file is not what it seems.
    fn check_step(&self, entry: FontLine) -> Result<(), Error> {
        let [across, _down] = self.numbers(entry, -MOST_CELLS..=MOST_CELLS)?;
        match across {
            0.. => Ok(()),
            _ => Err(self.wrong(format!(
                "DWIDTH leads back by {} cells, and words are set from left to right",
                across.unsigned_abs()
            ))),
        }
    }

    fn letter(&mut self) -> Result<(), Error> {
        self.found += 1;
        let mut code = None;
        let mut bounds = None;
        loop {
            let entry = self.next()?;
            match entry.0 {
                "ENCODING" => {
                    let [number] = self.numbers(entry, -1..=0x0010_ffff)?;
                    code = u32::try_from(number).ok().and_then(char::from_u32);
                }
                "BBX" => bounds = Some(self.numbers(entry, -MOST_CELLS..=MOST_CELLS)?),
                "DWIDTH" => self.check_step(entry)?,
                "BITMAP" => break,
                "ENDCHAR" | "STARTCHAR" | "ENDFONT" => {
                    return Err(self.wrong("a letter has no BITMAP"));
                }
                _ => {}
            }
        }
        let bounds = bounds.or(self.bounds);
        let [width, height, _, low] = bounds.ok_or_else(|| self.wrong("a letter has no BBX"))?;
        let (Ok(across), Ok(down)) = (usize::try_from(width), usize::try_from(height)) else {
            return Err(self.wrong("a letter cannot be narrower or lower than nothing"));
        };
        let mut rows = Vec::with_capacity(down);
        for _ in 0..down {
            let (digits, _) = self.next()?;
            rows.push(self.bits(digits, across)?);
        }
        if self.next()?.0 != "ENDCHAR" {
            return Err(self.wrong(format!(
                "a letter of {} ends in ENDCHAR",
                counted(down, "row")
            )));
        }
        let column = |at: usize| rows.iter().map(|row| row[at]).collect::<Vec<bool>>();
        let mut columns: Vec<Vec<bool>> = (0..across).map(column).collect();
        let is_empty = |column: &Vec<bool>| !column.contains(&true);
        while columns.pop_if(|last| is_empty(last)).is_some() {}
        let empty = columns.iter().take_while(|column| is_empty(column)).count();
        columns.drain(..empty);
        let letter = Letter {
            top: height + low,
            columns,
        };
        if let Some(code) = code {
            self.letters.entry(code).or_insert(letter);
        }
        Ok(())
    }

    /// The cells of a row that is written in hexadecimal digits, four cells each.
    fn bits(&self, digits: &str, across: usize) -> Result<Vec<bool>, Error> {
        let digit = |digit: char| digit.to_digit(16);
        let values: Option<Vec<u32>> = digits.chars().map(digit).collect();
        let values = values.filter(|values| values.len() * 4 >= across);
        let values = values.ok_or_else(|| {
            self.wrong(format!(
                "a row of {} needs {} hexadecimal digits",
                counted(across, "cell"),
                across.div_ceil(8) * 2
            ))
        })?;
        let bits = values
            .iter()
            .flat_map(|value| (0..4).rev().map(move |bit| value >> bit & 1 == 1));
        Ok(bits.take(across).collect())
    }
}
