//! Pictures on the brick lattice: which of their cells are knots, and the same as text, one mark
//! for each knot.

use std::collections::BTreeSet;

use super::Picture;
use super::marks::no_place;
use super::solve::{Painting, refused};
use crate::colour::Colour;
use crate::error::{Error, shortened};
use crate::limits::{MAX_PICTURE_ROWS, MAX_THREADS};
use crate::text::{counted, takes_no_place};

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

impl Picture {
    /// How many threads it takes on the lattice: one more than it has columns.
    ///
    /// # Errors
    /// When that is more than a band may have.
    pub fn threads_on_lattice(&self) -> Result<u16, Error> {
        let threads = self.width() + 1;
        match threads <= MAX_THREADS {
            true => Ok(threads),
            false => Err(refused(
                format!(
                    "a picture of {} takes {threads} threads; a band has at most {MAX_THREADS}",
                    counted(self.width(), "column")
                ),
                "crop the picture, shrink it, or turn it by a quarter",
            )),
        }
    }

    /// The colours that it shows where knots lie on the lattice, in the order of its list: the odd
    /// rows have knots in the odd columns, the even ones in the even columns. A picture of one
    /// column lies on two threads, whose one column has a knot in every row.
    ///
    /// ```
    /// use hitchwork_core::{colour::{Colour, Srgb}, picture::Picture};
    /// let [sea, foam] = ["sea", "foam"].map(|name| Colour::new(name, Srgb::new(name.len() as u8, 0, 0)));
    /// let cells = vec![Some(0), Some(1), None, Some(1), Some(0), None];
    /// let picture = Picture::new(3, vec![sea, foam], cells)?;
    /// let names: Vec<&str> = picture.shown_on_lattice().iter().map(|colour| &*colour.name).collect();
    /// assert_eq!(names, ["sea"]);
    /// assert_eq!(picture.shown().len(), 2);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn shown_on_lattice(&self) -> Vec<&Colour> {
        let mut seen = vec![false; self.colours().len()];
        for row in 1..=self.height() {
            for column in 1..=self.width() {
                let is_knot = self.width() == 1 || (row + column).is_multiple_of(2);
                if let Some(number) = self.cell(row, column).filter(|_| is_knot) {
                    seen[usize::from(number)] = true;
                }
            }
        }
        let listed = self.colours().iter().zip(seen);
        let seen = listed.filter(|(_, seen)| *seen);
        seen.map(|(colour, _)| colour).collect()
    }

    /// The picture on so many threads, each of its colours by where it stands in this list. Where
    /// a cell shows nothing, and in columns beyond the picture, any colour will do. The ends are
    /// open, and the counts are looked for.
    ///
    /// ```
    /// use hitchwork_core::{colour::{Colour, Srgb}, picture::Picture};
    /// let lamp = Colour::new("lamp", Srgb::new(255, 193, 69));
    /// let light = Picture::plain(3, 2, Some(lamp.clone()))?;
    /// let painting = light.on_lattice(4, &[lamp])?;
    /// assert_eq!(painting.rows.iter().map(Vec::len).collect::<Vec<_>>(), [2, 1]);
    /// assert!(light.on_lattice(3, &[]).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the picture is wider than the threads have columns, when they are not as many as a
    /// band may have, or when a colour that has knots is missing from the list.
    pub fn on_lattice(&self, threads: u16, colours: &[Colour]) -> Result<Painting, Error> {
        check_width(self.width(), threads)?;
        let place = |wanted: &Colour| colours.iter().position(|known| known.srgb == wanted.srgb);
        if let Some(missing) = self
            .shown_on_lattice()
            .into_iter()
            .find(|colour| place(colour).is_none())
        {
            return Err(refused(
                format!(
                    "the picture shows {}, and no thread of it hangs",
                    shortened(&missing.name)
                ),
                "hang a thread at least of each colour that the picture shows",
            ));
        }
        let places: Vec<Option<u8>> = self
            .colours()
            .iter()
            .map(|colour| place(colour).and_then(|place| u8::try_from(place).ok()))
            .collect();
        let count = number_of_colours(colours.len())?;
        Painting::lattice(threads, count, self.height().into(), |row, column| {
            let row = u16::try_from(row).ok()?;
            places[usize::from(self.cell(row, column)?)]
        })
    }
}

fn check_width(columns: u16, threads: u16) -> Result<(), Error> {
    match columns < threads {
        true => Ok(()),
        false => Err(refused(
            format!(
                "the picture has {}, and {} {} {}",
                counted(columns, "column"),
                counted(threads, "thread"),
                if threads == 1 { "has" } else { "have" },
                threads.saturating_sub(1)
            ),
            "hang one thread more than it has columns, or paint a narrower picture",
        )),
    }
}

fn number_of_colours(colours: usize) -> Result<u8, Error> {
    u8::try_from(colours).map_err(|_| {
        refused(
            "a picture has at most 255 colours",
            "paint with fewer colours",
        )
    })
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
                "write # for a motif, with dots for its ground; or a letter for each knot: in the odd columns of the odd rows, and in the even columns of the even ones",
            )),
            false => Ok(picture),
        }
    }

    fn read_row(&mut self, row: usize, line: &str) -> Result<(), Error> {
        let line: Vec<char> = line.trim_end().chars().collect();
        if let Some(at) = line.iter().position(|mark| takes_no_place(*mark)) {
            return Err(no_place(line[at], (row + 1, at + 1)));
        }
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
                    "a letter is a colour, and ? is any; leave off what is not to be tied. For a motif on a ground write # and dots alone",
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

    /// The picture with a colour for each of its letters, in the order of the alphabet; the cells
    /// between the knots show nothing.
    ///
    /// ```
    /// use hitchwork_core::{colour::{Colour, Srgb}, picture::lattice::LatticePicture};
    /// let picture = LatticePicture::read("a a\n b\n")?;
    /// let [sea, foam] = [("sea", 20), ("foam", 230)].map(|(name, grey)| Colour::new(name, Srgb::new(grey, grey, grey)));
    /// assert_eq!(picture.picture(&[sea, foam])?.to_string(), "#.#\n.a.\n");
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When it is larger than a picture may be, or there are too few colours.
    pub fn picture(&self, colours: &[Colour]) -> Result<Picture, Error> {
        let marks = self.marks();
        let mut cells = vec![None; self.rows.len() * usize::from(self.columns)];
        let rows = cells.chunks_mut(usize::from(self.columns.max(1)));
        for (row, (cells, knots)) in rows.zip(&self.rows).enumerate() {
            for (place, mark) in places(row).zip(knots) {
                let number = marks.iter().position(|known| known == mark);
                if let Some(cell) = cells.get_mut(place) {
                    *cell = number.and_then(|number| u8::try_from(number).ok());
                }
            }
        }
        Picture::new(self.columns, colours.to_vec(), cells)
    }

    /// The picture on so many threads, each colour by where its letter stands in this list.
    /// Columns beyond the picture show any colour.
    ///
    /// # Errors
    /// When the picture is wider than the threads have columns, when they are not as many as a
    /// band may have, or when a colour is missing from the list.
    pub fn painting(&self, threads: u16, colours: &[char]) -> Result<Painting, Error> {
        check_width(self.columns, threads)?;
        if threads == 2 && self.rows.len() > 1 {
            return Err(refused(
                "2 threads have all their knots in column 1, and every second row of a picture in letters has none there",
                "hang 3 threads, or paint one column of pixels",
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
        let count = number_of_colours(colours.len())?;
        let colour = |row: usize, column: u16| {
            let mark = self.rows[row - 1].get(usize::from(column - 1) / 2)?;
            let place = colours.iter().position(|colour| colour == mark)?;
            u8::try_from(place).ok()
        };
        Painting::lattice(threads, count, self.rows.len(), colour)
    }
}
