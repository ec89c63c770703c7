//! What a collection goes by when it tells whether a band is there already, which of many
//! are the best, and which are one design: each against a collection from nothing, or
//! against figures worked out by hand.

use std::ops::ControlFlow;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use hitchwork_collection::run::{CollectOptions, Collected, collect};
use hitchwork_collection::{manifest, plan};
use hitchwork_rules::Rules;
use hitchwork_tests::files::contents;

/// Makes a plan in a folder, with one worker.
fn made(folder: &Path, text: &str) -> Collected {
    let rules = Rules::new();
    let plan = plan::read(&rules, "moorings.toml", text).expect("a plan");
    let stop = AtomicBool::new(false);
    let go_on = &mut |_: &_| ControlFlow::Continue(());
    collect(
        &rules,
        &plan,
        folder,
        &CollectOptions::default(),
        &stop,
        go_on,
    )
    .expect("it can be made")
}

/// What can be said of the bands of an item, each followed by another value.
const CHANGES: [[&str; 2]; 10] = [
    ["seeds = [3]", "seeds = [4]"],
    ["pace = 12", "pace = 20"],
    ["lengths = 4", "lengths = 5"],
    ["mirrored = false", "mirrored = true"],
    ["palettes = [\"regatta\"]", "palettes = [\"spring tide\"]"],
    ["thread = \"floss\"", "thread = \"waxed\""],
    [
        "settings = { threads = 6, fours = 1 }",
        "settings = { threads = 7, fours = 1 }",
    ],
    ["write = [\"text\"]", "write = [\"text\", \"html\"]"],
    ["keep = [\"threads < 9\"]", "keep = [\"threads < 3\"]"],
    ["reject = [\"threads > 9\"]", "reject = [\"threads > 3\"]"],
];

/// A plan of one band that says all of it, whose name does not depend on any.
fn saying(changed: Option<usize>) -> String {
    let lines = CHANGES.iter().enumerate().map(
        |(at, [before, after])| {
            if changed == Some(at) { *after } else { *before }
        },
    );
    let lines: Vec<&str> = lines.collect();
    format!(
        "title = \"Moorings\"\n[[item]]\nrule = \"flotsam\"\nname = \"strip\"\n{}\n",
        lines.join("\n")
    )
}

/// Whatever of a plan is changed, the collection made over the earlier one is that made in
/// an empty folder: so nothing that a band is made from is missing from its key.
#[test]
fn a_plan_made_over_an_earlier_one_is_as_if_made_from_nothing() {
    let before = tempfile::tempdir().expect("a folder");
    assert_eq!(made(before.path(), &saying(None)).progress.made, 1);
    let unchanged = contents(before.path());
    assert!(unchanged.contains_key(Path::new("strip/strip.band.json")));
    for (at, [_, after]) in CHANGES.iter().enumerate() {
        let over = tempfile::tempdir().expect("a folder");
        made(over.path(), &saying(None));
        made(over.path(), &saying(Some(at)));
        let fresh = tempfile::tempdir().expect("a folder");
        made(fresh.path(), &saying(Some(at)));
        // The earlier band's files may be left behind; what is recorded is the same.
        let records = |folder: &Path| manifest::read(folder).expect("written").records;
        assert_eq!(records(over.path()), records(fresh.path()), "{after}");
        assert_ne!(records(before.path()), records(fresh.path()), "{after}");
        let over = contents(over.path());
        for (name, bytes) in &contents(fresh.path()) {
            let stale = name != "collection.json" && over.get(name) != Some(bytes);
            assert!(!stale, "{after}: {} is stale", name.display());
        }
    }
}

/// A file that was changed without becoming longer or shorter is seen and stays, and is made
/// again when it is gone.
#[test]
fn a_file_of_the_right_length_with_other_bytes_is_seen() {
    let folder = tempfile::tempdir().expect("a folder");
    made(folder.path(), &saying(None));
    let whole = contents(folder.path());
    for name in ["strip/strip.band.json", "strip/sheet.txt"] {
        let path = folder.path().join(name);
        let mut bytes = std::fs::read(&path).expect("written");
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        std::fs::write(&path, &bytes).expect("writable");
        let again = made(folder.path(), &saying(None));
        assert_eq!(again.progress.made, 0, "{name}");
        assert_eq!(again.kept, [name]);
        assert_eq!(std::fs::read(&path).expect("there"), bytes, "{name}");
        std::fs::remove_file(&path).expect("there");
        let again = made(folder.path(), &saying(None));
        assert_eq!(again.progress.made, 1, "{name}");
        assert!(contents(folder.path()) == whole, "{name}");
    }
    let nothing_to_do = made(folder.path(), &saying(None));
    assert_eq!(nothing_to_do.progress.made, 0);
}

/// The names of the bands of a plan that were kept.
fn kept(text: &str) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a folder");
    made(folder.path(), text);
    let read = manifest::read(folder.path()).expect("it can be read");
    let mut names: Vec<String> = read.records.into_iter().map(|record| record.name).collect();
    names.sort_unstable();
    names
}

/// Of the widths 4 to 9, the widest are the best; but those that are preferred come first,
/// whatever they have, and those that fulfil two wishes before those that fulfil one.
#[test]
fn preferences_come_before_the_measure() {
    let best = |count: usize, prefer: &str| {
        kept(&format!(
            "title = \"Moorings\"\n[[item]]\nrule = \"candy_stripe\"\nname = \"{{threads}}\"\n\
             write = []\ngrid = {{ threads = \"4..9\" }}\nprefer = [{prefer}]\n\
             best = {{ count = {count}, by = \"threads\" }}\n"
        ))
    };
    assert_eq!(best(2, ""), ["8", "9"]);
    assert_eq!(best(1, r#""threads == 5""#), ["5"]);
    assert_eq!(best(2, r#""threads == 5""#), ["5", "9"]);
    let two_wishes = r#""threads < 7", "threads > 5""#;
    assert_eq!(best(1, two_wishes), ["6"]);
    // 4 and 5 fulfil the first wish, 7 to 9 the second; the widest of those come next.
    assert_eq!(best(3, two_wishes), ["6", "8", "9"]);
}

/// A design in two palettes is two designs in a collection, and its mirror image is none of
/// its own.
#[test]
fn one_design_has_one_set_of_colours() {
    let folder = tempfile::tempdir().expect("a folder");
    made(
        folder.path(),
        "title = \"Moorings\"\n[[item]]\nrule = \"candy_stripe\"\nwrite = []\n\
         settings = { threads = 4 }\nname = \"{palette}-{mirrored}\"\npalettes = [\"regatta\", \"spring tide\"]\n\
         mirrored = [false, true]\n",
    );
    let text = std::fs::read_to_string(folder.path().join("collection.json")).expect("written");
    let data: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let said = |name: &str| {
        let all = data["lines"].as_array().expect("a list");
        let band = all.iter().find(|band| band["name"] == name).expect("made");
        band["same_as"].as_str().map(str::to_owned)
    };
    assert_eq!(said("regatta-as-designed"), None);
    assert_eq!(said("spring-tide-as-designed"), None);
    for palette in ["regatta", "spring-tide"] {
        let mirrored = format!("the mirror image of {palette}-as-designed");
        assert_eq!(said(&format!("{palette}-mirrored")), Some(mirrored));
    }
}
