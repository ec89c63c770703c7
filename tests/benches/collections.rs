//! What making a collection takes against writing the same bytes to as many files by a bare
//! loop, and two workers against one.
//!
//! `cargo bench -p hitchwork-tests --bench collections` makes 1,000 bands of 12 threads with
//! band file, picture and steps; `MEMBERS=10000` makes as many as are said.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::fs;
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use hitchwork_collection::plan::{self, Plan};
use hitchwork_collection::run::{CollectOptions, collect, prove};
use hitchwork_rules::Rules;
use hitchwork_tests::plans;

/// Lets the disk come to rest, so that nobody waits for what somebody else has written.
fn at_rest() {
    // Where there is no such command the figures are only less steady.
    let _ = std::process::Command::new("sync").status();
}

fn seconds(job: impl FnOnce()) -> f64 {
    at_rest();
    let began = Instant::now();
    job();
    began.elapsed().as_secs_f64()
}

fn made(rules: &Rules, plan: &Plan, folder: &Path, workers: usize) -> f64 {
    let options = CollectOptions {
        workers,
        ..CollectOptions::default()
    };
    let go_on = &mut |_: &_| ControlFlow::Continue(());
    seconds(|| {
        collect(
            rules,
            plan,
            folder,
            &options,
            &AtomicBool::new(false),
            go_on,
        )
        .expect("it can be made");
    })
}

fn proved(rules: &Rules, plan: &Plan, workers: usize) -> f64 {
    let options = CollectOptions {
        workers,
        ..CollectOptions::default()
    };
    let go_on = &mut |_: &_| ControlFlow::Continue(());
    seconds(|| {
        prove(rules, plan, &options, &AtomicBool::new(false), go_on).expect("it can be proved");
    })
}

/// Writes what is in the folders of one folder into another; only the writing is timed.
fn copied(from: &Path, to: &Path) -> (f64, usize, u64) {
    at_rest();
    let (mut took, mut files, mut total) = (Duration::ZERO, 0, 0);
    for folder in fs::read_dir(from)
        .expect("a folder")
        .flatten()
        .filter(|entry| entry.path().is_dir())
    {
        let inner = fs::read_dir(folder.path()).expect("a folder").flatten();
        let bytes: Vec<_> = inner
            .map(|file| (file.file_name(), fs::read(file.path()).expect("readable")))
            .collect();
        let began = Instant::now();
        let place = to.join(folder.file_name());
        fs::create_dir(&place).expect("a folder");
        for (name, bytes) in &bytes {
            fs::write(place.join(name), bytes).expect("written");
            total += bytes.len() as u64;
        }
        took += began.elapsed();
        files += bytes.len();
    }
    (took.as_secs_f64(), files, total)
}

fn main() {
    let members: u64 = std::env::var("MEMBERS")
        .ok()
        .and_then(|count| count.parse().ok())
        .unwrap_or(1_000);
    let text = plans::by_chance(12, 15, members);
    let rules = Rules::new();
    let plan = plan::read(&rules, "bench.toml", &text).expect("a plan");
    let folder = tempfile::tempdir().expect("a folder");
    let place = |name: &str| folder.path().join(name);
    let one = made(&rules, &plan, &place("one"), 1);
    let two = made(&rules, &plan, &place("two"), 2);
    let again = made(&rules, &plan, &place("two"), 2);
    fs::create_dir(place("bare")).expect("a folder");
    let (bare, files, bytes) = copied(&place("one"), &place("bare"));
    let (alone, together) = (proved(&rules, &plan, 1), proved(&rules, &plan, 2));
    println!("{members} bands, {files} files, {bytes} bytes:");
    println!("  bare loop        {bare:>8.2} s");
    println!(
        "  one worker       {one:>8.2} s, {:.2} times the bare loop",
        one / bare
    );
    println!(
        "  two workers      {two:>8.2} s, {:.2} times the bare loop",
        two / bare
    );
    println!("  made already     {again:>8.2} s");
    println!("proved, and nothing written:");
    println!("  one worker       {alone:>8.2} s");
    println!(
        "  two workers      {together:>8.2} s: {:.2} times as fast",
        alone / together
    );
}
