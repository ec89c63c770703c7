//! How the time of every proof grows with the knots: whether each takes ten times as long for
//! ten times as many.
//!
//! `cargo bench -p hitchwork-tests --bench large_bands` prints, for bands of several shapes of
//! 100,000 knots and of 1,000,000, what each step takes and the ratio of the two. In
//! proportion it is 10, with a logarithm 12, and 100 where the square of the knots comes in.
//! `KNOTS=10000` begins with fewer.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::chance::{Chance, Purpose, RandomRows};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::{Column, Kind, Knot};
use hitchwork_core::proof::{
    CanonicalForm, ColoursCount, Disguises, Frieze, Permutation, Places, Symmetry, brick_lattice,
    drifting_order, growth, knots_that_break,
};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;

/// A shape of band: its name, its threads, and its rows of about so many knots.
type Shape = (&'static str, u16, fn(usize) -> Vec<Row>);

fn random(threads: u16, knots: usize) -> Vec<Row> {
    let rows = 2 * (knots / usize::from(threads - 1));
    let mut recipe = RandomRows::new(threads, rows);
    recipe.smoothness = 0.3;
    recipe
        .draw(&mut Chance::new(7, Purpose::Rule))
        .expect("nothing is asked")
}

fn run(kind: Kind, columns: impl IntoIterator<Item = u16>) -> Row {
    Row::run(kind, columns).expect("columns count from 1")
}

const SHAPES: [Shape; 7] = [
    ("stripes on 200 threads", 200, |knots| {
        vec![run(Kind::Forward, 1..200); knots / 199]
    }),
    ("there and back", 40, |knots| {
        let pair = [
            run(Kind::Forward, 1..40),
            run(Kind::Backward, (1..40).rev()),
        ];
        pair.into_iter().cycle().take(knots / 39).collect()
    }),
    ("chance on 200 threads", 200, |knots| random(200, knots)),
    ("chance on 3 threads", 3, |knots| random(3, knots)),
    ("one long row", 9, |knots| {
        let columns = (1..9).cycle().take(knots);
        vec![run(Kind::ForwardBackward, columns)]
    }),
    ("two threads", 2, |knots| {
        let kinds = Kind::ALL.into_iter().cycle().enumerate().take(knots);
        let knot = |(at, kind): (usize, Kind)| {
            let kind = if at % 7 == 0 { Kind::Forward } else { kind };
            Row::new([Knot::new(Column::new(1).expect("from 1"), kind)])
        };
        let knots: Vec<Row> = kinds.map(knot).collect();
        let joined = |rows: &[Row]| Row::new(rows.iter().flat_map(Row::knots).copied());
        knots.chunks(100).map(joined).collect()
    }),
    ("in pieces", 40, |knots| {
        vec![run(Kind::Forward, (1..40).step_by(2)); knots / 20]
    }),
];

fn band(threads: u16, rows: Vec<Row>) -> Band {
    let colour = |at: u16| Srgb::new(at.to_be_bytes()[1], at.to_be_bytes()[0], 90);
    Band::new(BandParts {
        palette: Colour::spoken((0..threads).map(colour)),
        threads: (0..threads).collect(),
        repeat: rows,
        repeats: 2,
        ..BandParts::default()
    })
    .expect("a band")
}

fn time(job: impl FnOnce()) -> Duration {
    let began = Instant::now();
    job();
    began.elapsed()
}

/// What is proved of a band, by name, with what it takes.
fn steps(threads: u16, rows: &[Row]) -> Vec<(String, Duration)> {
    let band = band(threads, rows.to_vec());
    let all = Row::new(rows.iter().flat_map(Row::knots).copied());
    let mut steps = Vec::new();
    let mut step = |name: &str, job: &mut dyn FnMut()| steps.push((name.to_owned(), time(job)));
    step("but", &mut || drop(black_box(all.but(&all))));
    step("simulating", &mut || drop(black_box(Fabric::of(&band))));
    step("growth", &mut || {
        black_box(growth(rows, threads));
    });
    step("report", &mut || {
        black_box(Tied::of(band.clone()).report().knots);
    });
    step("symmetry", &mut || drop(black_box(Symmetry::of(&band))));
    step("canonical form", &mut || {
        drop(black_box(CanonicalForm::of(
            &band,
            Disguises::ALL,
            ColoursCount::ByLikeness,
        )));
    });
    step("drift", &mut || {
        let repeat = Permutation::of_repeat(&band);
        drop(black_box(drifting_order(&repeat, threads.into(), 1, 0)));
    });
    for wanted in Frieze::ALL {
        let name = format!("breaks of {wanted}");
        step(&name, &mut || {
            drop(black_box(knots_that_break(rows, threads, wanted)));
        });
    }
    steps
}

/// What random and symmetric rows take.
fn lattices(knots: usize) -> Vec<(String, Duration)> {
    let (threads, rows) = (200, 2 * (knots / 199));
    let lattice = brick_lattice(threads, rows).expect("even");
    let recipe = |symmetry, longest_run| RandomRows {
        symmetry,
        longest_run,
        ..RandomRows::new(threads, rows)
    };
    let draw = |recipe: RandomRows| {
        drop(black_box(recipe.draw(&mut Chance::new(7, Purpose::Rule))));
    };
    let long = RandomRows {
        weights: [1, 0, 0, 0],
        ..recipe(Frieze::P1, Some(usize::MAX))
    };
    vec![
        (
            "random rows".to_owned(),
            time(|| draw(recipe(Frieze::P1, None))),
        ),
        (
            "random rows p2mm".to_owned(),
            time(|| draw(recipe(Frieze::P2mm, None))),
        ),
        (
            "random rows p2mg".to_owned(),
            time(|| draw(recipe(Frieze::P2mg, None))),
        ),
        ("one run all along".to_owned(), time(|| draw(long))),
        (
            "symmetric rows p11g".to_owned(),
            time(|| {
                let places = Places::new(&lattice, threads, Frieze::P11g).expect("even");
                drop(black_box(places.continued(&lattice)));
            }),
        ),
    ]
}

fn compare(small: Vec<(String, Duration)>, large: Vec<(String, Duration)>) {
    for ((name, small), (_, large)) in small.into_iter().zip(large) {
        let ratio = large.as_secs_f64() / small.as_secs_f64().max(1e-6);
        println!("  {name:22} {small:>12.1?} {large:>12.1?}  {ratio:>6.1}");
    }
}

fn main() {
    let knots = std::env::var("KNOTS")
        .ok()
        .and_then(|knots| knots.parse().ok());
    let few: usize = knots.unwrap_or(100_000);
    println!("lattices of {few} and {} knots", few * 10);
    compare(lattices(few), lattices(few * 10));
    for (name, threads, rows) in SHAPES {
        println!("{name}, {few} and {} knots", few * 10);
        compare(steps(threads, &rows(few)), steps(threads, &rows(few * 10)));
    }
}
