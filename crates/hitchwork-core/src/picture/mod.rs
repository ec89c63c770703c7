//! Pictures: small grids of colours that a band is to show.
//!
//! A cell of a picture shows one of its colours, or nothing. What nothing means is up to the way
//! in which the picture is tied: over a leader it is the ground behind the motif, and where knots
//! are looked for it is any colour.

mod alphabet;
mod composing;
mod flags;
mod font;
pub mod lattice;
mod leader;
mod marks;
mod netpbm;
pub mod pairs;
mod pixels;
pub mod solve;

use std::collections::BTreeMap;
use std::num::NonZeroU32;
use std::sync::Arc;

pub use alphabet::{MOTIF, mark_of};
pub use flags::{SIGNAL_COLOURS, signal_flag};
pub use font::{Font, Lettering};
pub use leader::{LeaderShows, OverLeader, over_leader};
pub use marks::{MarkedPicture, ShorterRow, marked};
pub use netpbm::{is_netpbm, netpbm};
pub use pixels::{MAX_PIXELS, Means, PixelGrid};

use crate::colour::{Colour, Srgb, name_apart};
use crate::error::{Error, Problem};
pub use crate::limits::{MAX_PICTURE_COLOURS, MAX_PICTURE_COLUMNS, MAX_PICTURE_ROWS};
use crate::row::NO_KNOT;

/// What a cell shows: the number of a colour of the picture's list, counted from 0, or nothing.
pub type Cell = Option<u8>;

/// A small grid of colours. A value: every operation gives a new picture, and cloning is cheap.
///
/// It has 1 to 200 columns and 1 to 2,000 rows, and at most 64 colours. A colour is known by its
/// value, so that one value has one name in a picture. Two pictures are equal where every cell
/// shows the same value, or both show nothing.
///
/// ```
/// use hitchwork_core::{colour::{Colour, Srgb}, picture::Picture};
/// let lamp = Colour::new("lamp", Srgb::new(255, 193, 69));
/// let buoy = Picture::new(3, vec![lamp], vec![None, Some(0), None, Some(0), Some(0), Some(0)])?;
/// assert_eq!((buoy.width(), buoy.height()), (3, 2));
/// assert_eq!(buoy.colour(1, 2).map(|colour| &*colour.name), Some("lamp"));
/// assert_eq!(buoy.colour(1, 1), None);
/// assert_eq!(buoy.mirrored(), buoy);
/// assert_ne!(buoy.upside_down(), buoy);
/// assert_eq!(buoy.to_string(), ".#.\n###\n");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Picture {
    columns: u16,
    rows: u16,
    colours: Arc<[Colour]>,
    /// Row by row, each from the left.
    cells: Arc<[Cell]>,
    /// Where each cell comes from, where that is remembered.
    origins: Option<Arc<[u32]>>,
}

impl PartialEq for Picture {
    fn eq(&self, other: &Self) -> bool {
        let value = |picture: &Self, cell: Cell| picture.listed(cell).map(|colour| colour.srgb);
        let mut both = self.cells.iter().zip(other.cells.iter());
        (self.columns, self.rows) == (other.columns, other.rows)
            && both.all(|(one, another)| value(self, *one) == value(other, *another))
    }
}

impl Eq for Picture {}

fn wrong(message: impl Into<String>, help: impl Into<String>) -> Error {
    Problem::Picture {
        message: message.into(),
        help: help.into(),
    }
    .into()
}

/// The columns and rows of a picture, if a picture can have this many.
fn size(columns: usize, rows: usize) -> Result<(u16, u16), Error> {
    let within = |count: usize, most: u16| {
        let count = u16::try_from(count).ok();
        count.filter(|count| (1..=most).contains(count))
    };
    within(columns, MAX_PICTURE_COLUMNS)
        .zip(within(rows, MAX_PICTURE_ROWS))
        .ok_or_else(|| Problem::PictureSize { columns, rows }.into())
}

impl Picture {
    /// A picture of that many columns from its cells, row by row and each from the left; each
    /// names a colour of the list by its number, counted from 0.
    ///
    /// # Errors
    /// When the rows are not all whole, there are too many columns, rows or colours, or a cell
    /// names a colour that is not in the list.
    pub fn new(columns: u16, colours: Vec<Colour>, cells: Vec<Cell>) -> Result<Self, Error> {
        let across = usize::from(columns);
        let rows = cells.len().checked_div(across).unwrap_or(0);
        let (columns, rows) = size(across, rows)?;
        if usize::from(rows) * across != cells.len() {
            let found = cells.len();
            return Err(wrong(
                format!("{found} cells do not make whole rows of {columns}"),
                "give as many cells for each row as the picture has columns",
            ));
        }
        let named = cells.iter().flatten().max();
        if let Some(number) = named.filter(|number| usize::from(**number) >= colours.len()) {
            return Err(wrong(
                format!(
                    "a cell shows colour {number} (counted from 0) of {}",
                    colours.len()
                ),
                "give the list every colour that a cell shows",
            ));
        }
        Self::of(columns, rows, colours, cells)
    }

    /// The same of cells that are known to fit; colours of one value become one.
    fn of(
        columns: u16,
        rows: u16,
        colours: Vec<Colour>,
        mut cells: Vec<Cell>,
    ) -> Result<Self, Error> {
        let mut list: Vec<Colour> = Vec::with_capacity(colours.len());
        let mut numbers = BTreeMap::<Srgb, usize>::new();
        let mut places = Vec::with_capacity(colours.len());
        for colour in colours {
            let number = *numbers.entry(colour.srgb).or_insert(list.len());
            places.push(number);
            if number == list.len() {
                list.push(colour);
            }
        }
        if list.len() > MAX_PICTURE_COLOURS {
            return Err(Problem::PictureColours { found: list.len() }.into());
        }
        if places.len() > list.len() {
            for cell in &mut cells {
                *cell = cell.and_then(|old| u8::try_from(places[usize::from(old)]).ok());
            }
        }
        name_apart(&mut list);
        Ok(Self {
            columns,
            rows,
            colours: list.into(),
            cells: cells.into(),
            origins: None,
        })
    }

    /// A picture all of whose cells show this colour, or nothing.
    ///
    /// # Errors
    /// When no picture can have this many columns or rows.
    pub fn plain(columns: usize, rows: usize, colour: Option<Colour>) -> Result<Self, Error> {
        let (across, rows) = size(columns, rows)?;
        let cells = vec![colour.as_ref().map(|_| 0); usize::from(across) * usize::from(rows)];
        Self::of(across, rows, colour.into_iter().collect(), cells)
    }

    /// How many columns it has.
    #[must_use]
    pub const fn width(&self) -> u16 {
        self.columns
    }

    /// How many rows it has.
    #[must_use]
    pub const fn height(&self) -> u16 {
        self.rows
    }

    /// Its list of colours; some of them may be shown by no cell any more.
    #[must_use]
    pub fn colours(&self) -> &[Colour] {
        &self.colours
    }

    /// The colours that its cells show, in the order of its list.
    #[must_use]
    pub fn shown(&self) -> Vec<&Colour> {
        let mut seen = vec![false; self.colours.len()];
        for number in self.cells.iter().flatten() {
            seen[usize::from(*number)] = true;
        }
        let listed = self.colours.iter().zip(seen);
        listed
            .filter(|(_, seen)| *seen)
            .map(|(colour, _)| colour)
            .collect()
    }

    /// All cells, row by row, each from the left.
    #[must_use]
    pub fn cells(&self) -> &[Cell] {
        &self.cells
    }

    fn listed(&self, cell: Cell) -> Option<&Colour> {
        cell.map(|number| &self.colours[usize::from(number)])
    }

    /// A cell by its row and its column, counted from 0, inside the picture.
    fn at(&self, row: u16, column: u16) -> Cell {
        self.cells[self.index(row, column)]
    }

    fn index(&self, row: u16, column: u16) -> usize {
        usize::from(row) * usize::from(self.columns) + usize::from(column)
    }

    /// What the cell at this row and column shows, both counted from 1; nothing beyond the
    /// picture's edges.
    #[must_use]
    pub fn cell(&self, row: u16, column: u16) -> Cell {
        let inside = |number: u16, most: u16| number.checked_sub(1).filter(|at| *at < most);
        let at = inside(row, self.rows).zip(inside(column, self.columns));
        at.and_then(|(row, column)| self.at(row, column))
    }

    /// The colour of the cell at this row and column, both counted from 1; nothing where the cell
    /// shows nothing, and beyond the picture's edges.
    #[must_use]
    pub fn colour(&self, row: u16, column: u16) -> Option<&Colour> {
        self.listed(self.cell(row, column))
    }

    /// The number of the cell at this row and column, both counted from 1: cells count from 1,
    /// row by row and each from the left. Nothing beyond the picture's edges.
    #[doc(hidden)]
    #[must_use]
    pub fn cell_number(&self, row: u16, column: u16) -> Option<NonZeroU32> {
        let inside = (1..=self.rows).contains(&row) && (1..=self.columns).contains(&column);
        let number = (u32::from(row).checked_sub(1)?) * u32::from(self.columns) + u32::from(column);
        NonZeroU32::new(number).filter(|_| inside)
    }

    /// The colour of the cell of this number; nothing where it shows nothing, or there is none.
    #[doc(hidden)]
    #[must_use]
    pub fn numbered_colour(&self, cell: NonZeroU32) -> Option<&Colour> {
        let at = usize::try_from(cell.get() - 1).ok()?;
        self.listed(*self.cells.get(at)?)
    }

    /// The same picture, each of whose cells remembers that it comes from the cell of this number;
    /// 0 is nothing. What is made of the picture takes that along. It says nothing about what the
    /// cells show: pictures are as equal as before.
    #[doc(hidden)]
    #[must_use]
    pub fn coming_from(self, origins: impl IntoIterator<Item = u32>) -> Self {
        let origins: Arc<[u32]> = origins.into_iter().collect();
        debug_assert_eq!(origins.len(), self.cells.len(), "one for each cell");
        Self {
            origins: Some(origins),
            ..self
        }
    }

    /// The number of the cell from which the one of this number comes, if that is remembered.
    #[doc(hidden)]
    #[must_use]
    pub fn origin(&self, cell: NonZeroU32) -> Option<NonZeroU32> {
        let at = usize::try_from(cell.get() - 1).ok()?;
        NonZeroU32::new(*self.origins.as_ref()?.get(at)?)
    }

    /// The marks of all cells.
    fn marks(&self) -> impl Iterator<Item = char> + '_ {
        let mark = |number: usize| number.checked_sub(1).map_or(Some(MOTIF), mark_of);
        let marks: Vec<char> = (0..self.colours.len()).map_while(mark).collect();
        self.cells.iter().map(move |cell| match cell {
            None => NO_KNOT,
            Some(number) => marks[usize::from(*number)],
        })
    }
}

impl std::fmt::Display for Picture {
    /// A line for each row: `.` where nothing is shown, `#` for the first colour of the list, and
    /// letters from `a` on for the others.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (at, mark) in self.marks().enumerate() {
            write!(f, "{mark}")?;
            if (at + 1).is_multiple_of(usize::from(self.columns)) {
                writeln!(f)?;
            }
        }
        Ok(())
    }
}
