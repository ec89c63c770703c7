//! How long it takes to find the knots of a picture, and how many orders are looked at in a
//! second, beside the bare recursion over an array.
//!
//! `cargo bench --workspace --bench painting` prints for noise on the lattice, which is the
//! hardest to paint, the time, the misses, the memory and the steps (one for each order at each
//! knot) in a second; with open ends, with closed ones, and with the counts looked for. The
//! targets, on one core: 12 threads of three colours and 132 knots, open, in 50 ms; 16 threads
//! of two colours and 24 rows in 20 ms; 12 threads of four colours in a second and 400 MB.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::collections::BTreeMap;
use std::hint::black_box;
use std::time::Instant;

use hitchwork_core::Error;
use hitchwork_core::picture::solve::{Closing, Painting, Solved, SolvingEffort};
use peak_alloc::PeakAlloc;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// Noise on the lattice.
fn noise(counts: &[u16], rows: usize) -> Painting {
    let threads = counts.iter().sum();
    let colours = u8::try_from(counts.len()).expect("few colours");
    let mut state = 2_u64;
    Painting::lattice(threads, colours, rows, |_, _| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        u8::try_from((state >> 33) % u64::from(colours)).ok()
    })
    .expect("a lattice")
}

fn solve(painting: &Painting) -> (Solved, u64) {
    let mut steps = 0;
    let solved = painting.solve_while(&SolvingEffort::default(), |more| {
        steps += more;
        Ok::<(), Error>(())
    });
    (solved.expect("some knots"), steps)
}

/// The best time of a few, in seconds.
fn best(mut job: impl FnMut()) -> f64 {
    let times = (0..5).map(|_| {
        let started = Instant::now();
        job();
        started.elapsed().as_secs_f64()
    });
    times.fold(f64::INFINITY, f64::min)
}

fn all_orders(counts: &mut [u16], begun: &mut Vec<u8>, all: &mut Vec<Vec<u8>>) {
    if counts.iter().all(|count| *count == 0) {
        all.push(begun.clone());
        return;
    }
    for colour in 0..counts.len() {
        if counts[colour] > 0 {
            counts[colour] -= 1;
            begun.push(u8::try_from(colour).expect("few colours"));
            all_orders(counts, begun, all);
            begun.pop();
            counts[colour] += 1;
        }
    }
}

/// The recursion with nothing around it: an array of costs, and for each column which order
/// each order changes into. Gives the fewest misses and the seconds.
fn bare(painting: &Painting, counts: &[u16]) -> (usize, f64) {
    let mut orders = Vec::new();
    all_orders(&mut counts.to_vec(), &mut Vec::new(), &mut orders);
    let numbered = orders.iter().enumerate();
    let number: BTreeMap<&[u8], usize> = numbered.map(|(at, order)| (&order[..], at)).collect();
    let changed = |column: usize| -> Vec<usize> {
        let other = |order: &Vec<u8>| {
            let mut order = order.clone();
            order.swap(column, column + 1);
            number[&order[..]]
        };
        orders.iter().map(other).collect()
    };
    let columns = usize::from(painting.threads) - 1;
    let changed: Vec<Vec<usize>> = (0..columns).map(changed).collect();
    let mut misses = 0;
    let seconds = best(|| {
        let mut costs = vec![0_u8; orders.len()];
        for knot in painting.rows.iter().flatten().rev() {
            let column = usize::from(knot.column.number()) - 1;
            let cost = |(at, order): (usize, &Vec<u8>)| {
                let shows = |wanted| order[column] == wanted || order[column + 1] == wanted;
                costs[at].min(costs[changed[column][at]]) + u8::from(!knot.colour.is_none_or(shows))
            };
            costs = black_box(orders.iter().enumerate().map(cost).collect());
        }
        misses = costs.into_iter().min().map_or(0, usize::from);
    });
    (misses, seconds)
}

#[allow(clippy::cast_precision_loss, reason = "for people to read")]
fn main() {
    for counts in [&[4, 4, 4][..], &[8, 8], &[3, 3, 3, 3]] {
        let painting = noise(counts, 24);
        let knots: usize = painting.rows.iter().map(Vec::len).sum();
        println!("{counts:?} threads of a colour, {knots} knots:");
        let given = |closing| Painting {
            counts: Some(counts.to_vec()),
            closing,
            ..painting.clone()
        };
        for (what, painting) in [
            ("open", given(Closing::Open)),
            ("closed", given(Closing::Closed)),
            ("open, counts looked for", painting.clone()),
        ] {
            MEMORY.reset_peak_usage();
            let before = MEMORY.current_usage_as_mb();
            let (solved, steps) = solve(&painting);
            let megabytes = MEMORY.peak_usage_as_mb() - before;
            let seconds = best(|| {
                black_box(solve(&painting));
            });
            println!(
                "  {what:<24} {:>8.1} ms, {} missed, at least {}; {megabytes:.0} MB; {:.0} million steps a second",
                seconds * 1e3,
                solved.missed.len(),
                solved.least,
                steps as f64 / seconds / 1e6
            );
        }
        let (misses, seconds) = bare(&painting, counts);
        let steps = hitchwork_core::picture::solve::orders_of_colours(counts);
        let steps = steps.expect("few") as f64 * knots as f64;
        println!(
            "  {:<24} {:>8.1} ms, {misses} missed; {:.0} million steps a second",
            "the bare recursion",
            seconds * 1e3,
            steps / seconds / 1e6
        );
    }
}
