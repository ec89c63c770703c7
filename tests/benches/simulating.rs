//! How fast bands are tied, against a bare loop that does the same swaps over the same
//! knots and stores the same colours, in the same run.
//!
//! `cargo bench -p hitchwork-tests --bench simulating` prints the times and, at the end,
//! the ratios; tying should cost at most 1.5 times the bare loop.
#![allow(
    missing_docs,
    reason = "criterion's macros make undocumented functions"
)]
#![allow(clippy::print_stdout, reason = "the ratios are what a reader wants")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use hitchwork_core::band::Band;
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Kind;
use hitchwork_core::row::Row;
use hitchwork_tests::made;

/// A knot of the bare loop.
#[derive(Clone, Copy)]
struct Bare {
    left: usize,
    left_works: bool,
    swaps: bool,
}

/// A band in both forms.
struct Job {
    name: String,
    band: Band,
    bare: Vec<Bare>,
}

fn job(name: &str, threads: u16, repeat: Vec<Row>, knots: u64) -> Job {
    let per_repeat: u64 = repeat.iter().map(|row| row.len() as u64).sum();
    let repeats = u32::try_from(knots / per_repeat).expect("few repeats");
    let bare = |knot: &hitchwork_core::knot::Knot| Bare {
        left: usize::from(knot.column().number()) - 1,
        left_works: matches!(knot.kind(), Kind::Forward | Kind::ForwardBackward),
        swaps: knot.kind().changes_places(),
    };
    let bare = repeat.iter().flat_map(Row::knots).map(bare).collect();
    Job {
        name: format!("{name}, {threads} threads"),
        band: made::band(threads, repeat, repeats),
        bare,
    }
}

fn slanted(threads: u16, knots: u64) -> Job {
    let repeat = made::slanted_with_turns(threads, &[threads / 3, 2 * threads / 3]);
    job("slanted", threads, repeat, knots)
}

fn brick(threads: u16, knots: u64) -> Job {
    job("brick", threads, made::brick(Kind::Forward, threads), knots)
}

/// Ties the band, stores the colour of every knot and adds up the levels.
fn tied(band: &Band) -> (Vec<u16>, u64) {
    let fabric = Fabric::of(band);
    let mut colours = Vec::with_capacity(usize::try_from(band.knot_count()).expect("fits"));
    let mut levels = 0;
    for pass in fabric.passes() {
        colours.extend(pass.knots().map(|knot| {
            levels += u64::from(knot.level);
            fabric.colour(knot.working)
        }));
    }
    (colours, levels)
}

/// The same swaps and stores, and nothing else.
fn bare(job: &Job) -> Vec<u16> {
    let mut hang = job.band.thread_colours().to_vec();
    let mut colours = Vec::with_capacity(usize::try_from(job.band.knot_count()).expect("fits"));
    for _ in 0..job.band.repeats() {
        colours.extend(job.bare.iter().map(|knot| {
            let (left, right) = (hang[knot.left], hang[knot.left + 1]);
            if knot.swaps {
                hang.swap(knot.left, knot.left + 1);
            }
            if knot.left_works { left } else { right }
        }));
    }
    colours
}

fn against_a_bare_loop(criterion: &mut Criterion) {
    let jobs = [
        slanted(12, 1_000_000),
        slanted(100, 1_000_000),
        brick(12, 1_000_000),
        brick(100, 1_000_000),
    ];
    let mut group = criterion.benchmark_group("a million knots");
    for job in &jobs {
        assert_eq!(tied(&job.band).0, bare(job), "both tie the same band");
        group.throughput(Throughput::Elements(job.band.knot_count()));
        group.bench_function(BenchmarkId::new("tied", &job.name), |bencher| {
            bencher.iter(|| tied(black_box(&job.band)));
        });
        group.bench_function(BenchmarkId::new("bare loop", &job.name), |bencher| {
            bencher.iter(|| bare(black_box(job)));
        });
    }
    group.finish();
    for job in &jobs {
        let (ours, theirs) = medians(|| tied(black_box(&job.band)), || bare(black_box(job)));
        println!(
            "{}: {ours:?} tied, {theirs:?} in a bare loop, ratio {:.2}",
            job.name,
            ours.as_secs_f64() / theirs.as_secs_f64()
        );
    }
}

fn longer_and_longer_bands(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("longer and longer");
    group.sample_size(10);
    for knots in [10_000, 100_000, 1_000_000, 10_000_000] {
        let job = slanted(12, knots);
        group.throughput(Throughput::Elements(job.band.knot_count()));
        group.bench_function(BenchmarkId::from_parameter(knots), |bencher| {
            bencher.iter(|| tied(black_box(&job.band)));
        });
    }
    group.finish();
}

/// The median times of two things done by turns, so that both meet the same weather.
fn medians<A, B>(one: impl Fn() -> A, other: impl Fn() -> B) -> (Duration, Duration) {
    let mut times = (Vec::new(), Vec::new());
    for _ in 0..41 {
        let start = Instant::now();
        black_box(one());
        times.0.push(start.elapsed());
        let start = Instant::now();
        black_box(other());
        times.1.push(start.elapsed());
    }
    times.0.sort_unstable();
    times.1.sort_unstable();
    (times.0[20], times.1[20])
}

criterion_group!(benches, against_a_bare_loop, longer_and_longer_bands);
criterion_main!(benches);
