//! Where the cells of pictures come from, and which of them the knots of a band are to show: for
//! whoever lets people paint on the band.

use std::collections::BTreeMap;
use std::num::NonZeroU32;
use std::sync::Arc;

use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::knot::Knot;
use hitchwork_core::picture::Picture;
use hitchwork_core::row::Row;

/// The most cells of which this is remembered, those of files and those that are tied each: a
/// picture of the largest size five times.
const MOST_CELLS: usize = 2_000_000;

/// What a run remembers of its pictures; asked for with
/// [`Rules::tracing_pictures`](crate::Rules::tracing_pictures).
#[derive(Clone, Debug, Default)]
#[doc(hidden)]
pub struct PictureTrace {
    files: Vec<TracedFile>,
    /// How many cells the files have together.
    cells: u32,
    /// What the knots are to show, by their numbers from 1.
    shown: Vec<ShownCell>,
}

/// A picture that was read from a file, each time that it was read.
#[derive(Clone, Debug)]
#[doc(hidden)]
pub struct TracedFile {
    /// The name by which the rule asks for it.
    pub name: String,
    /// The picture as it was read, before anything was made of it.
    pub picture: Picture,
    /// What its marks stand for, where it is written as text.
    pub marks: Option<Arc<BTreeMap<char, Option<Colour>>>>,
    /// The number of its first cell, less one.
    before: u32,
}

/// What one knot is to show.
#[derive(Clone, Copy, Debug)]
struct ShownCell {
    /// The number of the cell of a file, or 0.
    origin: u32,
    /// The colour that was looked for, and whether another shows.
    wanted: Option<Srgb>,
    is_missed: bool,
}

/// What a knot is to show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[doc(hidden)]
pub struct WantedCell {
    /// The file (its place in [`PictureTrace::files`]), row and column of the cell, both counted
    /// from 0; nothing where it comes from no file.
    pub origin: Option<(usize, u16, u16)>,
    /// The colour that it asks for, where knots were looked for to show it.
    pub wanted: Option<Srgb>,
    /// Whether another colour shows, since no knots show all that was asked for.
    pub is_missed: bool,
}

impl PictureTrace {
    /// The files that were read, in the order in which they were; one that is read twice stands
    /// here twice.
    #[must_use]
    pub fn files(&self) -> &[TracedFile] {
        &self.files
    }

    /// What a knot of the run's band is to show, if it is to show a cell of a picture.
    #[must_use]
    pub fn wanted(&self, knot: Knot) -> Option<WantedCell> {
        let at = usize::try_from(knot.shows()?.get() - 1).ok()?;
        let shown = self.shown.get(at)?;
        Some(WantedCell {
            origin: self.origin(shown.origin),
            wanted: shown.wanted,
            is_missed: shown.is_missed,
        })
    }

    /// How many knots of these rows were looked for to show a picture, and how many of them show
    /// another colour, since no knots show all that was asked for.
    #[must_use]
    pub fn looked_for_and_missed<'a>(
        &self,
        rows: impl IntoIterator<Item = &'a Row>,
    ) -> (usize, usize) {
        let knots = rows.into_iter().flat_map(Row::knots);
        let looked_for = knots
            .filter_map(|knot| self.wanted(*knot))
            .filter(|it| it.wanted.is_some());
        looked_for.fold((0, 0), |(all, missed), it| {
            (all + 1, missed + usize::from(it.is_missed))
        })
    }

    fn origin(&self, number: u32) -> Option<(usize, u16, u16)> {
        let at = number.checked_sub(1)?;
        let file = self.files.partition_point(|file| file.before <= at);
        let file = file.checked_sub(1)?;
        let TracedFile {
            picture, before, ..
        } = &self.files[file];
        let inside = at - before;
        let width = u32::from(picture.width());
        let small = |number: u32| u16::try_from(number).ok();
        Some((file, small(inside / width)?, small(inside % width)?))
    }

    /// The picture that was read from this file, each cell of which now remembers it.
    pub(crate) fn read(
        &mut self,
        name: &str,
        picture: Picture,
        marks: Option<BTreeMap<char, Option<Colour>>>,
    ) -> Picture {
        let count = picture.cells().len();
        let before = self.cells;
        let after = u32::try_from(count)
            .ok()
            .and_then(|count| before.checked_add(count));
        match after {
            Some(after) if after as usize <= MOST_CELLS => {
                self.cells = after;
                self.files.push(TracedFile {
                    name: name.to_owned(),
                    picture: picture.clone(),
                    marks: marks.map(Arc::new),
                    before,
                });
                picture.coming_from(before + 1..=after)
            }
            _ => picture,
        }
    }

    /// Rows that show a picture, whose knots know the numbers of its cells, with the numbers by
    /// which the whole run knows them.
    pub(crate) fn tied(
        &mut self,
        rows: Vec<Row>,
        picture: &Picture,
        wanted: impl Fn(NonZeroU32) -> (Option<Srgb>, bool),
    ) -> Vec<Row> {
        let before = self.shown.len();
        let count = picture.cells().len();
        let fits = before + count <= MOST_CELLS;
        if fits {
            let numbers = (1..).map_while(NonZeroU32::new).take(count);
            self.shown.extend(numbers.map(|cell| {
                let (wanted, is_missed) = wanted(cell);
                ShownCell {
                    origin: picture.origin(cell).map_or(0, NonZeroU32::get),
                    wanted,
                    is_missed,
                }
            }));
        }
        let before = u32::try_from(before).unwrap_or(u32::MAX);
        let number = |cell: NonZeroU32| cell.checked_add(before).filter(|_| fits);
        let knot = |knot: &Knot| knot.showing(knot.shows().and_then(number));
        let row = |row: Row| Row::new(row.knots().iter().map(knot));
        rows.into_iter().map(row).collect()
    }

    /// What it takes to remember this many cells.
    pub(crate) const fn bytes(cells: usize) -> usize {
        cells.saturating_mul(size_of::<ShownCell>())
    }
}
