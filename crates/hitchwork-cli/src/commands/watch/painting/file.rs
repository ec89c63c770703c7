//! One picture of the rule, as it has been painted: its cells, and what they can be painted with.

use std::collections::BTreeMap;
use std::sync::Arc;

use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::picture::{Cell, MAX_PICTURE_COLOURS, Picture};
use hitchwork_core::text;
use hitchwork_rules::picture_file::png_of;
use serde::Serialize;

use super::marks::{MarkedText, Marks, mark_of_nothing};

/// The bytes of a file.
pub(in crate::commands::watch) type Bytes = Arc<[u8]>;

/// Why a page is not given what it asks for.
pub(in crate::commands::watch) type Refusal = &'static str;

pub(super) const NO_CELL: Refusal = "the picture has no such cell";
pub(super) const NO_POT: Refusal = "the picture knows no such colour";
pub(super) const NOT_READ_YET: Refusal = "the picture has not been tied yet";
pub(super) const NO_PICTURE: Refusal = "the file as it is now is not a picture in the marks that the rule knows, and was not taken: put the file right, or keep what is painted";
pub(super) const NO_SHAPE: Refusal = "the text could not be read back with that in it, since the rule gives its marks another meaning";

/// What cells can be painted with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(in crate::commands::watch) struct Pot {
    /// The mark, or the colour of pixels; empty for nothing in a picture of pixels.
    pub(super) id: String,
    /// What the rule calls the colour.
    pub(super) name: Option<String>,
    #[serde(serialize_with = "as_hex")]
    pub(super) colour: Option<Srgb>,
}

pub(super) fn as_hex<S: serde::Serializer>(
    colour: &Option<Srgb>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    match colour {
        Some(colour) => serializer.collect_str(colour),
        None => serializer.serialize_none(),
    }
}

/// The cells of a picture, as they can be painted over.
#[derive(Clone, Debug)]
pub(super) enum Cells {
    Marks(MarkedText, Arc<Marks>),
    Pixels(Picture),
    /// Pixels that no run has made a picture of yet.
    Unread,
}

/// A picture as it is at one time.
#[derive(Clone, Debug)]
pub(super) struct Version {
    pub(super) bytes: Bytes,
    pub(super) cells: Cells,
}

/// A picture of the rule.
#[derive(Clone, Debug)]
pub(super) struct PaintedFile {
    /// The bytes of the file over which it was painted; nothing where it is known to be gone.
    pub(super) disk: Option<Bytes>,
    pub(super) now: Version,
    pub(super) pots: Vec<Pot>,
    /// What lies there instead, where somebody else has changed the file since: nothing if it is
    /// gone.
    pub(super) found: Option<Option<Bytes>>,
    /// The text beside a picture of pixels, where it has been saved.
    pub(super) beside: Option<TextBeside>,
}

/// The text beside a picture of pixels that holds what was painted.
#[derive(Clone, Debug)]
pub(super) struct TextBeside {
    pub(super) file: String,
    /// What was last saved there; nothing where nothing has been yet.
    pub(super) saved: Option<Bytes>,
    /// What its marks stand for.
    pub(super) marks: Marks,
    /// What lies there instead, where somebody else has changed it since.
    pub(super) found: Option<Bytes>,
}

impl PaintedFile {
    pub(super) fn is_unsaved(&self) -> bool {
        self.disk.as_ref() != Some(&self.now.bytes)
    }

    pub(super) fn is_text(&self) -> bool {
        matches!(self.now.cells, Cells::Marks(..))
    }
}

/// Text with marks; nothing where it is no text, or no picture with these marks.
pub(super) fn as_marks(bytes: &[u8], marks: &Arc<Marks>) -> Option<Cells> {
    let words = text::decoded(bytes).ok()?;
    let cells = MarkedText::new(&words);
    cells.kept_in_shape(marks)?;
    Some(Cells::Marks(cells, Arc::clone(marks)))
}

pub(super) fn pots_of_marks(marks: &Marks) -> Vec<Pot> {
    let shown = marks.iter().filter_map(|(mark, colour)| {
        let colour = colour.as_ref()?;
        Some(Pot {
            id: mark.to_string(),
            name: Some(colour.name.clone()),
            colour: Some(colour.srgb),
        })
    });
    let nothing = mark_of_nothing(marks).map(|mark| Pot {
        id: mark.to_string(),
        name: None,
        colour: None,
    });
    shown.chain(nothing).collect()
}

/// The colours of a picture of pixels, those first that were known already: one that is painted over
/// everywhere can still be painted with.
pub(super) fn pots_of_pixels(picture: &Picture, mut pots: Vec<Pot>) -> Vec<Pot> {
    pots.retain(|pot| pot.colour.is_some());
    for colour in picture.colours() {
        if pots.len() < MAX_PICTURE_COLOURS
            && pots.iter().all(|pot| pot.colour != Some(colour.srgb))
        {
            pots.push(Pot {
                id: colour.srgb.to_string(),
                name: Some(colour.name.clone()),
                colour: Some(colour.srgb),
            });
        }
    }
    pots.push(Pot {
        id: String::new(),
        name: None,
        colour: None,
    });
    pots
}

impl PaintedFile {
    /// Rows and columns.
    pub(super) fn size(&self) -> (usize, usize) {
        match &self.now.cells {
            Cells::Marks(text, _) => text.size(),
            Cells::Pixels(picture) => (picture.height().into(), picture.width().into()),
            Cells::Unread => (0, 0),
        }
    }

    pub(super) fn cells(&self) -> Vec<Option<usize>> {
        let nothing = self.pots.iter().position(|pot| pot.colour.is_none());
        match &self.now.cells {
            Cells::Unread => Vec::new(),
            Cells::Pixels(picture) => {
                let pot = |cell: &Cell| match cell {
                    Some(number) => {
                        let colour = Some(picture.colours()[usize::from(*number)].srgb);
                        self.pots.iter().position(|pot| pot.colour == colour)
                    }
                    None => nothing,
                };
                picture.cells().iter().map(pot).collect()
            }
            Cells::Marks(text, _) => {
                let of: BTreeMap<char, usize> = (self.pots.iter().enumerate())
                    .filter(|(_, pot)| pot.colour.is_some())
                    .filter_map(|(at, pot)| Some((pot.id.chars().next()?, at)))
                    .collect();
                let (rows, columns) = text.size();
                let at = |row| (0..columns).map(move |column| (row, column));
                let cells = (0..rows).flat_map(at);
                let pot = |(row, column)| {
                    let mark = text.mark(row, column);
                    mark.and_then(|mark| of.get(&mark).copied()).or(nothing)
                };
                cells.map(pot).collect()
            }
        }
    }

    /// The picture with cells painted with what is in a pot.
    pub(super) fn painted(&self, pot: &str, cells: &[(u16, u16)]) -> Result<Version, Refusal> {
        let pot = self
            .pots
            .iter()
            .find(|known| known.id == pot)
            .ok_or(NO_POT)?;
        let (rows, columns) = self.size();
        let inside =
            |(row, column): &(u16, u16)| usize::from(*row) < rows && usize::from(*column) < columns;
        if matches!(self.now.cells, Cells::Unread) {
            return Err(NOT_READ_YET);
        }
        if !cells.iter().all(inside) {
            return Err(NO_CELL);
        }
        match &self.now.cells {
            Cells::Marks(text, marks) => {
                let mark = pot.id.chars().next().ok_or(NO_POT)?;
                let nothing = mark_of_nothing(marks).unwrap_or('.');
                let mut text = text.clone();
                for (row, column) in cells {
                    // What means nothing already stays as it is written.
                    let old = text.mark((*row).into(), (*column).into());
                    let is_nothing =
                        old.is_none_or(|old| marks.get(&old).is_none_or(Option::is_none));
                    if pot.colour.is_some() || !is_nothing {
                        text.set((*row).into(), (*column).into(), mark, nothing);
                    }
                }
                let words = text.kept_in_shape(marks).ok_or(NO_SHAPE)?;
                Ok(Version {
                    bytes: words.into_bytes().into(),
                    cells: Cells::Marks(text, Arc::clone(marks)),
                })
            }
            Cells::Pixels(picture) => {
                let picture = repainted(picture, pot, cells).ok_or(NO_POT)?;
                Ok(Version {
                    bytes: png_of(&picture).into(),
                    cells: Cells::Pixels(picture),
                })
            }
            Cells::Unread => Err(NOT_READ_YET),
        }
    }
}

pub(super) fn repainted(picture: &Picture, pot: &Pot, cells: &[(u16, u16)]) -> Option<Picture> {
    let mut colours = picture.colours().to_vec();
    let number = match pot.colour {
        None => None,
        Some(srgb) => {
            let known = colours.iter().position(|colour| colour.srgb == srgb);
            let number = known.unwrap_or(colours.len());
            if known.is_none() {
                let name = pot.name.clone().unwrap_or_default();
                colours.push(Colour::new(name, srgb));
            }
            Some(u8::try_from(number).ok()?)
        }
    };
    let mut painted = picture.cells().to_vec();
    for (row, column) in cells {
        painted[usize::from(*row) * usize::from(picture.width()) + usize::from(*column)] = number;
    }
    Picture::new(picture.width(), colours, painted).ok()
}
