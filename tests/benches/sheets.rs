//! How long it takes to write the whole sheet of a band of 12 threads and 60 repeats as a
//! page and as PDF, from the tied band, and how large both are.
//!
//! `cargo bench -p hitchwork-tests --bench sheets` prints times and sizes.
#![allow(clippy::print_stdout, reason = "the times are what a reader wants")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use hitchwork_core::band::Band;
use hitchwork_core::tied::Tied;
use hitchwork_draw::pdf::{self, Paper};
use hitchwork_draw::{html, text};
use hitchwork_rules::{Rules, Settings};

fn sixty_repeats() -> Band {
    let rules = Rules::new();
    let rule = rules.built_in("drift").expect("built in");
    let made = rules
        .make(&rule, &Settings::new().set("threads", 12))
        .expect("a band");
    let mut parts = made.band.into_parts();
    parts.repeats = 60;
    Band::new(parts).expect("a band")
}

/// The shortest of several runs: what else the machine does only ever adds.
fn shortest(work: impl Fn() -> Vec<u8>) -> (Duration, usize) {
    let runs = (0..7).map(|_| {
        let start = Instant::now();
        let bytes = black_box(work());
        (start.elapsed(), bytes.len())
    });
    runs.min().expect("there are runs")
}

fn main() {
    let band = sixty_repeats();
    let tied = Tied::of(band.clone());
    let _ = (tied.steps(), tied.mirrored().steps());
    println!("12 threads, 60 repeats, {} knots", band.knot_count());
    let print = |name: &str, work: &dyn Fn() -> Vec<u8>| {
        let (time, bytes) = shortest(work);
        println!("{name:<24} {time:>10.1?} {:>8.1} KB", bytes as f64 / 1000.0);
    };
    print("text", &|| text::sheet(&tied).into_bytes());
    print("page, both hands", &|| {
        html::sheet(&tied).expect("a page").into_bytes()
    });
    print("PDF, A4", &|| pdf::sheet(&tied, Paper::A4).expect("pages"));
    print("tied and proved before", &|| {
        Tied::of(band.clone()).steps().title.clone().into_bytes()
    });
}
