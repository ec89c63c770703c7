//! Bands and rows that tests make again and again.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::craft::Habits;
use hitchwork_core::knot::{Column, Kind, Knot};
use hitchwork_core::proof::Report;
use hitchwork_core::row::Row;
use hitchwork_core::steps::Steps;
use hitchwork_core::tied::Tied;

/// A band with what follows from it, by the usual habits, its rows as they are written; the band
/// itself stays.
#[must_use]
pub fn tied(band: &Band) -> Tied {
    as_written(band.clone())
}

/// A band whose rows are tied as they are written, by the usual habits in all else.
#[must_use]
pub fn as_written(band: Band) -> Tied {
    let habits = Habits {
        as_written: true,
        ..Habits::default()
    };
    Tied::by(band, habits)
}

/// What is proved of a band, by the usual habits.
#[must_use]
pub fn report(band: &Band) -> Report {
    tied(band).report().clone()
}

/// The steps to tie a band from, by the usual habits.
#[must_use]
pub fn steps(band: &Band) -> Steps {
    tied(band).steps().clone()
}

/// As many colours as asked for, each with a name of its own; up to 256.
#[must_use]
pub fn colours(count: usize) -> Vec<Colour> {
    let colour = |number: usize| {
        let red = u8::try_from(number % 256).expect("below 256");
        Colour::new(
            format!("buoy {}", number + 1),
            Srgb::new(red, 255 - red, 90),
        )
    };
    (0..count).map(colour).collect()
}

/// A knot in a column from 1.
///
/// # Panics
/// When the column is 0.
#[must_use]
pub fn knot(kind: Kind, column: u16) -> Knot {
    Knot::new(Column::new(column).expect("columns count from 1"), kind)
}

/// A row of knots of one kind in columns from 1.
///
/// # Panics
/// When a column is 0.
#[must_use]
pub fn run(kind: Kind, columns: impl IntoIterator<Item = u16>) -> Row {
    Row::run(kind, columns).expect("columns count from 1")
}

/// A slanted band that drifts: the first thread travels to the right edge, turning back
/// at `turns`, and a row of turning knots follows.
///
/// # Panics
/// When a turn lies outside the columns.
#[must_use]
pub fn slanted_with_turns(threads: u16, turns: &[u16]) -> Vec<Row> {
    let turned = |kind, at_turns| {
        run(kind, 1..threads)
            .but(&run(at_turns, turns.iter().copied()))
            .expect("turns lie inside the band")
    };
    vec![
        turned(Kind::Forward, Kind::ForwardBackward),
        turned(Kind::BackwardForward, Kind::Forward),
    ]
}

/// A brick lattice: every second column from the first, then those between.
#[must_use]
pub fn brick(kind: Kind, threads: u16) -> Vec<Row> {
    let rows = [
        run(kind, (1..threads).step_by(2)),
        run(kind, (2..threads).step_by(2)),
    ];
    rows.into_iter().filter(|row| !row.is_empty()).collect()
}

/// A band on which every thread has a colour of its own, in palette order.
///
/// # Panics
/// When the rows make no band.
#[must_use]
pub fn band(threads: u16, repeat: Vec<Row>, repeats: u32) -> Band {
    Band::new(BandParts {
        palette: colours(usize::from(threads)),
        threads: (0..threads).collect(),
        repeat,
        repeats,
        ..BandParts::default()
    })
    .expect("the rows make a band")
}

/// Single knots that carry the thread at position p to position `goes_to[p - 1]`, one a
/// row, as few as can be: neighbours that lie the wrong way round are exchanged until
/// none are left.
#[must_use]
pub fn rows_carrying(goes_to: &[u16], kind: Kind) -> Vec<Row> {
    let mut wanted = goes_to.to_vec();
    let mut rows = Vec::new();
    while let Some(at) = (1..wanted.len()).find(|&at| wanted[at - 1] > wanted[at]) {
        wanted.swap(at - 1, at);
        rows.push(run(kind, [u16::try_from(at).expect("few threads")]));
    }
    rows
}
