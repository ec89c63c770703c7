//! Pictures from elsewhere that take the place of one of the rule's: read by the readers that rules
//! have, and painted, not saved.

use hitchwork_core::colour::{Colour, Srgb, difference};
use hitchwork_core::picture::{Picture, PixelGrid, marked};
use hitchwork_core::text;
use hitchwork_rules::PictureTrace;
use hitchwork_rules::picture_file::{PictureUnread, is_picture, pixels};
use serde::Serialize;

use super::file::{Bytes, Cells, PaintedFile, Pot, Version};
use super::marks::{MarkedText, Marks, mark_of_nothing};
use super::{NO_FILE, Painting};
use crate::trouble::Trouble;

/// A picture that could take the place of one of the rule's.
pub(in crate::commands::watch) struct Dropped {
    name: String,
    version: Version,
    /// Its columns and rows, where it is of pixels.
    pixels: Option<(u32, u32)>,
}

/// How it fits there.
#[derive(Clone, Debug, Serialize)]
pub(in crate::commands::watch) struct DroppedFit {
    /// Its size as the rule reads it.
    columns: u16,
    rows: u16,
    /// The names of the colours that it shows.
    colours: Vec<String>,
    /// Whether some cells show nothing.
    has_ground: bool,
    /// The columns and rows that it had before, where it is of pixels.
    pixels: Option<(u32, u32)>,
}

impl Dropped {
    /// What the rule would read then.
    pub(in crate::commands::watch) fn bytes(&self) -> Bytes {
        std::sync::Arc::clone(&self.version.bytes)
    }

    /// How it fits into a rule that has read it like this; nothing where the rule reads it no more.
    pub(in crate::commands::watch) fn fit(&self, trace: &PictureTrace) -> Option<DroppedFit> {
        let traced = (trace.files().iter()).find(|traced| traced.name == self.name)?;
        let picture = &traced.picture;
        let named = |colour: &&Colour| colour.name.to_string();
        Some(DroppedFit {
            columns: picture.width(),
            rows: picture.height(),
            colours: picture.shown().iter().map(named).collect(),
            has_ground: picture.cells().contains(&None),
            pixels: self.pixels,
        })
    }
}

impl Painting {
    /// What these bytes would be in the place of a picture.
    pub(in crate::commands::watch) fn fitted(
        &self,
        name: &str,
        bytes: &[u8],
    ) -> Result<Dropped, Trouble> {
        let file = self.files.get(name).ok_or_else(|| {
            Trouble::new(format!("{} {}", NO_FILE, "any more"), "load the page again")
        })?;
        let grid = match is_picture(bytes) {
            true => Some(pixels(bytes).map_err(|why| unread(&why))?),
            false => None,
        };
        let size = grid.as_ref().map(|grid| (grid.width(), grid.height()));
        let version = match &file.now.cells {
            Cells::Marks(_, marks) => file.as_text(bytes, grid, marks)?,
            _ if grid.is_some() => Version {
                bytes: bytes.into(),
                cells: Cells::Unread,
            },
            _ => {
                return Err(Trouble::new(
                    format!(
                        "the rule reads {name} as pixels, and what was dropped is not a PNG, PBM, PGM or PPM"
                    ),
                    "drop a picture of pixels, or let the rule read a text",
                ));
            }
        };
        Ok(Dropped {
            name: name.to_owned(),
            version,
            pixels: size,
        })
    }

    /// Puts it there, as a step that can be taken back.
    pub(in crate::commands::watch) fn put_dropped(&mut self, dropped: Dropped) -> u64 {
        self.change(&dropped.name, dropped.version, None);
        self.version += 1;
        self.version
    }
}

impl PaintedFile {
    /// Text or pixels in the place of a picture that is written as text.
    fn as_text(
        &self,
        bytes: &[u8],
        grid: Option<PixelGrid>,
        marks: &std::sync::Arc<Marks>,
    ) -> Result<Version, Trouble> {
        let words = match grid {
            Some(grid) => self.in_marks(grid, marks)?,
            None => {
                let words = text::decoded(bytes)?;
                marked(&words, marks)?;
                words.into_owned()
            }
        };
        Ok(Version {
            cells: Cells::Marks(MarkedText::new(&words), std::sync::Arc::clone(marks)),
            bytes: words.into_bytes().into(),
        })
    }

    /// Pixels as text: no wider than the picture is now, each cell with the mark whose colour looks
    /// nearest.
    fn in_marks(&self, mut grid: PixelGrid, marks: &Marks) -> Result<String, Trouble> {
        let columns = u16::try_from(self.size().1).unwrap_or(u16::MAX);
        if grid.width() > u32::from(columns) {
            grid = grid.shrunk(columns)?;
        }
        let nothing = mark_of_nothing(marks).unwrap_or('.');
        let colours = self.colours_to_fit(&grid);
        let picture = grid.nearest(&colours)?;
        let mark = |colour: Option<&Colour>| {
            let pot = colour.and_then(|colour| {
                let is_it = |pot: &&Pot| pot.colour == Some(colour.srgb);
                self.pots.iter().find(is_it)
            });
            pot.and_then(|pot| pot.id.chars().next()).unwrap_or(nothing)
        };
        Ok(written(&picture, mark))
    }

    /// The colours of the pots. Where there is only one, and the pixels leave nothing clear, paper
    /// is one as well: what is nearer to it than to the one colour shows nothing.
    fn colours_to_fit(&self, grid: &PixelGrid) -> Vec<Colour> {
        let named = |pot: &Pot| {
            let name = pot.name.clone().unwrap_or_default();
            pot.colour.map(|srgb| Colour::new(name, srgb))
        };
        let mut colours: Vec<Colour> = self.pots.iter().filter_map(named).collect();
        let clear = |row| (0..grid.width()).any(|column| grid.colour(column, row)[3] < 128);
        if let [one] = &colours[..]
            && !(0..grid.height()).any(clear)
        {
            let papers = [Srgb::new(255, 255, 255), Srgb::new(0, 0, 0)];
            let far = |paper: &Srgb| difference(*paper, one.srgb);
            let paper = papers.into_iter().max_by(|a, b| far(a).total_cmp(&far(b)));
            colours.extend(paper.map(|paper| Colour::new("paper", paper)));
        }
        colours
    }
}

/// A picture as text, a line for each row.
pub(super) fn written(picture: &Picture, mark: impl Fn(Option<&Colour>) -> char) -> String {
    let mut words = String::new();
    for row in 1..=picture.height() {
        let cells = (1..=picture.width()).map(|column| picture.colour(row, column));
        words.extend(cells.map(&mark));
        words.push('\n');
    }
    words
}

fn unread(why: &PictureUnread) -> Trouble {
    Trouble::new(why.to_string(), why.help())
}
