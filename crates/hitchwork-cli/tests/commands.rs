//! The command as people and scripts meet it: standard output, standard error and exit
//! status together.

use std::fs;

use hitchwork_core::care::care;
use snapbox::{assert_data_eq, str};

use crate::common::{Said, files_in, folder, hitchwork};

/// Asserts a refusal: exit status 2, nothing on standard output, nothing written.
fn refused(arguments: &[&str]) -> String {
    let folder = folder();
    let said = hitchwork(folder.path(), arguments);
    assert_eq!(
        said.status,
        Some(2),
        "{arguments:?} says {}{}",
        said.out,
        said.err
    );
    assert_eq!(said.out, "", "{arguments:?}");
    assert!(
        files_in(folder.path()).is_empty(),
        "{arguments:?} wrote {:?}",
        files_in(folder.path())
    );
    said.err
}

/// A leader that shows everywhere hides the colours of all others: that is told once, and not
/// eleven times.
#[test]
fn many_notes_of_one_kind_are_gathered() {
    let folder = folder();
    let rule = r#"
        let rows = [leader_right(1..12), leader_left(1..12)].leader_shows();
        band(12).repeat(rows).colours(fade("spring tide", 12))"#;
    fs::write(folder.path().join("plain.rhai"), rule).expect("written");
    let said = hitchwork(folder.path(), &["check", "plain.rhai"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(
        said.out.matches("so its colour never shows").count(),
        2,
        "{}",
        said.out
    );
    let gathered = "note[colour-never-shows]: 7 more, the same of threads 5, 6, 7, 8, 9, 10, 11\n";
    assert!(said.out.contains(gathered), "{}", said.out);
}

/// Six threads of three colours, painted so that the best that there is misses twice.
const SPOTS: &str = r##"
let marks = #{ "a": colour("sea", "#1d6f8c"), "b": colour("foam", "#e8f1ee"), "c": colour("lamp", "#ffc145") };
let spots = picture(["abaca", "aaaab", "bbbbb", "ccccc", "abcab", "bcabc"], #{ marks: marks });
let tied = solved(spots);
require(tied.misses == 2 && tied.proved, `${tied}`, "this test counts on it");
band(tied.threads).repeat(tied.rows).colours(tied.colours)
"##;

#[test]
fn a_band_whose_knots_were_looked_for_says_how_many_miss() {
    let folder = folder();
    fs::write(folder.path().join("spots.rhai"), SPOTS).expect("written");
    for arguments in [
        &["check", "spots.rhai"][..],
        &["make", "spots.rhai"],
        &["check", "spots.rhai", "--mirrored", "--json"],
    ] {
        let said = hitchwork(folder.path(), arguments);
        assert_eq!(said.status, Some(0), "{}", said.err);
        let line = "picture: 2 of the 15 knots that are to show it show another colour\n";
        assert_eq!(said.err, line);
    }
    // Nothing is said where every knot shows its picture.
    let said = hitchwork(folder.path(), &["check", "rollers"]);
    assert_eq!((said.status, said.err.as_str()), (Some(0), ""));
}

#[test]
fn make_proves_draws_and_writes_a_band() {
    let folder = folder();
    let said = hitchwork(
        folder.path(),
        &["make", "drift", "--set", "threads=10", "--out", "made"],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_data_eq!(
        said.out,
        str![[r#"
drift, 10 threads
  threads     10, in 10 colours
  repeat      2 rows of 18 knots, 4.2 mm longer each time
  comes round after 10 repeats; you tie 37
  drifts      1 step of 10 colours at every repeat
  symmetry    knots and colours have no symmetry (p1)
  size        1.0 cm wide and 15.4 cm long without ties, 666 knots
  thread      10 threads of 100 to 110 cm, 10.7 m in all
  time        about 2 h 25 min at 12 seconds for a knot
  difficulty  middling, 5 of 10 (3 kinds of knot, and 4 changes of kind within a thread's knots per repeat)
  begins      half triangle from the left (the edge slants down to the right)
  ends        half triangle from the left (the edge slants down to the right)
  hang        1 coral, 2 [..]
  findings    none
  files       made/drift.band.json
              made/fabric.svg
              made/fabric.png
              made/strands.svg
              made/order.svg
              made/sheet.html
              made/sheet.txt

"#]]
    );
    assert_eq!(
        files_in(&folder.path().join("made")),
        [
            "drift.band.json",
            "fabric.png",
            "fabric.svg",
            "order.svg",
            "sheet.html",
            "sheet.txt",
            "strands.svg"
        ]
    );
}

#[test]
fn making_again_replaces_its_own_files_and_touches_no_others() {
    let folder = folder();
    let made = folder.path().join("made");
    fs::create_dir(&made).expect("a fresh folder");
    fs::write(made.join("notes.txt"), "mine").expect("writable");
    let make = ["make", "drift", "--set", "threads=12", "--out", "made"];
    assert_eq!(hitchwork(folder.path(), &make).status, Some(0));
    let longer = fs::read(made.join("sheet.txt")).expect("written");
    let make = ["make", "drift", "--set", "threads=6", "--out", "made"];
    assert_eq!(hitchwork(folder.path(), &make).status, Some(0));
    let first = fs::read(made.join("sheet.txt")).expect("written");
    let band = fs::read(made.join("drift.band.json")).expect("written");
    assert!(first.len() < longer.len(), "the older file is gone whole");
    assert_eq!(hitchwork(folder.path(), &make).status, Some(0));
    assert_eq!(fs::read(made.join("sheet.txt")).expect("written"), first);
    assert_eq!(
        fs::read(made.join("drift.band.json")).expect("written"),
        band
    );
    assert_eq!(
        fs::read_to_string(made.join("notes.txt")).expect("still there"),
        "mine"
    );
    assert_eq!(
        files_in(&made),
        [
            "drift.band.json",
            "fabric.png",
            "fabric.svg",
            "notes.txt",
            "order.svg",
            "sheet.html",
            "sheet.txt",
            "strands.svg"
        ]
    );
}

#[test]
fn a_written_band_file_is_the_same_band() {
    let folder = folder();
    let make = ["make", "drift", "--set", "threads=8", "--out", "made"];
    assert_eq!(hitchwork(folder.path(), &make).status, Some(0));
    let of_rule = hitchwork(
        folder.path(),
        &["check", "drift", "--set", "threads=8", "--json"],
    );
    let of_file = hitchwork(folder.path(), &["check", "made/drift.band.json", "--json"]);
    assert_eq!(of_rule.out, of_file.out);
    let again = ["make", "made/drift.band.json", "--out", "again"];
    assert_eq!(hitchwork(folder.path(), &again).status, Some(0));
    for file in [
        "drift.band.json",
        "fabric.svg",
        "fabric.png",
        "sheet.html",
        "sheet.txt",
    ] {
        let read = |made: &str| fs::read(folder.path().join(made).join(file)).expect("written");
        assert!(read("made") == read("again"), "{file} differs");
    }
}

#[test]
fn check_says_how_often_the_thread_changes() {
    let folder = folder();
    let said = hitchwork(folder.path(), &["check", "diamonds", "--json"]);
    let report: serde_json::Value = serde_json::from_str(&said.out).expect("data");
    let work = serde_json::json!({
        "as_written": { "thread_changes": 131, "pieces": 132 },
        "easiest": { "thread_changes": 33, "pieces": 42 },
        "least_thread_changes": 33,
        "proved": true,
        "followed": { "thread_changes": 33, "pieces": 42 },
    });
    assert_eq!(report["work"], work);
    let line = |rule: &str| {
        let said = hitchwork(folder.path(), &["check", rule]);
        let mut lines = said.out.lines();
        let line = lines.find_map(|line| line.strip_prefix("  work        "));
        line.expect("a line").to_owned()
    };
    assert_eq!(
        line("diamonds"),
        "131 changes of thread a repeat as written; 33 in the easiest order, and no order has fewer"
    );
    assert_eq!(
        line("candy_stripe"),
        "1 change of thread a repeat; no order has fewer"
    );
    let wide = line("boats");
    assert!(
        wide.starts_with("247 changes of thread a repeat as written; ")
            && wide.contains(" in the easiest order that was found, and none can have fewer than ")
            && wide.ends_with("; the sheet keeps the rows as they are written"),
        "{wide}"
    );
    assert_eq!(
        line("drizzle"),
        "132 changes of thread a repeat as written; 58 in the easiest order, and no order has fewer; \
         the sheet has an order with 62, which spares rows before and after"
    );
}

#[test]
fn check_says_as_data_how_the_fabric_lies() {
    let folder = folder();
    let rule = "/// Rows to and fro over a leader.\nband(10).repeat([forward(1..10), backward(1..10)]).repeats(10)\n";
    fs::write(folder.path().join("leader.rhai"), rule).expect("written");
    let lay = |rule: &str| {
        let said = hitchwork(folder.path(), &["check", rule, "--json"]);
        let report: serde_json::Value = serde_json::from_str(&said.out).expect("data");
        report["lay"].clone()
    };
    let soft = lay("leader.rhai");
    assert_eq!(soft["solved"], true, "{soft}");
    assert_eq!(soft["settled"], true, "{soft}");
    let near = |name: &str, expected: f64| {
        (soft[name].as_f64().expect("a number") - expected).abs() < 1e-3
    };
    assert!(
        near("width_knots", 8.0) && near("length_knots", 19.0),
        "{soft}"
    );
    assert!(near("energy_per_knot", 0.0), "{soft}");
    assert!(soft["bend_radius_mm"].is_null(), "{soft}");
    let closed = lay("drift");
    assert_eq!(
        (&closed["solved"], &closed["rounds"]),
        (&false.into(), &0.into()),
        "{closed}"
    );
    assert!(
        closed["knot_mm"].as_f64() > Some(0.0) && closed["longest_open_mm"].as_f64() > Some(0.0)
    );
}

#[test]
fn check_reports_as_data() {
    let said = hitchwork(
        folder().path(),
        &[
            "check",
            "drift",
            "--set",
            "threads=5",
            "--set",
            "turns=2",
            "--json",
        ],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    let report: serde_json::Value =
        serde_json::from_str(&said.out).expect("JSON alone on standard output");
    assert_eq!(report["threads"], 5);
    assert_eq!(report["rows_per_repeat"], 2);
    assert_eq!(report["knots_per_repeat"], 8);
    assert_eq!(
        report["order_after_repeat"],
        serde_json::json!([2, 4, 1, 5, 3])
    );
    assert_eq!(report["cycles"], serde_json::json!([[1, 3, 5, 4, 2]]));
    assert_eq!(report["repeats_to_close"], 5);
    assert_eq!(
        report["drift"],
        serde_json::json!({ "colours": 5, "steps_per_repeat": 1 })
    );
    assert_eq!(report["half_rows_per_repeat"], 4.0);
    assert_eq!(report["knots_by_column"], serde_json::json!([2, 2, 2, 2]));
    assert_eq!(report["edges"]["start"]["shape"], "slants-right");
    assert_eq!(report["findings"], serde_json::json!([]));
}

const SPLIT: &str = r##"{
  "palette": [{ "name": "lamp", "srgb": "#ffc145" }, { "name": "night", "srgb": "#1c2541" }],
  "threads": [0, 1, 0, 1],
  "repeat": [{ "knots": [{ "at": 1, "kind": "forward" }, { "at": 3, "kind": "forward" }] }],
  "repeats": 30
}"##;

#[test]
fn a_band_that_comes_apart_is_not_written() {
    let folder = folder();
    fs::write(folder.path().join("split.band.json"), SPLIT).expect("writable");
    let said = hitchwork(folder.path(), &["make", "split.band.json", "--out", "made"]);
    assert_eq!(said.status, Some(1));
    assert!(
        said.out
            .contains("error[splits-apart]: the band splits in two between positions 2 and 3"),
        "{}",
        said.out
    );
    assert!(said.out.contains("Nothing was written"), "{}", said.out);
    assert_eq!(files_in(folder.path()), ["split.band.json"]);
    // It can still be looked at.
    let drawn = hitchwork(
        folder.path(),
        &["draw", "split.band.json", "--out", "split.svg"],
    );
    assert_eq!(drawn.status, Some(0), "{}", drawn.err);
}

#[test]
fn strict_takes_warnings_seriously() {
    let folder = folder();
    let rule = "band(6).repeat([forward(odd_columns(6)).times(3), forward(even_columns(6))]).starts(flat()).finishes(flat())";
    fs::write(folder.path().join("open.rhai"), rule).expect("writable");
    let lenient = hitchwork(folder.path(), &["check", "open.rhai"]);
    assert_eq!(lenient.status, Some(0));
    assert!(
        lenient.out.contains("warning[uneven-columns]"),
        "{}",
        lenient.out
    );
    assert_eq!(
        hitchwork(folder.path(), &["check", "open.rhai", "--strict"]).status,
        Some(1)
    );
    assert_eq!(
        hitchwork(folder.path(), &["make", "open.rhai", "--strict"]).status,
        Some(1)
    );
    assert_eq!(files_in(folder.path()), ["open.rhai"]);
}

#[test]
fn a_finding_points_at_the_line_that_made_the_knot() {
    let folder = folder();
    let rule = "let base = forward(odd_columns(6));\nlet rest = forward(even_columns(6));\nband(6).repeat([base, base, base, rest])";
    fs::write(folder.path().join("bent.rhai"), rule).expect("writable");
    let said = hitchwork(folder.path(), &["check", "bent.rhai", "--json"]);
    let report: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
    let finding = report["findings"]
        .as_array()
        .into_iter()
        .flatten()
        .find(|finding| finding["code"] == "uneven-columns");
    let finding = finding.unwrap_or_else(|| panic!("the band puckers: {report}"));
    assert_eq!(finding["where"]["rule"]["file"], "bent.rhai");
    assert_eq!(finding["where"]["rule"]["line"], 1);
}

#[test]
fn mirrored_is_the_mirror_image() {
    let folder = folder();
    let right = hitchwork(
        folder.path(),
        &["check", "drift", "--set", "threads=7", "--json"],
    );
    let left = hitchwork(
        folder.path(),
        &[
            "check",
            "drift",
            "--set",
            "threads=7",
            "--json",
            "--mirrored",
        ],
    );
    let read = |said: &Said| serde_json::from_str::<serde_json::Value>(&said.out).expect("JSON");
    let (right, left) = (read(&right), read(&left));
    assert_eq!(right["edges"]["start"]["shape"], "slants-right");
    assert_eq!(left["edges"]["start"]["shape"], "slants-left");
    assert_eq!(right["repeats_to_close"], left["repeats_to_close"]);
    let sheet = hitchwork(folder.path(), &["sheet", "drift", "--mirrored"]);
    assert!(sheet.out.contains("backward"), "{}", sheet.out);
}

/// Letters and flags can be read one way round only: whoever mirrors a band that has them is told.
#[test]
fn words_that_would_be_read_mirrored_are_told() {
    let place = folder();
    let said = |rule: &str, more: &[&str]| {
        let said = hitchwork(place.path(), &[&["check", rule, "--json"], more].concat());
        said.err.contains("words: the rule sets words in letters or flags, and mirrored they are read the wrong way round")
    };
    assert!(said("nameboard", &["--mirrored"]));
    assert!(said("hoist", &["--mirrored"]));
    assert!(!said("nameboard", &[]));
    assert!(!said("drift", &["--mirrored"]));
    let sheet = hitchwork(place.path(), &["sheet", "nameboard", "--out", "sheet.html"]);
    assert_eq!(sheet.status, Some(0), "{}", sheet.err);
    let page = fs::read_to_string(place.path().join("sheet.html")).expect("a page");
    assert!(page.contains("Letters in a mirrored band read the wrong way round."));
}

/// All of a text, its words one space apart.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Every sheet says what to be careful with, and one line more for a child, whether that is said
/// by name, by the size of the wrist or in a plan.
#[test]
fn a_sheet_says_what_to_be_careful_with() {
    let folder = folder();
    let sheet = |more: &[&str]| {
        let said = hitchwork(folder.path(), &[&["sheet", "drift"], more].concat());
        assert_eq!(said.status, Some(0), "{}", said.err);
        unwrapped(&said.out)
    };
    let (usual, for_a_child) = (care(false), care(true));
    let more: Vec<&str> = for_a_child
        .iter()
        .filter(|line| !usual.contains(line))
        .copied()
        .collect();
    let [more] = more.as_slice() else {
        panic!("one line more, not {more:?}");
    };
    for format in ["text", "html"] {
        let shown = sheet(&["--format", format]);
        for line in &usual {
            assert!(shown.contains(line), "{line}\n{shown}");
        }
        assert!(!shown.contains(more));
        assert!(!sheet(&["--format", format, "--wrist", "woman"]).contains(more));
        for wrist in ["child", "12"] {
            let shown = sheet(&["--format", format, "--wrist", wrist]);
            assert!(shown.contains(more), "{shown}");
        }
    }
    let plan = "[[item]]\nrule = \"drift\"\nwrists = [\"child\", \"woman\"]\nwrite = [\"text\"]\n";
    fs::write(folder.path().join("plan.toml"), plan).expect("written");
    let said = hitchwork(folder.path(), &["collect", "plan.toml", "--out", "made"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    for (member, is_for_a_child) in [("drift-11.9", true), ("drift-14.9", false)] {
        let path = folder.path().join("made").join(member).join("sheet.txt");
        let sheet = fs::read_to_string(path).expect("written");
        assert_eq!(unwrapped(&sheet).contains(more), is_for_a_child, "{member}");
    }
}

/// What is proved of knots and colours is said in sentences, whatever is found of them.
#[test]
fn symmetries_and_coming_round_are_sentences() {
    let folder = folder();
    let line = |rule: &str, label: &str| {
        let said = hitchwork(folder.path(), &["check", rule]);
        let line = said.out.lines().find(|line| line.trim().starts_with(label));
        line.unwrap_or_default().trim().to_owned()
    };
    // Its knots mirror each other but for those in the middle, where one thread has to lead.
    assert_eq!(
        line("chevron", "symmetry"),
        "symmetry    the knots have no symmetry (p1); without the middle column they have mirror along (p11m); the colours have mirror along (p11m)"
    );
    assert_eq!(
        line("straight_drift", "symmetry"),
        "symmetry    the knots have half turns (p2); the colours have no symmetry (p1)"
    );
}

/// The sheet says for which thread its lengths are, and for which wrist, if that was asked.
#[test]
fn a_sheet_says_for_which_thread_and_wrist_it_is() {
    let folder = folder();
    let sheet = |more: &[&str]| {
        let said = hitchwork(folder.path(), &[&["sheet", "chevron"], more].concat());
        assert_eq!(said.status, Some(0), "{}", said.err);
        unwrapped(&said.out)
    };
    let usual = sheet(&[]);
    let floss = "For thread about 0.6 mm thick, such as six-strand cotton floss, all six strands together; another thread needs other lengths.";
    assert!(usual.contains(&format!("CUT {floss} - ")), "{usual}");
    assert!(!usual.contains("For a wrist"));
    let cord = sheet(&["--thread", "waxed", "--wrist", "woman"]);
    assert!(
        cord.contains("CUT For a wrist 15.5 cm round. For thread about 0.8 mm thick, such as waxed polyester cord"),
        "{cord}"
    );
    // A thickness that no class has is told as what it is.
    let odd = sheet(&["--thread", "0.7mm", "--wrist", "16"]);
    assert!(
        odd.contains("For a wrist 16.0 cm round. For thread about 0.7 mm thick; another"),
        "{odd}"
    );
}

#[test]
fn a_length_sets_the_repeats() {
    let folder = folder();
    let repeats = |length: &str| {
        let said = hitchwork(
            folder.path(),
            &["check", "drift", "--json", "--length", length],
        );
        let report: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
        (
            report["repeats"].as_u64().expect("a count"),
            report["size_mm"]["length"].as_f64().expect("a length"),
        )
    };
    let (few, short) = repeats("10");
    let (many, long) = repeats("20");
    assert!(many > few);
    assert!(short >= 100.0 && long >= 200.0, "{short} {long}");
}

#[test]
fn rules_are_listed_with_their_settings() {
    let said = hitchwork(folder().path(), &["rules", "list", "--json"]);
    assert_eq!(said.status, Some(0));
    let rules: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
    let drift = rules
        .as_array()
        .into_iter()
        .flatten()
        .find(|rule| rule["name"] == "drift")
        .expect("built in");
    assert_eq!(
        drift["sentence"],
        "A slanted band whose colours drift one step at every repeat."
    );
    let threads = &drift["settings"][0];
    assert_eq!(threads["name"], "threads");
    assert_eq!(
        threads["range"],
        serde_json::json!({ "kind": "whole", "least": 4, "most": 40 })
    );
    assert_eq!(threads["default"], 10);
    let shown = hitchwork(folder().path(), &["rules", "show", "drift"]);
    assert!(
        shown
            .out
            .contains("a whole number from 4 to 40; default: 10"),
        "{}",
        shown.out
    );
    let text = hitchwork(folder().path(), &["rules", "show", "drift", "--text"]);
    assert!(text.out.starts_with("/// A slanted band"), "{}", text.out);
}

#[test]
fn every_code_is_explained() {
    let folder = folder();
    let all = hitchwork(folder.path(), &["explain"]);
    assert_eq!(all.status, Some(0));
    let codes: Vec<&str> = all
        .out
        .lines()
        .filter_map(|line| line.strip_prefix("  ")?.split(' ').next())
        .collect();
    assert!(codes.len() > 15, "{codes:?}");
    for code in codes {
        let page = hitchwork(folder.path(), &["explain", code]);
        assert_eq!(page.status, Some(0));
        assert!(
            page.out.starts_with(code) && page.out.contains("What to do"),
            "{}",
            page.out
        );
    }
    assert!(refused(&["explain", "no-such-code"]).contains("there is no code no-such-code"));
    assert!(refused(&["explain", "no-drif"]).contains("did you mean no-drift?"));
    assert!(refused(&["explain", "open-gap"]).contains("did you mean open-gaps?"));
    // As they are copied from what was said.
    let page = hitchwork(folder.path(), &["explain", "no-drift"]).out;
    for copied in [
        "[no-drift]",
        "error[no-drift]",
        "error[no-drift]: 4 colours cannot drift",
        " no-drift ",
    ] {
        assert_eq!(hitchwork(folder.path(), &["explain", copied]).out, page);
    }
    let warned = hitchwork(folder.path(), &["explain", "warning[open-gaps]"]);
    assert!(warned.out.starts_with("open-gaps"), "{}", warned.out);
}

#[test]
fn a_limit_of_nothing_says_what_it_would_mean() {
    for (limit, of) in [("--seconds", "seconds"), ("--operations", "steps")] {
        let said = refused(&["check", "drift", limit, "0"]);
        assert!(
            said.contains(&format!(
                "a rule that may take 0 {of} is stopped before it begins"
            )),
            "{said}"
        );
        assert!(refused(&["check", "drift", limit, "few"]).contains("a whole number of"));
    }
    let folder = folder();
    let enough = [
        "check",
        "drift",
        "--seconds",
        "1000",
        "--operations",
        "9000000",
    ];
    assert_eq!(hitchwork(folder.path(), &enough).status, Some(0));
}

#[test]
fn a_palette_or_a_word_that_was_nearly_given_is_guessed() {
    let said = refused(&["make", "drift", "--palette", "sprng tide"]);
    assert!(said.contains("did you mean \"spring tide\"?"), "{said}");
    let said = refused(&["make", "drift", "--set", "palette=Harbor lights"]);
    assert!(said.contains("did you mean \"harbour lights\"?"), "{said}");
    for pace in ["Practised", "practiced"] {
        let said = refused(&["check", "drift", "--pace", pace]);
        assert!(said.contains("did you mean practised?"), "{said}");
    }
}

#[test]
fn completions_and_manual_are_written() {
    let folder = folder();
    let bash = hitchwork(folder.path(), &["completions", "bash"]);
    assert!(bash.status == Some(0) && bash.out.contains("_hitchwork"));
    let manual = hitchwork(folder.path(), &["manual"]);
    assert!(manual.status == Some(0) && manual.out.contains(".TH hitchwork"));
}

#[test]
fn unknown_and_refused_settings_say_what_there_is() {
    let unknown = refused(&["make", "drift", "--set", "thread=10"]);
    assert!(
        unknown.contains("the rule has no setting called thread"),
        "{unknown}"
    );
    assert!(
        unknown.contains("did you mean threads?") && unknown.contains("from 4 to 40"),
        "{unknown}"
    );
    let outside = refused(&["make", "drift", "--set", "threads=41"]);
    assert!(
        outside.contains("41 is not a whole number from 4 to 40"),
        "{outside}"
    );
    let malformed = refused(&["make", "drift", "--set", "threads"]);
    assert!(malformed.contains("write it as NAME=VALUE"), "{malformed}");
    let palette = refused(&["check", "drift", "--palette", "sprint tide"]);
    assert!(palette.contains("spring tide"), "{palette}");
    let rule = refused(&["make", "drfit"]);
    assert!(
        rule.contains("there is no built-in rule called drfit"),
        "{rule}"
    );
    let seed = refused(&["make", "drift", "--seed", "minus one"]);
    assert!(seed.contains("--seed"), "{seed}");
}

#[test]
fn unusable_places_to_write_lose_nothing() {
    let folder = folder();
    fs::write(folder.path().join("taken"), "a file").expect("writable");
    let said = hitchwork(folder.path(), &["make", "drift", "--out", "taken"]);
    assert_eq!(said.status, Some(2));
    assert!(
        said.err
            .contains("part of the path is a file, not a folder"),
        "{}",
        said.err
    );
    assert_eq!(
        fs::read_to_string(folder.path().join("taken")).expect("still there"),
        "a file"
    );
    assert_eq!(files_in(folder.path()), ["taken"]);

    // A folder that stands where a file should go stops everything before anything moves.
    let made = folder.path().join("made");
    fs::create_dir_all(made.join("sheet.txt")).expect("writable");
    let said = hitchwork(folder.path(), &["make", "drift", "--out", "made"]);
    assert_eq!(said.status, Some(2));
    assert!(said.err.contains("is a folder"), "{}", said.err);
    assert_eq!(files_in(&made), ["sheet.txt"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said_and_leaves_nothing_behind() {
    // A device that is always full stands in for the disk.
    let said = std::process::Command::new(env!("CARGO_BIN_EXE_hitchwork"))
        .args(["sheet", "drift"])
        .stdout(
            fs::OpenOptions::new()
                .write(true)
                .open("/dev/full")
                .expect("there on every Linux"),
        )
        .output()
        .expect("the command starts");
    assert_eq!(said.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&said.stderr).contains("the disk is full"));
}

#[test]
fn draw_needs_to_know_what_kind_of_picture() {
    assert!(refused(&["draw", "drift", "--out", "band.gif"]).contains(".svg or .png"));
    let folder = folder();
    let svg = hitchwork(
        folder.path(),
        &["draw", "drift", "--set", "threads=6", "--repeats", "3"],
    );
    assert!(
        svg.status == Some(0) && svg.out.starts_with("<svg"),
        "{}",
        svg.err
    );
    let png = hitchwork(
        folder.path(),
        &["draw", "drift", "--out", "band.png", "--repeats", "3"],
    );
    assert_eq!(png.status, Some(0), "{}", png.err);
    assert!(
        fs::read(folder.path().join("band.png"))
            .expect("written")
            .starts_with(b"\x89PNG")
    );
}

#[test]
fn a_bad_rule_is_refused_at_its_line() {
    let folder = folder();
    fs::write(
        folder.path().join("typo.rhai"),
        "let n = 6;\nband(n).repeat(forwrd(1..n))\n",
    )
    .expect("writable");
    let said = hitchwork(folder.path(), &["make", "typo.rhai"]);
    assert_eq!(said.status, Some(2));
    assert_data_eq!(
        said.err,
        str![[r#"
error[unknown-name]: there is no function called forwrd
 --> typo.rhai:2:16
  |
2 | band(n).repeat(forwrd(1..n))
  |                ^^^^^^
  |
  = note: here n = 6
  = help: did you mean forward?

"#]]
    );
    let data = hitchwork(folder.path(), &["check", "typo.rhai", "--json"]);
    assert_eq!(data.status, Some(2));
    let data: serde_json::Value = serde_json::from_str(&data.out).expect("JSON");
    assert_eq!(data["diagnostics"][0]["code"], "unknown-name");
    assert_eq!(data["diagnostics"][0]["place"]["line"], 2);
}

#[test]
fn a_hostile_rule_is_stopped() {
    let folder = folder();
    for (name, rule, code) in [
        ("loops", "loop { }", "limit-work"),
        (
            "calls",
            "fn again(n) { again(n + 1) } again(0)",
            "limit-depth",
        ),
        (
            "texts",
            "let text = \"a\"; loop { text += text; }",
            "limit-size",
        ),
        (
            "lists",
            "let list = [1]; loop { list += list; }",
            "limit-size",
        ),
        ("nothing", "let band = band(4);", "no-band"),
    ] {
        let file = format!("{name}.rhai");
        fs::write(folder.path().join(&file), rule).expect("writable");
        let said = hitchwork(folder.path(), &["make", &file]);
        assert_eq!(said.status, Some(2), "{name}");
        assert!(said.err.contains(code), "{name}: {}", said.err);
    }
    assert!(!folder.path().join("out").exists());
}

#[test]
fn a_bad_band_file_is_refused_with_its_place() {
    let folder = folder();
    for (text, says) in [
        ("{", "breaks off before its end"),
        ("[]", "line 1"),
        (
            &SPLIT.replace("\"repeats\": 30", "\"repeats\": 30, \"colour\": 1"),
            "colour",
        ),
        (
            &SPLIT.replace("\"at\": 3", "\"at\": 4"),
            "column 4 lies outside the band",
        ),
        (
            &SPLIT.replace("[0, 1, 0, 1]", "[0, 1, 0, 2]"),
            "thread 4 asks for colour 2",
        ),
        (
            &SPLIT.replacen('{', "{ \"format\": \"hitchwork-band/2\",", 1),
            "hitchwork-band/2",
        ),
    ] {
        fs::write(folder.path().join("bad.band.json"), text).expect("writable");
        let said = hitchwork(folder.path(), &["make", "bad.band.json"]);
        assert_eq!(said.status, Some(2), "{text}");
        assert!(
            said.err.contains("bad.band.json") && said.err.contains(says),
            "{}",
            said.err
        );
    }
    assert_eq!(files_in(folder.path()), ["bad.band.json"]);
    let settings = refused(&["make", "absent.band.json", "--set", "threads=4"]);
    assert!(settings.contains("is a band file"), "{settings}");
    assert!(refused(&["make", "absent.band.json"]).contains("there is no such file"));
}

fn compared(arguments: &[&str]) -> serde_json::Value {
    let said = hitchwork(
        folder().path(),
        &[&["compare", "drift"], arguments, &["--json"]].concat(),
    );
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    serde_json::from_str(&said.out).expect("JSON alone on standard output")
}

#[test]
fn compare_sets_the_members_of_a_family_side_by_side() {
    let said = hitchwork(
        folder().path(),
        &[
            "compare",
            "drift",
            "--over",
            "threads=8..12:2",
            "--at-most",
            "minutes=150",
            "--at-least",
            "width_mm=9",
        ],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_data_eq!(
        said.out,
        str![[r#"
drift
 threads  width_mm  repeat_mm  thread_m  longest_cm  knots  minutes  difficulty  gradient_step
       8       8.3        4.2       8.4         110    518      116         5.3 [..]  misses width_mm
      10      10.4        4.2      10.7         110    666      147           5 [..]  <- recommended
      12      12.5        4.2      13.3         115    814      178           5 [..]  misses minutes
take 10 threads: it is the only one within the limits

"#]]
    );
}

#[test]
fn a_comparison_says_of_each_member_what_check_says() {
    let members = compared(&["--over", "threads=8,12"]);
    let said = hitchwork(
        folder().path(),
        &["check", "drift", "--set", "threads=12", "--json"],
    );
    let report: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
    let measures = &members["members"][1]["measures"];
    assert_eq!(measures["minutes"], report["minutes"]);
    assert_eq!(measures["width_mm"], report["size_mm"]["width"]);
    assert_eq!(measures["difficulty"], report["difficulty"]["points"]);
    assert_eq!(measures["knots"], report["knots"]);
}

#[test]
fn a_comparison_over_two_settings_is_a_grid() {
    let grid = compared(&["--over", "threads=8..10", "--over", "turns=3,4"]);
    let members = grid["members"].as_array().expect("a list");
    assert_eq!(members.len(), 6);
    assert_eq!(
        members[3]["settings"],
        serde_json::json!({ "threads": 8, "turns": 4 })
    );
}

#[test]
fn a_comparison_is_plotted_and_written_as_a_table_for_programs() {
    let folder = folder();
    for (file, begins) in [("plot.svg", &b"<svg"[..]), ("plot.png", b"\x89PNG")] {
        let said = hitchwork(
            folder.path(),
            &[
                "compare",
                "drift",
                "--over",
                "threads=6..9",
                "--csv",
                "--out",
                file,
            ],
        );
        assert_eq!(said.status, Some(0), "{}", said.err);
        let lines: Vec<&str> = said.out.lines().collect();
        assert!(
            lines[0].starts_with("threads,width_mm,repeat_mm,"),
            "{}",
            said.out
        );
        let fields = |line: &&str| line.split(',').count();
        assert!(
            lines.iter().all(|line| fields(line) == fields(&lines[0])),
            "{}",
            said.out
        );
        assert_eq!(lines.len(), 5);
        assert!(
            fs::read(folder.path().join(file))
                .expect("written")
                .starts_with(begins),
            "{file}"
        );
    }
}

#[test]
fn a_comparison_that_cannot_be_is_refused() {
    for (arguments, says) in [
        (&["--over", "threads=a..b"][..], "is not a number"),
        (&["--over", "threads=12..6"], "upwards"),
        (&["--over", "threads=1..2:0"], "steps above 0"),
        (&["--over", "threads=0..1e12"], "at most 1000 values"),
        (&["--over", "threads"], "NAME=FIRST..LAST"),
        (&["--over", "treads=6..9"], "did you mean threads?"),
        (&["--over", "palette=1..3"], "is not one of the palettes"),
        (
            &["--over", "threads=6..9", "--over", "threads=6..9"],
            "varied twice",
        ),
        (
            &["--over", "threads=6..9", "--at-most", "time=3"],
            "the measures that are numbers are threads, colours",
        ),
        (
            &["--over", "threads=6..9", "--at-most", "minuts=90"],
            "did you mean minutes?",
        ),
        (
            &["--over", "threads=6..9", "--at-most", "drifts=1"],
            "drifts is not a number, so it cannot be limited",
        ),
        (
            &["--over", "threads=6..9", "--at-most", "minutes=inf"],
            "finite",
        ),
        (
            &["--over", "threads=6..9", "--out", "plot.doc"],
            "end the file's name in .svg or .png",
        ),
        (
            &["--over", "threads=6..9", "--pace", "0"],
            "goes from 1 to 600",
        ),
    ] {
        let said = refused(&[&["compare", "drift"], arguments].concat());
        assert!(said.contains(says), "{arguments:?} says {said}");
    }
}

#[test]
fn a_comparison_within_impossible_limits_says_so() {
    let said = hitchwork(
        folder().path(),
        &[
            "compare",
            "drift",
            "--over",
            "threads=6..9",
            "--at-most",
            "minutes=1",
        ],
    );
    assert_eq!(said.status, Some(0));
    assert!(
        said.out
            .contains("none of these bands keeps to minutes at most 1"),
        "{}",
        said.out
    );
}

/// What a maker types by mistake, and what it is answered with.
#[test]
fn slips_in_typing_are_answered_with_what_was_meant() {
    let tens = "threads is a setting of the rule: write --set threads=10";
    for (typed, says) in [
        ("make drift --threads 10", tens),
        ("make --threads=10 drift", tens),
        (
            "compare drift --threads 6..9",
            "threads is a setting of the rule: write --over threads=6..9",
        ),
        (
            "check --pairs hearts",
            "pairs is a setting of the rule: write --set pairs=",
        ),
        ("make drift --set threads 10", "write --set threads=10"),
        (
            "make drift --palette spring tide",
            "stand in quotes: --palette \"spring tide\"",
        ),
        (
            "make drift --thread 10",
            "write 10mm if that is how thick it is",
        ),
        ("make drift --thread 10", "--set threads=10"),
        ("make drift --thread 0.6", "write 0.6mm"),
        (
            "make drift --swatch 11:1.25,40:4.2",
            "a column of 0.10 mm is thinner than sewing thread: did you measure in centimetres?",
        ),
        ("make drift --swatch 11:1.25,40:4.2", "write 11:12.5,40:42"),
        (
            "make drift --seed abc",
            "a seed is a whole number, 0 or more",
        ),
        (
            "make drift --seed -1",
            "a seed is a whole number, 0 or more",
        ),
        (
            "make drift --seed 1.5",
            "a seed is a whole number, 0 or more",
        ),
        (
            "make drift --seed 99999999999999999999",
            "the greatest seed is 18446744073709551615",
        ),
        (
            "make drift --people twelve",
            "a number of people is a whole number from 1 to 1000",
        ),
        (
            "draw drift --repeats 0",
            "a number of repeats is a whole number from 1 to",
        ),
        (
            "make drift --people 2 --price £2",
            "such as 2.50, without a currency sign",
        ),
        (
            "make drift --people 2 --price 2,50",
            "without a currency sign and with a point",
        ),
        (
            "make drift --length long",
            "a number of centimetres, such as 15.5, or has its unit: 155mm, 6in",
        ),
        ("explain floating", "did you mean floating-thread?"),
        ("rules reference forwards", "did you mean forward?"),
        (
            "sheet drift -o x.txt --format pdf",
            "x.txt is named as text, and --format asks for a PDF",
        ),
        (
            "explore drift",
            "drift leaves nothing to chance: every seed makes the same band",
        ),
        (
            "explore flotsam --where knot_symmetry=glide",
            "compare with ==, and put words in quotes",
        ),
    ] {
        let words: Vec<&str> = typed.split(' ').collect();
        let said = refused(&words);
        assert!(said.contains(says), "{typed} says {said}");
        for computers in [
            "invalid digit",
            "target type",
            "..=",
            "similar argument",
            "-- -1",
        ] {
            assert!(!said.contains(computers), "{typed} says {said}");
        }
    }
    // A setting that the rule has not is told apart from one that it has.
    let said = refused(&["make", "chevron", "--threads", "10"]);
    assert!(!said.contains("is a setting of the rule"), "{said}");
}

#[test]
fn a_length_may_have_its_unit() {
    let length = |said: &str| {
        let folder = folder();
        let said = hitchwork(
            folder.path(),
            &["check", "drift", "--length", said, "--json"],
        );
        assert_eq!(said.status, Some(0), "{}", said.err);
        let report: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
        report["repeats"].as_u64().expect("a number")
    };
    assert_eq!(length("15cm"), length("15"));
    assert_eq!(length("150 mm"), length("15"));
    // An inch is 2.54 cm.
    assert_eq!(length("6in"), length("15.24"));
    assert!(length("6in") > length("10"));
}

/// The same stash, the same class, and three colours: enough of all, of two, and of none.
#[test]
fn a_class_buys_only_what_the_stash_does_not_have() {
    let folder = folder();
    let palette = "name,colour\nquay stone,#7d7461\nfoam,#eef3ef\nnight blue,#16324f\n";
    fs::write(folder.path().join("quay.csv"), palette).expect("written");
    let class = [
        "candy_stripe",
        "--set",
        "threads=6",
        "--set",
        "stripes=3",
        "--palette",
        "quay.csv",
        "--people",
        "12",
        "--stash",
        "class.csv",
    ];
    let bought = |left: [&str; 3], more: &[&str]| {
        let [stone, foam, night] = left;
        let stash = format!(
            "name,colour,left\nstone,#7d7461,{stone}\nwhite,#eef3ef,{foam}\nnight,#16324f,{night}\n"
        );
        fs::write(folder.path().join("class.csv"), stash).expect("written");
        let said = hitchwork(folder.path(), &[&["check"], &class[..], more].concat());
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        said.out
    };
    let said = bought(["400", "400", "400"], &["--price", "2.50"]);
    assert!(
        said.contains("  buy         nothing for 12 people: all "),
        "{said}"
    );
    assert!(!said.contains("skein"), "{said}");
    let said = bought(["400", "0", "400"], &["--price", "2.50"]);
    let line = said
        .lines()
        .find(|line| line.contains("  buy "))
        .expect("to buy");
    assert!(
        line.contains(" foam), ") && !line.contains("quay stone"),
        "{line}"
    );
    assert!(
        line.contains(" in all; another ") && line.contains(" come from your stash"),
        "{line}"
    );
    let none = bought(["0", "0", "0"], &[]);
    let line = none
        .lines()
        .find(|line| line.contains("  buy "))
        .expect("to buy");
    assert!(
        line.contains("quay stone") && line.contains("foam") && !line.contains("stash"),
        "{line}"
    );
    // A piece that is longer than a skein need not be bought where it is there.
    bought(["400", "400", "400"], &["--skein", "0.2"]);
    let sheet = hitchwork(folder.path(), &[&["sheet"], &class[..]].concat());
    assert!(
        sheet.out.contains("For 12 people: nothing; all "),
        "{}",
        sheet.out
    );
}

#[test]
fn compare_names_no_band_where_the_figures_do_not() {
    let why = |arguments: &[&str]| {
        let family = compared(arguments);
        assert!(family["recommendation"].is_null(), "{family}");
        family["undecided"].as_str().expect("a sentence").to_owned()
    };
    // Each thread adds as many minutes and as much width as the one before.
    for range in ["threads=6..24", "threads=6..14", "threads=9..16"] {
        assert!(
            why(&["--over", range]).starts_with("none stands out"),
            "{range}"
        );
    }
    assert!(why(&["--over", "turns=2,5"]).contains("alike in looks and in time"));
    let within = compared(&["--over", "threads=6..24", "--at-most", "minutes=180"]);
    assert_eq!(within["recommendation"]["settings"]["threads"], 12);
    let said = hitchwork(
        folder().path(),
        &["compare", "flotsam", "--over", "threads=8..12"],
    );
    assert!(
        said.out.contains("8.3 mm in ") && said.out.contains("12.5 mm in "),
        "{}",
        said.out
    );
    assert!(!said.out.contains("recommended"), "{}", said.out);
}

#[test]
fn a_palettes_own_colours_are_not_called_even() {
    let gradient = |count: &str| {
        let asked = ["colours", "gradient", "spring tide", "-n", count];
        hitchwork(folder().path(), &asked).out
    };
    assert!(gradient("8").starts_with("spring tide: the 8 colours as they are, not in even steps"));
    assert!(gradient("7").starts_with("spring tide, 7 colours\n"));
}

#[test]
fn wrist_thread_and_swatch_set_the_size() {
    let size = |arguments: &[&str]| {
        let said = hitchwork(
            folder().path(),
            &[&["check", "drift", "--json"], arguments].concat(),
        );
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        let report: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
        let of = |what: &str| report["size_mm"][what].as_f64().expect("a size");
        (of("width"), of("length"), said.err)
    };
    let (child, man) = (size(&["--wrist", "child"]).1, size(&["--wrist", "man"]).1);
    assert!((119.0..125.0).contains(&child), "{child}");
    assert!((169.0..175.0).contains(&man), "{man}");
    assert_eq!(size(&["--wrist", "17.5"]).1, man);
    assert!(size(&["--thread", "waxed"]).0 > size(&["--thread", "floss"]).0);
    let (width, _, said) = size(&["--swatch", "9:20,40:80"]);
    assert!((width - 20.0).abs() < 0.1, "{width}");
    assert!(said.contains("columns 2.00 ± 0.07 mm"), "{said}");
    for (option, value, says) in [
        ("--wrist", "0", "is from 6 to 40"),
        (
            "--wrist",
            "boy",
            "a number of centimetres round, such as 16, or one of child, woman, man",
        ),
        ("--thread", "rope", "floss, perle, polyester, waxed"),
        ("--thread", "0mm", "from 0.05 to 10"),
        ("--swatch", "11:12.5,40:142", "contradicts itself"),
        ("--pace", "18:0", "goes from 1 to 600"),
        ("--people", "0", "a whole number from 1 to 1000"),
    ] {
        let said = refused(&["check", "drift", option, value]);
        assert!(said.contains(says), "{option} {value} says {said}");
    }
}

/// A band from folded threads, whose pieces are twice as long as its threads: every command
/// says the same of it.
#[test]
fn every_command_says_the_same_of_a_folded_start() {
    let folder = folder();
    let rule = r#"/// A stripe that hangs from a loop.
        let threads = whole("threads", 6, 4..=20, "threads on the band");
        let tones = fade("morning fog", threads);
        let pairs = [];
        for at in 0..threads { pairs.push(tones[at / 2]); }
        band(threads).repeat(forward(1..threads)).repeats(40).colours(pairs).starts(folded())
    "#;
    fs::write(folder.path().join("bight.rhai"), rule).expect("written");
    let plan = "[[item]]\nrule = \"bight.rhai\"\n";
    fs::write(folder.path().join("bight.toml"), plan).expect("written");
    let data = |arguments: &[&str]| -> serde_json::Value {
        let said = hitchwork(folder.path(), arguments);
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        serde_json::from_str(&said.out).expect("JSON alone on standard output")
    };
    let report = data(&["check", "bight.rhai", "--json"]);
    let cuts = report["cut_list"]["cuts"].as_array().expect("a list");
    let cut_cm = |cut: &serde_json::Value| cut["cut_mm"].as_f64().expect("a length") / 10.0;
    let longest = cuts.iter().map(cut_cm).fold(0.0, f64::max);
    let halves = report["thread_use"].as_array().expect("a list");
    assert!(halves.iter().all(|thread| cut_cm(thread) < longest * 0.6));

    let comparison = data(&["compare", "bight.rhai", "--over", "threads=6,8", "--json"]);
    assert_eq!(comparison["members"][0]["measures"]["longest_cm"], longest);
    let explored = data(&["explore", "bight.rhai", "--seeds", "1..1", "--json"]);
    assert_eq!(explored["found"][0]["measures"]["longest_cm"], longest);
    let collected = hitchwork(folder.path(), &["collect", "bight.toml", "--out", "bights"]);
    assert_eq!(collected.status, Some(0), "{}", collected.err);
    let manifest = fs::read_to_string(folder.path().join("bights/collection.json"));
    let manifest: serde_json::Value =
        serde_json::from_str(&manifest.expect("written")).expect("JSON");
    assert_eq!(manifest["lines"][0]["measures"]["longest_cm"], longest);
    let said = hitchwork(folder.path(), &["check", "bight.rhai"]).out;
    assert!(
        said.contains("3 pieces of ") && said.contains(&format!(" {longest} cm for 6 threads")),
        "{said}"
    );
}

/// What `check` says of a band's columns and half rows, with the size that it says, is a swatch
/// that gives the same size.
#[test]
fn check_says_what_a_swatch_needs() {
    let folder = folder();
    let size = |arguments: &[&str]| {
        let asked = [&["check", "drift", "--set", "threads=12"], arguments].concat();
        let said = hitchwork(folder.path(), &asked);
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        let line = said
            .out
            .lines()
            .find(|line| line.trim().starts_with("swatch"));
        let report = hitchwork(folder.path(), &[&asked[..], &["--json"]].concat());
        let report: serde_json::Value = serde_json::from_str(&report.out).expect("JSON");
        let of = |what: &str| report["size_mm"][what].as_f64().expect("a size");
        (line.expect("a line").to_owned(), of("width"), of("length"))
    };
    let (line, width, length) = size(&[]);
    assert!(line.contains("11 columns wide"), "twelve threads: {line}");
    let (_, asked) = line.split_once("--swatch ").expect("the option");
    let (columns, rows) = asked.split_once(',').expect("both");
    let swatch = format!(
        "{}{width},{}{length}",
        columns.strip_suffix("MM").expect("a place for a measure"),
        rows.strip_suffix("MM").expect("a place for a measure")
    );
    let (_, again, along) = size(&["--swatch", &swatch]);
    assert_eq!((again, along), (width, length), "{swatch}");
}

#[test]
fn a_pace_has_a_name_or_is_ones_own() {
    let folder = folder();
    let time = |pace: &str| {
        let said = hitchwork(folder.path(), &["check", "drift", "--json", "--pace", pace]);
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        let report: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
        let seconds = report["seconds_per_knot"].as_f64().expect("seconds");
        (
            seconds,
            report["minutes_for"].clone(),
            report["minutes"].as_f64().expect("minutes"),
        )
    };
    let (beginner, quick) = (time("beginner"), time("quick"));
    assert_eq!((beginner.0, time("practised").0, quick.0), (12.0, 8.0, 5.0));
    assert_eq!(time("10:50"), quick);
    for part in ["laying_out", "ties"] {
        assert_eq!(beginner.1[part], quick.1[part]);
    }
    assert!(
        beginner.2 < quick.2 * 12.0 / 5.0,
        "only the knots go faster"
    );
    for command in ["make", "check", "sheet", "compare", "explore"] {
        let help = hitchwork(folder.path(), &[command, "--help"]).out;
        let words = help.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            words.contains("common practice (there is no published source)"),
            "{command}: {help}"
        );
    }
    let refused = refused(&["check", "drift", "--pace", "hasty"]);
    assert!(
        refused.contains("beginner (12 seconds for a knot)"),
        "{refused}"
    );
}

#[test]
fn a_class_is_told_what_to_buy() {
    let sheet = hitchwork(
        folder().path(),
        &["sheet", "candy_stripe", "--people", "6", "--price", "1.5"],
    );
    assert_eq!(sheet.status, Some(0), "{}", sheet.err);
    assert!(sheet.out.contains("BUY\n- coral: "), "{}", sheet.out);
    assert!(
        sheet
            .out
            .contains("For 6 people: 12 skeins of 8 m in all, which cost 18.00."),
        "{}",
        sheet.out
    );
}

/// Who designs a band hears of its faults on standard error, and its sheet stays a sheet.
#[test]
fn a_sheet_tells_its_designer_what_was_found() {
    let folder = folder();
    let said = hitchwork(folder.path(), &["sheet", "blend"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(
        said.err.starts_with("note[alike-colours]: "),
        "{}",
        said.err
    );
    assert!(said.err.contains("help: "), "{}", said.err);
    assert!(!said.out.contains("alike-colours"), "{}", said.out);
    assert!(said.out.contains("GOOD TO KNOW"), "{}", said.out);
    let written = hitchwork(folder.path(), &["sheet", "blend", "--out", "blend.pdf"]);
    assert!(
        written.err.contains("note[alike-colours]: "),
        "{}",
        written.err
    );
    let sound = hitchwork(folder.path(), &["sheet", "chevron"]);
    assert_eq!(sound.err, "");
}

#[test]
fn a_sheet_is_written_as_its_name_says() {
    let folder = folder();
    let begins = [
        ("tide.html", "<!DOCTYPE html>"),
        ("tide.pdf", "%PDF-"),
        ("tide.txt", "drift, 6 threads"),
    ];
    for (name, begin) in begins {
        let said = hitchwork(
            folder.path(),
            &["sheet", "drift", "--set", "threads=6", "--out", name],
        );
        assert_eq!(said.status, Some(0), "{}", said.err);
        let bytes = fs::read(folder.path().join(name)).expect("written");
        assert!(bytes.starts_with(begin.as_bytes()), "{name}");
    }
    let named = ["sheet", "drift", "--out", "tide.paper", "--format", "pdf"];
    assert_eq!(hitchwork(folder.path(), &named).status, Some(0));
    let bytes = fs::read(folder.path().join("tide.paper")).expect("written");
    assert!(bytes.starts_with(b"%PDF-"));
}

#[test]
fn a_sheet_needs_to_know_what_kind_it_shall_be() {
    let folder = folder();
    let said = hitchwork(folder.path(), &["sheet", "drift", "--out", "tide.doc"]);
    assert_eq!(said.status, Some(2));
    assert!(
        said.err
            .contains("does not say what kind of file it is to be")
    );
    assert!(said.err.contains(".html, .pdf or .txt"));
    assert!(files_in(folder.path()).is_empty());
}
