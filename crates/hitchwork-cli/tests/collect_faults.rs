//! Collections whose folder others have their hands in: editors, other files, full disks.

mod common;

use std::fs::{self, File};
use std::path::Path;
use std::time::Duration;

use common::{Said, Tree, folder, hitchwork, tree};

/// A plan of 36 bands that takes a second or two.
const PLAN: &str = r#"
title = "Tides of one evening"

[defaults]
lengths = [4]
write = ["fabric", "text"]

[[item]]
rule = "candy_stripe"
grid = { threads = "4..12", stripes = [2, 3] }
palettes = ["spring tide", "red sails"]
"#;

fn with_plan(plan: &str) -> tempfile::TempDir {
    let place = folder();
    fs::write(place.path().join("plan.toml"), plan).expect("written");
    place
}

fn collect(place: &Path, more: &[&str]) -> Said {
    let arguments: Vec<&str> = ["collect", "plan.toml", "--quiet"]
        .into_iter()
        .chain(more.iter().copied())
        .collect();
    hitchwork(place, &arguments)
}

/// Says which file is the first that differs, instead of printing all bytes of all files.
fn assert_same(one: &Tree, other: &Tree) {
    let names = |all: &Tree| all.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(one), names(other));
    for (path, bytes) in one {
        assert!(other[path] == *bytes, "{path} differs");
    }
}

fn undisturbed(place: &Path) -> Tree {
    let said = collect(place, &["--out", "undisturbed"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    tree(&place.join("undisturbed"))
}

#[test]
fn a_manifest_cut_short_or_changed_by_hand_is_told_and_made_again() {
    let place = with_plan(PLAN);
    let wanted = undisturbed(place.path());
    let out = place.path().join("undisturbed");
    let path = out.join("collection.json");
    let manifest = fs::read_to_string(&path).expect("readable");
    let cut = &manifest[..manifest.len() / 2];
    let changed = manifest.replacen("\"threads\":5", "\"threads\":50", 1);
    assert_ne!(changed, manifest);
    for damaged in [cut, &changed, ""] {
        fs::write(&path, damaged).expect("written");
        let said = collect(place.path(), &["--out", "undisturbed", "--verify"]);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert!(said.err.contains("collection.json"), "{}", said.err);
        assert!(said.err.contains("again"), "{}", said.err);
        let said = collect(place.path(), &["--out", "undisturbed"]);
        assert_eq!(said.status, Some(0), "{}", said.err);
        assert_same(&wanted, &tree(&out));
    }
}

#[test]
fn a_clock_set_back_changes_nothing() {
    let place = with_plan(PLAN);
    let wanted = undisturbed(place.path());
    let out = place.path().join("undisturbed");
    let long_ago =
        fs::FileTimes::new().set_modified(std::time::UNIX_EPOCH + Duration::from_secs(1));
    for path in wanted.keys() {
        let file = File::options()
            .write(true)
            .open(out.join(path))
            .expect("opened");
        file.set_times(long_ago).expect("set back");
    }
    let said = collect(place.path(), &["--out", "undisturbed"]);
    assert!(said.out.contains("36 were there already"), "{}", said.out);
    assert_same(&wanted, &tree(&out));
}

#[test]
fn files_of_others_are_never_touched() {
    let place = with_plan(PLAN);
    let wanted = undisturbed(place.path());
    let out = place.path().join("shared");
    // A band's folder that somebody has begun, with a picture of their own in it.
    let theirs = out.join("candy_stripe-2-stripes-4-threads-spring-tide");
    fs::create_dir_all(&theirs).expect("made");
    fs::write(theirs.join("notes.txt"), "for Tuesday").expect("written");
    fs::write(theirs.join("fabric.svg"), "my own drawing").expect("written");
    let said = collect(place.path(), &["--out", "shared"]);
    assert_eq!(said.status, Some(1), "{}{}", said.out, said.err);
    assert!(said.out.contains("fabric.svg"), "{}", said.out);
    assert!(said.out.contains("35 bands"), "{}", said.out);
    assert_eq!(
        fs::read_to_string(theirs.join("fabric.svg")).expect("there"),
        "my own drawing"
    );
    fs::remove_file(theirs.join("fabric.svg")).expect("removed");
    let said = collect(place.path(), &["--out", "shared"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert_eq!(
        fs::read_to_string(theirs.join("notes.txt")).expect("there"),
        "for Tuesday"
    );
    fs::remove_file(theirs.join("notes.txt")).expect("removed");
    assert_same(&wanted, &tree(&out));
}

#[test]
fn a_member_that_fails_stops_nobody_else() {
    let plan = "[[item]]\nrule = \"own.rhai\"\ngrid = { threads = [4, 5, 6] }\nwrite = []\n";
    let place = with_plan(plan);
    let rule = "/// Bands for even numbers.\nlet threads = whole(\"threads\", 4, 2..=9, \"threads\");\nrequire(threads % 2 == 0, \"an odd number of threads\", \"take one more\");\nband(threads).repeat(forward(1..threads))\n";
    fs::write(place.path().join("own.rhai"), rule).expect("written");
    let said = collect(place.path(), &["--out", "out"]);
    assert_eq!(said.status, Some(1), "{}", said.err);
    assert!(
        said.out.contains("own-5: an odd number of threads"),
        "{}",
        said.out
    );
    assert!(
        said.out.contains("line 3") && said.out.contains("threads=5"),
        "{}",
        said.out
    );
    assert!(said.out.contains("2 bands"), "{}", said.out);
    let said = collect(
        place.path(),
        &[
            "--out",
            "strict",
            "--stop-at-first-failure",
            "--workers",
            "1",
        ],
    );
    assert_eq!(said.status, Some(2));
    assert!(said.err.contains("own-5"), "{}", said.err);
    assert!(!place.path().join("strict/own-6").exists());
}

#[test]
fn progress_is_plain_lines_in_a_pipe_and_nothing_when_quiet() {
    let place = with_plan(PLAN);
    let said = hitchwork(place.path(), &["collect", "plan.toml", "--check"]);
    assert!(
        !said.err.contains('\u{1b}') && !said.err.contains('\r'),
        "{:?}",
        said.err
    );
    let said = collect(place.path(), &["--check"]);
    assert_eq!(said.err, "");
}
