//! Which knots of the band show which cells of the pictures, and where they are seen.

use std::collections::BTreeMap;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::picture::Picture;
use hitchwork_draw::fabric::{FabricPicture, repeats_to_draw};
use hitchwork_rules::{PictureTrace, WantedCell};
use serde::Serialize;

/// The most knots that are told of at a time: more cannot be pointed at on a screen.
const MOST_IN_VIEW: usize = 8_000;
/// The most colours of threads that are told of for a pot.
const MOST_THREADS: usize = 5;

/// A knot that is to show a cell of a picture.
#[derive(Clone, Debug, Serialize)]
struct BandKnot {
    x: f64,
    y: f64,
    /// The place of its colour in the list of all.
    shows: u16,
    /// The name of the picture by its place in the list, the row and the column, from 0.
    cell: Option<(usize, u16, u16)>,
    is_missed: bool,
    /// The colour that it should show.
    wanted: Option<String>,
}

/// An edge of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
enum PictureEdge {
    Top,
    Bottom,
    Left,
    Right,
}

impl PictureEdge {
    /// The one on which all these cells of a picture lie, if there is one.
    fn of(cells: &[(u16, u16)], picture: &Picture) -> Option<Self> {
        let lie = |at: fn(&(u16, u16)) -> u16, edge: u16| cells.iter().all(|cell| at(cell) == edge);
        let (last_row, last_column) = (picture.height() - 1, picture.width() - 1);
        match cells.len() {
            0 | 1 => None,
            _ if lie(|cell| cell.0, 0) => Some(Self::Top),
            _ if lie(|cell| cell.0, last_row) => Some(Self::Bottom),
            _ if lie(|cell| cell.1, 0) => Some(Self::Left),
            _ if lie(|cell| cell.1, last_column) => Some(Self::Right),
            _ => None,
        }
    }
}

/// All such knots of a band, as they lie in its picture.
#[derive(Debug, Default)]
pub(in crate::commands::watch) struct BandKnots {
    knots: Vec<BandKnot>,
    files: Vec<String>,
    /// For each picture the edge of it with which the band begins, where it does so with an edge.
    begins: Vec<Option<PictureEdge>>,
    colours: Vec<Colour>,
    /// How far apart two columns are.
    column: f64,
    /// For each picture and each colour of it (or nothing), the threads that show it.
    threads: BTreeMap<(String, Option<Srgb>), Vec<Colour>>,
    /// How many knots of the repeat are missed.
    missed: usize,
    /// Whether some knots show a picture that comes from no file.
    shows_drawn: bool,
}

/// Those in a part of the picture.
#[derive(Debug, Serialize)]
pub(in crate::commands::watch) struct KnotsInView<'a> {
    picture: u64,
    column: f64,
    files: &'a [String],
    begins: &'a [Option<PictureEdge>],
    colours: Vec<(String, &'a str)>,
    knots: Vec<&'a BandKnot>,
    /// Whether there are more than can be told of.
    is_crowded: bool,
    /// For each picture and pot: how the threads are called, and their colours.
    threads: Vec<PotThreads<'a>>,
}

#[derive(Debug, Serialize)]
struct PotThreads<'a> {
    file: &'a str,
    colour: Option<String>,
    threads: Vec<(String, &'a str)>,
}

impl BandKnots {
    /// The knots of a band, as they lie in its picture.
    pub(in crate::commands::watch) fn new(
        band: &Band,
        picture: &FabricPicture,
        trace: &PictureTrace,
    ) -> Self {
        let parts = [
            (band.rows(Part::LeadIn), 1),
            (band.repeat(), repeats_to_draw(band).min(band.repeats())),
            (band.rows(Part::LeadOut), 1),
        ];
        let rows = parts
            .into_iter()
            .flat_map(|(rows, times)| (0..times).flat_map(move |_| rows));
        let knots = rows
            .enumerate()
            .flat_map(|(number, row)| row.knots().iter().map(move |knot| (number, knot)));
        // For each picture the first row that ties some of its cells, and which: if that is one alone,
        // the rows behind it say nothing of where the band begins.
        let mut first: BTreeMap<usize, (usize, Vec<(u16, u16)>)> = BTreeMap::new();
        let mut found = Self {
            colours: band.palette().to_vec(),
            column: picture.column_pixels(),
            ..Self::default()
        };
        (_, found.missed) = trace.looked_for_and_missed(band.repeat());
        let tenth = |pixels: f64| (pixels * 10.0).round() / 10.0;
        for ((number, knot), place) in knots.zip(picture.knot_places()) {
            let Some(wanted) = trace.wanted(*knot) else {
                continue;
            };
            let cell = found.cell(trace, &wanted, place.colour);
            found.shows_drawn |= cell.is_none();
            if let Some((file, row, column)) = cell {
                let known = first.entry(file).or_default();
                if known.1.is_empty() {
                    known.0 = number;
                }
                if known.0 == number {
                    known.1.push((row, column));
                }
            }
            found.knots.push(BandKnot {
                x: tenth(place.at.0),
                y: tenth(place.at.1),
                shows: place.colour,
                cell,
                is_missed: wanted.is_missed,
                wanted: wanted.wanted.map(|colour| colour.to_string()),
            });
        }
        found.begins = (found.files.iter().enumerate())
            .map(|(at, name)| {
                let traced = trace.files().iter().find(|traced| traced.name == *name)?;
                let (_, cells) = first.get(&at)?;
                PictureEdge::of(cells, &traced.picture)
            })
            .collect();
        found
    }

    /// The cell that a knot is to show, which counts for the threads of its pot.
    fn cell(
        &mut self,
        trace: &PictureTrace,
        wanted: &WantedCell,
        shows: u16,
    ) -> Option<(usize, u16, u16)> {
        let (file, row, column) = wanted.origin?;
        let traced = &trace.files()[file];
        let colour = traced.picture.colour(row + 1, column + 1);
        let key = (traced.name.clone(), colour.map(|colour| colour.srgb));
        if let Some(thread) = self
            .colours
            .get(usize::from(shows))
            .filter(|_| !wanted.is_missed)
        {
            let threads = self.threads.entry(key).or_default();
            if threads.len() < MOST_THREADS && threads.iter().all(|known| known.srgb != thread.srgb)
            {
                threads.push(thread.clone());
            }
        }
        let known = self.files.iter().position(|name| *name == traced.name);
        let at = known.unwrap_or_else(|| {
            self.files.push(traced.name.clone());
            self.files.len() - 1
        });
        Some((at, row, column))
    }

    /// The cells of a picture, rows and columns counted from 0, that knots are to show.
    pub(in crate::commands::watch) fn cells_of(
        &self,
        name: &str,
    ) -> impl Iterator<Item = (u16, u16)> + '_ {
        let at = self.files.iter().position(|known| known == name);
        let cells = self.knots.iter().filter_map(|knot| knot.cell);
        cells
            .filter(move |(file, ..)| Some(*file) == at)
            .map(|(_, row, column)| (row, column))
    }

    /// Whether some knots show a picture that comes from no file.
    pub(in crate::commands::watch) const fn shows_drawn(&self) -> bool {
        self.shows_drawn
    }

    /// How many knots of the repeat show another colour than they should.
    pub(in crate::commands::watch) const fn missed(&self) -> usize {
        self.missed
    }

    /// Those in this part of the picture of this number: left, top, right, bottom.
    pub(in crate::commands::watch) fn in_view(
        &self,
        picture: u64,
        [left, top, right, bottom]: [f64; 4],
    ) -> KnotsInView<'_> {
        let inside =
            |knot: &&BandKnot| (left..=right).contains(&knot.x) && (top..=bottom).contains(&knot.y);
        let mut knots: Vec<&BandKnot> = self
            .knots
            .iter()
            .filter(inside)
            .take(MOST_IN_VIEW + 1)
            .collect();
        let is_crowded = knots.len() > MOST_IN_VIEW;
        if is_crowded {
            knots.clear();
        }
        let named = |colour: &'_ Colour| colour.srgb.to_string();
        KnotsInView {
            picture,
            column: self.column,
            files: &self.files,
            begins: &self.begins,
            colours: self
                .colours
                .iter()
                .map(|colour| (named(colour), &*colour.name))
                .collect(),
            knots,
            is_crowded,
            threads: self
                .threads
                .iter()
                .map(|((file, colour), threads)| PotThreads {
                    file,
                    colour: colour.map(|colour| colour.to_string()),
                    threads: threads
                        .iter()
                        .map(|thread| (named(thread), &*thread.name))
                        .collect(),
                })
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is told of at a time is all of it or nothing, and as much as can be pointed at.
    #[test]
    fn a_view_of_too_many_knots_says_so_and_holds_none() {
        let knot = BandKnot {
            x: 1.0,
            y: 1.0,
            shows: 0,
            cell: None,
            is_missed: false,
            wanted: None,
        };
        for (number, is_crowded) in [(MOST_IN_VIEW, false), (MOST_IN_VIEW + 1, true)] {
            let knots = BandKnots {
                knots: vec![knot.clone(); number],
                ..BandKnots::default()
            };
            let view = knots.in_view(1, [0.0, 0.0, 2.0, 2.0]);
            assert_eq!(view.is_crowded, is_crowded, "{number}");
            assert_eq!(view.knots.is_empty(), is_crowded, "{number}");
        }
    }

    /// One cell lies on two edges as well as on one, and says nothing.
    #[test]
    fn a_band_begins_with_an_edge_if_two_cells_of_it_lie_there() {
        let lamp = Colour::new("lamp", Srgb::new(255, 193, 69));
        let picture = Picture::plain(3, 4, Some(lamp)).expect("small");
        let edge = |cells: &[(u16, u16)]| PictureEdge::of(cells, &picture);
        assert_eq!(edge(&[(0, 1)]), None);
        assert_eq!(edge(&[(0, 0), (0, 2)]), Some(PictureEdge::Top));
        assert_eq!(edge(&[(3, 1), (3, 2)]), Some(PictureEdge::Bottom));
        assert_eq!(edge(&[(1, 0), (3, 0)]), Some(PictureEdge::Left));
        assert_eq!(edge(&[(0, 2), (2, 2)]), Some(PictureEdge::Right));
        assert_eq!(edge(&[(0, 0), (1, 1)]), None);
    }
}
