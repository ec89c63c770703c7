//! Working with rules from the command line: begin one, test it, read up on the functions.

use std::fs;

use crate::common::{folder, hitchwork};

#[test]
fn a_new_rule_runs_and_passes_its_tests() {
    let folder = folder();
    let new = hitchwork(folder.path(), &["rules", "new", "low_tide"]);
    assert_eq!(new.status, Some(0), "{}", new.err);
    assert!(
        new.out.starts_with("low_tide.rhai\nlow_tide.tests.toml\n"),
        "{}",
        new.out
    );
    let made = hitchwork(folder.path(), &["make", "low_tide.rhai"]);
    assert_eq!(made.status, Some(0), "{}", made.err);
    assert!(made.out.contains("findings    none"), "{}", made.out);
    let tested = hitchwork(folder.path(), &["rules", "test"]);
    assert_eq!(tested.status, Some(0), "{}", tested.err);
    assert_eq!(tested.out, "low_tide.rhai  3 cases hold\n");
}

#[test]
fn a_new_rule_that_shadows_a_built_in_one_says_so() {
    let folder = folder();
    let new = hitchwork(folder.path(), &["rules", "new", "drift"]);
    assert_eq!(new.status, Some(0), "{}", new.err);
    let says = "There is a built-in rule called drift too.";
    assert!(new.out.contains(says), "{}", new.out);
    let other = hitchwork(folder.path(), &["rules", "new", "low_tide"]);
    assert!(!other.out.contains("built-in"), "{}", other.out);
}

#[test]
fn a_new_rule_never_takes_the_place_of_another() {
    let folder = folder();
    for taken in ["ebb.rhai", "ebb.tests.toml"] {
        fs::write(folder.path().join(taken), "mine").expect("writable");
        let said = hitchwork(folder.path(), &["rules", "new", "ebb"]);
        assert_eq!(said.status, Some(2));
        assert!(
            said.err.contains(&format!("{taken} is there already")),
            "{}",
            said.err
        );
        let kept = fs::read_to_string(folder.path().join(taken)).expect("still there");
        assert_eq!(kept, "mine");
        fs::remove_file(folder.path().join(taken)).expect("just written");
    }
    assert_eq!(
        fs::read_dir(folder.path()).expect("a folder").count(),
        0,
        "nothing else was written"
    );
}

#[test]
fn a_new_rule_has_a_plain_name() {
    let folder = folder();
    for name in ["Ebb", "7th_wave", "low tide", "ebb.txt", "..", "_ebb"] {
        let said = hitchwork(folder.path(), &["rules", "new", name]);
        assert_eq!(said.status, Some(2), "{name}");
        assert!(
            said.err.contains("cannot be called"),
            "{name}: {}",
            said.err
        );
    }
    let inside = hitchwork(folder.path(), &["rules", "new", "class/spring_tide2.rhai"]);
    assert_eq!(inside.status, Some(0), "{}", inside.err);
    let tested = hitchwork(folder.path(), &["rules", "test", "class"]);
    assert_eq!(tested.status, Some(0), "{}{}", tested.out, tested.err);
}

#[test]
fn what_does_not_hold_is_shown_beside_what_was_expected() {
    let folder = folder();
    let rule = "let threads = whole(\"threads\", 5, 4..=9, \"threads on the band\");
band(threads).repeat([forward(1..threads), backward_forward(1..threads)])";
    let tests = r"
[[case]]
name = 'five'
expect = { threads = 5, repeats_to_close = 4 }

[[case]]
name = 'the rows'

[case.expect]
grid = '''
\\\\
>>>>
'''
";
    fs::write(folder.path().join("ebb.rhai"), rule).expect("writable");
    fs::write(folder.path().join("ebb.tests.toml"), tests).expect("writable");
    let said = hitchwork(folder.path(), &["rules", "test", "ebb.rhai"]);
    assert_eq!(said.status, Some(1), "{}", said.err);
    assert_eq!(
        said.out,
        r"ebb.rhai  2 of 2 cases do not hold
  five
    repeats_to_close
      expected  4
      got       5
  the rows
    grid   - expected, + got
        \\\\
      - >>>>
      + <<<<
"
    );
    let data = hitchwork(folder.path(), &["rules", "test", "--json"]);
    assert_eq!(data.status, Some(1));
    let data: serde_json::Value = serde_json::from_str(&data.out).expect("JSON");
    assert_eq!(
        data[0]["cases"][0]["differences"][0]["measure"],
        "repeats_to_close"
    );
}

#[test]
fn tests_that_cannot_be_run_say_why() {
    let folder = folder();
    let said = |arguments: &[&str]| {
        let said = hitchwork(folder.path(), arguments);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert_eq!(said.out, "");
        said.err
    };
    assert!(said(&["rules", "test"]).contains("there are no tests in ."));
    assert!(said(&["rules", "test", "nowhere"]).contains("no built-in rule called nowhere"));
    fs::write(
        folder.path().join("ebb.rhai"),
        "band(4).repeat(forward(1..4))",
    )
    .expect("writable");
    assert!(said(&["rules", "test", "ebb.rhai"]).contains("has no tests beside it"));
    fs::write(
        folder.path().join("ebb.tests.toml"),
        "[[case]]\nname = \"four\"\nexpect = { treads = 4 }",
    )
    .expect("writable");
    let misspelt = said(&["rules", "test", "ebb.rhai"]);
    assert!(
        misspelt.contains("\"treads\" is not a key here; it can be \"threads\""),
        "{misspelt}"
    );
    assert!(misspelt.contains("ebb.tests.toml:3:12"), "{misspelt}");
}

#[test]
fn built_in_rules_are_tested_by_their_names() {
    let said = hitchwork(
        folder().path(),
        &["rules", "test", "straight_drift", "drift"],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(said.out.starts_with("straight_drift  "), "{}", said.out);
    assert_eq!(said.out.lines().count(), 2);
}

#[test]
fn the_reference_is_printed_whole_or_by_function() {
    let folder = folder();
    let whole = hitchwork(folder.path(), &["rules", "reference"]);
    assert_eq!(whole.status, Some(0));
    let one = hitchwork(folder.path(), &["rules", "reference", "but"]);
    assert_eq!(one.status, Some(0));
    assert!(one.out.starts_with("  row.but(other)\n"), "{}", one.out);
    assert!(whole.out.contains(&one.out));
    let data = hitchwork(folder.path(), &["rules", "reference", "--json"]);
    let data: serde_json::Value = serde_json::from_str(&data.out).expect("JSON");
    assert_eq!(data["rooms"][0]["title"], "settings");
    let unknown = hitchwork(folder.path(), &["rules", "reference", "fold"]);
    assert_eq!(unknown.status, Some(2));
    assert!(unknown.err.contains("there is folded"), "{}", unknown.err);
}

#[test]
fn the_page_of_the_reference_needs_nothing_but_itself() {
    let folder = folder();
    let said = hitchwork(
        folder.path(),
        &["rules", "reference", "--html", "reference.html"],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(said.out, "reference.html\n");
    let page = fs::read_to_string(folder.path().join("reference.html")).expect("written");
    let articles = page.matches("<article").count();
    assert!(articles > 60);
    assert_eq!(page.matches("<svg").count(), articles, "a picture for each");
    // An icon of nothing, so that a browser does not ask for one.
    let rest = page.replace("<link rel=\"icon\" href=\"data:,\">", "");
    for outside in ["<script", "<link", "src=", "@import", "href=\"http"] {
        assert!(!rest.contains(outside), "{outside}");
    }
    assert!(page.contains("@font-face"), "the page carries its letters");
    // Nothing but its own letters and icon may be used, and those may.
    for allowed in ["default-src 'none'", "img-src data:;", "font-src data:;"] {
        assert!(page.contains(allowed), "{allowed}");
    }
    let mut ids: Vec<&str> = page
        .split("<article id=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    assert!(
        ids.iter()
            .all(|id| page.contains(&format!("href=\"#{id}\"")))
    );
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), articles, "every place has a name of its own");
}

#[test]
fn editors_get_their_files() {
    let folder = folder();
    let said = hitchwork(
        folder.path(),
        &["rules", "reference", "--definitions", "editor"],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    let functions = fs::read_to_string(folder.path().join("editor/__static__.d.rhai"));
    assert!(functions.expect("written").contains("fn lattice("));
}

#[test]
fn a_rule_is_shown_with_what_can_be_set_and_how_to_try_it() {
    let said = hitchwork(folder().path(), &["rules", "show", "waves"]);
    assert_eq!(said.status, Some(0));
    assert!(
        said.out.contains("hitchwork make waves --set pairs=10"),
        "{}",
        said.out
    );
    let named = said.out.matches("storm warning").count();
    assert_eq!(named, 1, "palettes are listed once");
}

/// A shell would take what comes after a space for another word.
#[test]
fn a_value_with_a_space_is_shown_in_quotes() {
    for (rule, command) in [
        ("afterglow", "make afterglow --set words='red sky'\n"),
        ("anchors", "make anchors --set stands='on a rope'\n"),
        ("nameboard", "make nameboard --set name=Marina\n"),
    ] {
        let said = hitchwork(folder().path(), &["rules", "show", rule]);
        assert!(said.out.contains(command), "{}", said.out);
    }
}

/// A link that leads nowhere is there all the same: nothing is written, not even beside it.
#[cfg(unix)]
#[test]
fn a_new_rule_is_written_with_its_tests_or_not_at_all() {
    let folder = folder();
    let link = folder.path().join("ebb.tests.toml");
    std::os::unix::fs::symlink("nowhere", &link).expect("a link");
    let said = hitchwork(folder.path(), &["rules", "new", "ebb"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(
        said.err.contains("ebb.tests.toml is there already"),
        "{}",
        said.err
    );
    assert!(!folder.path().join("ebb.rhai").exists());
    assert!(!folder.path().join("nowhere").exists());
    assert!(fs::symlink_metadata(&link).is_ok_and(|found| found.is_symlink()));
}
