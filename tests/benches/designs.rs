//! How many random designs a second are drawn and proved on one core, and that the
//! canonical form takes time in proportion to the knots.
//!
//! `cargo bench -p hitchwork-tests --bench designs` prints designs a second for a full
//! fabric of 12 threads and 24 rows, and the time of a canonical form per knot from small
//! to large.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use hitchwork_core::chance::{Chance, Purpose, RandomRows};
use hitchwork_core::proof::{Disguises, Permutation, Strip};
use hitchwork_core::row::Row;

const MEASURED: Duration = Duration::from_secs(2);

/// How often a second something is done.
fn a_second(mut job: impl FnMut()) -> f64 {
    let started = Instant::now();
    let mut done = 0.0;
    while started.elapsed() < MEASURED {
        for _ in 0..50 {
            job();
            done += 1.0;
        }
    }
    done / started.elapsed().as_secs_f64()
}

fn by_column(rows: &[Row], threads: u16) -> Vec<u32> {
    let mut counts = vec![0; usize::from(threads)];
    for knot in rows.iter().flat_map(Row::knots) {
        counts[usize::from(knot.column().number())] += 1;
    }
    counts
}

fn prove(rows: &[Row], threads: u16) {
    let permutation = Permutation::of_rows(rows, threads);
    black_box(permutation.order());
    black_box(by_column(rows, threads));
    let strip = Strip::of_rows(rows, threads);
    let reading = strip.read();
    black_box(reading.pattern());
    black_box(reading.canonical_form(Disguises::ALL).digest());
}

fn main() {
    let prepared = RandomRows::new(12, 24).prepared().expect("a lattice");
    let mut number = 0;
    let mut next = || {
        number += 1;
        let mut chance = Chance::new(1, Purpose::Member { number });
        prepared.draw(&mut chance).expect("nothing is asked of it")
    };
    let drawn: Vec<Vec<Row>> = (0..1000).map(|_| next()).collect();
    let mut turn = drawn.iter().cycle();
    let mut each = |job: &dyn Fn(&[Row])| a_second(|| job(turn.next().expect("a cycle")));
    println!("12 threads, 24 rows, on one core:");
    println!(
        "  drawn                   {:>9.0} a second",
        a_second(|| drop(black_box(next())))
    );
    println!(
        "  permutation and period  {:>9.0} a second",
        each(&|rows| {
            black_box(Permutation::of_rows(rows, 12).order());
        })
    );
    println!(
        "  read, with its images   {:>9.0} a second",
        each(&|rows| {
            black_box(Strip::of_rows(rows, 12).read());
        })
    );
    println!(
        "  all figures             {:>9.0} a second",
        each(&|rows| prove(rows, 12))
    );
    println!(
        "  drawn, with all figures {:>9.0} a second",
        a_second(|| prove(&next(), 12))
    );
    println!("canonical form:");
    for rows in [24, 240, 2_400, 24_000] {
        let rows = RandomRows::new(12, rows)
            .draw(&mut Chance::new(2, Purpose::Rule))
            .expect("a lattice");
        let knots: usize = rows.iter().map(Row::len).sum();
        let started = Instant::now();
        let mut times = 0.0;
        while started.elapsed() < MEASURED / 2 {
            black_box(
                Strip::of_rows(&rows, 12)
                    .read()
                    .canonical_form(Disguises::ALL),
            );
            times += 1.0;
        }
        #[allow(clippy::cast_precision_loss, reason = "few knots")]
        let per_knot = started.elapsed().as_secs_f64() / times / knots as f64;
        println!("  {knots:>7} knots: {:>6.1} ns a knot", per_knot * 1e9);
    }
}
