//! Pictures: small grids of colours that a band is to show.
//!
//! A cell of a picture shows one of its colours, or nothing. What nothing means is up to the way
//! in which the picture is tied: over a leader it is the ground behind the motif, and where knots
//! are looked for it is any colour.

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
use std::ops::RangeInclusive;
use std::sync::Arc;

pub use flags::{SIGNAL_COLOURS, signal_flag};
pub use font::{Font, Lettering};
pub use leader::{LeaderShows, OverLeader, over_leader};
pub use marks::{MOTIF, MarkedPicture, marked};
pub use netpbm::{is_netpbm, netpbm};
pub use pixels::{MAX_PIXELS, Means, PixelGrid};

use crate::colour::{Colour, Srgb, name_apart};
use crate::error::{Error, Problem};
pub use crate::limits::{MAX_PICTURE_COLOURS, MAX_PICTURE_COLUMNS, MAX_PICTURE_ROWS};

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

/// "1 column", "3 columns".
fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
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
        })
    }

    /// The picture of that size whose cell at each row and column, counted from 0, is this.
    fn drawn(
        (columns, rows): (u16, u16),
        colours: Arc<[Colour]>,
        cell: impl Fn(u16, u16) -> Cell,
    ) -> Self {
        let at = |row: u16| (0..columns).map(move |column| (row, column));
        let cells = (0..rows)
            .flat_map(at)
            .map(|(row, column)| cell(row, column));
        Self {
            columns,
            rows,
            colours,
            cells: cells.collect(),
        }
    }

    /// A picture all of whose cells show this colour, or nothing.
    ///
    /// # Errors
    /// When no picture can have this many columns or rows.
    pub fn plain(columns: usize, rows: usize, colour: Option<Colour>) -> Result<Self, Error> {
        let size = size(columns, rows)?;
        let cell = colour.as_ref().map(|_| 0);
        Ok(Self::drawn(size, colour.into_iter().collect(), |_, _| cell))
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
        self.cells[usize::from(row) * usize::from(self.columns) + usize::from(column)]
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

    /// The part in these rows and columns, counted from 1.
    ///
    /// ```
    /// # use hitchwork_core::picture::Picture;
    /// let sail = Picture::plain(5, 4, None)?;
    /// let part = sail.cropped(2..=4, 1..=2)?;
    /// assert_eq!((part.height(), part.width()), (3, 2));
    /// assert!(sail.cropped(2..=5, 1..=2).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When they are none, or do not all lie in the picture.
    pub fn cropped(
        &self,
        rows: RangeInclusive<u16>,
        columns: RangeInclusive<u16>,
    ) -> Result<Self, Error> {
        let part = |range: &RangeInclusive<u16>, has: u16, what: &str| {
            let (first, last) = (*range.start(), *range.end());
            if first == 0 || last > has || first > last {
                return Err(wrong(
                    format!("the picture has no {what}s {first} to {last}"),
                    format!("it has {what}s 1 to {has}"),
                ));
            }
            Ok((first - 1, last - first + 1))
        };
        let (top, height) = part(&rows, self.rows, "row")?;
        let (left, width) = part(&columns, self.columns, "column")?;
        Ok(Self::drawn(
            (width, height),
            Arc::clone(&self.colours),
            |row, column| self.at(top + row, left + column),
        ))
    }

    /// The smallest part that holds every cell which shows a colour.
    ///
    /// # Errors
    /// When all cells show nothing.
    pub fn trimmed(&self) -> Result<Self, Error> {
        let shows = |row: u16, column: u16| self.at(row, column).is_some();
        let in_row = |row: &u16| (0..self.columns).any(|column| shows(*row, column));
        let in_column = |column: &u16| (0..self.rows).any(|row| shows(row, *column));
        let ends = |(first, last): (u16, u16)| first + 1..=last + 1;
        let rows = (0..self.rows)
            .find(in_row)
            .zip((0..self.rows).rfind(in_row));
        let columns = (0..self.columns)
            .find(in_column)
            .zip((0..self.columns).rfind(in_column));
        match rows.zip(columns) {
            Some((rows, columns)) => self.cropped(ends(rows), ends(columns)),
            None => Err(wrong(
                "a picture in which nothing is shown cannot be trimmed",
                "trim pictures that show something",
            )),
        }
    }

    /// The picture with this many cells more that show nothing, at its left and right, and above and
    /// below.
    ///
    /// # Errors
    /// When it would have too many columns or rows.
    pub fn padded(
        &self,
        [left, right]: [usize; 2],
        [above, below]: [usize; 2],
    ) -> Result<Self, Error> {
        let across = left
            .saturating_add(right)
            .saturating_add(usize::from(self.columns));
        let down = above
            .saturating_add(below)
            .saturating_add(usize::from(self.rows));
        let size = size(across, down)?;
        // What is added is less than the whole, which fits.
        let [left, above] = [left, above].map(|added| u16::try_from(added).unwrap_or(u16::MAX));
        Ok(Self::drawn(
            size,
            Arc::clone(&self.colours),
            |row, column| {
                let inside =
                    |at: u16, before: u16, has: u16| at.checked_sub(before).filter(|at| *at < has);
                let at = inside(row, above, self.rows).zip(inside(column, left, self.columns));
                at.and_then(|(row, column)| self.at(row, column))
            },
        ))
    }

    /// Left and right exchanged.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self::drawn(
            (self.columns, self.rows),
            Arc::clone(&self.colours),
            |row, column| self.at(row, self.columns - 1 - column),
        )
    }

    /// The last row first; left and right stay as they were.
    #[must_use]
    pub fn upside_down(&self) -> Self {
        Self::drawn(
            (self.columns, self.rows),
            Arc::clone(&self.colours),
            |row, column| self.at(self.rows - 1 - row, column),
        )
    }

    /// Turned to the right by a quarter of a circle, this many times: what was at the left comes to
    /// lie at the top.
    ///
    /// ```
    /// # use hitchwork_core::picture::Picture;
    /// let pennant = Picture::plain(9, 4, None)?.quarter_turned(1)?;
    /// assert_eq!((pennant.width(), pennant.height()), (4, 9));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When it would have too many columns.
    pub fn quarter_turned(&self, times: u8) -> Result<Self, Error> {
        let (last_row, last_column) = (self.rows - 1, self.columns - 1);
        let colours = Arc::clone(&self.colours);
        let upright = (self.columns, self.rows);
        match times % 4 {
            0 => Ok(self.clone()),
            2 => Ok(Self::drawn(upright, colours, |row, column| {
                self.at(last_row - row, last_column - column)
            })),
            times => {
                let across = size(usize::from(self.rows), usize::from(self.columns))?;
                Ok(Self::drawn(across, colours, |row, column| match times {
                    1 => self.at(last_row - column, row),
                    _ => self.at(column, last_column - row),
                }))
            }
        }
    }

    /// The lists of two pictures as one, and the number in it of each colour of the second.
    fn with_colours_of(&self, other: &Self) -> Result<(Arc<[Colour]>, Vec<u8>), Error> {
        let mut list = self.colours.to_vec();
        let mut numbers = Vec::with_capacity(other.colours.len());
        for colour in other.colours.iter() {
            let known = list.iter().position(|known| known.srgb == colour.srgb);
            numbers.push(known.unwrap_or(list.len()));
            if known.is_none() {
                list.push(colour.clone());
            }
        }
        if list.len() > MAX_PICTURE_COLOURS {
            return Err(Problem::PictureColours { found: list.len() }.into());
        }
        name_apart(&mut list);
        let number = |number: usize| u8::try_from(number).expect("fewer than 256 colours");
        Ok((list.into(), numbers.into_iter().map(number).collect()))
    }

    /// The other picture to the right of this one, with this many columns between them that show
    /// nothing. Both begin at the top; where one ends before the other, nothing is shown.
    ///
    /// # Errors
    /// When together they have too many columns or colours.
    pub fn beside(&self, other: &Self, space: usize) -> Result<Self, Error> {
        let (colours, numbers) = self.with_colours_of(other)?;
        let begins = usize::from(self.columns).saturating_add(space);
        let across = begins.saturating_add(usize::from(other.columns));
        let size = size(across, usize::from(self.rows.max(other.rows)))?;
        let begins = u16::try_from(begins).unwrap_or(u16::MAX);
        Ok(Self::drawn(size, colours, |row, column| {
            match column.checked_sub(begins) {
                None => self.cell(row + 1, column + 1),
                Some(column) => {
                    let cell = other.cell(row + 1, column + 1);
                    cell.map(|number| numbers[usize::from(number)])
                }
            }
        }))
    }

    /// The other picture below this one, with this many rows between them that show nothing. Both
    /// begin at the left; where one ends before the other, nothing is shown.
    ///
    /// # Errors
    /// When together they have too many rows or colours.
    pub fn above(&self, other: &Self, space: usize) -> Result<Self, Error> {
        let (colours, numbers) = self.with_colours_of(other)?;
        let begins = usize::from(self.rows).saturating_add(space);
        let down = begins.saturating_add(usize::from(other.rows));
        let size = size(usize::from(self.columns.max(other.columns)), down)?;
        let begins = u16::try_from(begins).unwrap_or(u16::MAX);
        Ok(Self::drawn(size, colours, |row, column| {
            match row.checked_sub(begins) {
                None => self.cell(row + 1, column + 1),
                Some(row) => {
                    let cell = other.cell(row + 1, column + 1);
                    cell.map(|number| numbers[usize::from(number)])
                }
            }
        }))
    }

    /// The picture this many times beside itself, and that this many times below itself.
    ///
    /// # Errors
    /// When it would have too many columns or rows, or none.
    pub fn repeated(&self, across: usize, down: usize) -> Result<Self, Error> {
        let columns = across.saturating_mul(usize::from(self.columns));
        let size = size(columns, down.saturating_mul(usize::from(self.rows)))?;
        Ok(Self::drawn(
            size,
            Arc::clone(&self.colours),
            |row, column| self.at(row % self.rows, column % self.columns),
        ))
    }

    /// Motif and ground exchanged: where nothing was shown, the one colour of the picture is; or
    /// its two colours take each other's places, where no cell shows nothing.
    ///
    /// # Errors
    /// When the picture shows other than two things, so that nobody can say what becomes what.
    pub fn inverted(&self) -> Result<Self, Error> {
        let mut seen: Vec<Cell> = Vec::new();
        for cell in self.cells.iter() {
            if !seen.contains(cell) {
                seen.push(*cell);
            }
        }
        let [one, other] = seen[..] else {
            return Err(wrong(
                format!(
                    "a picture that shows {} has no inverse",
                    counted(seen.len(), "thing")
                ),
                "invert pictures of one colour and nothing, or of two colours; exchange others with recoloured",
            ));
        };
        let mut inverted = self.clone();
        let swap = |cell: &Cell| if *cell == one { other } else { one };
        inverted.cells = self.cells.iter().map(swap).collect();
        Ok(inverted)
    }

    /// The picture with each of its colours replaced by what is said of it: another colour, or
    /// nothing.
    ///
    /// # Errors
    /// When it would have too many colours.
    pub fn recoloured(&self, becomes: impl Fn(&Colour) -> Option<Colour>) -> Result<Self, Error> {
        let others: Vec<Option<Colour>> = self.colours.iter().map(becomes).collect();
        let mut list = Vec::new();
        let mut cells = Vec::with_capacity(others.len());
        for colour in others {
            cells.push(colour.as_ref().and_then(|_| u8::try_from(list.len()).ok()));
            list.extend(colour);
        }
        let cells = self.cells.iter().map(|cell| cells[usize::from((*cell)?)]);
        Self::of(self.columns, self.rows, list, cells.collect())
    }

    /// The picture with this colour where nothing was shown.
    ///
    /// # Errors
    /// When it would have too many colours.
    pub fn filled(&self, colour: Colour) -> Result<Self, Error> {
        let mut list = self.colours.to_vec();
        let number = u8::try_from(list.len()).ok();
        list.push(colour);
        let cells = self.cells.iter().map(|cell| cell.or(number)).collect();
        Self::of(self.columns, self.rows, list, cells)
    }

    /// The marks of all cells.
    fn marks(&self) -> impl Iterator<Item = char> + '_ {
        let letters = ('a'..='z').chain('A'..='Z').chain('0'..='9').chain(['+']);
        let marks: Vec<char> = std::iter::once('#').chain(letters).collect();
        self.cells.iter().map(move |cell| match cell {
            None => '.',
            Some(number) => marks.get(usize::from(*number)).copied().unwrap_or('+'),
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
