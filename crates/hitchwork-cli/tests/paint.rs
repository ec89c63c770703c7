//! `paint`: from a picture to a whole band.

use std::fs;

use hitchwork_core::fabric::Fabric;
use hitchwork_core::file;

mod common;
use common::{files_in, folder, hitchwork};

/// A lattice of eight threads in which a wave of colour b runs over a ground of colour a.
const WAVE: &str =
    "a a a a\n b a a\nb b a a\n b b a\na b b a\n a b b\na a b b\n a a b\na a a b\n a a a\n";

fn picture(text: &str) -> tempfile::TempDir {
    let place = folder();
    fs::write(place.path().join("wave.txt"), text).expect("written");
    place
}

/// What is said as data.
fn data(place: &tempfile::TempDir, more: &[&str]) -> serde_json::Value {
    let arguments = [&["paint", "wave.txt", "--json"], more].concat();
    let said = hitchwork(place.path(), &arguments);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    serde_json::from_str(&said.out).expect("data")
}

/// Asserts a refusal that writes nothing.
fn refused(text: &str, more: &[&str]) -> String {
    let place = picture(text);
    let said = hitchwork(place.path(), &[&["paint", "wave.txt"], more].concat());
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert_eq!(files_in(place.path()), ["wave.txt"]);
    assert!(said.err.contains("help"), "{}", said.err);
    said.err
}

/// The letters that the band shows in its first repeat, by row and column from 1.
fn shown(place: &tempfile::TempDir, letters: &[char]) -> Vec<(char, u16)> {
    let text = fs::read(place.path().join("out/wave/wave.band.json")).expect("a band file");
    let band = file::read(&text).expect("a band");
    let fabric = Fabric::of(&band);
    let knots = fabric.first_repeat().knots();
    let letter = |thread| letters[usize::from(fabric.colour(thread))];
    knots
        .map(|knot| (letter(knot.working), knot.column.number()))
        .collect()
}

/// What the picture wants at its knots, in tying order.
fn wanted(text: &str) -> Vec<(char, u16)> {
    let mut wanted = Vec::new();
    for (row, line) in text.lines().enumerate() {
        let marks: Vec<char> = line.chars().collect();
        for place in (row % 2..7).step_by(2) {
            let column = u16::try_from(place + 1).expect("few");
            wanted.push((marks.get(place).copied().unwrap_or('?'), column));
        }
    }
    wanted
}

#[test]
fn a_picture_becomes_a_band_that_shows_it() {
    let place = picture(WAVE);
    let said = data(&place, &[]);
    let knots = wanted(WAVE).len();
    assert_eq!(
        said,
        serde_json::json!({
            "way": "solved", "knots": knots, "misses": 0, "least": 0, "proved": true,
            "threads": said["threads"], "missed": [],
        })
    );
    let hung = said["threads"].as_object().expect("counts");
    assert_eq!(hung.keys().collect::<Vec<_>>(), ["a", "b"]);
    let sum: u64 = hung.values().filter_map(serde_json::Value::as_u64).sum();
    assert_eq!(sum, 8);
    assert_eq!(shown(&place, &['a', 'b']), wanted(WAVE));
    let files = files_in(&place.path().join("out/wave"));
    for file in ["wave.band.json", "fabric.svg", "sheet.html", "sheet.txt"] {
        assert!(files.iter().any(|made| made == file), "{files:?}");
    }
}

#[test]
fn misses_are_counted_named_and_bounded() {
    // Rows of one colour after another cannot be had of three colours.
    let text = "a a a\n b b\nc c c\n a a\nb b b\n c c\n";
    let place = picture(text);
    let counts = ["--counts", "a=2,b=2,c=2", "--open"];
    let said = data(&place, &counts);
    let missed = said["missed"].as_array().expect("a list");
    assert_eq!(said["misses"], missed.len());
    assert_eq!(
        (&said["least"], &said["proved"]),
        (&said["misses"], &true.into())
    );
    assert!(!missed.is_empty());
    assert_eq!(said["threads"], serde_json::json!({"a": 2, "b": 2, "c": 2}));
    // Those that miss, and no others, show something else than is wanted.
    let columns = [1, 3, 5, 2, 4, 1, 3, 5, 2, 4, 1, 3, 5, 2, 4];
    let rows = [1, 1, 1, 2, 2, 3, 3, 3, 4, 4, 5, 5, 5, 6, 6];
    let wanted = "aaabbcccaabbbcc".chars().zip(columns);
    let differ: Vec<serde_json::Value> = shown(&place, &['a', 'b', 'c'])
        .into_iter()
        .zip(wanted)
        .zip(rows)
        .filter(|((shown, wanted), _)| shown != wanted)
        .map(|((_, (_, column)), row)| serde_json::json!([row, column]))
        .collect();
    assert_eq!(missed, &differ);
    let words = hitchwork(
        place.path(),
        &[&["paint", "wave.txt"], &counts[..]].concat(),
    );
    assert!(
        words.out.contains("no way to tie it misses fewer"),
        "{}",
        words.out
    );
    assert!(words.out.contains("colours     a "), "{}", words.out);
}

#[test]
fn free_rows_are_advised_and_help() {
    // A thread of colour b goes from the left edge to the right.
    let text = "b a a\n b a\na b a\n a b\na a b\n a a\n";
    let place = picture(text);
    let counts = ["--counts", "a=5,b=1"];
    let closed = data(&place, &counts);
    assert!(closed["misses"].as_u64() > Some(0), "{closed}");
    let words = hitchwork(
        place.path(),
        &[&["paint", "wave.txt"], &counts[..]].concat(),
    );
    let rows = (2..9).step_by(2).map(|rows| rows.to_string());
    let advised = rows.into_iter().find(|rows| {
        let advice = format!("with {rows} more rows after it that may show anything (--free-rows)");
        words.out.contains(&advice)
    });
    let advised = advised.expect("an advice");
    let free = data(&place, &[&counts[..], &["--free-rows", &advised]].concat());
    assert_eq!(
        (&free["misses"], &free["proved"]),
        (&0.into(), &true.into())
    );
}

#[test]
fn two_colours_are_tied_in_pairs_where_they_show_more_so() {
    let text = "a b b a\n b a b\nb b a a\n a a b\n";
    let place = picture(text);
    let pairs = data(&place, &["--way", "pairs"]);
    assert_eq!(
        (&pairs["way"], &pairs["misses"]),
        (&"pairs".into(), &0.into())
    );
    assert_eq!(pairs["threads"], serde_json::json!({"a": 4, "b": 4}));
    assert_eq!(shown(&place, &['a', 'b']), wanted(text));
    let solved = data(&place, &["--way", "solved"]);
    assert_eq!(solved["way"], "solved");
    let chosen = data(&place, &[]);
    assert_eq!(chosen["misses"], 0);
}

#[test]
fn an_open_picture_is_tied_once_and_a_closed_one_as_long_as_asked() {
    let place = picture(WAVE);
    let repeats = |more: &[&str]| {
        data(&place, more);
        let text = fs::read(place.path().join("out/wave/wave.band.json")).expect("a band file");
        file::read(&text).expect("a band").repeats()
    };
    assert_eq!(repeats(&["--open"]), 1);
    assert!(repeats(&["--length", "10"]) < repeats(&["--closed"]));
    assert!(refused(WAVE, &["--open", "--length", "10"]).contains("--length"));
}

#[test]
fn what_is_no_picture_is_refused_with_its_place() {
    let mark = refused("a b\n 7\n", &[]);
    assert!(
        mark.contains("wave.txt: line 2, character 2: \"7\" is neither a colour"),
        "{mark}"
    );
    let empty = refused("\n\n", &[]);
    assert!(empty.contains("asks for no colour"), "{empty}");
    let narrow = refused(WAVE, &["--threads", "6"]);
    assert!(
        narrow.contains("the picture has 7 columns, and 6 threads have 5"),
        "{narrow}"
    );
    let unknown = refused(WAVE, &["--counts", "a=8"]);
    assert!(
        unknown.contains("the colour b of the picture is not among"),
        "{unknown}"
    );
    let sum = refused(WAVE, &["--counts", "a=4,b=3"]);
    assert!(
        sum.contains("the colours have 7 threads together, and the band has 8"),
        "{sum}"
    );
    let twice = refused(WAVE, &["--counts", "a=4,a=4"]);
    assert!(twice.contains("the colour a is given twice"), "{twice}");
    let palette = refused(WAVE, &["--palette", "regata"]);
    assert!(palette.contains("did you mean \"regatta\""), "{palette}");
    let three = refused("a b c\n a b\n", &["--way", "pairs"]);
    assert!(three.contains("two colours hang by turns"), "{three}");
    let wide = refused(&"a ".repeat(150), &[]);
    assert!(wide.contains("beyond column 199"), "{wide}");
    let long = refused(&"a\n".repeat(2_001), &[]);
    assert!(long.contains("more than 2000 rows"), "{long}");
}

#[test]
fn dots_question_marks_and_what_is_not_written_show_anything() {
    let place = picture("a.a.?\n.b\na\n\n");
    let said = data(&place, &["--threads", "6", "--open"]);
    assert_eq!((&said["knots"], &said["misses"]), (&8.into(), &0.into()));
}
