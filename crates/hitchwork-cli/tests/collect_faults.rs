//! Collections whose folder others have their hands in: editors, other files, full disks.

use std::fs::{self, File};
use std::path::Path;
use std::time::Duration;

use crate::common::{Said, Tree, folder, hitchwork, tree};

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

/// A band that fails is still in the plan, and what was made of it before waits for it.
#[test]
fn files_of_a_band_that_fails_now_are_not_said_to_have_left_the_plan() {
    let place = with_plan(
        "[[item]]\nrule = \"own.rhai\"\nname = \"ebb\"\nwrite = []\n[[item]]\nrule = \"drift\"\nwrite = []\n",
    );
    let rule = |text: &str| fs::write(place.path().join("own.rhai"), text).expect("written");
    let good = "/// A band.\nband(4).repeat(forward(1..4))\n";
    rule(good);
    let collected = |more: &[&str]| collect(place.path(), &[&["--out", "out"], more].concat());
    assert_eq!(collected(&[]).status, Some(0));
    let wanted = tree(&place.path().join("out"));
    let band = place.path().join("out/ebb/ebb.band.json");
    // It fails again and again, and once somebody moves out what has left the plan.
    rule("/// A band.\nrule(\"own\")\n");
    for more in [&[][..], &[], &["--move-out", "old"]] {
        let said = collected(more);
        assert_eq!(said.status, Some(1), "{}", said.err);
        assert!(
            said.out.contains(
                "1 file of bands that failed now and were made before, such as ebb/ebb.band.json"
            ),
            "{}",
            said.out
        );
        assert!(!said.out.contains("no longer in the plan"), "{}", said.out);
        assert!(band.is_file());
    }
    let said = collected(&["--json"]);
    let data: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
    assert_eq!(data["left_of_failed"][0], "ebb/ebb.band.json");
    assert_eq!(data["left_behind"].as_array().map(Vec::len), Some(0));
    // One that was changed is told as such, wherever its band has gone.
    let bytes = fs::read(&band).expect("there");
    fs::write(&band, "with remarks").expect("written");
    let said = collected(&[]);
    assert!(
        said.out
            .contains("1 file that was changed since: ebb/ebb.band.json"),
        "{}",
        said.out
    );
    fs::write(&band, bytes).expect("written");
    rule(good);
    assert_eq!(collected(&[]).status, Some(0));
    assert_same(&wanted, &tree(&place.path().join("out")));
}

/// Seeds go to 2^64 - 1, as they do in `--seed`; whole numbers of TOML 1.0 (2021) to 2^63 - 1.
#[test]
fn all_seeds_can_stand_in_a_plan() {
    for (seeds, seed) in [
        ("18446744073709551615", "18446744073709551615"),
        ("\"18446744073709551615\"", "18446744073709551615"),
        ("[9223372036854775808]", "9223372036854775808"),
        (
            "\"18446744073709551615..18446744073709551615\"",
            "18446744073709551615",
        ),
        ("[\"7\"]", "7"),
    ] {
        let place = with_plan(&format!(
            "[[item]]\nrule = \"flotsam\"\nname = \"ebb\"\nseeds = {seeds}\nwrite = []\n"
        ));
        let said = collect(place.path(), &["--out", "out"]);
        assert_eq!(said.status, Some(0), "{seeds}: {}", said.err);
        let band = fs::read_to_string(place.path().join("out/ebb/ebb.band.json")).expect("made");
        assert!(band.contains(seed), "{seeds}");
    }
    for seeds in [
        "-1",
        "1.5",
        "true",
        "\"18446744073709551616\"",
        "[[1]]",
        "{ first = 1 }",
        "\"5..1\"",
        "[]",
    ] {
        let place = with_plan(&format!("[[item]]\nrule = \"flotsam\"\nseeds = {seeds}\n"));
        let said = collect(place.path(), &["--dry-run"]);
        assert_eq!(said.status, Some(2), "{seeds}: {}", said.out);
        assert!(
            said.err.contains("seed") && said.err.contains("plan.toml:3:"),
            "{seeds}: {}",
            said.err
        );
    }
}
