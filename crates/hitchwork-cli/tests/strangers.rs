//! Folders in which others have put something: their files stay, and their links lead nowhere.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::common::{Said, files_in, folder, hitchwork};
use sha2::{Digest, Sha256};

const PLAN: &str = r#"
title = "Two moorings"

[defaults]
lengths = 4
write = ["fabric", "text"]

[[item]]
rule = "candy_stripe"
grid = { threads = [4, 5, 6] }
"#;

/// A member of the plan.
const MEMBER: &str = "candy_stripe-4";

fn with_plan() -> tempfile::TempDir {
    let place = folder();
    fs::write(place.path().join("plan.toml"), PLAN).expect("written");
    place
}

fn collect(place: &Path, more: &[&str]) -> Said {
    let asked: Vec<&str> = ["collect", "plan.toml", "--quiet", "--workers", "1"]
        .into_iter()
        .chain(more.iter().copied())
        .collect();
    hitchwork(place, &asked)
}

/// All that lies in a folder and below, but for locks; links as what they lead to.
fn contents(folder: &Path) -> BTreeMap<PathBuf, String> {
    let mut all = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        let kind = entry.file_type().expect("it has one");
        let name = PathBuf::from(entry.file_name());
        if kind.is_dir() {
            all.extend(
                contents(&path)
                    .into_iter()
                    .map(|(inner, what)| (name.join(inner), what)),
            );
        } else if kind.is_symlink() {
            let to = fs::read_link(&path).expect("a link");
            all.insert(name, format!("link to {}", to.display()));
        } else if !entry
            .file_name()
            .to_string_lossy()
            .starts_with(".hitchwork-lock")
        {
            let bytes = fs::read(&path).expect("readable");
            all.insert(name, format!("{:x}", Sha256::digest(bytes)));
        }
    }
    all
}

#[test]
fn a_file_at_the_place_of_the_collections_own_is_refused_before_anything_is_made() {
    let place = with_plan();
    for (name, theirs) in [
        ("index.html", "<!DOCTYPE html><title>My own page</title>"),
        ("collection.csv", "stamp,year\nblue,1848\n"),
        ("collection.json", "{\"stamps\": [1, 2, 3]}"),
        // Another program's file whose data begin as ours do.
        ("collection.json", "{\"about\": {\"format\":\"stamps/1\"}}"),
        ("collection.journal", "Tuesday: rain\n"),
    ] {
        let out = place.path().join("theirs");
        let _ = fs::remove_dir_all(&out);
        fs::create_dir(&out).expect("made");
        fs::write(out.join(name), theirs).expect("written");
        let said = collect(place.path(), &["--out", "theirs"]);
        assert_eq!(said.status, Some(2), "{name}: {}", said.out);
        assert!(
            said.err.contains(name) && said.err.contains("is there already"),
            "{name}: {}",
            said.err
        );
        assert!(said.err.contains("choose another folder"), "{}", said.err);
        assert_eq!(files_in(&out), [name], "nothing else was made");
        assert_eq!(fs::read_to_string(out.join(name)).expect("there"), theirs);
    }
}

#[test]
fn a_share_needs_only_its_own_places() {
    let place = with_plan();
    let out = place.path().join("theirs");
    fs::create_dir(&out).expect("made");
    fs::write(out.join("index.html"), "my own page").expect("written");
    let said = collect(place.path(), &["--out", "theirs", "--part", "1/2"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(
        fs::read_to_string(out.join("index.html")).expect("there"),
        "my own page"
    );
    // Joined there, the page would be in the way.
    let said = collect(place.path(), &["--out", "theirs", "--part", "2/2"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    let said = collect(place.path(), &["--out", "theirs", "--merge", "theirs"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(said.err.contains("index.html"), "{}", said.err);
}

#[test]
fn an_empty_file_and_one_of_zeros_are_in_nobodys_way() {
    let place = with_plan();
    let out = place.path().join("out");
    fs::create_dir(&out).expect("made");
    fs::write(out.join("index.html"), "").expect("written");
    fs::write(out.join("collection.csv"), [0; 700]).expect("written");
    let said = collect(place.path(), &["--out", "out"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    let said = collect(place.path(), &["--out", "fresh"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(contents(&out), contents(&place.path().join("fresh")));
}

#[cfg(unix)]
mod links {
    use std::os::unix::fs::symlink;

    use super::*;

    const THEIRS: &str = "nobody else's business\n";

    /// A folder to collect in, and a file elsewhere that links lead to.
    fn trap() -> (tempfile::TempDir, PathBuf, PathBuf) {
        let place = with_plan();
        let (out, theirs) = (place.path().join("out"), place.path().join("theirs.txt"));
        fs::create_dir_all(out.join(MEMBER)).expect("made");
        fs::write(&theirs, THEIRS).expect("written");
        (place, out, theirs)
    }

    #[test]
    fn under_the_names_of_unfinished_files_they_lead_nowhere() {
        let (place, out, theirs) = trap();
        for name in [
            ".hitchwork-collection.json".to_owned(),
            ".hitchwork-collection.csv".to_owned(),
            ".hitchwork-index.html".to_owned(),
            format!("{MEMBER}/.hitchwork-sheet.txt"),
            format!("{MEMBER}/.hitchwork-{MEMBER}.band.json"),
        ] {
            symlink(&theirs, out.join(name)).expect("linked");
        }
        let said = collect(place.path(), &["--out", "out"]);
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        assert_eq!(fs::read_to_string(theirs).expect("there"), THEIRS);
        let said = collect(place.path(), &["--out", "fresh"]);
        assert_eq!(said.status, Some(0), "{}", said.err);
        assert_eq!(contents(&out), contents(&place.path().join("fresh")));
    }

    #[test]
    fn at_the_place_of_journal_lock_and_table_they_are_refused() {
        for name in [
            "collection.journal",
            ".hitchwork-lock",
            "collection.json",
            "collection.csv",
            "index.html",
        ] {
            let (place, out, theirs) = trap();
            symlink(&theirs, out.join(name)).expect("linked");
            let before = contents(&out);
            let said = collect(place.path(), &["--out", "out"]);
            assert_eq!(said.status, Some(2), "{name}: {}", said.out);
            assert!(
                said.err.contains(name) && said.err.contains("it is a link"),
                "{name}: {}",
                said.err
            );
            assert_eq!(contents(&out), before, "{name}");
            assert_eq!(fs::read_to_string(theirs).expect("there"), THEIRS, "{name}");
        }
    }

    #[test]
    fn a_link_to_nothing_makes_nothing() {
        for name in ["collection.journal", ".hitchwork-lock"] {
            let (place, out, _) = trap();
            let nowhere = place.path().join("nowhere");
            symlink(&nowhere, out.join(name)).expect("linked");
            let said = collect(place.path(), &["--out", "out"]);
            assert_eq!(said.status, Some(2), "{name}: {}", said.out);
            assert!(!nowhere.exists(), "{name}");
        }
    }

    #[test]
    fn a_journal_with_another_name_elsewhere_is_refused() {
        let (place, out, theirs) = trap();
        fs::write(&theirs, "").expect("written");
        fs::hard_link(&theirs, out.join("collection.journal")).expect("linked");
        let said = collect(place.path(), &["--out", "out"]);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert!(said.err.contains("second name"), "{}", said.err);
        assert_eq!(fs::read_to_string(theirs).expect("there"), "");
    }

    #[test]
    fn a_pipe_at_the_place_of_a_file_is_refused_and_not_waited_for() {
        for name in [
            "collection.journal",
            "collection.json",
            "index.html",
            ".hitchwork-lock",
        ] {
            let (place, out, _) = trap();
            let made = std::process::Command::new("mkfifo")
                .arg(out.join(name))
                .status();
            assert!(made.expect("there is mkfifo").success());
            let said = collect(place.path(), &["--out", "out"]);
            assert_eq!(said.status, Some(2), "{name}: {}", said.out);
            assert!(
                said.err.contains("not a plain file"),
                "{name}: {}",
                said.err
            );
        }
    }

    #[test]
    fn a_link_in_place_of_a_members_file_fails_that_member_only() {
        let (place, out, theirs) = trap();
        symlink(&theirs, out.join(MEMBER).join("sheet.txt")).expect("linked");
        let said = collect(place.path(), &["--out", "out"]);
        assert_eq!(said.status, Some(1), "{}{}", said.out, said.err);
        assert!(said.out.contains("sheet.txt"), "{}", said.out);
        assert!(said.out.contains("2 bands"), "{}", said.out);
        assert_eq!(fs::read_to_string(theirs).expect("there"), THEIRS);
    }

    #[test]
    fn a_link_in_place_of_a_members_folder_is_in_the_way() {
        let (place, out, _) = trap();
        let elsewhere = place.path().join("elsewhere");
        fs::create_dir(&elsewhere).expect("made");
        fs::write(elsewhere.join(".hitchwork-notes"), THEIRS).expect("written");
        fs::remove_dir(out.join(MEMBER)).expect("empty");
        symlink(&elsewhere, out.join(MEMBER)).expect("linked");
        let said = collect(place.path(), &["--out", "out"]);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert!(said.err.contains("is in the way"), "{}", said.err);
        assert_eq!(files_in(&elsewhere), [".hitchwork-notes"]);
    }

    #[test]
    fn a_finished_member_behind_a_link_is_not_taken_for_ones_own() {
        let (place, out, _) = trap();
        assert_eq!(collect(place.path(), &["--out", "out"]).status, Some(0));
        let elsewhere = place.path().join("elsewhere");
        fs::rename(out.join(MEMBER), &elsewhere).expect("moved");
        symlink(&elsewhere, out.join(MEMBER)).expect("linked");
        let verified = hitchwork(place.path(), &["collect", "out", "--verify"]);
        assert_eq!(verified.status, Some(1), "{}", verified.out);
        fs::write(elsewhere.join("sheet.txt"), THEIRS).expect("written");
        let said = collect(place.path(), &["--out", "out"]);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert_eq!(
            fs::read_to_string(elsewhere.join("sheet.txt")).expect("there"),
            THEIRS
        );
    }

    #[test]
    fn moving_out_follows_none() {
        let (place, out, _) = trap();
        assert_eq!(collect(place.path(), &["--out", "out"]).status, Some(0));
        fs::write(
            place.path().join("plan.toml"),
            PLAN.replace("[4, 5, 6]", "[5, 6]"),
        )
        .expect("written");
        let elsewhere = place.path().join("elsewhere");
        fs::create_dir_all(&elsewhere).expect("made");
        fs::create_dir_all(place.path().join("old")).expect("made");
        symlink(&elsewhere, place.path().join("old").join(MEMBER)).expect("linked");
        let said = collect(place.path(), &["--out", "out", "--move-out", "old"]);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert!(said.err.contains("is in the way"), "{}", said.err);
        assert!(files_in(&elsewhere).is_empty());
        assert_eq!(files_in(&out.join(MEMBER)).len(), 3, "nothing was moved");
    }

    #[test]
    fn what_is_made_alone_is_not_written_through_them() {
        let (place, _, theirs) = trap();
        let made = place.path().join("made");
        fs::create_dir(&made).expect("made");
        symlink(&theirs, made.join("sheet.txt")).expect("linked");
        let make = ["make", "candy_stripe", "--with", "text", "--out", "made"];
        let said = hitchwork(place.path(), &make);
        assert_eq!(said.status, Some(2), "{}", said.out);
        let sheet = ["sheet", "candy_stripe", "--out", "made/sheet.txt"];
        let said = hitchwork(place.path(), &sheet);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert!(said.err.contains("a link"), "{}", said.err);
        assert_eq!(files_in(&made), ["sheet.txt"]);
        assert_eq!(fs::read_to_string(theirs).expect("there"), THEIRS);
    }
}

#[test]
fn moving_out_replaces_nothing_and_moves_all_or_nothing() {
    let place = with_plan();
    assert_eq!(collect(place.path(), &["--out", "out"]).status, Some(0));
    fs::write(
        place.path().join("plan.toml"),
        PLAN.replace("[4, 5, 6]", "[5, 6]"),
    )
    .expect("written");
    let old = place.path().join("old").join(MEMBER);
    fs::create_dir_all(&old).expect("made");
    fs::write(old.join("sheet.txt"), "from last year").expect("written");
    let member = place.path().join("out").join(MEMBER);
    let said = collect(place.path(), &["--out", "out", "--move-out", "old"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(
        said.err.contains("sheet.txt is there already"),
        "{}",
        said.err
    );
    assert_eq!(
        fs::read_to_string(old.join("sheet.txt")).expect("there"),
        "from last year"
    );
    assert_eq!(files_in(&member).len(), 3, "nothing was moved");
    let said = collect(place.path(), &["--out", "out", "--move-out", "out"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(
        said.err.contains("the folder of the collection itself"),
        "{}",
        said.err
    );
    // What somebody has changed is theirs, and stays.
    fs::write(member.join("sheet.txt"), "with my own remarks").expect("written");
    let said = collect(place.path(), &["--out", "out", "--move-out", "older"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(said.out.contains("2 files out"), "{}", said.out);
    assert_eq!(files_in(&member), ["sheet.txt"]);
}

/// A manifest with its lines changed, and its digest that of the changed lines: what somebody
/// can send who knows how manifests are made.
fn forged(manifest: &str, change: impl Fn(&str) -> String) -> String {
    let (lines, _) = manifest
        .split_once("\"sha256\": \"")
        .expect("a manifest has a digest");
    // A digest of a file is written without a blank before it.
    let lines = change(lines);
    format!(
        "{lines}\"sha256\": \"{:x}\"}}\n",
        Sha256::digest(lines.as_bytes())
    )
}

#[test]
fn a_share_brings_only_files_of_the_plans_members() {
    let place = with_plan();
    let share = place.path().join("share");
    let made = collect(place.path(), &["--out", "share", "--part", "1/1"]);
    assert_eq!(made.status, Some(0), "{}", made.err);
    let path = share.join("collection.part-1-of-1.json");
    let honest = fs::read_to_string(&path).expect("written");
    fs::create_dir(share.join(".git")).expect("made");
    let hook = "#!/bin/sh\necho trapped\n";
    fs::write(share.join(".git/config"), hook).expect("written");
    fs::write(share.join(MEMBER).join("notes.html"), hook).expect("written");
    let file = |path: &str| {
        let digest = format!("{:x}", Sha256::digest(hook));
        let bytes = hook.len();
        format!("{{\"path\":\"{path}\",\"bytes\":{bytes},\"sha256\":\"{digest}\"}}")
    };
    let with = |file: &str| {
        let from = format!("\"files\":[{{\"path\":\"{MEMBER}/");
        let to = format!("\"files\":[{file},{{\"path\":\"{MEMBER}/");
        forged(&honest, |lines| {
            let changed = lines.replacen(&from, &to, 1);
            assert_ne!(changed, lines);
            changed
        })
    };
    for (number, (manifest, forbidden)) in [
        (with(&file(".git/config")), ".git"),
        (with(&file("../config")), "../config"),
        (
            with(&file(&format!("{MEMBER}/notes.html"))),
            "candy_stripe-4/notes.html",
        ),
        (
            // A member that the plan does not know.
            forged(&honest, |lines| {
                let line = lines
                    .lines()
                    .find(|line| line.contains(&format!("\"name\":\"{MEMBER}\"")))
                    .expect("it is there");
                let stranger = line.replace(MEMBER, "stranger");
                lines.replacen(
                    line,
                    &format!("{},\n{line}", stranger.trim_end_matches(',')),
                    1,
                )
            }),
            "stranger",
        ),
        (
            forged(&honest, |lines| {
                let left = format!("{{\"left_behind\":{}}},\n", file(".git/config"));
                lines.replacen("\n{\"name\"", &format!("\n{left}{{\"name\""), 1)
            }),
            ".git",
        ),
    ]
    .into_iter()
    .enumerate()
    {
        fs::write(&path, manifest).expect("written");
        let out = format!("joined-{number}");
        let said = collect(
            place.path(),
            &["--out", &out, "--merge", "share", "--move-out", "away"],
        );
        let made = place.path().join(&out).join(forbidden);
        assert!(!made.exists(), "{forbidden}: {}{}", said.out, said.err);
        assert!(!place.path().join("away").exists(), "{forbidden}");
        let refused = said.status == Some(2) && said.err.contains("in none of the shares");
        assert!(
            refused || said.status == Some(0),
            "{forbidden}: {}",
            said.err
        );
        // A member whose record is forged is not taken at all.
        assert_eq!(refused, number < 3, "{forbidden}");
    }
}

#[test]
fn what_lies_in_a_folder_is_not_moved_out_on_the_word_of_a_forged_share() {
    let place = with_plan();
    let made = collect(place.path(), &["--out", "out", "--part", "1/1"]);
    assert_eq!(made.status, Some(0), "{}", made.err);
    let path = place.path().join("out/collection.part-1-of-1.json");
    let honest = fs::read_to_string(&path).expect("written");
    let theirs = "[core]\n";
    fs::create_dir(place.path().join("out/.git")).expect("made");
    fs::write(place.path().join("out/.git/config"), theirs).expect("written");
    let digest = format!("{:x}", Sha256::digest(theirs));
    let left = format!(
        "{{\"left_behind\":{{\"path\":\".git/config\",\"bytes\":7,\"sha256\":\"{digest}\"}}}},\n"
    );
    let manifest = forged(&honest, |lines| {
        lines.replacen("\n{\"name\"", &format!("\n{left}{{\"name\""), 1)
    });
    assert!(manifest.contains("left_behind"));
    fs::write(&path, manifest).expect("written");
    let said = collect(
        place.path(),
        &["--out", "out", "--merge", "out", "--move-out", "away"],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(
        fs::read_to_string(place.path().join("out/.git/config")).expect("there"),
        theirs
    );
    assert!(!place.path().join("away").exists());
}

#[test]
fn joining_never_writes_over_a_file_of_others() {
    let place = with_plan();
    let made = collect(place.path(), &["--out", "share", "--part", "1/1"]);
    assert_eq!(made.status, Some(0), "{}", made.err);
    let theirs = place.path().join("joined").join(MEMBER);
    fs::create_dir_all(&theirs).expect("made");
    fs::write(theirs.join("sheet.txt"), "the steps of another band").expect("written");
    let said = collect(place.path(), &["--out", "joined", "--merge", "share"]);
    assert_eq!(said.status, Some(1), "{}{}", said.out, said.err);
    assert!(
        said.out.contains("sheet.txt is there already"),
        "{}",
        said.out
    );
    assert_eq!(
        fs::read_to_string(theirs.join("sheet.txt")).expect("there"),
        "the steps of another band"
    );
    fs::remove_file(theirs.join("sheet.txt")).expect("there");
    let said = collect(place.path(), &["--out", "joined", "--merge", "share"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert_eq!(collect(place.path(), &["--out", "fresh"]).status, Some(0));
    assert_eq!(
        contents(&place.path().join("joined")),
        contents(&place.path().join("fresh"))
    );
}

#[test]
fn a_forged_choice_is_made_again() {
    let place = folder();
    let plan = "[defaults]\nlengths = 4\nwrite = [\"text\"]\n[[item]]\nrule = \"flotsam\"\nsettings = { threads = 5, fours = 1, colours = 2 }\nseeds = \"1..12\"\nbest = { count = 2, by = \"contrast\" }\n";
    fs::write(place.path().join("plan.toml"), plan).expect("written");
    let made = collect(place.path(), &["--out", "share", "--part", "1/1"]);
    assert_eq!(made.status, Some(0), "{}", made.err);
    assert_eq!(collect(place.path(), &["--out", "fresh"]).status, Some(0));
    let wanted = contents(&place.path().join("fresh"));
    let path = place.path().join("share/collection.part-1-of-1.json");
    let honest = fs::read_to_string(&path).expect("written");
    let numbers = honest
        .split_once("\"numbers\":[")
        .and_then(|(_, rest)| rest.split_once(']'))
        .expect("a choice")
        .0
        .to_owned();
    for forgery in ["0", "9,9", "13", "18446744073709551615", "12,1"] {
        let manifest = forged(&honest, |lines| {
            lines.replacen(
                &format!("\"numbers\":[{numbers}]"),
                &format!("\"numbers\":[{forgery}]"),
                1,
            )
        });
        assert_ne!(manifest, honest);
        fs::write(&path, manifest).expect("written");
        let out = format!("joined-{forgery}");
        let said = collect(place.path(), &["--out", &out, "--merge", "share"]);
        assert_eq!(said.status, Some(0), "{forgery}: {}", said.err);
        assert_eq!(
            contents(&place.path().join(out)),
            wanted,
            "{forgery}: the choice is the plan's"
        );
    }
}

/// A run that ends at its first failure leaves its journal behind.
const HALTING: &str = "[defaults]\nlengths = 4\nwrite = [\"text\"]\n[[item]]\nrule = \"candy_stripe\"\nsettings = { stripes = 4 }\ngrid = { threads = [4, 5, 3] }\n";

#[test]
fn a_figure_that_was_changed_in_the_journal_is_not_believed() {
    let place = folder();
    fs::write(place.path().join("plan.toml"), HALTING).expect("written");
    let halt = ["--out", "out", "--stop-at-first-failure"];
    assert_eq!(collect(place.path(), &halt).status, Some(2));
    let path = place.path().join("out/collection.journal");
    let journal = fs::read_to_string(&path).expect("it is left");
    let changed = journal.replacen("\"threads\":4", "\"threads\":40", 2);
    assert_ne!(changed, journal);
    fs::write(&path, &changed).expect("written");
    let said = collect(place.path(), &["--out", "out"]);
    assert_eq!(said.status, Some(1), "{}", said.err);
    assert!(
        said.out.contains("1 band; 1 were there already"),
        "the band whose line was changed is made again: {}",
        said.out
    );
    assert_eq!(collect(place.path(), &["--out", "fresh"]).status, Some(1));
    assert_eq!(
        contents(&place.path().join("out")),
        contents(&place.path().join("fresh"))
    );
}

#[test]
fn a_journal_cut_or_blotted_anywhere_leads_to_the_same_bytes() {
    let place = folder();
    fs::write(place.path().join("plan.toml"), HALTING).expect("written");
    assert_eq!(collect(place.path(), &["--out", "fresh"]).status, Some(1));
    let fresh = contents(&place.path().join("fresh"));
    let halt = ["--out", "halted", "--stop-at-first-failure"];
    assert_eq!(collect(place.path(), &halt).status, Some(2));
    let halted = place.path().join("halted");
    let journal = fs::read(halted.join("collection.journal")).expect("it is left");
    for number in 0..6 {
        let at = journal.len() * number / 6;
        // A loss of power leaves whole blocks of zeros; at the beginning, one of them.
        let mut blotted = journal.clone();
        let length = if number == 0 { 1 << 12 } else { 9 };
        blotted[at..]
            .iter_mut()
            .take(length)
            .for_each(|byte| *byte = 0);
        for damaged in [&journal[..at], &blotted] {
            fs::write(halted.join("collection.journal"), damaged).expect("written");
            let said = collect(place.path(), &["--out", "halted"]);
            assert_eq!(said.status, Some(1), "at {at}: {}{}", said.out, said.err);
            assert_eq!(contents(&halted), fresh, "at {at}");
        }
    }
}

#[test]
fn making_again_replaces_only_what_was_made_and_is_as_it_was() {
    let place = folder();
    let made = place.path().join("made");
    let make = |threads: &str| {
        let set = format!("threads={threads}");
        let asked = [
            "make", "drift", "--set", &set, "--with", "text", "--out", "made",
        ];
        hitchwork(place.path(), &asked)
    };
    assert_eq!(make("6").status, Some(0));
    let six = fs::read(made.join("sheet.txt")).expect("written");
    // Other settings, the same names: these are ours to replace.
    assert_eq!(make("8").status, Some(0));
    assert_ne!(fs::read(made.join("sheet.txt")).expect("written"), six);
    // Somebody's remarks are not.
    fs::write(made.join("sheet.txt"), "row 3: hold it tight").expect("written");
    let band = fs::read(made.join("drift.band.json")).expect("written");
    let said = make("6");
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(
        said.err.contains("sheet.txt is there already")
            && said.err.contains("choose another place with --out"),
        "{}",
        said.err
    );
    assert_eq!(
        fs::read_to_string(made.join("sheet.txt")).expect("there"),
        "row 3: hold it tight"
    );
    assert_eq!(
        fs::read(made.join("drift.band.json")).expect("there"),
        band,
        "all or nothing"
    );
    // The very bytes that would be written are in nobody's way, whoever wrote them.
    fs::write(made.join("sheet.txt"), &six).expect("written");
    assert_eq!(make("6").status, Some(0));
    // Without its memory, a folder is somebody else's.
    fs::remove_file(made.join(".hitchwork-made")).expect("there");
    assert_eq!(make("8").status, Some(2));
}

#[test]
fn exploring_writes_over_no_band_of_others() {
    let place = folder();
    let explore = |seeds: &str| {
        let asked = [
            "explore",
            "flotsam",
            "--set",
            "threads=5",
            "--seeds",
            seeds,
            "--count",
            "2",
            "--out",
            "found",
        ];
        hitchwork(place.path(), &asked)
    };
    assert_eq!(explore("1..20").status, Some(0));
    assert_eq!(
        explore("21..40").status,
        Some(0),
        "its own sheet is replaced"
    );
    let page = place.path().join("found/contact.html");
    fs::write(&page, "my own page").expect("written");
    let said = explore("1..20");
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(said.err.contains("contact.html"), "{}", said.err);
    assert_eq!(fs::read_to_string(page).expect("there"), "my own page");
}

#[test]
fn names_that_some_system_cannot_write_are_made_safe() {
    let place = folder();
    let rule = "/// A mooring.\nlet threads = whole(\"threads\", 6, 4..=12, \"threads\");\nband(threads).repeat(forward(1..threads))\n";
    fs::write(place.path().join("aux.rhai"), rule).expect("written");
    let made = hitchwork(
        place.path(),
        &["make", "aux.rhai", "--with", "text", "--length", "4"],
    );
    assert_eq!(made.status, Some(0), "{}", made.err);
    assert_eq!(files_in(&place.path().join("out")), ["aux_"]);
    assert_eq!(
        files_in(&place.path().join("out/aux_")),
        ["aux_.band.json", "sheet.txt"]
    );
    let plan = "[defaults]\nlengths = 4\nwrite = []\n[[item]]\nrule = \"aux.rhai\"\nname = \"COM{threads}\"\ngrid = { threads = [4, 12] }\n[[item]]\nrule = \"aux.rhai\"\nname = \"ebb*?<{seed}> .\"\n";
    fs::write(place.path().join("nul.toml"), plan).expect("written");
    let said = hitchwork(place.path(), &["collect", "nul.toml", "--quiet"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    let made = files_in(&place.path().join("out/nul_"));
    for name in ["COM4_", "COM12", "ebb---0-"] {
        assert!(made.iter().any(|made| made == name), "{name}: {made:?}");
    }
    // Two names that become one are told.
    let twice = "[[item]]\nrule = \"aux.rhai\"\nname = \"ebb*\"\n[[item]]\nrule = \"aux.rhai\"\nname = \"ebb?\"\n";
    fs::write(place.path().join("twice.toml"), twice).expect("written");
    let said = hitchwork(place.path(), &["collect", "twice.toml", "--quiet"]);
    assert_eq!(said.status, Some(2));
    assert!(
        said.err.contains("two bands would be called ebb-"),
        "{}",
        said.err
    );
}

#[test]
fn a_spreadsheet_has_nothing_to_reckon_with() {
    let place = folder();
    let rule = "/// A trap.\nlet trap = colour(\"=HYPERLINK(\\\"x\\\",\\\"y\\\")\", \"#1d6f8c\");\nband(4).repeat(forward(1..4)).colours([trap, colour(\"@sail\", \"#f0ead8\"), trap, colour(\"'-dusk\", \"#302040\")]).title(\"=cmd|'/C calc'!A0\")\n";
    fs::write(place.path().join("trap.rhai"), rule).expect("written");
    let plan =
        "[defaults]\nlengths = 4\nwrite = []\n[[item]]\nrule = \"trap.rhai\"\nname = \"+trap\"\n";
    fs::write(place.path().join("plan.toml"), plan).expect("written");
    let said = collect(place.path(), &["--out", "out"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    let class = hitchwork(place.path(), &["collect", "out", "--class", "buy.csv"]);
    assert_eq!(class.status, Some(0), "{}", class.err);
    for (path, wanted) in [
        ("out/collection.csv", &["+trap", "=cmd|'/C calc'!A0"][..]),
        ("buy.csv", &["=HYPERLINK(\"x\",\"y\")", "@sail", "'-dusk"]),
    ] {
        let table = fs::read_to_string(place.path().join(path)).expect("written");
        let cells = cells(&table);
        let words: Vec<&String> = cells
            .iter()
            .filter(|cell| cell.parse::<f64>().is_err())
            .collect();
        for cell in &words {
            assert!(
                !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
                "{path}: {cell}"
            );
        }
        // And they can be read back.
        let read: Vec<&str> = words
            .iter()
            .map(|cell| hitchwork_core::cell::original(cell))
            .collect();
        for wanted in wanted {
            assert!(read.contains(wanted), "{path}: {wanted}: {read:?}");
        }
    }
}

/// All cells of a table, by the rules of RFC 4180.
fn cells(table: &str) -> Vec<String> {
    let (mut cells, mut cell, mut inside) = (Vec::new(), String::new(), false);
    let mut letters = table.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if inside && letters.peek() == Some(&'"') => {
                letters.next();
                cell.push('"');
            }
            '"' => inside = !inside,
            ',' | '\n' if !inside => cells.push(std::mem::take(&mut cell)),
            letter => cell.push(letter),
        }
    }
    cells
}
