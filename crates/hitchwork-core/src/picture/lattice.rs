//! A picture on the brick lattice as text, one mark for each knot.

use std::collections::BTreeSet;

use super::solve::{Painting, refused};
use crate::error::Error;
use crate::limits::{MAX_PICTURE_ROWS, MAX_THREADS};

/// The marks that ask for no colour.
const ANY: [char; 3] = ['?', '.', ' '];

/// A picture as people write it for the lattice: a line a row, a character a column. The odd
/// rows have knots in the odd columns, the even ones in the even columns; what stands anywhere
/// else is passed over. A letter is a colour; `?`, a dot, a space and what is not written ask for
/// none, and any will do. Empty lines at the end are no rows.
///
/// ```
/// use hitchwork_core::picture::lattice::LatticePicture;
/// let picture = LatticePicture::read("a b a\n b b\na ? a\n")?;
/// assert_eq!((picture.columns(), picture.rows()), (5, 3));
/// assert_eq!(picture.marks(), ['a', 'b']);
/// let painting = picture.painting(6, &['a', 'b'])?;
/// assert_eq!(painting.rows[2].iter().map(|knot| knot.colour).collect::<Vec<_>>(), [Some(0), None, Some(0)]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LatticePicture {
    /// For each row the mark of each of its columns.
    rows: Vec<Vec<char>>,
    columns: u16,
}

/// The columns of a row of the lattice, by the row's number from 0, as places in its line.
fn places(row: usize) -> impl Iterator<Item = usize> {
    (row % 2..).step_by(2)
}

impl LatticePicture {
    /// Reads the text.
    ///
    /// ```
    /// use hitchwork_core::picture::lattice::LatticePicture;
    /// let error = LatticePicture::read("a b\n 7\n").unwrap_err();
    /// assert_eq!(error.to_string(), "line 2, character 2: \"7\" is neither a colour nor a place that shows any");
    /// ```
    ///
    /// # Errors
    /// When a place holds something else, there is no colour at all, or more rows or columns
    /// than a picture may have.
    pub fn read(text: &str) -> Result<Self, Error> {
        let lines = text.trim_end().lines();
        let mut picture = Self {
            rows: Vec::new(),
            columns: 0,
        };
        for (number, line) in lines.enumerate() {
            if number == usize::from(MAX_PICTURE_ROWS) {
                return Err(refused(
                    format!("the picture has more than {MAX_PICTURE_ROWS} rows"),
                    "paint what comes again and again once",
                ));
            }
            picture.read_row(number, line)?;
        }
        match picture.marks().is_empty() {
            true => Err(refused(
                "the picture asks for no colour anywhere",
                "write a letter for each knot: in the odd columns of the odd rows, and in the even columns of the even ones",
            )),
            false => Ok(picture),
        }
    }

    fn read_row(&mut self, row: usize, line: &str) -> Result<(), Error> {
        let line: Vec<char> = line.trim_end().chars().collect();
        let mut marks = Vec::new();
        for place in places(row).take_while(|place| *place < line.len()) {
            let mark = line[place];
            if !mark.is_alphabetic() && !ANY.contains(&mark) {
                return Err(refused(
                    format!(
                        "line {}, character {}: \"{}\" is neither a colour nor a place that shows any",
                        row + 1,
                        place + 1,
                        mark.escape_debug()
                    ),
                    "a letter is a colour, and ? is any; leave off what is not to be tied",
                ));
            }
            let column = u16::try_from(place + 1).ok();
            let Some(column) = column.filter(|column| *column < MAX_THREADS) else {
                let most = MAX_THREADS - 1;
                return Err(refused(
                    format!("line {} has a knot beyond column {most}", row + 1),
                    "a band has at most 200 threads: paint a narrower picture",
                ));
            };
            if mark != ' ' {
                self.columns = self.columns.max(column);
            }
            marks.push(mark);
        }
        self.rows.push(marks);
        Ok(())
    }

    /// The number of its last column that holds a mark.
    #[must_use]
    pub fn columns(&self) -> u16 {
        self.columns
    }

    /// How many rows it has.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows.len()
    }

    /// The letters of its colours, in the order of the alphabet.
    #[must_use]
    pub fn marks(&self) -> Vec<char> {
        let marks: BTreeSet<char> = self.rows.iter().flatten().copied().collect();
        let is_colour = |mark: &char| !ANY.contains(mark);
        marks.into_iter().filter(is_colour).collect()
    }

    /// The picture on so many threads, each colour by where its letter stands in this list.
    /// Columns beyond the picture show any colour.
    ///
    /// # Errors
    /// When the picture is wider than the threads have columns, when they are not as many as a
    /// band may have, or when a colour is missing from the list.
    pub fn painting(&self, threads: u16, colours: &[char]) -> Result<Painting, Error> {
        if self.columns >= threads {
            let columns = self.columns;
            return Err(refused(
                format!(
                    "the picture has {columns} columns, and {threads} threads have {}",
                    threads.saturating_sub(1)
                ),
                "hang one thread more than it has columns, or paint a narrower picture",
            ));
        }
        if let Some(mark) = self
            .marks()
            .into_iter()
            .find(|mark| !colours.contains(mark))
        {
            return Err(refused(
                format!("the colour {mark} of the picture is not among those that hang"),
                "say for every colour of the picture how many threads of it hang",
            ));
        }
        let count = u8::try_from(colours.len()).map_err(|_| {
            refused(
                "a picture has at most 255 colours",
                "paint with fewer colours",
            )
        })?;
        let colour = |row: usize, column: u16| {
            let mark = self.rows[row - 1].get(usize::from(column - 1) / 2)?;
            let place = colours.iter().position(|colour| colour == mark)?;
            u8::try_from(place).ok()
        };
        Painting::lattice(threads, count, self.rows.len(), colour)
    }
}
