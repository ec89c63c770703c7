//! What functions are given: columns from numbers, ranges and lists, rows however they are
//! nested, and numbers of threads; each bound from both sides.

use hitchwork_core::band::Band;
use hitchwork_rules::{Rules, Settings};

fn made(script: &str) -> Result<Band, String> {
    let rules = Rules::new();
    let made = rules
        .compile("mole", script)
        .and_then(|rule| rules.make(&rule, &Settings::default()));
    made.map(|made| made.band)
        .map_err(|error| error.to_string())
}

fn columns(given: &str) -> Vec<u16> {
    let script = format!("band(9).repeat([forward({given}), forward(1..9)])");
    let band = made(&script).unwrap_or_else(|error| panic!("{given}: {error}"));
    let knots = band.repeat()[0].knots().iter();
    knots.map(|knot| knot.column().number()).collect()
}

/// As in the language itself: `..` leaves its end out, `..=` does not.
#[test]
fn columns_come_from_numbers_ranges_and_lists() {
    assert_eq!(columns("3"), [3]);
    assert_eq!(columns("2..5"), [2, 3, 4]);
    assert_eq!(columns("2..=5"), [2, 3, 4, 5]);
    assert_eq!(columns("[5, 1, 3]"), [5, 1, 3]);
}

#[test]
fn rows_may_lie_in_lists_of_lists() {
    let nested = "let out = forward(1..4); let back = backward(1..4);
        band(4).repeat([out, [back, [[out]], back]])";
    let flat = "let out = forward(1..4); let back = backward(1..4);
        band(4).repeat([out, back, out, back])";
    let rows = |script| made(script).expect("a band").repeat().to_vec();
    assert_eq!(rows(nested).len(), 4);
    assert_eq!(rows(nested), rows(flat));
}

#[test]
fn bounds_hold_from_both_sides() {
    let threads = |count: i64| made(&format!("band({count}).repeat(forward(1))"));
    for count in [2, 200] {
        assert!(threads(count).is_ok(), "{count}");
    }
    for count in [-1, 0, 1, 201] {
        let refused = threads(count).expect_err("no band");
        assert!(refused.contains("2 to 200 threads"), "{count}: {refused}");
    }
    // A slip, and not a list of millions; what is only outside this band is said by the band.
    for range in ["-201..3", "1..2002", "-9000000000000000000..3"] {
        let refused = made(&format!("band(4).repeat(forward({range}))")).expect_err("no band");
        assert!(refused.contains("outside any band"), "{range}: {refused}");
    }
    let refused = made("band(4).repeat(forward(1..9))").expect_err("no band");
    assert!(!refused.contains("outside any band"), "{refused}");
}

/// Each form of a function stands once, functions by their names, and no room is empty.
#[test]
fn the_reference_says_everything_once_and_in_order() {
    for room in Rules::new().reference().rooms {
        assert!(!room.functions.is_empty(), "{}", room.title);
        let names: Vec<&str> = room.functions.iter().map(|one| one.name.as_str()).collect();
        let is_script = room.title == "the script itself";
        assert!(is_script || names.is_sorted(), "{}: {names:?}", room.title);
        for function in &room.functions {
            let forms = function.forms.iter();
            let mut said: Vec<_> = forms.map(|form| (&form.call, &form.meaning)).collect();
            said.sort_unstable();
            said.dedup();
            assert_eq!(
                said.len(),
                function.forms.len(),
                "{}: {said:?}",
                function.name
            );
        }
    }
}

/// What is said of a number that does not do is true of it.
#[test]
fn what_is_said_of_numbers_that_do_not_do_is_true() {
    for (script, says) in [
        (
            "random_rows(12, 24, #{ tries: 0 })",
            "tries of random rows cannot be 0",
        ),
        (
            "random_rows(12, 24, #{ tries: 0.5 })",
            "tries of random rows cannot be 0.5",
        ),
        (
            "random_rows(12, 24, #{ tries: \"some\" })",
            "tries of random rows cannot be text",
        ),
        (
            "random_rows(12, 24, #{ longest_run: -1 })",
            "longest_run of random rows cannot be -1",
        ),
        (
            "random_rows(12, 24, #{ density: 3000000000 })",
            "density of random rows cannot be 3000000000",
        ),
        ("random_rows(12, -2)", "there cannot be -2 rows"),
        (
            "gradient(\"regatta\", -1)",
            "a gradient has 1 to 1000 colours, not -1",
        ),
        (
            "fade([colour(\"ebb\", \"#204060\")], -1)",
            "a gradient has 1 to 1000 colours, not -1",
        ),
        (
            "gradient(\"regatta\", 0)",
            "a gradient has 1 to 1000 colours, not 0",
        ),
        ("every(1..10, -1)", "there is no counting in steps of -1"),
        (
            "forward(1..9).every(-2)",
            "there is no counting in steps of -2",
        ),
        (
            "(-9223372036854775807 - 1) % -1",
            "a number becomes too large here",
        ),
        ("1 % 0", "a number is divided by zero here"),
        ("round(0.0 / 0.0)", "that is not a number"),
        (
            "square_root(0.0 / 0.0)",
            "what is not a number has no square root",
        ),
        ("round(1e300)", "is too large for a whole number"),
        ("roll(5..5)", "there is no whole number in 5..5"),
        ("roll(7..=5)", "there is no whole number from 7 to 5"),
    ] {
        let refused = made(script).expect_err(script);
        assert!(refused.contains(says), "{script}: {refused}");
    }
}
