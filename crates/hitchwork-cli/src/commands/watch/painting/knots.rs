//! Which knots of the band show which cells of the pictures, and where they are seen.

use std::collections::BTreeMap;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::knot::Knot;
use hitchwork_core::row::Row;
use hitchwork_draw::fabric::{FabricPicture, repeats_to_draw};
use hitchwork_rules::{PictureTrace, WantedCell};
use serde::Serialize;

/// The most knots that are told of at a time: more cannot be pointed at on a screen.
const MOST_IN_VIEW: usize = 8_000;
/// The most knots by which it is seen which way round a picture lies: what goes along with the band
/// does so from the first.
const MOST_FOR_EDGE: usize = 10_000;
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
enum Edge {
    Top,
    Bottom,
    Left,
    Right,
}

/// All such knots of a band, as they lie in its picture.
#[derive(Debug, Default)]
pub(in crate::commands::watch) struct BandKnots {
    knots: Vec<BandKnot>,
    files: Vec<String>,
    /// For each picture the edge of it with which the band begins.
    begins: Vec<Option<Edge>>,
    colours: Vec<Colour>,
    /// How far apart two columns are.
    column: f64,
    /// For each picture and each colour of it (or nothing), the threads that show it.
    threads: BTreeMap<(String, Option<Srgb>), Vec<Colour>>,
    /// How many knots of the repeat are missed.
    missed: usize,
}

/// Those in a part of the picture.
#[derive(Debug, Serialize)]
pub(in crate::commands::watch) struct KnotsInView<'a> {
    picture: u64,
    column: f64,
    files: &'a [String],
    begins: &'a [Option<Edge>],
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
        let knots = rows.flat_map(Row::knots);
        let mut found = Self {
            colours: band.palette().to_vec(),
            column: picture.column_pixels(),
            ..Self::default()
        };
        let missed = |knot: &&Knot| trace.wanted(**knot).is_some_and(|cell| cell.is_missed);
        let repeat = band.repeat().iter().flat_map(Row::knots);
        found.missed = repeat.filter(missed).count();
        let tenth = |pixels: f64| (pixels * 10.0).round() / 10.0;
        for (knot, place) in knots.zip(picture.knot_places()) {
            let Some(wanted) = trace.wanted(*knot) else {
                continue;
            };
            let cell = found.cell(trace, &wanted, place.colour);
            found.knots.push(BandKnot {
                x: tenth(place.at.0),
                y: tenth(place.at.1),
                shows: place.colour,
                cell,
                is_missed: wanted.is_missed,
                wanted: wanted.wanted.map(|colour| colour.to_string()),
            });
        }
        found.begins = (0..found.files.len()).map(|at| found.begin(at)).collect();
        found
    }

    /// The edge of a picture that lies nearest to the beginning of the band: each cell counts where
    /// it is tied first, and the rows or the columns are those that go along with the band.
    fn begin(&self, file: usize) -> Option<Edge> {
        let mut first: BTreeMap<(u16, u16), f64> = BTreeMap::new();
        let places = (self.knots.iter()).filter_map(|knot| Some((knot.cell?, knot.x)));
        let of_file = places.filter(|((at, ..), _)| *at == file);
        for ((_, row, column), x) in of_file.take(MOST_FOR_EDGE) {
            first.entry((row, column)).or_insert(x);
        }
        let along = |place: fn(&(u16, u16)) -> u16| {
            correlation(first.iter().map(|(cell, x)| (f64::from(place(cell)), *x)))
        };
        let (rows, columns) = (along(|cell| cell.0), along(|cell| cell.1));
        // Where neither goes along with it nobody could see such an edge.
        if rows.abs().max(columns.abs()) < 0.5 {
            return None;
        }
        Some(match rows.abs() >= columns.abs() {
            true if rows > 0.0 => Edge::Top,
            true => Edge::Bottom,
            false if columns > 0.0 => Edge::Left,
            false => Edge::Right,
        })
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

/// How far two lists of numbers go along with each other, from -1 to 1 (the product-moment
/// coefficient of correlation); 0 where one of them stays the same.
fn correlation(pairs: impl Iterator<Item = (f64, f64)> + Clone) -> f64 {
    let mean = |of: fn((f64, f64)) -> f64| {
        let (sum, count) = (pairs.clone().map(of))
            .fold((0.0, 0.0), |(sum, count), each| (sum + each, count + 1.0));
        sum / f64::max(count, 1.0)
    };
    let means = (mean(|pair| pair.0), mean(|pair| pair.1));
    let sum = |of: fn(f64, f64) -> f64| -> f64 {
        let apart = pairs
            .clone()
            .map(|(one, other)| (one - means.0, other - means.1));
        apart.map(|(one, other)| of(one, other)).sum()
    };
    let spread = sum(|one, _| one * one) * sum(|_, other| other * other);
    if spread > 0.0 {
        sum(|one, other| one * other) / spread.sqrt()
    } else {
        0.0
    }
}
