//! `mend`: what a maker says to see, and what is answered.

use serde_json::Value;

use crate::common::{folder, hitchwork};

/// The third row of diamonds: thread 9 goes over threads 10, 8 and 6. Turned back at the last one,
/// it stays at position 8.
const TURNED_BACK: &str = "?, ?, ?, ?, ?, dark plum, dark plum, teal, ?, ?, ?, ?";

#[test]
fn a_knot_that_turned_back_is_found_and_mended() {
    let folder = folder();
    let said = hitchwork(
        folder.path(),
        &["mend", "diamonds", "--row", "3", "--hangs", TURNED_BACK],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    let lines: Vec<&str> = said.out.lines().collect();
    assert_eq!(lines[0], "diamonds, 12 threads, after row 3 of repeat 1");
    let flat = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for told in [
        "Row 3 of repeat 1, positions 7 and 8: backward-forward instead of backward (",
        "Untie the last knot at positions 7 and 8. Then tie backward there, as written.",
        "Nothing lies upon it: tie the backward knot at positions 7 and 8 now.",
        "Should hang, from the left: After row 3 of repeat 1: coral, light goldenrod, dusty yellow green, teal, deep royal blue, dark plum, teal, dark plum,",
    ] {
        assert!(flat.contains(told), "{told}\n{flat}");
    }
    let data = hitchwork(
        folder.path(),
        &[
            "mend",
            "diamonds",
            "--row",
            "3",
            "--hangs",
            TURNED_BACK,
            "--json",
        ],
    );
    let data: Value = serde_json::from_str(&data.out).expect("it is JSON");
    assert_eq!(data["as_written"], false);
    assert_eq!(data["should_hang"].as_array().map(Vec::len), Some(3));
    let shares = data["explanations"].as_array().expect("a list").iter();
    let sum: f64 = shares.filter_map(|one| one["share"].as_f64()).sum();
    assert!((0.5..=1.01).contains(&sum), "{sum}");
}

#[test]
fn what_is_as_it_should_be_and_what_nothing_explains_are_said() {
    let folder = folder();
    let right = "coral, ?, ?, ?, ?, dark plum, teal, Dark Plum, ?, ?, ?, ?";
    let said = hitchwork(
        folder.path(),
        &["mend", "diamonds", "--row", "3", "--hangs", right],
    );
    assert!(
        said.out.contains("What you describe is as it should be."),
        "{}",
        said.out
    );
    let wrong = ["coral"; 12].join(",");
    let said = hitchwork(
        folder.path(),
        &["mend", "diamonds", "--row", "3", "--hangs", &wrong],
    );
    assert_eq!(said.status, Some(1));
    assert!(
        said.out
            .contains("No one or two mistakes within the last 6 knots explain what you see."),
        "{}",
        said.out
    );
}

/// Where colours come twice, makers number their threads, as sheets tell them to.
#[test]
fn the_number_of_a_thread_stands_for_its_colour() {
    let folder = folder();
    let asked = |hangs: &str| {
        let said = hitchwork(
            folder.path(),
            &["mend", "drift", "--row", "1", "--hangs", hangs],
        );
        assert_eq!(said.status, Some(0), "{}", said.err);
        said.out
    };
    // The first thread of drift is coral, the second apricot.
    assert_eq!(
        asked("1,2,?,?,?,?,?,?,?,?"),
        asked("coral,apricot,?,?,?,?,?,?,?,?")
    );
}

#[test]
fn what_cannot_be_meant_is_refused_with_what_to_do() {
    let folder = folder();
    for (arguments, message) in [
        (&["--row", "3"][..], "nothing is said of what you see"),
        (
            &["--row", "3", "--hangs", "coral, teal"],
            "--hangs names 2 colours for 12 threads",
        ),
        (
            &["--row", "3", "--knots", "4=cora"],
            "--knots: the band has no colour \"cora\"\n  help: did you mean \"coral\"? its colours are coral,",
        ),
        (
            &["--row", "3", "--knots", "12=coral"],
            "--knots 12: no knots lie between positions 12 and 13",
        ),
        (
            &["--row", "3", "--knots", "4=coral", "--knots", "4=teal"],
            "--knots 4 is said twice",
        ),
        (
            &["--row", "99", "--knots", "4=coral"],
            "the band has no such row: row 99 of repeat 1",
        ),
        (
            &["--row", "1", "--in", "lead-in", "--knots", "4=coral"],
            "the band has no such row: row 1 of the lead-in",
        ),
        (
            &["--row", "3", "--knot", "9", "--knots", "4=coral"],
            "the band has no such knot: knot 9 of row 3 of repeat 1",
        ),
        (
            &["--row", "0", "--knots", "4=coral"],
            "'--row <N>': it counts from 1, as on the sheet",
        ),
        (
            &["--row", "3", "--knots", "4=13"],
            "--knots: the band has no thread 13\n  help: its threads are 1 to 12",
        ),
        (
            &["--row", "3", "--hangs", "coral teal ? ?"],
            "put commas between the colours",
        ),
        (
            &[
                "--row", "1", "--repeat", "2", "--in", "lead-in", "--knots", "4=coral",
            ],
            "--repeat 2: the lead-in is tied once",
        ),
        (
            &["--row", "1", "--knots", "coral"],
            "write a position, = and the colours",
        ),
    ] {
        let said = hitchwork(folder.path(), &[&["mend", "diamonds"], arguments].concat());
        assert_eq!(said.status, Some(2), "{arguments:?} {}", said.out);
        assert!(said.err.contains(message), "{arguments:?} {}", said.err);
    }
}
