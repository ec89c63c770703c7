//! What running a rule costs: against building the same band by native calls, for the
//! language itself, and as a share of everything that is made of a band.
//!
//! `cargo bench -p hitchwork-tests --bench rules` prints the times and, at the end, what
//! they come to; in a batch in which every band is written, drawn and put into steps, the
//! script engine should take at most half of the time.
#![allow(
    missing_docs,
    reason = "criterion's macros make undocumented functions"
)]
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour;
use hitchwork_core::craft::{End, Shape};
use hitchwork_core::file;
use hitchwork_core::proof::{Permutation, drifting_order};
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{FabricOptions, svg};
use hitchwork_rules::{Rules, Settings};
use hitchwork_tests::made;

const SIZES: [u16; 2] = [10, 40];

fn settings(threads: u16) -> Settings {
    Settings::new().set("threads", threads)
}

/// The band of `drift` without a rule.
fn native(threads: u16) -> Band {
    let first = (threads / 3).max(2);
    let second = first.max(2 * threads / 3);
    let turns = if first == second {
        vec![first]
    } else {
        vec![first, second]
    };
    let repeat = made::slanted_with_turns(threads, &turns);
    let tide = colour::palette("spring tide").expect("built in");
    let palette = colour::cyclic_gradient(&tide, threads.into()).expect("few colours");
    let cycle = Permutation::of_rows(&repeat, threads);
    let order = drifting_order(&cycle, palette.len(), 1, 0).expect("one cycle");
    let end = |shape| End {
        shape,
        ..End::default()
    };
    let parts = BandParts {
        palette,
        threads: order
            .into_iter()
            .map(|colour| u16::try_from(colour).expect("few"))
            .collect(),
        repeat,
        repeats: 1,
        start: end(Shape::HalfTriangleLeft),
        finish: end(Shape::HalfTriangleRight),
        ..BandParts::default()
    };
    let band = Band::new(parts).expect("a band");
    band.at_least_mm(150.0).expect("an ordinary length")
}

/// How long `work` takes, the mean of so many times.
fn mean(times: u32, mut work: impl FnMut()) -> Duration {
    let start = Instant::now();
    for _ in 0..times {
        work();
    }
    start.elapsed() / times
}

fn running(criterion: &mut Criterion) {
    let rules = Rules::new();
    let drift = rules.built_in("drift").expect("built in");
    let mut group = criterion.benchmark_group("drift");
    for threads in SIZES {
        let settings = settings(threads);
        group.bench_with_input(
            BenchmarkId::new("native calls", threads),
            &threads,
            |bencher, threads| {
                bencher.iter(|| native(*threads));
            },
        );
        group.bench_function(BenchmarkId::new("rule, a stack each", threads), |bencher| {
            bencher.iter(|| rules.make(&drift, &settings).expect("a band"));
        });
        group.bench_function(BenchmarkId::new("rule, in a batch", threads), |bencher| {
            bencher.iter_custom(|times| {
                rules.batch(|| {
                    let start = Instant::now();
                    for _ in 0..times {
                        black_box(rules.make(&drift, &settings).expect("a band"));
                    }
                    start.elapsed()
                })
            });
        });
    }
    group.finish();
    let mut group = criterion.benchmark_group("the language");
    group.bench_function("built", |bencher| bencher.iter(Rules::new));
    group.bench_function("a rule read", |bencher| {
        bencher.iter(|| rules.built_in("drift"));
    });
    group.finish();
}

/// The time of a rule's script for each of many more steps than a run begins with.
fn per_step(rules: &Rules, body: &str) -> Duration {
    const TIMES: u32 = 100_000;
    let text =
        format!("for i in 0..{TIMES} {{ {body} }}\nband(4).repeat(forward(1..4)).repeats(1)");
    let rule = rules.compile("steps", &text).expect("a rule");
    mean(5, || {
        black_box(rules.make(&rule, &Settings::new()).expect("a band"));
    }) / TIMES
}

fn figures(_: &mut Criterion) {
    const BANDS: u32 = 10_000;
    let rules = Rules::new();
    let loops = per_step(&rules, "let x = i;");
    println!("an empty turn of a loop: {loops:?}");
    for (what, body) in [
        ("forward(3)", "let x = forward(3);"),
        ("forward(1..40)", "let x = forward(1..40);"),
        ("odd_shows(i)", "let x = odd_shows(7);"),
    ] {
        let took = per_step(&rules, body).saturating_sub(loops);
        println!("{what}: {took:?} beyond that");
    }
    let drift = rules.built_in("drift").expect("built in");
    rules.batch(|| {
        let (mut scripts, mut bytes) = (Duration::ZERO, 0);
        let start = Instant::now();
        for number in 0..BANDS {
            let threads = 4 + u16::try_from(number % 37).expect("few threads");
            let settings = settings(threads).seed(number.into());
            let begun = Instant::now();
            let band = rules.make(&drift, &settings).expect("a band").band;
            scripts += begun.elapsed();
            bytes += file::write(&band).len();
            let tied = Tied::of(band);
            bytes += svg(&tied, &FabricOptions::default())
                .expect("a picture")
                .len();
            bytes += hitchwork_draw::text::sheet(&tied).len();
        }
        let all = start.elapsed();
        let share = 100.0 * scripts.as_secs_f64() / all.as_secs_f64();
        println!("{BANDS} bands of drift with file, picture and steps: {all:?}, {bytes} bytes; running the rule took {share:.1} % of it (at most 50 % is asked)");
        assert!(share <= 50.0, "running rules takes too large a share");
    });
}

criterion_group!(benches, running, figures);
criterion_main!(benches);
