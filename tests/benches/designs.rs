//! How many random designs a second are drawn and proved on one core, and that the
//! canonical form takes time in proportion to the knots.
//!
//! `cargo bench -p hitchwork-tests --bench designs` prints designs a second for a full
//! fabric of 12 threads and 24 rows, and the time of a canonical form per knot from small
//! to large.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use hitchwork_core::chance::{Chance, Prepared, Purpose, RandomRows};
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::{Disguises, Mesh, Permutation, Strip};
use hitchwork_core::row::Row;
use hitchwork_rules::{Rules, Settings};

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

fn by_column(mesh: &Mesh) -> Vec<u32> {
    let mut counts = vec![0; usize::from(mesh.threads())];
    for column in mesh.columns() {
        counts[usize::from(*column)] += 1;
    }
    counts
}

fn prove(mesh: &Mesh, kinds: &[Kind]) {
    black_box(mesh.permutation(kinds).order());
    black_box(by_column(mesh));
    let strip = mesh.strip(kinds);
    let reading = strip.read();
    black_box(reading.pattern());
    black_box(reading.canonical_form(Disguises::ALL).digest());
}

/// Draws and proves designs of a seed from one number on, for as long as is measured.
fn designs_a_second(prepared: &Prepared, first: u32) -> f64 {
    let mut numbers = first..;
    a_second(|| {
        let number = numbers.next().expect("enough numbers");
        let mut chance = Chance::new(1, Purpose::Member { number });
        let kinds = prepared.draw_kinds(&mut chance).expect("nothing is asked");
        prove(prepared.mesh(), &kinds);
    })
}

fn main() {
    let prepared = RandomRows::new(12, 24).prepared().expect("a lattice");
    let mesh = prepared.mesh();
    let mut number = 0;
    let mut next = || {
        number += 1;
        Chance::new(1, Purpose::Member { number })
    };
    let drawn: Vec<Vec<Kind>> = (0..1000)
        .map(|_| prepared.draw_kinds(&mut next()).expect("nothing is asked"))
        .collect();
    let mut turn = drawn.iter().cycle();
    let mut each = |job: &dyn Fn(&[Kind])| a_second(|| job(turn.next().expect("a cycle")));
    let say = |what: &str, a_second: f64| println!("  {what:<26} {a_second:>9.0} a second");
    println!("12 threads, 24 rows, on one core:");
    say(
        "a stream of chance",
        a_second(|| {
            black_box(next().word());
        }),
    );
    say(
        "drawn",
        a_second(|| {
            black_box(prepared.draw_kinds(&mut next())).expect("drawn");
        }),
    );
    say(
        "drawn as rows",
        a_second(|| {
            black_box(prepared.draw(&mut next())).expect("drawn");
        }),
    );
    say(
        "permutation and period",
        each(&|kinds| {
            black_box(mesh.permutation(kinds).order());
        }),
    );
    say(
        "read, with its images",
        each(&|kinds| {
            black_box(mesh.strip(kinds).read());
        }),
    );
    say(
        "symmetry",
        each(&|kinds| {
            black_box(mesh.strip(kinds).pattern());
        }),
    );
    say("all figures", each(&|kinds| prove(mesh, kinds)));
    let one = designs_a_second(&prepared, 1);
    say("drawn, with all figures", one);
    let two: f64 = std::thread::scope(|scope| {
        let workers = [1, 1 << 31].map(|first| {
            scope.spawn({
                let prepared = &prepared;
                move || designs_a_second(prepared, first)
            })
        });
        workers
            .into_iter()
            .map(|worker| worker.join().expect("it ends"))
            .sum()
    });
    println!("on two cores:");
    say("drawn, with all figures", two);
    println!("  {:.2} times one core", two / one);
    let rules = Rules::new();
    let rule = rules
        .compile("flotsam", "band(12).repeat(random_rows(12, 24))")
        .expect("it can be read");
    let mut seed = 0;
    let by_rule = rules.batch(|| {
        a_second(|| {
            seed += 1;
            let settings = Settings::new().seed(seed);
            let band = rules.make(&rule, &settings).expect("a band").band;
            let strip = Strip::of_rows(band.repeat(), 12);
            let reading = strip.read();
            black_box(Permutation::of_repeat(&band).order());
            black_box(reading.pattern());
            black_box(reading.canonical_form(Disguises::ALL).digest());
        })
    });
    println!("through a rule, on one core:");
    say("made, with all figures", by_rule);
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
