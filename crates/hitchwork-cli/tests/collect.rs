//! `collect`: whole collections, and what happens to them in bad weather.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use hitchwork_core::care::care;

use crate::common::{Said, files_in, folder, hitchwork, tree};

const PLAN: &str = r#"
title = "Moorings"
notes = "An invented class."

[defaults]
lengths = 4
write = ["fabric", "text"]

[[item]]
rule = "candy_stripe"
grid = { threads = "4..9" }
palettes = ["regatta", "spring tide"]
mirrored = [false, true]

[[item]]
rule = "drift"
grid = { threads = [6, 8] }
keep = ["drifts"]

[[item]]
rule = "flotsam"
settings = { threads = 5, fours = 1, colours = 2 }
seeds = "1..40"
reject = ["repeats_to_close > 4"]
prefer = ["knot_symmetry == \"half turns\""]
best = { count = 5, by = "contrast" }
"#;

fn planned(plan: &str) -> tempfile::TempDir {
    let folder = folder();
    fs::write(folder.path().join("moorings.toml"), plan).expect("written");
    folder
}

fn collect(folder: &Path, more: &[&str]) -> Said {
    let asked: Vec<&str> = ["collect", "moorings.toml", "--quiet"]
        .into_iter()
        .chain(more.iter().copied())
        .collect();
    hitchwork(folder, &asked)
}

/// The undisturbed collection of the plan.
fn undisturbed(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let said = collect(folder, &["--out", "undisturbed"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    tree(&folder.join("undisturbed"))
}

#[test]
fn a_plan_becomes_a_folder_with_manifest_table_and_gallery() {
    let folder = planned(PLAN);
    let said = collect(folder.path(), &["--out", "made"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(said.out.contains("made      31 bands"), "{}", said.out);
    assert!(
        said.out
            .contains("alike     flotsam-seed-9 is flotsam-seed-3"),
        "{}",
        said.out
    );
    let files = tree(&folder.path().join("made"));
    let manifest = String::from_utf8_lossy(&files["collection.json"]);
    assert!(
        manifest.contains("\"same_as\":\"the mirror image of candy_stripe-4-regatta-as-designed\"")
    );
    for name in [
        "collection.json",
        "collection.csv",
        "index.html",
        "drift-8/drift-8.band.json",
        "drift-8/fabric.svg",
        "drift-8/sheet.txt",
    ] {
        assert!(files.contains_key(name), "{name}");
    }
    // A member is what `make` makes.
    let made = [
        "make",
        "drift",
        "--set",
        "threads=8",
        "--length",
        "4",
        "--with",
        "fabric,text",
        "--out",
        "alone",
    ];
    assert_eq!(hitchwork(folder.path(), &made).status, Some(0));
    let alone = tree(&folder.path().join("alone"));
    assert!(files["drift-8/drift-8.band.json"] == alone["drift.band.json"]);
    assert!(files["drift-8/fabric.svg"] == alone["fabric.svg"]);
    assert!(files["drift-8/sheet.txt"] == alone["sheet.txt"]);
    let table = String::from_utf8(files["collection.csv"].clone()).expect("UTF-8");
    assert_eq!(table.lines().count(), 32);
    assert!(table.starts_with("name,outcome,title,rule,palette,seed,mirrored,settings,threads,"));
    let verified = hitchwork(folder.path(), &["collect", "made", "--verify"]);
    assert_eq!(
        (verified.status, verified.out.contains("all 93 files")),
        (Some(0), true),
        "{}",
        verified.out
    );
}

#[test]
fn workers_and_shares_do_not_change_a_byte() {
    let folder = planned(PLAN);
    let whole = undisturbed(folder.path());
    for workers in ["1", "3"] {
        let said = collect(folder.path(), &["--out", workers, "--workers", workers]);
        assert_eq!(said.status, Some(0), "{}", said.err);
        assert!(
            tree(&folder.path().join(workers)) == whole,
            "{workers} workers"
        );
    }
    for share in ["1/3", "2/3", "3/3"] {
        let out = format!("share-{}", &share[..1]);
        let said = collect(folder.path(), &["--part", share, "--out", &out]);
        assert_eq!(said.status, Some(0), "{}", said.err);
    }
    let early = collect(
        folder.path(),
        &["--merge", "share-1", "share-3", "--out", "early"],
    );
    assert_eq!(early.status, Some(2));
    assert!(
        early
            .err
            .contains("10 of 31 members are in none of the shares"),
        "{}",
        early.err
    );
    let said = collect(
        folder.path(),
        &[
            "--merge", "share-1", "share-2", "share-3", "--out", "joined",
        ],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(tree(&folder.path().join("joined")) == whole);
    // Shares in one folder, joined where they lie.
    for share in ["2/2", "1/2"] {
        assert_eq!(
            collect(folder.path(), &["--part", share, "--out", "together"]).status,
            Some(0)
        );
    }
    let said = collect(folder.path(), &["--merge", "together", "--out", "together"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(tree(&folder.path().join("together")) == whole);
}

/// How often a run is killed; `KILLS=50` for the whole of it.
fn kills() -> u64 {
    std::env::var("KILLS")
        .ok()
        .and_then(|kills| kills.parse().ok())
        .unwrap_or(8)
}

#[test]
fn a_run_that_is_killed_at_any_instant_goes_on_to_the_same_bytes() {
    let folder = planned(PLAN);
    let began = std::time::Instant::now();
    let whole = undisturbed(folder.path());
    let took = began.elapsed();
    let mut word: u64 = 0x9e37_79b9_7f4a_7c15;
    let mut killed = 0;
    for number in 0..kills() {
        let out = format!("killed-{}", number / 4);
        // Xorshift (Marsaglia 2003): any instants will do, but the same in every run.
        word ^= word << 13;
        word ^= word >> 7;
        word ^= word << 17;
        let mut run = Command::new(env!("CARGO_BIN_EXE_hitchwork"))
            .args(["collect", "moorings.toml", "--quiet", "--out", &out])
            .current_dir(folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        let share = u32::try_from(word % 900).expect("small");
        std::thread::sleep(took * share / 1000 / 2 + Duration::from_millis(5));
        killed += u64::from(run.try_wait().expect("it runs").is_none());
        run.kill().expect("it can be killed");
        run.wait().expect("it has ended");
        if number % 4 == 3 || number + 1 == kills() {
            let said = collect(folder.path(), &["--out", &out]);
            assert_eq!(said.status, Some(0), "{}", said.err);
            assert!(tree(&folder.path().join(&out)) == whole, "kill {number}");
        }
    }
    assert!(killed > 0, "some were killed while they worked");
}

#[test]
fn finished_work_is_not_done_again_and_broken_work_is() {
    let folder = planned(PLAN);
    let whole = undisturbed(folder.path());
    let place = folder.path().join("undisturbed");
    let again = collect(folder.path(), &["--out", "undisturbed"]);
    assert!(
        again
            .out
            .contains("made      0 bands; 31 were there already"),
        "{}",
        again.out
    );
    fs::remove_file(place.join("drift-8/fabric.svg")).expect("it was there");
    fs::write(place.join("drift-6/sheet.txt"), "").expect("written");
    fs::write(place.join("drift-6/notes of mine.txt"), "keep").expect("written");
    let verified = hitchwork(folder.path(), &["collect", "undisturbed", "--verify"]);
    assert_eq!(verified.status, Some(1));
    assert!(
        verified.out.contains("drift-8/fabric.svg is missing")
            && verified
                .out
                .contains("drift-6/sheet.txt is not what it was"),
        "{}",
        verified.out
    );
    let mended = collect(folder.path(), &["--out", "undisturbed"]);
    assert!(
        mended
            .out
            .contains("made      2 bands; 29 were there already"),
        "{}",
        mended.out
    );
    let mut files = tree(&place);
    assert_eq!(
        files.remove("drift-6/notes of mine.txt").as_deref(),
        Some(&b"keep"[..])
    );
    assert!(files == whole);
}

#[test]
fn a_damaged_manifest_is_named_and_made_anew() {
    let folder = planned(PLAN);
    let whole = undisturbed(folder.path());
    let manifest = folder.path().join("undisturbed/collection.json");
    let text = fs::read_to_string(&manifest).expect("written");
    for damaged in [
        text[..text.len() / 2].to_owned(),
        text.replace("\"outcome\"", "\"outcom\""),
        text.replace("hitchwork-collection/1", "hitchwork-collection/9"),
        String::new(),
    ] {
        fs::write(&manifest, &damaged).expect("written");
        let verified = hitchwork(folder.path(), &["collect", "undisturbed", "--verify"]);
        assert_eq!(verified.status, Some(2), "{}", verified.out);
        assert!(
            verified
                .err
                .contains("make the collection again from its plan"),
            "{}",
            verified.err
        );
        let said = collect(folder.path(), &["--out", "undisturbed"]);
        assert_eq!(said.status, Some(0), "{}", said.err);
        assert!(tree(&folder.path().join("undisturbed")) == whole);
    }
}

#[test]
fn a_changed_plan_makes_only_what_changed_and_moves_out_only_when_told() {
    let folder = planned(PLAN);
    undisturbed(folder.path());
    let changed = PLAN.replace("threads = [6, 8]", "threads = [8, 10]");
    fs::write(folder.path().join("moorings.toml"), &changed).expect("written");
    let said = collect(folder.path(), &["--out", "undisturbed"]);
    assert!(
        said.out.contains("made      1 band; 30 were there already"),
        "{}",
        said.out
    );
    assert!(
        said.out.contains(
            "3 files of bands that are no longer in the plan, such as drift-6/drift-6.band.json"
        ),
        "{}",
        said.out
    );
    assert!(folder.path().join("undisturbed/drift-6/sheet.txt").exists());
    let still = collect(folder.path(), &["--out", "undisturbed"]);
    assert!(
        still.out.contains("3 files of bands"),
        "it is remembered: {}",
        still.out
    );
    let moved = collect(
        folder.path(),
        &["--out", "undisturbed", "--move-out", "old"],
    );
    assert!(moved.out.contains("3 files out"), "{}", moved.out);
    assert_eq!(files_in(&folder.path().join("old/drift-6")).len(), 3);
    assert!(!folder.path().join("undisturbed/drift-6").exists());
    let fresh = collect(folder.path(), &["--out", "fresh"]);
    assert_eq!(fresh.status, Some(0));
    assert!(tree(&folder.path().join("undisturbed")) == tree(&folder.path().join("fresh")));
}

/// What a plan has left out and takes in again is the collection's own all the while.
#[test]
fn a_plan_that_changes_its_mind_finds_its_own_files_again() {
    let plan = "[defaults]\nlengths = 4\nwrite = [\"text\"]\n[[item]]\nrule = \"own.rhai\"\n";
    let folder = planned(plan);
    let rule = |threads: &str| {
        let rule = format!(
            "/// A mooring.\nlet threads = {threads};\nband(threads).repeat(forward(1..threads))\n"
        );
        fs::write(folder.path().join("own.rhai"), rule).expect("written");
    };
    let run = |more: &[&str]| collect(folder.path(), &[&["--out", "made"], more].concat());
    rule("6");
    assert_eq!(run(&[]).status, Some(0));
    let whole = tree(&folder.path().join("made"));
    // Without its sheet; and with them again, and other ones.
    fs::write(
        folder.path().join("moorings.toml"),
        plan.replace("\"text\"", ""),
    )
    .expect("written");
    assert!(run(&[]).out.contains("1 file of bands"));
    fs::write(folder.path().join("moorings.toml"), plan).expect("written");
    rule("8");
    let said = run(&[]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert!(!said.out.contains("left"), "{}", said.out);
    // Broken for a while, and as it was at first.
    rule("\"six\"");
    assert_eq!(run(&[]).status, Some(1));
    rule("6");
    let said = run(&["--move-out", "old"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert!(!folder.path().join("old").exists());
    assert!(tree(&folder.path().join("made")) == whole);
}

#[test]
fn a_member_that_fails_is_told_and_stops_nothing() {
    // What stripes take depends on the threads: only the member knows.
    let plan = PLAN.replace("threads = \"4..9\"", "stripes = [4, 5], threads = [3, 9]");
    let folder = planned(&plan);
    let said = collect(folder.path(), &["--out", "made"]);
    assert_eq!(said.status, Some(1));
    assert!(said.out.contains("candy_stripe-4-stripes-3-threads-regatta-as-designed: stripes cannot be set like that: 4 is not a whole number from 1 to 3"), "{}", said.out);
    assert!(
        said.out
            .contains("stripes=4, threads=3, palette \"regatta\", seed 0, 4 cm long"),
        "{}",
        said.out
    );
    assert!(said.out.contains("made      15 bands"), "{}", said.out);
    let table = fs::read_to_string(folder.path().join("made/collection.csv")).expect("written");
    assert_eq!(
        table
            .matches("failed: stripes cannot be set like that")
            .count(),
        8
    );
    let strict = collect(
        folder.path(),
        &[
            "--out",
            "strict",
            "--stop-at-first-failure",
            "--workers",
            "1",
        ],
    );
    assert_eq!(strict.status, Some(2));
    assert!(
        strict.err.contains(
            "candy_stripe-4-stripes-3-threads-regatta-as-designed: stripes cannot be set like that"
        ),
        "{}",
        strict.err
    );
    let check = collect(folder.path(), &["--check"]);
    assert_eq!(check.status, Some(1));
    assert!(check.out.contains("proved    15 bands"), "{}", check.out);
}

#[test]
fn two_runs_in_one_folder_exclude_each_other() {
    let folder = planned(PLAN);
    fs::create_dir(folder.path().join("made")).expect("a folder");
    let lock = fs::File::create(folder.path().join("made/.hitchwork-lock")).expect("a file");
    lock.try_lock().expect("nobody else has it");
    for more in [&[][..], &["--part", "1/2"]] {
        let asked: Vec<&str> = ["--out", "made"]
            .into_iter()
            .chain(more.iter().copied())
            .collect();
        let said = collect(folder.path(), &asked);
        assert_eq!(said.status, Some(2));
        assert!(said.err.contains("another run is at work"), "{}", said.err);
    }
}

/// What a plan of some lines for an item lists.
fn listed(item: &str) -> String {
    let folder = planned(&format!("[[item]]\n{item}\n"));
    let said = collect(folder.path(), &["--dry-run"]);
    assert_eq!(said.status, Some(0), "{item}\n{}", said.err);
    said.out
}

#[test]
fn names_say_of_what_a_number_is_where_there_are_several() {
    let two = "rule = \"candy_stripe\"\ngrid = { stripes = [2, 3], threads = [6, 8] }";
    assert!(listed(two).contains("candy_stripe-2-stripes-6-threads"));
    let lengths = "rule = \"drift\"\ngrid = { threads = [6, 8] }\nlengths = [15, 17]";
    assert!(listed(lengths).contains("drift-6-threads-15-cm"));
    // One number alone, and words, are clear enough.
    let one = "rule = \"candy_stripe\"\ngrid = { leans = [\"left\", \"right\"], threads = [6, 8] }";
    assert!(listed(one).contains("candy_stripe-left-6\n"));
}

/// Also a setting that the plan leaves to the rule, if it is the same for all.
#[test]
fn a_name_may_hold_every_setting_of_the_rule() {
    let said = listed("rule = \"drift\"\nname = \"{rule}-{threads}-band\"");
    assert!(said.contains("drift-10-band"), "{said}");
    let said = listed(
        "rule = \"candy_stripe\"\nname = \"{leans}-{threads}\"\ngrid = { threads = [6, 8] }",
    );
    assert!(said.contains("-6\n") && said.contains("-8\n"), "{said}");
    // How many stripes there are follows from the threads.
    let folder = planned(
        "[[item]]\nrule = \"candy_stripe\"\nname = \"{stripes}-{threads}\"\ngrid = { threads = [3, 8] }\n",
    );
    let said = collect(folder.path(), &["--dry-run"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(
        said.err.contains("stripes differs from band to band"),
        "{}",
        said.err
    );
}

#[test]
fn wrists_of_an_item_take_the_place_of_lengths_in_the_defaults() {
    let folder =
        planned("[defaults]\nlengths = 15\n[[item]]\nrule = \"drift\"\nwrists = [\"woman\"]\n");
    let said = collect(folder.path(), &["--dry-run", "--json"]);
    let plan: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
    assert_eq!(plan["members"], 1, "{}", said.out);
}

#[test]
fn a_class_of_a_plan_that_was_never_made_is_told_to_make_it() {
    let folder = planned("[[item]]\nrule = \"drift\"\n");
    let said = collect(folder.path(), &["--class", "buy.txt"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(said.err.contains("has not been made yet"), "{}", said.err);
    assert!(
        said.err.contains("hitchwork collect moorings.toml"),
        "{}",
        said.err
    );
}

#[test]
fn plans_that_cannot_be_are_refused_at_their_place() {
    for (from, to, said) in [
        (
            "rule = \"drift\"",
            "rule = \"drfit\"",
            "did you mean drift?",
        ),
        (
            "rule = \"drift\"",
            "rule = \"drift.rhai\"",
            "cannot be read",
        ),
        ("rule = \"drift\"", "ruel = \"drift\"", "ruel"),
        ("\"drifts\"", "\"drfts\"", "did you mean drifts?"),
        (
            "by = \"contrast\"",
            "by = \"contrats\"",
            "did you mean contrast?",
        ),
        (
            "threads = [6, 8]",
            "treads = [6, 8]",
            "did you mean threads?",
        ),
        (
            "threads = [6, 8]",
            "threads = []",
            "there is no value to combine",
        ),
        (
            "threads = \"4..9\"",
            "threads = \"9..4\"",
            "there is nothing from 9 to 4",
        ),
        (
            "seeds = \"1..40\"",
            "seeds = \"40..1\"",
            "there is no seed from 40 to 1",
        ),
        (
            "\"spring tide\"",
            "\"spring tyde\"",
            "did you mean \"spring tide\"?",
        ),
        (
            "mirrored = [false, true]",
            "mirrored = [\"left\"]",
            "\"mirrored\" is true, false or both in a list",
        ),
        ("lengths = 4", "lengths = \"long\"", "is not a number"),
        (
            "lengths = 4",
            "lengths = 4\npace = \"practiced\"",
            "did you mean practised?",
        ),
        ("lengths = 4", "lengths = 4\npace = 0.5", "1 to 600"),
        ("lengths = 4", "lengths = 4\npace = true", "is not a pace"),
        ("lengths = 4", "lengths = 4\npace = \"0:60\"", "a timed row"),
        (
            "write = [\"fabric\", \"text\"]",
            "write = [\"fabrics\"]",
            "there is no \"fabrics\" to write",
        ),
        (
            "keep = [\"drifts\"]",
            "name = \"../{threads}\"",
            "its name cannot lead anywhere else",
        ),
        (
            "keep = [\"drifts\"]",
            "name = \"{thraeds}\"",
            "did you mean {threads}?",
        ),
        (
            "keep = [\"drifts\"]",
            "name = \"boat\"",
            "two bands would be called boat",
        ),
        (
            "keep = [\"drifts\"]",
            "name = \"collection.{threads}\"",
            "is the name of a file of the collection itself",
        ),
        (
            "keep = [\"drifts\"]",
            "name = \".{threads}\"",
            "begins with a dot",
        ),
        (
            "title = \"Moorings\"",
            "title = Moorings",
            "put text in quotes: \"Moorings\"",
        ),
        (
            "threads = [6, 8]",
            "threads = \"6-8\"",
            "\"6-8\" is not a range",
        ),
        ("threads = [6, 8]", "threads = \"6-8\"", "write \"6..8\""),
        (
            "threads = [6, 8]",
            "threads = 6..8",
            "put a range in quotes: \"6..8\"",
        ),
        (
            "threads = [6, 8]",
            "threads = \"36..44:4\"",
            "44 is not a whole number from 4 to 40",
        ),
        (
            "threads = [6, 8]",
            "threads = [\"six\"]",
            "threads cannot be set like that",
        ),
        ("[[item]]", "[item]", "write [[item]], with two brackets"),
        (
            "lengths = 4",
            "lengths = 4\nthreads = 8",
            "write settings = { threads = 8 }",
        ),
        (
            "lengths = 4",
            "lengths = 4\npallettes = [\"gull\"]",
            "did you mean \"palettes\"?",
        ),
        (
            "lengths = 4",
            "lengths = 4\nbest = 3",
            "write best = { count = 3 }",
        ),
        (
            "lengths = 4",
            "lengths = 4\nreject = \"threads > 9\"",
            "write reject = [\"threads > 9\"]",
        ),
        (
            "lengths = 4",
            "lengths = 4\nwrists = [\"woman\"]",
            "lengths and wrists are both given here",
        ),
        ("count = 5", "count = 0", "the best 0 leave nothing to make"),
    ] {
        let plan = PLAN.replacen(from, to, 1);
        assert_ne!(plan, PLAN, "{from}");
        let folder = planned(&plan);
        let refused = collect(folder.path(), &["--out", "made"]);
        assert_eq!(refused.status, Some(2), "{to}: {}", refused.out);
        let words = refused.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(said), "{to}:\n{}", refused.err);
        assert!(
            words.contains("moorings.toml:") && words.contains('^')
                || to.contains(".rhai")
                || words.contains("not-a-plan"),
            "{to}:\n{}",
            refused.err
        );
        assert!(!folder.path().join("made").exists(), "{to}");
    }
}

#[test]
fn a_dry_run_lists_and_estimates_and_makes_nothing() {
    let folder = planned(PLAN);
    let said = collect(folder.path(), &["--dry-run"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(said.out.lines().count(), 24 + 2 + 40);
    assert!(
        said.err
            .contains("Moorings: at most 31 bands of 66 candidates"),
        "{}",
        said.err
    );
    assert_eq!(files_in(folder.path()), ["moorings.toml"]);
}

#[test]
fn a_class_gets_its_lists() {
    let folder = planned(PLAN);
    undisturbed(folder.path());
    for name in ["buy.txt", "buy.csv", "buy.html"] {
        let said = hitchwork(
            folder.path(),
            &[
                "collect",
                "undisturbed",
                "--class",
                name,
                "--choose",
                "drift-8,drift-6",
                "--people",
                "7",
            ],
        );
        assert_eq!(said.status, Some(0), "{}", said.err);
    }
    let text = fs::read_to_string(folder.path().join("buy.txt")).expect("written");
    assert!(text.contains("2 bands for 7 people, one of each"), "{text}");
    let page = fs::read_to_string(folder.path().join("buy.html")).expect("written");
    let gallery = folder.path().join("undisturbed/index.html");
    let gallery = fs::read_to_string(gallery).expect("written");
    for line in care(false) {
        assert!(text.contains(&format!("  - {line}\n")), "{line} {text}");
        for shown in [&page, &gallery] {
            let (_, footer) = shown.split_once("<footer>").expect("a footer");
            assert!(footer.contains(&format!("<li>{line}</li>")), "{line}");
        }
    }
    assert!(page.contains("@font-face"), "the page carries its letters");
    assert!(page.contains("font-src data:;"), "and may use them");
    // Seven of each piece that one person cuts.
    let table = fs::read_to_string(folder.path().join("buy.csv")).expect("written");
    let pieces: u32 = table
        .lines()
        .skip(1)
        .map(|line| {
            line.split(',')
                .nth(4)
                .expect("six fields")
                .parse::<u32>()
                .expect("a count")
        })
        .sum();
    assert_eq!(pieces, 7 * (6 + 8));
    let unknown = hitchwork(
        folder.path(),
        &[
            "collect",
            "undisturbed",
            "--class",
            "x.txt",
            "--choose",
            "drift-9",
        ],
    );
    assert!(
        unknown.err.contains("did you mean drift-8?")
            || unknown.err.contains("did you mean drift-6?"),
        "{}",
        unknown.err
    );
}

/// Writing into a folder in which nobody may write is refused with a clear word, and what
/// was finished before stays. (The mighty user of a test machine may write everywhere.)
#[test]
fn a_folder_that_takes_no_files_is_named() {
    let folder = planned(PLAN);
    fs::write(folder.path().join("made"), "a file").expect("written");
    let said = collect(folder.path(), &["--out", "made"]);
    assert_eq!(said.status, Some(2));
    assert!(
        said.err
            .contains("made is a file, and a collection is a folder"),
        "{}",
        said.err
    );
    fs::create_dir_all(folder.path().join("full")).expect("a folder");
    fs::write(folder.path().join("full/drift-8"), "in the way").expect("written");
    let said = collect(folder.path(), &["--out", "full"]);
    assert_eq!(said.status, Some(2));
    assert!(said.err.contains("drift-8 is in the way"), "{}", said.err);
    assert_eq!(
        fs::read(folder.path().join("full/drift-8")).expect("there"),
        b"in the way"
    );
}

/// Whatever `make` can write of a band a plan can write too, and with the same bytes.
#[test]
fn a_plan_writes_all_that_make_writes() {
    let names: Vec<&str> = hitchwork_draw::output::Output::all()
        .map(hitchwork_draw::output::Output::name)
        .collect();
    assert!(names.contains(&"tile"));
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    let plan = format!(
        "title = \"Moorings\"\n[[item]]\nname = \"drift\"\nrule = \"drift\"\nsettings = {{ threads = 8 }}\nlengths = 4\nwrite = [{}]\n",
        quoted.join(", ")
    );
    let place = folder();
    fs::write(place.path().join("plan.toml"), plan).expect("written");
    let with = names.join(",");
    let make = "make drift --set threads=8 --length 4 --out made --with";
    let mut words: Vec<&str> = make.split(' ').collect();
    words.push(&with);
    for words in [&["collect", "plan.toml", "--out", "all"][..], &words] {
        let said = hitchwork(place.path(), words);
        assert_eq!(said.status, Some(0), "{}", said.err);
    }
    let mut made = files_in(&place.path().join("made"));
    made.retain(|name| !name.ends_with(".png"));
    assert_eq!(made, files_in(&place.path().join("all/drift")));
    for name in made.iter().filter(|name| !name.ends_with(".band.json")) {
        let read = |folder: &str| fs::read(place.path().join(folder).join(name)).expect("there");
        assert!(read("made") == read("all/drift"), "{name}");
    }
}
