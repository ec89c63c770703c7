//! Pictures from pictures: parts of them, turned, joined, repeated, in other colours.

use std::ops::RangeInclusive;
use std::sync::Arc;

use super::{Cell, MAX_PICTURE_COLOURS, Picture, size, wrong};
use crate::colour::{Colour, name_apart};
use crate::error::{Error, Problem};
use crate::text::counted;

impl Picture {
    /// The picture of that size whose cell at each row and column is the one of this picture that
    /// `from` names, or shows nothing; all count from 0.
    fn rearranged(&self, size: (u16, u16), from: impl Fn(u16, u16) -> Option<(u16, u16)>) -> Self {
        let known = &[self];
        Self::pieced(size, Arc::clone(&self.colours), known, |row, column| {
            from(row, column).map(|(row, column)| (0, row, column))
        })
    }

    /// The same of several pictures, the first of which has the numbers of the list for its
    /// colours; `from` names the picture as well.
    fn pieced(
        (columns, rows): (u16, u16),
        colours: Arc<[Colour]>,
        pictures: &[&Self],
        from: impl Fn(u16, u16) -> Option<(usize, u16, u16)>,
    ) -> Self {
        let at = |row: u16| (0..columns).map(move |column| (row, column));
        let places = || {
            (0..rows)
                .flat_map(at)
                .map(|(row, column)| from(row, column))
        };
        let cell = |place: Option<(usize, u16, u16)>| {
            place.and_then(|(which, row, column)| pictures[which].at(row, column))
        };
        let origin = |place: Option<(usize, u16, u16)>| {
            place.map_or(0, |(which, row, column)| {
                let picture = pictures[which];
                let origins = picture.origins.as_ref();
                origins.map_or(0, |origins| origins[picture.index(row, column)])
            })
        };
        let is_known = pictures.iter().any(|picture| picture.origins.is_some());
        Self {
            columns,
            rows,
            colours,
            cells: places().map(cell).collect(),
            origins: is_known.then(|| places().map(origin).collect()),
        }
    }

    /// The same cells as those of another picture of this size, which come from where its do.
    fn with_origins_of(self, other: &Self) -> Self {
        Self {
            origins: other.origins.clone(),
            ..self
        }
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
        Ok(self.rearranged((width, height), |row, column| {
            Some((top + row, left + column))
        }))
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
        Ok(self.rearranged(size, |row, column| {
            let inside =
                |at: u16, before: u16, has: u16| at.checked_sub(before).filter(|at| *at < has);
            inside(row, above, self.rows).zip(inside(column, left, self.columns))
        }))
    }

    /// Left and right exchanged.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        self.rearranged((self.columns, self.rows), |row, column| {
            Some((row, self.columns - 1 - column))
        })
    }

    /// The last row first; left and right stay as they were.
    #[must_use]
    pub fn upside_down(&self) -> Self {
        self.rearranged((self.columns, self.rows), |row, column| {
            Some((self.rows - 1 - row, column))
        })
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
        let upright = (self.columns, self.rows);
        match times % 4 {
            0 => Ok(self.clone()),
            2 => Ok(self.rearranged(upright, |row, column| {
                Some((last_row - row, last_column - column))
            })),
            times => {
                let across = size(usize::from(self.rows), usize::from(self.columns))?;
                Ok(self.rearranged(across, |row, column| {
                    Some(match times {
                        1 => (last_row - column, row),
                        _ => (column, last_column - row),
                    })
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

    /// The picture with these numbers for the colours of its list.
    fn numbered(&self, numbers: &[u8]) -> Self {
        let numbered = |cell: &Cell| cell.map(|number| numbers[usize::from(number)]);
        Self {
            cells: self.cells.iter().map(numbered).collect(),
            ..self.clone()
        }
    }

    /// The row and the column, both counted from 0, if they lie in the picture.
    fn inside(&self, row: u16, column: u16) -> Option<(u16, u16)> {
        (row < self.rows && column < self.columns).then_some((row, column))
    }

    /// The other picture to the right of this one, with this many columns between them that show
    /// nothing. Both begin at the top; where one ends before the other, nothing is shown.
    ///
    /// # Errors
    /// When together they have too many columns or colours.
    pub fn beside(&self, other: &Self, space: usize) -> Result<Self, Error> {
        self.joined(other, [usize::from(self.columns).saturating_add(space), 0])
    }

    /// The other picture below this one, with this many rows between them that show nothing. Both
    /// begin at the left; where one ends before the other, nothing is shown.
    ///
    /// # Errors
    /// When together they have too many rows or colours.
    pub fn above(&self, other: &Self, space: usize) -> Result<Self, Error> {
        self.joined(other, [0, usize::from(self.rows).saturating_add(space)])
    }

    /// The other picture so far to the right and below, where this one has no cells.
    fn joined(&self, other: &Self, [right, below]: [usize; 2]) -> Result<Self, Error> {
        let (colours, numbers) = self.with_colours_of(other)?;
        let reach = |begins: usize, has: u16, own: u16| {
            begins
                .saturating_add(usize::from(has))
                .max(usize::from(own))
        };
        let size = size(
            reach(right, other.columns, self.columns),
            reach(below, other.rows, self.rows),
        )?;
        // Where the other begins lies in the whole, which fits.
        let [right, below] = [right, below].map(|begins| u16::try_from(begins).unwrap_or(u16::MAX));
        let other = other.numbered(&numbers);
        let cell = |row: u16, column: u16| {
            let own = self
                .inside(row, column)
                .map(|(row, column)| (0, row, column));
            own.or_else(|| {
                let (row, column) = row.checked_sub(below).zip(column.checked_sub(right))?;
                let (row, column) = other.inside(row, column)?;
                Some((1, row, column))
            })
        };
        Ok(Self::pieced(size, colours, &[self, &other], cell))
    }

    /// The picture this many times beside itself, and that this many times below itself.
    ///
    /// # Errors
    /// When it would have too many columns or rows, or none.
    pub fn repeated(&self, across: usize, down: usize) -> Result<Self, Error> {
        let columns = across.saturating_mul(usize::from(self.columns));
        let size = size(columns, down.saturating_mul(usize::from(self.rows)))?;
        Ok(self.rearranged(size, |row, column| {
            Some((row % self.rows, column % self.columns))
        }))
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
        let made = Self::of(self.columns, self.rows, list, cells.collect())?;
        Ok(made.with_origins_of(self))
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
        Ok(Self::of(self.columns, self.rows, list, cells)?.with_origins_of(self))
    }
}
