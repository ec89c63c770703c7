//! How long it takes to find out how a fabric lies: whether it has holes at all, against making
//! the report; and solving those that have, by their knots.
//!
//! `cargo bench --workspace --bench laying` prints the share that the look for holes has in the
//! report of a band without any, and for soft bands the knots, those that were solved, the rounds
//! and the time.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::hint::black_box;
use std::time::Instant;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Kind;
use hitchwork_core::lay::Lay;
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_tests::made::{brick, colours, run};

/// The best of a few, in seconds.
fn best(mut job: impl FnMut()) -> f64 {
    let times = (0..7).map(|_| {
        let started = Instant::now();
        job();
        started.elapsed().as_secs_f64()
    });
    times.fold(f64::INFINITY, f64::min)
}

fn band(threads: u16, repeat: Vec<Row>, repeats: u32) -> Band {
    Band::new(BandParts {
        palette: colours(1),
        threads: vec![0; threads.into()],
        repeat,
        repeats,
        ..BandParts::default()
    })
    .expect("a sound band")
}

fn over_a_leader(threads: u16) -> Vec<Row> {
    let back = (1..threads).rev();
    vec![run(Kind::Backward, 1..threads), run(Kind::Forward, back)]
}

fn main() {
    for (threads, rows) in [(12, 60), (40, 200)] {
        let lattice = band(threads, brick(Kind::Forward, threads), rows);
        let fabric = Fabric::of(&lattice);
        let look = best(|| assert!(!Lay::has_holes(black_box(&fabric))));
        let report = best(|| {
            black_box(Tied::of(lattice.clone()).report());
        });
        println!(
            "{threads} threads, {} knots without holes: the look for holes takes {:.2} % of the report",
            lattice.knot_count(),
            100.0 * look / report
        );
    }
    let widening = |threads: u16| {
        let courses = brick(Kind::Forward, threads);
        let rows = over_a_leader(threads);
        [vec![courses; 4].concat(), vec![rows; 3].concat()].concat()
    };
    // A picture is no repeat: every row has a hole of its own.
    let picture = |threads: u16, rows: u16| -> Vec<Row> {
        let row = |at: u16| {
            let first = 1 + at % 2;
            let hole = first + 2 * ((7 * at) % (threads / 2));
            run(
                Kind::Forward,
                (first..threads).step_by(2).filter(|column| *column != hole),
            )
        };
        (0..rows).map(row).collect()
    };
    for (name, band) in [
        ("over a leader, 12 x 60", band(12, over_a_leader(12), 30)),
        (
            "over a leader, 12 threads",
            band(12, over_a_leader(12), 1_800),
        ),
        (
            "over a leader, 40 threads",
            band(40, over_a_leader(40), 500),
        ),
        (
            "courses and leader rows, 12 threads",
            band(12, widening(12), 8),
        ),
        (
            "a hole in every row, 12 threads",
            band(12, picture(12, 200), 1),
        ),
        (
            "a hole in every row, 24 threads",
            band(24, picture(24, 90), 1),
        ),
    ] {
        let (fabric, gauge) = (Fabric::of(&band), band.gauge());
        let lay = Lay::of(&fabric, &gauge);
        let time = best(|| {
            black_box(Lay::of(&fabric, &gauge));
        });
        println!(
            "{name}: {} knots, {} solved, {} rounds, settled {}, {:.1} ms",
            band.knot_count(),
            lay.solved_knots(),
            lay.said().rounds,
            lay.said().settled,
            1e3 * time
        );
    }
}
