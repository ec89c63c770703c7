//! Pictures written as text: a line for each row, a mark for each cell.

use std::collections::BTreeMap;

use super::{Picture, size};
use crate::colour::Colour;
use crate::error::{Error, Problem};
use crate::limits::{MAX_PICTURE_COLOURS, MAX_PICTURE_COLUMNS};
use crate::row::NO_KNOT;
use crate::text::{counted, takes_no_place};

/// A picture that was written as text, with the place at which it begins.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct MarkedPicture {
    /// The picture.
    pub picture: Picture,
    /// The line of the text in which its first row stands, from 1.
    pub line: usize,
    /// The rows that end before the widest, from the top.
    pub shorter: Vec<ShorterRow>,
    /// Whether cells are written as spaces, which many editors take away at the end of a line.
    has_spaces: bool,
}

/// A row of a text that ends before the widest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct ShorterRow {
    /// Its line in the text, from 1.
    pub line: usize,
    /// The character of that line at which a mark is missing, from 1.
    pub character: usize,
    /// How many cells it has.
    pub cells: usize,
}

impl MarkedPicture {
    /// The picture, where every row was written to its end. Cells that are written as spaces may be
    /// missing at the end of a line, where they are not seen.
    ///
    /// ```
    /// use std::collections::BTreeMap;
    /// use hitchwork_core::{colour::{Colour, Srgb}, picture::marked};
    /// let lamp = Colour::new("lamp", Srgb::new(255, 193, 69));
    /// let colours = BTreeMap::from([('#', Some(lamp))]);
    /// assert!(marked(".#.\n###\n", &colours)?.whole().is_ok());
    /// assert!(marked("# #\n #\n", &colours)?.whole().is_ok());
    /// let slip = marked(".#\n###\n", &colours)?.whole().unwrap_err();
    /// assert_eq!(slip.grid_place(), Some((1, 3)));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a row ends before the widest: with its place in the text.
    pub fn whole(self) -> Result<Picture, Error> {
        let (across, number) = (self.picture.width(), self.shorter.len());
        match self.shorter.first().filter(|_| !self.has_spaces) {
            None => Ok(self.picture),
            Some(row) => Err(Problem::PictureMark {
                message: format!(
                    "the row in line {} of the picture has {}, and the widest has {across}{}",
                    row.line,
                    counted(row.cells, "cell"),
                    match number {
                        1 => String::new(),
                        many => format!(" ({many} rows are shorter)"),
                    }
                ),
                help: "write a mark for every cell, with a . where nothing is shown".to_owned(),
                line: row.line,
                character: row.character,
            }
            .into()),
        }
    }
}

/// Reads a picture from text: each line is a row, each of its characters a cell, and `colours` says
/// which colour a mark stands for, or that it stands for nothing. A `.` and a space always stand
/// for nothing, unless `colours` says otherwise.
///
/// Lines of nothing but spaces are skipped, and indentation that all others share is cut off.
/// Shorter lines are filled up with nothing at their right.
///
/// ```
/// use std::collections::BTreeMap;
/// use hitchwork_core::{colour::{Colour, Srgb}, picture::marked};
/// let lamp = Colour::new("lamp", Srgb::new(255, 193, 69));
/// let colours = BTreeMap::from([('#', Some(lamp))]);
/// let buoy = marked("\n  .#\n  ###\n", &colours)?.picture;
/// assert_eq!(buoy.to_string(), ".#.\n###\n");
/// let slip = marked(".#\n#x#\n", &colours).unwrap_err();
/// assert_eq!(slip.grid_place(), Some((2, 2)));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When a mark stands for nothing that was said, there are no rows, or too many rows, columns or
/// colours.
pub fn marked(
    text: &str,
    colours: &BTreeMap<char, Option<Colour>>,
) -> Result<MarkedPicture, Error> {
    if colours.len() > MAX_PICTURE_COLOURS {
        let found = colours.len();
        return Err(Problem::PictureColours { found }.into());
    }
    let numbered: BTreeMap<char, Option<u8>> = (colours.iter().filter(|(_, is)| is.is_some()))
        .map(|(mark, _)| *mark)
        .zip(0..)
        .map(|(mark, number)| (mark, Some(number)))
        .collect();
    let cell = |mark: char| match numbered.get(&mark) {
        Some(cell) => Some(*cell),
        None if is_nothing(mark) || colours.contains_key(&mark) => Some(None),
        None => None,
    };
    let lines = || {
        let lines = text.lines().enumerate();
        let lines = lines.map(|(at, line)| (at + 1, line.trim_end(), line.chars().count()));
        lines.filter(|(_, line, _)| !line.is_empty())
    };
    let spaces = |line: &str| line.chars().take_while(|mark| *mark == ' ').count();
    let indent = lines().map(|(_, line, _)| spaces(line)).min().unwrap_or(0);
    let width = |line: &str| line.chars().count() - indent;
    let (mut across, mut rows) = (0, 0);
    for (line, marks, _) in lines() {
        rows += 1;
        across = across.max(width(marks));
        if across > usize::from(MAX_PICTURE_COLUMNS) {
            return Err(too_wide(
                line,
                indent + usize::from(MAX_PICTURE_COLUMNS) + 1,
            ));
        }
    }
    // Before all shorter lines are filled up.
    size(across, rows)?;
    let mut cells = Vec::with_capacity(across * rows);
    let mut shorter = Vec::new();
    let mut has_spaces = false;
    for (line, marks, written) in lines() {
        let begins = cells.len();
        for (at, mark) in marks.chars().skip(indent).enumerate() {
            let place = (line, indent + at + 1);
            cells.push(cell(mark).ok_or_else(|| unknown(mark, place, colours))?);
            has_spaces |= mark == ' ';
        }
        // Spaces at its end make a row as long as it is.
        if written < indent + across {
            shorter.push(ShorterRow {
                line,
                character: written + 1,
                cells: written - indent,
            });
        }
        cells.resize(begins + across, None);
    }
    let list = colours.values().flatten().cloned().collect();
    let columns = u16::try_from(across).unwrap_or(u16::MAX);
    let picture = Picture::new(columns, list, cells)?;
    let line = lines().next().map_or(1, |(line, ..)| line);
    Ok(MarkedPicture {
        picture,
        line,
        shorter,
        has_spaces,
    })
}

const fn is_nothing(mark: char) -> bool {
    matches!(mark, NO_KNOT | ' ')
}

fn too_wide(line: usize, character: usize) -> Error {
    Problem::PictureMark {
        message: format!(
            "the row in line {line} is wider than a picture may be: {MAX_PICTURE_COLUMNS} columns"
        ),
        help: "over a leader a column is a thread, and no band has more than 200".to_owned(),
        line,
        character,
    }
    .into()
}

fn unknown(
    mark: char,
    (line, character): (usize, usize),
    colours: &BTreeMap<char, Option<Colour>>,
) -> Error {
    if takes_no_place(mark) {
        return no_place(mark, (line, character));
    }
    let known: Vec<String> = colours.keys().map(char::to_string).collect();
    let listed = match known.is_empty() {
        true => String::new(),
        false => format!("the marks are: {}; ", known.join(" ")),
    };
    let shown: String = match mark.is_control() {
        true => mark.escape_default().collect(),
        false => mark.to_string(),
    };
    Problem::PictureMark {
        message: format!("nobody has said what \"{shown}\" in line {line}, character {character} of the picture stands for"),
        help: format!("{listed}. and a space stand for nothing. Say which colour each other mark stands for"),
        line,
        character,
    }
    .into()
}

/// A character that would be a cell, and is not seen as one.
pub(super) fn no_place(mark: char, (line, character): (usize, usize)) -> Error {
    Problem::PictureMark {
        message: format!(
            "line {line}, character {character}: U+{:04X} takes no place of its own, and would count as a cell",
            u32::from(mark)
        ),
        help: "it is an accent over the character before it, or is not seen at all: type the line again without it, each cell as one character".to_owned(),
        line,
        character,
    }
    .into()
}
