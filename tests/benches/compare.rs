//! How fast 200 members of a family are compared, against making the same members one by
//! one, each with a language and a reading of the rule of its own.
//!
//! `cargo bench -p hitchwork-tests --bench compare` prints both times and their ratio.
#![allow(clippy::print_stdout, reason = "the times are what a reader wants")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use hitchwork_core::compare::{COMPARED, compare};
use hitchwork_core::craft::Habits;
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Error, Rules, Settings};

/// Threads and a turning place: 200 members in all.
fn points() -> Vec<(u16, u16)> {
    let threads = 6..=25;
    threads
        .flat_map(|threads| (0..10).map(move |turn| (threads, 2 + turn % (threads - 3))))
        .collect()
}

fn settings((threads, turn): (u16, u16)) -> Settings {
    Settings::new().set("threads", threads).set("turns", turn)
}

fn together() -> usize {
    let rules = Rules::new();
    let rule = rules.built_in("drift").expect("built in");
    let make = |point: &(u16, u16)| Ok::<_, Error>(rules.make(&rule, &settings(*point))?.band);
    let family = rules.batch(|| compare(points(), make, &Habits::default(), &[]));
    assert!(
        family
            .members
            .iter()
            .all(|member| member.outcome.measured().is_some())
    );
    family.members.len()
}

fn one_by_one() -> usize {
    let alone = |point| {
        let rules = Rules::new();
        let rule = rules.built_in("drift").expect("built in");
        let made = rules.make(&rule, &settings(point)).expect("a band");
        let tied = Tied::of(made.band);
        COMPARED
            .iter()
            .filter_map(|name| tied.measure(name)?.number())
            .sum::<f64>()
    };
    points().into_iter().map(alone).map(black_box).count()
}

/// The shortest of several runs: what else the machine does only ever adds.
fn shortest(work: fn() -> usize) -> Duration {
    let run = |_| {
        let start = Instant::now();
        assert_eq!(black_box(work()), 200);
        start.elapsed()
    };
    (0..5).map(run).min().expect("five runs")
}

fn main() {
    let (together, one_by_one) = (shortest(together), shortest(one_by_one));
    println!("comparing 200 members: {together:.1?}");
    println!("the same one by one:    {one_by_one:.1?}");
    println!(
        "ratio: {:.1}",
        one_by_one.as_secs_f64() / together.as_secs_f64()
    );
}
