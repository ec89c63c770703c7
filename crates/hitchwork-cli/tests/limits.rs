//! Limits that somebody sets, and those of the computer itself.

use std::fs;

use crate::common::{folder, hitchwork};

#[test]
fn more_seconds_than_a_clock_can_count_are_no_bound() {
    let place = folder();
    let most = u64::MAX.to_string();
    let said = hitchwork(place.path(), &["check", "drift", "--seconds", &most]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(said.out.contains("threads"), "{}", said.out);
}

/// A title of many megabytes is refused wherever it comes in, in a few words.
#[test]
fn titles_like_books_are_refused() {
    let place = folder();
    let long = "tide ".repeat(100_000);
    let rule = format!(
        "band(4).repeat(forward(1..4)).title(\"{}\")",
        &long[..20_000]
    );
    fs::write(place.path().join("long.rhai"), rule).expect("written");
    let plan = format!("title = \"{long}\"\n[[item]]\nrule = \"drift\"\n");
    fs::write(place.path().join("plan.toml"), plan).expect("written");
    let csv = format!("name,colour\n{long},#23979f\n");
    fs::write(place.path().join("stash.csv"), csv).expect("written");
    for arguments in [
        &["check", "long.rhai"][..],
        &["collect", "plan.toml"],
        &["check", "drift", "--stash", "stash.csv"],
    ] {
        let said = hitchwork(place.path(), arguments);
        assert_ne!(said.status, Some(0), "{arguments:?}");
        assert!(
            said.err.contains("letters; at most"),
            "{arguments:?}: {}",
            said.err
        );
        assert!(said.err.len() < 4_000, "{arguments:?}: too much to read");
    }
}

/// Under a limit of addresses there is room for some workers only: those work, and nothing
/// ends in a panic.
#[cfg(target_os = "linux")]
#[test]
fn as_many_workers_work_as_there_is_room_for() {
    let place = folder();
    let plan = "title = \"Tides\"\n[defaults]\nlengths = [4]\nwrite = [\"text\"]\n[[item]]\nrule = \"candy_stripe\"\ngrid = { threads = \"4..12\" }\n";
    fs::write(place.path().join("plan.toml"), plan).expect("written");
    let within = |kilobytes: u64, arguments: &str| {
        let command = format!(
            "ulimit -v {kilobytes}; exec {} {arguments}",
            env!("CARGO_BIN_EXE_hitchwork")
        );
        std::process::Command::new("sh")
            .args(["-c", &command])
            .current_dir(place.path())
            .output()
            .expect("a shell")
    };
    for arguments in [
        "collect plan.toml --quiet --workers 64",
        "explore stars --count 3 --seeds 1..40 --workers 64",
    ] {
        let output = within(2_000_000, arguments);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{arguments}: {said}");
        assert!(!said.contains("panicked"), "{arguments}: {said}");
    }
}

/// One range of lengths holds for the command line, plans and rules' bands.
#[test]
fn a_length_is_as_long_wherever_it_is_given() {
    let place = folder();
    let plan = |length: &str| {
        let text = format!("[[item]]\nrule = \"drift\"\nlengths = [{length}]\n");
        fs::write(place.path().join("plan.toml"), text).expect("written");
    };
    // The longest band has more knots than a test should tie: it is only read.
    for (length, fits) in [
        ("0.5", true),
        ("0.49", false),
        ("10000", true),
        ("10001", false),
    ] {
        let status = if fits { Some(0) } else { Some(2) };
        plan(length);
        let said = hitchwork(
            place.path(),
            &["collect", "plan.toml", "--verify", "--out", "none"],
        );
        let refused = said.err.contains("is not a length that a band can have");
        assert_eq!(refused, !fits, "{length}: {}", said.err);
        assert_eq!(said.err.contains("from 0.5 to 10000 centimetres"), !fits);
        if length.starts_with('0') {
            let said = hitchwork(place.path(), &["check", "drift", "--length", length]);
            assert_eq!(said.status, status, "{length}: {}", said.err);
            assert_eq!(
                said.err.contains("from 0.5 to 10000"),
                !fits,
                "{}",
                said.err
            );
        }
    }
    let said = hitchwork(place.path(), &["check", "drift", "--length", "10001"]);
    assert!(said.err.contains("from 0.5 to 10000"), "{}", said.err);
}
