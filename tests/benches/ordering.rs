//! How many changes of the working thread the easiest order of every built-in rule has, and how
//! long it takes to find.
//!
//! `cargo bench -p hitchwork-tests --bench ordering` prints a line for every rule at its defaults,
//! and for random full fabrics.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::time::Instant;

use hitchwork_core::band::{Band, BandParts, Part};
use hitchwork_core::chance::{Chance, Purpose, RandomRows};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Rules, Settings, built_in_names};

fn say(name: &str, band: Band) {
    let knots: usize = band.repeat().iter().map(Row::len).sum();
    let size = format!("{} threads, {knots} knots", band.thread_count());
    let tied = Tied::of(band);
    let started = Instant::now();
    let work = tied.work();
    let milliseconds = started.elapsed().as_secs_f64() * 1000.0;
    let easiest = tied.easiest();
    println!(
        "{name:<18} {size:<24} as written {:>4}/{:<4} easiest {:>4}/{:<4} least {:>4} {} {milliseconds:>8.1} ms, {}+{} rows around",
        work.as_written.thread_changes,
        work.as_written.pieces,
        work.easiest.thread_changes,
        work.easiest.pieces,
        work.least_thread_changes,
        if work.proved { "proved" } else { "      " },
        easiest.rows(Part::LeadIn).len(),
        easiest.rows(Part::LeadOut).len(),
    );
}

fn random(threads: u16, rows: usize, number: u32) -> Band {
    let prepared = RandomRows::new(threads, rows)
        .prepared()
        .expect("a lattice");
    let mut chance = Chance::new(1, Purpose::Member { number });
    let repeat = prepared.draw(&mut chance).expect("nothing is asked");
    let band = Band::new(BandParts {
        palette: vec![Colour::new("tide", Srgb::new(20, 120, 140))],
        threads: vec![0; usize::from(threads)],
        repeat,
        repeats: 20,
        ..BandParts::default()
    });
    band.expect("a band")
}

fn main() {
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("built in");
        say(
            name,
            rules.make(&rule, &Settings::new()).expect("sound").band,
        );
    }
    for (threads, rows) in [(8, 16), (12, 24), (16, 16), (20, 24), (40, 40)] {
        for number in 0..3 {
            say("random", random(threads, rows, number));
        }
    }
}
