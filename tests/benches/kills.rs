//! Kills a run of `collect` again and again, each time at another instant, and holds the
//! folder that it ends with against one that nobody disturbed, byte for byte.
//!
//! `cargo build --release && cargo bench -p hitchwork-tests --bench kills` kills 200 runs over
//! 300 members; `KILLS`, `MEMBERS` and `SEED` say otherwise, and `HITCHWORK` names another
//! command. The instants depend on the seed alone, as shares of the time that an undisturbed
//! run takes; what is under way then depends on the machine.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use hitchwork_tests::{files::contents, plans};

/// So many kills in a row before the run is let to its end, at most.
const MOST_IN_A_ROW: u64 = 8;

fn asked(name: &str, usual: u64) -> u64 {
    std::env::var(name).map_or(usual, |said| {
        said.parse()
            .unwrap_or_else(|_| panic!("{name} is a whole number, not {said}"))
    })
}

/// The command, beside the folder in which this program lies.
fn hitchwork() -> PathBuf {
    let beside = || {
        let own = std::env::current_exe().expect("a program knows where it lies");
        own.ancestors()
            .nth(2)
            .map(|folder| folder.join("hitchwork"))
    };
    let command = std::env::var_os("HITCHWORK").map(PathBuf::from);
    let command = command.or_else(beside).expect("there is a folder above");
    assert!(
        command.is_file(),
        "there is no {}: cargo build --release first, or name the command with HITCHWORK",
        command.display()
    );
    command
}

/// Xorshift (Marsaglia 2003): any instants will do, but the same ones for the same seed.
struct Instants(u64);

impl Instants {
    fn below(&mut self, most: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % most
    }
}

/// What was under way when a run was killed.
#[derive(Default)]
struct Hits {
    /// Nothing had been written of the members.
    before: u64,
    /// Members were being made.
    amid: u64,
    /// Manifest, table or gallery were being written, or had been by the run before.
    at_the_end: u64,
    /// The run had ended before.
    after: u64,
}

struct Bench {
    command: PathBuf,
    place: PathBuf,
}

impl Bench {
    fn run(&self, out: &str) -> Command {
        let mut command = Command::new(&self.command);
        command
            .args(["collect", "plan.toml", "--quiet", "--workers", "2", "--out"])
            .arg(out)
            .current_dir(&self.place)
            .stdin(Stdio::null())
            .stdout(Stdio::null());
        command
    }

    fn to_its_end(&self, out: &str) -> Duration {
        let began = Instant::now();
        let ended = self.run(out).status().expect("it starts");
        assert!(ended.success(), "a run in {out} ended with {ended}");
        began.elapsed()
    }

    fn kill_after(&self, wait: Duration, out: &str, hits: &mut Hits) {
        let mut run = self.run(out).spawn().expect("it starts");
        std::thread::sleep(wait);
        let ended = run.try_wait().expect("it runs").is_some();
        run.kill().expect("it can be killed");
        run.wait().expect("it has ended");
        let at = |name: &str| self.place.join(out).join(name);
        let hit = match () {
            () if ended => &mut hits.after,
            () if at("collection.json").exists() || at(".hitchwork-collection.json").exists() => {
                &mut hits.at_the_end
            }
            () if at("collection.journal").exists() => &mut hits.amid,
            () => &mut hits.before,
        };
        *hit += 1;
    }
}

fn main() {
    let (kills, members) = (asked("KILLS", 200), asked("MEMBERS", 300));
    let mut instants = Instants(asked("SEED", 0x9e37_79b9_7f4a_7c15).max(1));
    let folder = tempfile::tempdir().expect("a folder");
    let bench = Bench {
        command: hitchwork(),
        place: folder.path().to_owned(),
    };
    let plan = plans::by_chance(8, 6, members);
    fs::write(bench.place.join("plan.toml"), plan).expect("written");
    let took = bench.to_its_end("undisturbed");
    let whole = contents(&bench.place.join("undisturbed"));
    let (mut hits, mut killed, mut folders) = (Hits::default(), 0, 0);
    while killed < kills {
        folders += 1;
        let in_a_row = (1 + instants.below(MOST_IN_A_ROW)).min(kills - killed);
        // The last kill of a row may come at the very end; each before takes a share of what
        // is left, so that there is work to interrupt.
        for nth in 1..=in_a_row {
            let share = instants.below(1100);
            let wait = took.mul_f64(f64::from(u16::try_from(share).expect("small")) / 1000.0);
            let left = u32::try_from(if nth == in_a_row { 1 } else { in_a_row }).expect("small");
            bench.kill_after(wait / left, "killed", &mut hits);
        }
        killed += in_a_row;
        bench.to_its_end("killed");
        let out = bench.place.join("killed");
        let found = contents(&out);
        let names = |tree: &BTreeMap<PathBuf, Vec<u8>>| tree.keys().cloned().collect::<Vec<_>>();
        assert_eq!(names(&found), names(&whole), "after {killed} kills");
        for (path, bytes) in &whole {
            assert!(
                found[path] == *bytes,
                "{} differs after {killed} kills",
                path.display()
            );
        }
        fs::remove_dir_all(out).expect("taken away");
    }
    let Hits {
        before,
        amid,
        at_the_end,
        after,
    } = hits;
    println!(
        "{members} members, {} files, {} bytes; an undisturbed run takes {:.2} s",
        whole.len(),
        whole.values().map(Vec::len).sum::<usize>(),
        took.as_secs_f64()
    );
    println!("{killed} kills in {folders} folders, each let to its end afterwards:");
    println!("  before the first member       {before:>4}");
    println!("  while members were made       {amid:>4}");
    println!("  when all members were made    {at_the_end:>4}");
    println!("  when the run had just ended   {after:>4}");
    println!("all {folders} folders are byte for byte that of the undisturbed run");
    assert!(
        amid * 2 >= killed,
        "half of the kills at least hit a run at work"
    );
}
