//! Bands of the harbour-side evening class, invented, to look at and to test with.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour;
use hitchwork_core::craft::{End, Shape, Ties};
use hitchwork_core::knot::Kind::{self, Backward, BackwardForward, Forward, ForwardBackward};
use hitchwork_core::proof::{Permutation, drifting_order};
use hitchwork_core::row::Row;

fn run(kind: Kind, columns: impl IntoIterator<Item = u16>) -> Row {
    Row::run(kind, columns).expect("columns count from 1")
}

fn end(shape: Shape, ties: Ties) -> End {
    End { shape, ties }
}

fn parts(
    title: &str,
    palette: &str,
    threads: Vec<u16>,
    repeat: Vec<Row>,
    repeats: u32,
) -> BandParts {
    let palette = colour::palette(palette).expect("built in").colours;
    BandParts {
        title: title.to_owned(),
        palette,
        threads,
        repeat,
        repeats,
        ..BandParts::default()
    }
}

/// Ten threads, every row led by the leftmost.
pub(crate) fn candy_stripe() -> Band {
    let parts = parts(
        "Harbour stripes",
        "spring tide",
        vec![0, 0, 1, 2, 3, 3, 4, 5, 6, 7],
        vec![run(Forward, 1..10)],
        40,
    );
    let end = end(Shape::HalfTriangleLeft, Ties::Braided);
    Band::new(BandParts {
        start: end,
        finish: end,
        ..parts
    })
    .expect("sound")
}

/// Ten threads that meet in the middle.
pub(crate) fn chevron() -> Band {
    let row = run(Forward, 1..5)
        .then(&run(Backward, (6..10).rev()))
        .then(&run(Forward, [5]));
    let parts = parts(
        "Bow waves",
        "regatta",
        vec![0, 1, 2, 3, 0, 0, 3, 2, 1, 0],
        vec![row],
        30,
    );
    let start = end(Shape::Loop, Ties::Braided);
    Band::new(BandParts {
        start,
        finish: end(Shape::Triangle, Ties::Braided),
        ..parts
    })
    .expect("sound")
}

/// Twelve threads; the kinds go by position, and make lozenges.
pub(crate) fn lozenges() -> Band {
    let kind = |column: u16, row: u16| {
        let (x, y) = (i32::from(column) - 6, i32::from(row));
        let distance = x.abs() + (y - 6).abs();
        match (distance, x.signum() * (y - 6).signum()) {
            (0..=1, _) => ForwardBackward,
            (_, sign) if sign > 0 => Backward,
            _ => Forward,
        }
    };
    let rows = (0..12).map(|row| {
        let first = if row % 2 == 0 { 1 } else { 2 };
        let columns = (first..12).step_by(2);
        columns
            .map(|column| run(kind(column, row), [column]))
            .reduce(|row, knot| row.then(&knot))
            .expect("no row is empty")
    });
    let threads = vec![0, 0, 1, 2, 2, 3, 3, 2, 2, 1, 0, 0];
    let parts = parts(
        "Lantern lozenges",
        "spring tide",
        threads,
        rows.collect(),
        8,
    );
    Band::new(BandParts {
        finish: end(Shape::Flat, Ties::Twisted),
        ..parts
    })
    .expect("sound")
}

/// A slanted band whose colours drift, with two turning places.
pub(crate) fn drift() -> Band {
    let threads = 10;
    let turns = run(ForwardBackward, [3, 6]);
    let out = run(Forward, 1..threads)
        .but(&turns)
        .expect("both columns are used");
    let back = run(BackwardForward, 1..threads)
        .but(&run(Forward, [3, 6]))
        .expect("both columns are used");
    let repeat = vec![out, back];
    let order = drifting_order(
        &Permutation::of_rows(&repeat, threads),
        usize::from(threads),
        1,
        0,
    )
    .expect("one cycle");
    let tide = colour::palette("spring tide").expect("built in");
    Band::new(BandParts {
        title: "Spring tide, drifting".into(),
        palette: colour::cyclic_gradient(&tide, usize::from(threads)).expect("ten colours"),
        threads: order
            .iter()
            .map(|step| u16::try_from(*step).expect("ten"))
            .collect(),
        repeat,
        repeats: 24,
        start: end(Shape::HalfTriangleLeft, Ties::Twisted),
        finish: end(Shape::HalfTriangleLeft, Ties::Cut),
        ..BandParts::default()
    })
    .expect("sound")
}

/// Six threads with a lead-in, turning knots, floats and a lead-out.
pub(crate) fn skerries() -> Band {
    let repeat = vec![
        run(Forward, [1]).then(&run(Backward, [5])),
        run(ForwardBackward, [2]).then(&run(BackwardForward, [4])),
        run(Backward, [3]),
        run(Forward, [2, 4]),
    ];
    let parts = parts("Skerries", "neap tide", vec![0, 1, 2, 3, 4, 5], repeat, 14);
    Band::new(BandParts {
        lead_in: vec![run(Forward, 1..6)],
        lead_out: vec![run(Backward, (1..6).rev())],
        start: end(Shape::Triangle, Ties::Cut),
        finish: end(Shape::Loop, Ties::Twisted),
        notes: "For a calm evening. Pull every knot twice.".into(),
        ..parts
    })
    .expect("sound")
}
