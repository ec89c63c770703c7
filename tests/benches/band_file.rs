//! How fast band files are read, against a general JSON reader that only makes values of
//! the same text, in the same run.
//!
//! `cargo bench -p hitchwork-tests --bench band_file` prints the times and, at the end,
//! the ratio; reading a band should cost at most twice what reading any JSON does.
#![allow(
    missing_docs,
    reason = "criterion's macros make undocumented functions"
)]
#![allow(clippy::print_stdout, reason = "the ratios are what a reader wants")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use hitchwork_core::file;
use hitchwork_core::row::Row;
use hitchwork_tests::made;
use serde_json::Value;

/// A band file of so many rows.
fn text(rows: usize) -> String {
    let pair = made::slanted_with_turns(12, &[4, 8]);
    let repeat: Vec<Row> = pair.into_iter().cycle().take(rows).collect();
    file::write(&made::band(12, repeat, 1))
}

fn any_json(text: &str) -> Value {
    serde_json::from_str(text).expect("JSON")
}

fn against_a_general_reader(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("reading");
    let texts = [2, 200, 20_000].map(|rows| (rows, text(rows)));
    for (rows, text) in &texts {
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.bench_function(
            BenchmarkId::new("a band", format!("{rows} rows")),
            |bencher| {
                bencher.iter(|| file::read(black_box(text.as_bytes())));
            },
        );
        group.bench_function(
            BenchmarkId::new("any JSON", format!("{rows} rows")),
            |bencher| {
                bencher.iter(|| any_json(black_box(text)));
            },
        );
    }
    group.finish();
    let mut group = criterion.benchmark_group("writing");
    for (rows, text) in &texts {
        let band = file::read(text.as_bytes()).expect("a band");
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.bench_function(
            BenchmarkId::from_parameter(format!("{rows} rows")),
            |bencher| {
                bencher.iter(|| file::write(black_box(&band)));
            },
        );
    }
    group.finish();
    for (rows, text) in &texts {
        let times = 40_000 / rows;
        let ours = || (0..times).for_each(|_| drop(black_box(file::read(text.as_bytes()))));
        let theirs = || (0..times).for_each(|_| drop(black_box(any_json(text))));
        let (ours, theirs) = medians(ours, theirs);
        println!(
            "{rows} rows: {ours:?} for {times} bands, {theirs:?} for any JSON, ratio {:.2}",
            ours.as_secs_f64() / theirs.as_secs_f64()
        );
    }
}

/// The median times of two things done by turns, so that both meet the same weather.
fn medians<A, B>(one: impl Fn() -> A, other: impl Fn() -> B) -> (Duration, Duration) {
    let mut times = (Vec::new(), Vec::new());
    for _ in 0..21 {
        let start = Instant::now();
        black_box(one());
        times.0.push(start.elapsed());
        let start = Instant::now();
        black_box(other());
        times.1.push(start.elapsed());
    }
    times.0.sort_unstable();
    times.1.sort_unstable();
    (times.0[10], times.1[10])
}

criterion_group!(benches, against_a_general_reader);
criterion_main!(benches);
