//! What is said about a file that is not a band file. The texts are collected in
//! `golden/band_file_errors.txt`, to be read aloud.

use std::fmt::Write;

use hitchwork_core::file;
use hitchwork_tests::golden;
use serde_json::{Value, json};

/// A sound file, one field a line, to do something to.
const SOUND: &str = r##"{
  "palette": [{ "name": "lamp", "srgb": "#ffc145" }, { "name": "nuit d’été", "srgb": "#1c2541" }],
  "threads": [0, 1, 1],
  "repeat": [
    { "knots": [{ "at": 1, "kind": "forward" }, { "at": 2, "kind": "forward" }] },
    { "knots": [{ "at": 2, "kind": "backward" }] }
  ],
  "repeats": 30
}
"##;

/// The sound file with one text in place of another.
fn but(from: &str, to: &str) -> Vec<u8> {
    assert_eq!(SOUND.matches(from).count(), 1, "{from} comes once");
    SOUND.replace(from, to).into_bytes()
}

/// The sound file with one field more, on a line of its own.
fn and(field: &str) -> Vec<u8> {
    but(
        "  \"repeats\": 30\n",
        &format!("  \"repeats\": 30,\n  {field}\n"),
    )
}

fn threads(count: usize) -> Vec<u8> {
    but("[0, 1, 1]", &json!(vec![0; count]).to_string())
}

fn wrong_files() -> Vec<(&'static str, Vec<u8>)> {
    let mut not_utf8 = SOUND.as_bytes().to_vec();
    not_utf8[30] = 0xff;
    let origin = |fields: &str| {
        and(&format!(
            "\"origin\": {{ \"rule\": \"spring tide\", {fields} }}"
        ))
    };
    vec![
        ("nothing at all", Vec::new()),
        ("blank lines only", b"\n\n  \n".to_vec()),
        ("cut off in the middle", SOUND.as_bytes()[..230].to_vec()),
        ("not UTF-8", not_utf8),
        (
            "another kind of file",
            b"# Spring tide\n\nA slanted band.\n".to_vec(),
        ),
        ("a comma too few", but("[0, 1, 1],", "[0, 1, 1]")),
        (
            "a comma too many",
            but("\"repeats\": 30\n", "\"repeats\": 30,\n"),
        ),
        (
            "something after the end",
            [SOUND, "{}"].concat().into_bytes(),
        ),
        ("a list instead of fields", b"[]".to_vec()),
        ("a field missing", but("  \"threads\": [0, 1, 1],\n", "")),
        ("a field that there is not", and("\"colours\": 3")),
        ("a field given twice", and("\"threads\": [0, 1, 1]")),
        (
            "a newer format",
            and("\"format\": \"hitchwork-band/2\", \"weave\": true"),
        ),
        ("some other format", and("\"format\": \"quilt\"")),
        ("the format is a number", and("\"format\": 1")),
        ("the title is nothing", and("\"title\": null")),
        (
            "a title of millions of letters",
            and(&format!("\"title\": \"{}\"", "潮".repeat(10_000_000))),
        ),
        (
            "notes like a book",
            and(&format!("\"notes\": \"{}\"", "ebb ".repeat(2_501))),
        ),
        (
            "a colour of endless name",
            but("\"lamp\"", &format!("\"{}\"", "lamp".repeat(26))),
        ),
        (
            "a setting of endless name",
            origin(&format!("\"settings\": {{ \"{}\": 1 }}", "n".repeat(101))),
        ),
        (
            "a setting of endless value",
            origin(&format!(
                "\"settings\": {{ \"n\": \"{}\" }}",
                "v".repeat(201)
            )),
        ),
        (
            "no palette",
            but(
                "[{ \"name\": \"lamp\", \"srgb\": \"#ffc145\" }, { \"name\": \"nuit d’été\", \"srgb\": \"#1c2541\" }]",
                "[]",
            ),
        ),
        ("a colour that is none", but("#1c2541", "#1c254")),
        ("a colour by its number", but("\"#1c2541\"", "42")),
        (
            "a colour without a value",
            but(", \"srgb\": \"#1c2541\"", ""),
        ),
        ("a colour without a name", but("nuit d’été", " ")),
        ("two colours of one name", but("nuit d’été", "lamp")),
        (
            "a colour's value given twice",
            but(
                "\"srgb\": \"#1c2541\"",
                "\"srgb\": \"#1c2541\", \"srgb\": \"#1c2542\"",
            ),
        ),
        ("no threads", threads(0)),
        ("one thread", threads(1)),
        ("201 threads", threads(201)),
        ("10,000 threads", threads(10_000)),
        (
            "a thread of a colour that is not there",
            but("[0, 1, 1]", "[0, 1, 9]"),
        ),
        (
            "a thread by the name of its colour",
            but("[0, 1, 1]", "[0, \"lamp\", 1]"),
        ),
        ("a thread of half a colour", but("[0, 1, 1]", "[0, 0.5, 1]")),
        ("a thread of colour -1", but("[0, 1, 1]", "[-1, 0, 1]")),
        (
            "a thread of colour 65536",
            but("[0, 1, 1]", "[65536, 0, 1]"),
        ),
        ("threads as a number", but("[0, 1, 1]", "3")),
        (
            "no rows",
            but(
                "[\n    { \"knots\": [{ \"at\": 1, \"kind\": \"forward\" }, { \"at\": 2, \"kind\": \"forward\" }] },\n    { \"knots\": [{ \"at\": 2, \"kind\": \"backward\" }] }\n  ]",
                "[]",
            ),
        ),
        (
            "a row without knots",
            but("[{ \"at\": 2, \"kind\": \"backward\" }]", "[]"),
        ),
        (
            "a row without its list of knots",
            but(
                "{ \"knots\": [{ \"at\": 2, \"kind\": \"backward\" }] }",
                "{}",
            ),
        ),
        (
            "a row as a list",
            but(
                "{ \"knots\": [{ \"at\": 2, \"kind\": \"backward\" }] }",
                "[2]",
            ),
        ),
        (
            "a row's knots given twice",
            but(
                "{ \"knots\": [{ \"at\": 2, \"kind\": \"backward\" }] }",
                "{ \"knots\": [], \"knots\": [] }",
            ),
        ),
        (
            "a knot outside the threads",
            but(
                "{ \"at\": 2, \"kind\": \"forward\" }",
                "{ \"at\": 3, \"kind\": \"forward\" }",
            ),
        ),
        (
            "a knot in column 0",
            but(
                "{ \"at\": 2, \"kind\": \"forward\" }",
                "{ \"at\": 0, \"kind\": \"forward\" }",
            ),
        ),
        (
            "a knot in column -1",
            but(
                "{ \"at\": 2, \"kind\": \"forward\" }",
                "{ \"at\": -1, \"kind\": \"forward\" }",
            ),
        ),
        (
            "a knot in column 70000",
            but(
                "{ \"at\": 2, \"kind\": \"forward\" }",
                "{ \"at\": 70000, \"kind\": \"forward\" }",
            ),
        ),
        (
            "a knot in column two",
            but(
                "{ \"at\": 2, \"kind\": \"forward\" }",
                "{ \"at\": \"two\", \"kind\": \"forward\" }",
            ),
        ),
        (
            "a knot of no kind",
            but("{ \"at\": 2, \"kind\": \"forward\" }", "{ \"at\": 2 }"),
        ),
        (
            "a knot of an unknown kind",
            but(
                "{ \"at\": 2, \"kind\": \"backward\" }",
                "{ \"at\": 2, \"kind\": \"sideways\" }",
            ),
        ),
        (
            "a knot's kind as a number",
            but(
                "{ \"at\": 2, \"kind\": \"backward\" }",
                "{ \"at\": 2, \"kind\": 1 }",
            ),
        ),
        (
            "a knot's column given twice",
            but(
                "{ \"at\": 2, \"kind\": \"backward\" }",
                "{ \"at\": 2, \"at\": 1, \"kind\": \"backward\" }",
            ),
        ),
        (
            "a knot with a field of its own",
            but(
                "{ \"at\": 2, \"kind\": \"backward\" }",
                "{ \"at\": 2, \"kind\": \"backward\", \"colour\": 1 }",
            ),
        ),
        (
            "a knot outside, in the lead-out",
            and("\"lead_out\": [{ \"knots\": [{ \"at\": 9, \"kind\": \"forward\" }] }]"),
        ),
        (
            "an unknown kind, in the lead-in",
            and("\"lead_in\": [{ \"knots\": [{ \"at\": 1, \"kind\": \"reef\" }] }]"),
        ),
        ("no repeats", but("30", "0")),
        ("repeats below nothing", but("30", "-3")),
        ("half a repeat", but("30", "30.5")),
        ("repeats in words", but("30", "\"thirty\"")),
        ("more repeats than are allowed", but("30", "1000001")),
        ("more repeats than fit 32 bits", but("30", "5000000000")),
        (
            "more repeats than fit 64 bits",
            but("30", "99999999999999999999999"),
        ),
        ("repeats beyond all numbers", but("30", "1e999")),
        ("more knots than are allowed", {
            let many = "{ \"at\": 1, \"kind\": \"forward\" }, ".repeat(30);
            String::from_utf8(but("30", "1000000"))
                .expect("text")
                .replacen("[{ \"at\": 1", &format!("[{many}{{ \"at\": 1"), 1)
                .into_bytes()
        }),
        ("an unknown end", and("\"start\": { \"shape\": \"round\" }")),
        (
            "an end without a shape",
            and("\"finish\": { \"ties\": \"cut\" }"),
        ),
        ("an end in one word", and("\"start\": \"loop\"")),
        (
            "a thread of no thickness",
            and("\"gauge\": { \"thread_mm\": 0, \"column_mm\": 1.2, \"half_row_mm\": 1.2 }"),
        ),
        (
            "an enormous column",
            and("\"gauge\": { \"thread_mm\": 0.6, \"column_mm\": 1e300, \"half_row_mm\": 1.2 }"),
        ),
        (
            "a gauge that is not a number",
            and("\"gauge\": { \"thread_mm\": NaN, \"column_mm\": 1.2, \"half_row_mm\": 1.2 }"),
        ),
        (
            "a gauge of two sizes",
            and("\"gauge\": { \"thread_mm\": 0.6, \"column_mm\": 1.2 }"),
        ),
        (
            "a gauge in words",
            and("\"gauge\": { \"thread_mm\": \"fine\", \"column_mm\": 1.2, \"half_row_mm\": 1.2 }"),
        ),
        ("a seed below nothing", origin("\"seed\": -1")),
        (
            "a seed beyond 64 bits",
            origin("\"seed\": 18446744073709551616"),
        ),
        (
            "a setting given twice",
            origin("\"settings\": { \"threads\": 3, \"threads\": 4 }"),
        ),
        (
            "a setting that is nothing",
            origin("\"settings\": { \"threads\": null }"),
        ),
        (
            "a setting that is a group",
            origin("\"settings\": { \"threads\": { \"from\": 3 } }"),
        ),
        (
            "a setting of places that are words",
            origin("\"settings\": { \"turns\": [3, \"five\"] }"),
        ),
        (
            "a setting beyond 64 bits",
            origin("\"settings\": { \"threads\": 9223372036854775808 }"),
        ),
        ("settings as a list", origin("\"settings\": [3]")),
        (
            "a very long word",
            but(
                "\"backward\"",
                &format!("\"{}\"", "over and under ".repeat(5000)),
            ),
        ),
        (
            "a very long field",
            and(&format!("\"{}\": 1", "over and under ".repeat(5000))),
        ),
        ("a very long name twice", {
            let long = "over and under ".repeat(5000);
            String::from_utf8(but("nuit d’été", &long))
                .expect("text")
                .replace("lamp", &long)
                .into_bytes()
        }),
    ]
}

#[test]
fn every_wrong_file_is_answered_in_words() {
    let mut said = String::new();
    for (what, bytes) in wrong_files() {
        let error = file::read(&bytes)
            .err()
            .unwrap_or_else(|| panic!("{what} is read as a band"));
        let help = error.help().expect("every wrong file can be mended");
        let message = error.to_string();
        assert!(!message.contains('\n'), "{what}: one line");
        assert!(
            message.chars().count() < 400,
            "{what}: short enough to read aloud"
        );
        writeln!(said, "{what}:\n  {message}\n  {help}\n").expect("writing to text");
    }
    golden::check("tests/golden/band_file_errors.txt", &said);
}

#[test]
fn no_message_speaks_as_programmers_do() {
    for (what, bytes) in wrong_files() {
        let message = file::read(&bytes).expect_err(what).to_string();
        for word in [
            "struct",
            "u16",
            "u32",
            "u64",
            "f64",
            "i64",
            "enum",
            "sequence",
            "variant",
            "invalid type",
            "`",
        ] {
            assert!(!message.contains(word), "{what}: {message}");
        }
    }
}

#[test]
fn a_file_cut_short_anywhere_says_so() {
    for end in 0..SOUND.trim_end().len() {
        let bytes = &SOUND.as_bytes()[..end];
        let message = file::read(bytes).expect_err("not whole").to_string();
        let expected = match std::str::from_utf8(bytes) {
            Ok(text) if text.trim().is_empty() => "the file is empty",
            Ok(_) => "breaks off before its end",
            Err(_) => "not UTF-8",
        };
        assert!(message.contains(expected), "cut at {end}: {message}");
    }
}

#[test]
fn the_place_counts_characters_not_bytes() {
    // Line 2 has accented letters before the place.
    let bytes = but("\"#1c2541\"", "42");
    let message = file::read(&bytes).expect_err("no colour").to_string();
    let line = String::from_utf8(bytes).expect("text");
    let line = line.lines().nth(1).expect("line 2");
    let character = line.chars().position(|letter| letter == '4').map(|_| {
        let end = line.find("42").expect("there") + "42".len();
        line[..end].chars().count()
    });
    let expected = format!("line 2, character {}", character.expect("there"));
    assert!(
        message.starts_with(&expected),
        "{message}, expected {expected}"
    );
}

#[test]
fn lists_in_lists_without_end_are_refused_at_once() {
    const DEEP: usize = 10 << 20;
    let brackets = "[".repeat(DEEP);
    let whole = [brackets.as_str(), &"]".repeat(DEEP)].concat();
    let as_field = |name: &str| SOUND.replacen('{', &format!("{{ \"{name}\": {whole},"), 1);
    let in_settings = SOUND.replacen(
        '{',
        &format!("{{ \"origin\": {{ \"rule\": \"\", \"settings\": {{ \"turns\": {whole} }} }},"),
        1,
    );
    let texts = [
        brackets.clone(),
        whole.clone(),
        as_field("title"),
        as_field("lead_in"),
        as_field("knot"),
        in_settings,
    ];
    for text in texts {
        let error = file::read(text.as_bytes()).expect_err("no band");
        assert!(error.to_string().chars().count() < 400, "{error}");
    }
}

#[test]
fn a_file_too_large_to_be_a_band_is_not_even_looked_at() {
    let large = vec![b' '; file::MAX_BYTES + 1];
    let error = file::read(&large).expect_err("too large");
    assert_eq!(
        error.to_string(),
        "a band file has at most 64 MB, and this one has more"
    );
}

#[test]
fn a_list_as_long_as_a_file_can_hold_is_refused() {
    let long = "0,".repeat(10 << 20);
    let text = SOUND.replace("[0, 1, 1]", &format!("[{long}0]"));
    let error = file::read(text.as_bytes()).expect_err("ten million threads");
    assert_eq!(
        error.to_string(),
        format!("a band has 2 to 200 threads, not {}", (10 << 20) + 1)
    );
}

#[test]
fn an_error_is_of_the_file_or_of_the_band() {
    let not_json = file::read(b"tide").expect_err("not JSON");
    assert!(not_json.is_file() && !not_json.is_out_of_range());
    let outside = file::read(&threads(201)).expect_err("too many threads");
    assert!(outside.is_out_of_range() && !outside.is_file());
}

#[test]
fn more_rows_and_knots_than_are_worked_with() {
    let mut value: Value = serde_json::from_str(SOUND).expect("JSON");
    let row = value["repeat"][0].clone();
    value["lead_in"] = json!(vec![row; 100_001]);
    let error = file::read(value.to_string().as_bytes()).expect_err("too many rows");
    assert_eq!(
        error.to_string(),
        "the lead-in has 100001 rows; at most 100000 are allowed"
    );
}
