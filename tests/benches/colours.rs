//! What must feel immediate at the command line: matching, ordering and choosing threads.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use hitchwork_core::colour::{
    Apart, Owned, Sight, Srgb, Vision, built_in_palettes, choose_threads, cyclic_gradient,
    match_threads, smoothest_order,
};
use hitchwork_core::craft::Gauge;

fn stash(count: u32) -> Vec<Owned> {
    let thread = |number: u32| {
        let [_, red, green, blue] = number
            .wrapping_mul(2_654_435_761)
            .rotate_left(7)
            .to_be_bytes();
        Owned::new(format!("skein {number}"), Srgb::new(red, green, blue))
    };
    (1..=count).map(thread).collect()
}

fn colours(bench: &mut Criterion) {
    let tide = built_in_palettes().swap_remove(0);
    let knot = Sight::of_knot(&Gauge::default());
    bench.bench_function("spread a palette into 24 named steps", |bench| {
        bench.iter(|| cyclic_gradient(black_box(&tide), 24));
    });
    bench.bench_function("how far a palette is told apart by everybody", |bench| {
        bench.iter(|| black_box(&tide).told_apart_up_to(knot, Vision::ALL));
    });
    let wanted = cyclic_gradient(&tide, 24).expect("24 colours");
    let owned = stash(500);
    bench.bench_function("match 24 steps to 500 threads", |bench| {
        bench.iter(|| match_threads(black_box(&wanted), &owned));
    });
    let sixteen: Vec<Srgb> = stash(16).iter().map(|thread| thread.srgb).collect();
    bench.bench_function("order 16 threads exactly", |bench| {
        bench.iter(|| smoothest_order(black_box(&sixteen), true));
    });
    let hundred: Vec<Srgb> = stash(100).iter().map(|thread| thread.srgb).collect();
    bench.bench_function("order 100 threads, with a bound", |bench| {
        bench.iter(|| smoothest_order(black_box(&hundred), true));
    });
    let owned = stash(200);
    bench.bench_function("choose 12 of 200 threads", |bench| {
        bench.iter(|| choose_threads(black_box(&owned), 12, Apart::AtSight(knot)));
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = colours
}
criterion_main!(benches);
