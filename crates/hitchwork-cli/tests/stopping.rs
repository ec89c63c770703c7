//! Runs that are asked to stop, by whomever: they keep what is done and say how to go on.

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use crate::common::{folder, hitchwork};

/// A plan that takes long enough to be stopped in.
const PLAN: &str = "[defaults]\nlengths = 15\nwrite = [\"fabric\", \"strands\", \"html\", \"pdf\"]\n[[item]]\nrule = \"flotsam\"\nsettings = { threads = 12 }\nseeds = \"1..400\"\n";

const ASKED: [&str; 7] = [
    "collect",
    "plan.toml",
    "--quiet",
    "--workers",
    "1",
    "--out",
    "out",
];

/// The command, which listens to signals also where these tests were started by somebody who
/// does not: what a shell puts in the background ignores an interrupt, and so would all that it
/// starts.
fn listening() -> Command {
    if cfg!(target_os = "linux") {
        let mut command = Command::new("env");
        command.args([
            "--default-signal=HUP,INT,TERM",
            env!("CARGO_BIN_EXE_hitchwork"),
        ]);
        command
    } else {
        Command::new(env!("CARGO_BIN_EXE_hitchwork"))
    }
}

fn started(command: &mut Command, place: &Path) -> Child {
    command
        .current_dir(place)
        .env("NO_COLOR", "1")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts")
}

/// Waits until a few members are there.
fn under_way(place: &Path) {
    let began = Instant::now();
    while fs::metadata(place.join("out/collection.journal")).map_or(0, |found| found.len()) < 5_000
    {
        assert!(began.elapsed() < Duration::from_secs(300), "it never began");
        std::thread::sleep(Duration::from_millis(5));
    }
}

fn send(signal: &str, run: &Child) {
    let sent = Command::new("kill")
        .args([signal, &run.id().to_string()])
        .status();
    assert!(sent.expect("there is kill").success());
}

fn words(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn every_way_of_asking_keeps_what_is_done_and_says_how_to_go_on() {
    let place = folder();
    fs::write(place.path().join("plan.toml"), PLAN).expect("written");
    for signal in ["-INT", "-TERM", "-HUP"] {
        let _ = fs::remove_dir_all(place.path().join("out"));
        let mut command = listening();
        let run = started(command.args(ASKED), place.path());
        under_way(place.path());
        send(signal, &run);
        let ended = run.wait_with_output().expect("it ends");
        assert_eq!(ended.status.code(), Some(2), "{signal}: {}", words(&ended));
        assert!(
            words(&ended).contains("of 400 members done")
                && words(&ended).contains("run the same command again to continue"),
            "{signal}: {}",
            words(&ended)
        );
        let journal = fs::read_to_string(place.path().join("out/collection.journal"));
        let done = journal.expect("it is kept").lines().count() - 1;
        assert!(done > 0, "{signal}");
        assert!(
            words(&ended).contains(&format!("stopped with {done} of 400")),
            "{signal}: {done} in the journal; {}",
            words(&ended)
        );
    }
}

#[test]
fn a_search_that_is_asked_to_stop_keeps_what_it_found() {
    let place = folder();
    let mut command = listening();
    let asked = [
        "explore",
        "flotsam",
        "--best-by",
        "contrast",
        "--seeds",
        "1..100000000",
        "--count",
        "2",
        "--out",
        "found",
    ];
    let mut run = started(command.args(asked), place.path());
    // Its first line of progress says that it is at work.
    let mut said = std::io::BufReader::new(run.stderr.take().expect("piped"));
    let mut line = String::new();
    std::io::BufRead::read_line(&mut said, &mut line).expect("it speaks");
    assert!(line.contains(" of 100000000 seeds"), "{line}");
    send("-TERM", &run);
    let ended = run.wait_with_output().expect("it ends");
    let out = String::from_utf8_lossy(&ended.stdout).into_owned();
    assert_eq!(ended.status.code(), Some(0), "{out}");
    assert!(out.contains("stopped, and what was found is kept"), "{out}");
    assert!(place.path().join("found/contact.html").exists());
}

/// Whoever reads the address may stop the command in the same moment.
#[test]
fn the_live_page_ends_well_as_soon_as_it_has_said_where_it_is() {
    let place = folder();
    fs::write(
        place.path().join("ebb.rhai"),
        "band(4).repeat([forward(1..4)])\n",
    )
    .expect("written");
    for _ in 0..20 {
        let mut run = started(listening().args(["watch", "ebb.rhai"]), place.path());
        let said = std::io::BufReader::new(run.stderr.take().expect("piped"));
        let mut lines = std::io::BufRead::lines(said).map_while(Result::ok);
        assert!(lines.any(|line| line.starts_with("http://127.0.0.1:")));
        send("-INT", &run);
        assert_eq!(run.wait().expect("it ends").code(), Some(0));
    }
}

/// `nohup` has a command ignore the end of its terminal, and the command must not begin to
/// listen to it.
#[cfg(target_os = "linux")]
#[test]
fn what_a_command_was_told_to_ignore_it_ignores() {
    let place = folder();
    let plan = PLAN.replace("1..400", "1..12");
    fs::write(place.path().join("plan.toml"), plan).expect("written");
    let line = format!(
        "trap '' HUP; exec '{}' {}",
        env!("CARGO_BIN_EXE_hitchwork"),
        ASKED.join(" ")
    );
    let run = started(Command::new("sh").args(["-c", &line]), place.path());
    under_way(place.path());
    send("-HUP", &run);
    let ended = run.wait_with_output().expect("it ends");
    assert_eq!(ended.status.code(), Some(0), "{}", words(&ended));
    let verified = hitchwork(place.path(), &["collect", "out", "--verify"]);
    let said = (verified.out, verified.err);
    assert_eq!(verified.status, Some(0), "{said:?}");
}
