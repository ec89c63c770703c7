//! `paint`: from a picture to a whole band.

use std::fs;
use std::path::Path;

use hitchwork_core::fabric::Fabric;
use hitchwork_core::file;

use crate::common::{files_in, folder, hitchwork};

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

/// Nobody finds hidden files who does not look for them.
#[test]
fn what_comes_of_a_hidden_picture_is_not_hidden() {
    let (place, _) = painted(".boat.txt", BOAT.as_bytes(), &[]);
    assert!(files_in(&place.path().join("made")).contains(&"boat.band.json".to_owned()));
}

/// In whatever order the letters are counted, each has its own colour.
#[test]
fn letters_may_be_counted_in_any_order() {
    let band = |counts: &str| {
        let place = picture(WAVE);
        data(&place, &["--counts", counts]);
        fs::read_to_string(place.path().join("out/wave/wave.band.json")).expect("a band file")
    };
    assert_eq!(band("b=4,a=4"), band("a=4,b=4"));
}

/// Of many that miss some are named, and the others counted.
#[test]
fn the_misses_that_are_not_named_are_counted() {
    let text = [
        "a a a a\n",
        " b b b\n",
        "c c c c\n",
        " a a a\n",
        "b b b b\n",
        " c c c\n",
    ]
    .concat()
    .repeat(3);
    let place = picture(&text);
    let counts = ["--counts", "a=3,b=3,c=2", "--open"];
    let missed = data(&place, &counts)["misses"].as_u64().expect("a number");
    assert!(missed > 9, "{missed}");
    let words = hitchwork(
        place.path(),
        &[&["paint", "wave.txt"], &counts[..]].concat(),
    )
    .out;
    assert!(
        words.contains(&format!(", {} more\n", missed - 8)),
        "{words}"
    );
    assert_eq!(words.matches(" instead of ").count(), 8, "{words}");
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
        let advice = format!(
            "with {rows} more rows after it that may show anything (--free-rows {rows}), none would miss"
        );
        words.out.contains(&advice)
    });
    let advised = advised.expect("an advice");
    // Whoever has asked for some rows already is told of all of them together.
    let shorter = picture(text.trim_end_matches(" a a\n"));
    let more = [&["paint", "wave.txt", "--free-rows", "1"], &counts[..]].concat();
    let more = hitchwork(shorter.path(), &more).out;
    let together =
        "with 2 more rows after it that may show anything (--free-rows 3), none would miss";
    assert!(more.contains(together), "{more}");
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
    assert!(repeats(&["--wrist", "12"]) < repeats(&["--wrist", "22"]));
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

/// A boat as marks of a motif.
const BOAT: &str =
    "....#....\n...##....\n..###....\n.####....\n....#....\n#########\n.#######.\n..#####..\n";

/// The band that a command wrote: its rows in words, and the colours of its threads.
fn knots_and_colours(folder: &Path, name: &str) -> (Vec<String>, Vec<String>, u32) {
    let band = fs::read(folder.join(format!("{name}.band.json"))).expect("a band file");
    let band = file::read(&band).expect("a band");
    let colours = band.thread_colours().iter();
    let colours = colours.map(|colour| band.palette()[usize::from(*colour)].clone());
    (
        band.repeat().iter().map(ToString::to_string).collect(),
        colours
            .map(|colour| format!("{} {}", colour.name, colour.srgb))
            .collect(),
        band.repeats(),
    )
}

/// A plain picture of pixels: for each letter of the rows, a colour.
fn ppm(rows: &[&str]) -> Vec<u8> {
    let mut bytes = format!("P6 {} {} 255\n", rows[0].len(), rows.len()).into_bytes();
    for letter in rows.iter().flat_map(|row| row.bytes()) {
        bytes.extend(match letter {
            b'a' => [29, 111, 140],
            b'b' => [232, 241, 238],
            b'c' => [255, 193, 69],
            _ => [34, 48, 79],
        });
    }
    bytes
}

/// Paints a file in a folder of its own, as data; with `--with text`, which is quick.
fn painted(name: &str, bytes: &[u8], more: &[&str]) -> (tempfile::TempDir, serde_json::Value) {
    let place = folder();
    fs::write(place.path().join(name), bytes).expect("written");
    let given = [
        &["paint", name, "--json", "--with", "text", "--out", "made"],
        more,
    ]
    .concat();
    let said = hitchwork(place.path(), &given);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    (place, serde_json::from_str(&said.out).expect("data"))
}

/// Asserts that a file of this name is refused in words, and nothing written.
fn file_refused(name: &str, bytes: &[u8], more: &[&str]) -> String {
    let place = folder();
    fs::write(place.path().join(name), bytes).expect("written");
    let said = hitchwork(place.path(), &[&["paint", name], more].concat());
    assert_eq!(said.status, Some(2), "{}{}", said.out, said.err);
    assert_eq!(files_in(place.path()), [name]);
    assert!(said.err.contains("help"), "{}", said.err);
    said.err
}

const STRIPED: [&str; 6] = ["aabbcc", "abbcca", "bbccaa", "bccaab", "ccaabb", "caabbc"];

#[test]
fn the_rule_that_is_written_makes_the_same_knots() {
    let striped = ppm(&STRIPED);
    let boat = BOAT.as_bytes();
    let wave = WAVE.as_bytes();
    for (name, bytes, more, says) in [
        ("boat.txt", boat, &[][..], "over_leader(art)"),
        (
            "boat.txt",
            boat,
            &["--open"],
            "over_leader(art, #{ comes_back: false })",
        ),
        ("boat.txt", boat, &["--way", "pairs"], "in_pairs(art)"),
        (
            "boat.txt",
            boat,
            &["--way", "pairs", "--threads", "12", "--free-rows", "2"],
            "in_pairs(art, #{ threads: 12, free_rows: 2 })",
        ),
        (
            "boat.txt",
            boat,
            &["--way", "solved", "--open"],
            "open: true",
        ),
        (
            "boat.txt",
            boat,
            &["--way", "solved", "--palette", "red sails"],
            "solved(art, #{ counts:",
        ),
        ("wave.txt", wave, &[], "solved(art, #{ counts:"),
        (
            "wave.txt",
            wave,
            &["--way", "pairs", "--counts", "a=4,b=4"],
            "in_pairs(art)",
        ),
        (
            "wave.txt",
            wave,
            &["--counts", "a=6,b=4", "--threads", "10"],
            "threads: 10",
        ),
        ("wave.txt", wave, &["--free-rows", "2"], "free_rows: 2"),
        ("wave.txt", wave, &["--open"], "leave counts out"),
        // No rule can hang a colour that its picture does not show.
        ("wave.txt", wave, &["--counts", "a=4,b=3,c=1"], "grid(`"),
        (
            "a boat's \"wake\".ppm",
            &striped,
            &[],
            "solved(art, #{ counts:",
        ),
    ] {
        let (place, _) = painted(name, bytes, more);
        let made = place.path().join("made");
        let short = files_in(&made)
            .into_iter()
            .find_map(|name| name.strip_suffix(".rhai").map(str::to_owned));
        let short = short.expect("a rule");
        let rule = format!("{short}.rhai");
        let text = fs::read_to_string(made.join(&rule)).expect("text");
        assert!(text.contains(says), "{says}:\n{text}");
        assert!(
            text.starts_with("/// A band that shows the picture "),
            "{text}"
        );
        fs::copy(made.join(&rule), place.path().join(&rule)).expect("copied");
        let again = hitchwork(
            place.path(),
            &["make", &rule, "--with", "text", "--out", "again"],
        );
        assert_eq!(again.status, Some(0), "{}{}", again.out, again.err);
        assert_eq!(
            knots_and_colours(&made, &short),
            knots_and_colours(&place.path().join("again"), &short),
            "{name} {more:?}"
        );
    }
}

/// Small pictures by chance, in all forms and tied in all ways: the rule that is written makes the
/// very knots, and says so where it has them one by one.
#[test]
fn a_rule_that_is_written_always_makes_the_same_knots() {
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut below = |end: usize| {
        // A linear congruential generator (Knuth, MMIX, from memory).
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(state >> 33).expect("31 bits") % end
    };
    let (mut with_picture, mut by_knots) = (0, 0);
    for case in 0..24 {
        let (columns, rows) = (2 + below(5), 2 + below(5));
        let marks: &[u8] = match case % 4 {
            0 => b"ab",
            1 => b"abcd",
            2 => b"#.",
            _ => b"ab.?",
        };
        let lines: Vec<String> = (0..rows)
            .map(|_| {
                (0..columns)
                    .map(|_| char::from(marks[below(marks.len())]))
                    .collect()
            })
            .collect();
        let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
        let (name, bytes) = match case % 4 {
            0 | 1 => ("chance.ppm", ppm(&lines)),
            _ => ("chance.txt", lines.join("\n").into_bytes()),
        };
        let mut more = vec![
            ["--way", "solved"],
            ["--way", "pairs"],
            ["--way", "leader"],
            ["--margin", "0"],
        ][below(4)]
        .to_vec();
        more.extend([&["--open"][..], &["--free-rows", "1"], &[], &[]][below(4)]);
        let place = folder();
        fs::write(place.path().join(name), &bytes).expect("written");
        let given = [
            &["paint", name, "--with", "text", "--out", "made"],
            &more[..],
        ]
        .concat();
        let said = hitchwork(place.path(), &given);
        // Not every picture can be tied in every way; then it is refused in words.
        if said.status == Some(2) {
            assert!(
                said.err.contains("help"),
                "{lines:?} {more:?}: {}",
                said.err
            );
            continue;
        }
        let by_ones = said.out.contains("the rule has the knots one by one");
        assert!(
            !said.out.contains("no rule is written"),
            "{lines:?} {more:?}: {}",
            said.out
        );
        let made = place.path().join("made");
        let rule = fs::read_to_string(made.join("chance.rhai")).expect("a rule");
        assert_eq!(
            rule.contains("grid(`"),
            by_ones,
            "{lines:?} {more:?}: {}\n{rule}",
            said.out
        );
        *if by_ones {
            &mut by_knots
        } else {
            &mut with_picture
        } += 1;
        fs::copy(made.join("chance.rhai"), place.path().join("chance.rhai")).expect("copied");
        let again = hitchwork(
            place.path(),
            &["make", "chance.rhai", "--with", "text", "--out", "again"],
        );
        assert_eq!(again.status, Some(0), "{rule}\n{}{}", again.out, again.err);
        assert_eq!(
            knots_and_colours(&made, "chance"),
            knots_and_colours(&place.path().join("again"), "chance"),
            "{lines:?} {more:?}"
        );
    }
    assert!(
        with_picture >= 12,
        "{with_picture} with their picture, {by_knots} without"
    );
}

/// A colour that lies only between the knots hangs nowhere; the rule has the picture all the same.
#[test]
fn a_colour_between_the_knots_keeps_no_picture_out_of_a_rule() {
    let speck = ppm(&["acab", "baba", "abab", "bbba"]);
    let (place, said) = painted("speck.ppm", &speck, &["--way", "solved"]);
    assert_eq!(
        said["threads"].as_object().map(serde_json::Map::len),
        Some(2)
    );
    let rule = fs::read_to_string(place.path().join("made/speck.rhai")).expect("a rule");
    assert!(rule.contains("solved(art, #{ counts:"), "{rule}");
    assert!(rule.contains("    a.ab\n"), "{rule}");
}

/// More colours than letters, in a rule that has the knots one by one.
#[test]
fn a_rule_of_knots_names_any_number_of_colours() {
    let place = folder();
    // 29 letters, of which one shows nowhere, so that no rule finds the knots from the picture.
    let letters: Vec<char> = ('a'..='z').chain('A'..='C').collect();
    let row: String = letters[..28]
        .iter()
        .flat_map(|letter| [*letter, ' '])
        .collect();
    let text = format!("{}\n{}\n", row.trim_end(), " ?".repeat(27));
    fs::write(place.path().join("signs.txt"), text).expect("written");
    let counts: Vec<String> = (letters.iter())
        .map(|letter| format!("{letter}={}", if *letter == 'a' { 28 } else { 1 }))
        .collect();
    let colours: Vec<String> = (0..29)
        .map(|at| {
            format!(
                "tone {at},#{:02x}{:02x}{:02x}\n",
                at * 8,
                255 - at * 7,
                (at * 53) % 256
            )
        })
        .collect();
    fs::write(
        place.path().join("tones.csv"),
        format!("name,colour\n{}", colours.concat()),
    )
    .expect("written");
    let given = [
        "paint",
        "signs.txt",
        "--open",
        "--palette",
        "tones.csv",
        "--counts",
        &counts.join(","),
        "--with",
        "text",
        "--out",
        "made",
    ];
    let said = hitchwork(place.path(), &given);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert!(
        said.out
            .contains("the rule has the knots one by one, as no rule finds them from this picture"),
        "{}",
        said.out
    );
    let rule = fs::read_to_string(place.path().join("made/signs.rhai")).expect("a rule");
    assert!(
        rule.contains("let z = ") && rule.contains("let c1 = "),
        "{rule}"
    );
}

/// Whoever names the ground decides which colour leads over a leader, and which shows where the
/// picture shows nothing.
#[test]
fn the_ground_is_the_one_that_is_asked_for() {
    // Half and half, in whole columns: either colour could be the ground.
    let halves = ppm(&["aabb", "aabb"]);
    let ground = |name: &str, bytes: &[u8], more: &[&str]| {
        let (place, said) = painted(name, bytes, more);
        let file = fs::read_dir(place.path().join("made"))
            .expect("there")
            .flatten()
            .map(|entry| entry.path());
        let band = file
            .into_iter()
            .find(|path| path.to_string_lossy().ends_with(".band.json"));
        let band = file::read(&fs::read(band.expect("a band")).expect("there")).expect("a band");
        let leader = usize::from(band.thread_colours()[0]);
        (
            said["way"].as_str().map(str::to_owned),
            band.palette()[leader].srgb.to_string(),
        )
    };
    let over = |srgb: &str| (Some("leader".to_owned()), srgb.to_owned());
    assert_eq!(
        ground("halves.ppm", &halves, &["--ground", "#e8f1ee"]),
        over("#e8f1ee")
    );
    assert_eq!(
        ground("halves.ppm", &halves, &["--ground", "#1d6f8c"]),
        over("#1d6f8c")
    );
    let boat = BOAT.as_bytes();
    assert_eq!(
        ground("boat.txt", boat, &["--ground", "#123456"]),
        over("#123456")
    );
    let (_, usual) = ground("boat.txt", boat, &[]);
    let (_, marine) = ground("boat.txt", boat, &["--ground", "marine"]);
    assert_ne!(usual, marine);
    // Where cells are clear the ground shows over a leader or without one: a column of two colours
    // cannot hang over a leader.
    let (red, blue, clear) = ([200, 10, 20, 255], [20, 30, 190, 255], [0; 4]);
    let row = |cells: [[u8; 4]; 3]| [&[0][..], &cells.concat()].concat();
    let rows = [row([red, clear, blue]), row([blue, red, red])].concat();
    let glass = png((3, 2), 8, 6, 0, &[], &rows);
    let tied = painted("glass.png", &glass, &["--ground", "#123456"]).1;
    assert_ne!(tied["way"], "leader");
    // A margin is of the ground.
    let rimmed = painted(
        "halves.ppm",
        &halves,
        &["--ground", "#e8f1ee", "--margin", "1"],
    )
    .1;
    assert_eq!(rimmed["way"], "leader");
    for (name, bytes, more, message) in [
        (
            "halves.ppm",
            &halves[..],
            &["--ground", "#123456"][..],
            "it would lie nowhere",
        ),
        (
            "halves.ppm",
            &halves,
            &["--ground", "sael"],
            "which no colour is called",
        ),
        (
            "halves.ppm",
            &halves,
            &["--ground", "#e8f1ee", "--way", "solved"],
            "every knot has a colour of the picture",
        ),
        (
            "wave.txt",
            WAVE.as_bytes(),
            &["--ground", "a"],
            "--way leader",
        ),
        (
            "boat.txt",
            boat,
            &["--open", "--free-rows", "2"],
            "leave out one of the two",
        ),
    ] {
        let said = file_refused(name, bytes, more);
        assert!(said.contains(message), "{more:?}: {said}");
    }
}

/// Motif and ground of a text, and of pixels, show in every cell.
#[test]
fn motif_and_ground_are_tied_over_a_leader() {
    let rows: Vec<String> = BOAT
        .lines()
        .map(|row| row.replace('.', "a").replace('#', "b"))
        .collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let pixels = ppm(&rows);
    for (name, bytes, keys) in [
        ("boat.txt", BOAT.as_bytes(), ["marine", "sail"]),
        ("boat.ppm", &pixels, ["deep steel blue", "off-white"]),
    ] {
        let (place, said) = painted(name, bytes, &[]);
        let threads = said["threads"].as_object().expect("counts");
        assert_eq!(threads.keys().collect::<Vec<_>>(), keys);
        assert_eq!(
            said,
            serde_json::json!({
                "way": "leader", "knots": 72, "misses": 0, "least": 0, "proved": true,
                "threads": threads, "missed": [],
            })
        );
        let sum: u64 = threads.values().filter_map(serde_json::Value::as_u64).sum();
        assert_eq!(sum, 10);
        let band = fs::read(place.path().join("made/boat.band.json")).expect("a band file");
        let fabric_of = file::read(&band).expect("a band");
        let fabric = Fabric::of(&fabric_of);
        let ground = fabric_of.thread_colours()[0];
        let mut shown = Vec::new();
        for row in fabric.rows().take(8) {
            let mut knots: Vec<_> = row.knots.iter().collect();
            knots.sort_by_key(|knot| knot.column);
            let mark = |knot: &&hitchwork_core::fabric::TiedKnot| {
                if fabric.colour(knot.working) == ground {
                    '.'
                } else {
                    '#'
                }
            };
            shown.push(knots.iter().map(mark).collect::<String>());
        }
        let wanted: Vec<&str> = BOAT.lines().collect();
        assert_eq!(shown, wanted);
    }
    // An odd number of rows: the leader comes back where the picture is tied again.
    let odd = BOAT.split_inclusive('\n').take(7).collect::<String>();
    assert_eq!(painted("boat.txt", odd.as_bytes(), &[]).1["knots"], 8 * 9);
    assert_eq!(
        painted("boat.txt", odd.as_bytes(), &["--open"]).1["knots"],
        7 * 9
    );
    let words = |more: &[&str]| {
        let place = folder();
        fs::write(place.path().join("boat.txt"), BOAT).expect("written");
        hitchwork(
            place.path(),
            &[&["paint", "boat.txt", "--with", "text"], more].concat(),
        )
        .out
    };
    assert!(words(&[]).contains("so that every cell of motif and ground shows"));
    assert!(!words(&["--way", "leader"]).contains("so that"));
    let found = words(&["--threads", "10"]);
    assert!(
        found.contains("its knots were found, as --threads asks for knots in every second place (without it the picture is tied over a leader, and every cell shows)"),
        "{found}"
    );
    assert!(!words(&["--way", "solved", "--threads", "10"]).contains("without it"));
}

/// Pixels are shrunk and brought down to few colours, which come from a palette or a stash.
#[test]
fn pixels_take_the_colours_of_a_palette_or_a_stash() {
    let rows: Vec<String> = STRIPED
        .iter()
        .flat_map(|row| {
            let wide: String = row.chars().flat_map(|letter| [letter, letter]).collect();
            [wide.clone(), wide]
        })
        .collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let bytes = ppm(&rows);
    let keys = |said: &serde_json::Value| {
        let threads = said["threads"].as_object().expect("counts").clone();
        threads.keys().cloned().collect::<Vec<_>>()
    };
    let (_, own) = painted("stripes.ppm", &bytes, &["--columns", "6"]);
    assert_eq!(keys(&own), ["deep steel blue", "off-white", "orange"]);
    assert_eq!(own["knots"], 18, "six rows of three knots");
    let (_, two) = painted(
        "stripes.ppm",
        &bytes,
        &["--columns", "6", "--colours", "2", "--way", "pairs"],
    );
    assert_eq!((keys(&two).len(), &two["misses"]), (2, &0.into()));
    let (_, regatta) = painted(
        "stripes.ppm",
        &bytes,
        &["--columns", "6", "--palette", "regatta"],
    );
    assert_eq!(keys(&regatta).len(), 3);
    assert!(keys(&regatta).contains(&"sail".to_owned()), "{regatta}");
    let place = folder();
    fs::write(place.path().join("stripes.ppm"), &bytes).expect("written");
    let stash = "name,colour,left\nrope,#c9b27c,5\nbollard,#33383d,5\nlagoon,#1d7090,9\nfroth,#eeeeee,9\nlamp,#f0be3c,9\n";
    fs::write(place.path().join("threads.csv"), stash).expect("written");
    let given = [
        "paint",
        "stripes.ppm",
        "--columns",
        "6",
        "--stash",
        "threads.csv",
        "--json",
        "--with",
        "text",
    ];
    let said = hitchwork(place.path(), &given);
    assert_eq!(said.status, Some(0), "{}", said.err);
    let said: serde_json::Value = serde_json::from_str(&said.out).expect("data");
    assert_eq!(keys(&said), ["froth", "lagoon", "lamp"]);
    // Letters become colours of the stash as unlike each other as can be.
    fs::write(place.path().join("wave.txt"), WAVE).expect("written");
    let said = hitchwork(
        place.path(),
        &[
            "paint",
            "wave.txt",
            "--stash",
            "threads.csv",
            "--with",
            "text",
        ],
    );
    assert!(
        said.out.contains("colours     a rope "),
        "{}{}",
        said.out,
        said.err
    );
    fs::write(
        place.path().join("threads.csv"),
        "name,colour\nrope,#c9b27c\n",
    )
    .expect("written");
    let said = hitchwork(place.path(), &given);
    let said = said.out + said.err.as_str();
    assert!(
        said.contains("the picture has 3 colours, and threads.csv has 1"),
        "{said}"
    );
}

/// A PNG of these chunks; their sums are worked out here (ISO/IEC 15948, Annex D).
fn png(
    size: (u32, u32),
    depth: u8,
    form: u8,
    interlaced: u8,
    before: &[(&[u8; 4], Vec<u8>)],
    rows: &[u8],
) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut chunk = |name: &[u8; 4], data: &[u8]| {
        let named = [&name[..], data].concat();
        let sum = named.iter().fold(u32::MAX, |sum, byte| {
            (0..8).fold(sum ^ u32::from(*byte), |sum, _| {
                (sum >> 1) ^ if sum & 1 == 1 { 0xedb8_8320 } else { 0 }
            })
        });
        bytes.extend(u32::try_from(data.len()).expect("short").to_be_bytes());
        bytes.extend(named);
        bytes.extend((!sum).to_be_bytes());
    };
    let mut header = size.0.to_be_bytes().to_vec();
    header.extend(size.1.to_be_bytes());
    header.extend([depth, form, 0, 0, interlaced]);
    chunk(b"IHDR", &header);
    for (name, data) in before {
        chunk(name, data);
    }
    // One block as it is, and the sum of Adler (RFC 1950, RFC 1951).
    let length = u16::try_from(rows.len()).expect("short");
    let mut packed = vec![0x78, 0x01, 0x01];
    packed.extend(length.to_le_bytes());
    packed.extend((!length).to_le_bytes());
    packed.extend(rows);
    let (one, two) = rows.iter().fold((1_u32, 0_u32), |(one, two), byte| {
        let one = (one + u32::from(*byte)) % 65_521;
        (one, (two + one) % 65_521)
    });
    packed.extend((two << 16 | one).to_be_bytes());
    chunk(b"IDAT", &packed);
    chunk(b"IEND", &[]);
    bytes
}

/// Two rows of two pixels: dark and light above, light and dark below.
fn two_by_two(depth: u8, form: u8) -> Vec<u8> {
    let parts = if form == 6 { 4 } else { 3 };
    let pixel = |value: u8| {
        let mut parts: Vec<u8> = (0..parts)
            .map(|part| if part == 3 { 255 } else { value })
            .collect();
        if depth == 16 {
            parts = parts.into_iter().flat_map(|part| [part, part]).collect();
        }
        parts
    };
    [
        vec![0],
        pixel(30),
        pixel(240),
        vec![0],
        pixel(240),
        pixel(30),
    ]
    .concat()
}

#[test]
fn every_kind_of_png_becomes_a_band() {
    let eight = painted(
        "tile.png",
        &png((2, 2), 8, 2, 0, &[], &two_by_two(8, 2)),
        &[],
    )
    .1;
    assert_eq!(
        (&eight["way"], &eight["knots"]),
        (&"leader".into(), &4.into())
    );
    // Interlaced: the pixel at the left above, the one beside it, and then the second row.
    let rows = two_by_two(8, 2);
    let passes = [&rows[..4], &[0], &rows[4..7], &rows[7..]].concat();
    for bytes in [
        png((2, 2), 16, 2, 0, &[], &two_by_two(16, 2)),
        png((2, 2), 8, 6, 0, &[], &two_by_two(8, 6)),
        png((2, 2), 16, 6, 0, &[], &two_by_two(16, 6)),
        png((2, 2), 8, 2, 1, &[], &passes),
        // One that moves, of one picture.
        png(
            (2, 2),
            8,
            2,
            0,
            &[(b"acTL", [1_u32, 0].map(u32::to_be_bytes).concat())],
            &rows,
        ),
    ] {
        assert_eq!(painted("tile.png", &bytes, &[]).1, eight);
    }
    // Where light shines through, the ground shows.
    let mut clear = two_by_two(8, 6);
    clear[8] = 0;
    let said = painted("tile.png", &png((2, 2), 8, 6, 0, &[], &clear), &[]).1;
    assert_eq!(said["misses"], 0);
}

#[test]
fn what_is_no_sound_picture_is_refused_and_nothing_written() {
    let sound = png((2, 2), 8, 2, 0, &[], &two_by_two(8, 2));
    // A header that promises 100,000 by 100,000 pixels.
    let bomb = png((100_000, 100_000), 8, 2, 0, &[], &two_by_two(8, 2));
    let said = file_refused("bomb.png", &bomb, &[]);
    assert!(
        said.contains("bomb.png: ") && said.contains("100000"),
        "{said}"
    );
    let all_clear = png((2, 2), 8, 6, 0, &[], &[0; 18]);
    for way in [&[][..], &["--way", "solved"], &["--way", "leader"]] {
        let said = file_refused("clear.png", &all_clear, way);
        assert!(said.contains("the picture shows nothing"), "{said}");
    }
    for cut in [9, 20, 40, sound.len() - 16] {
        let said = file_refused("cut.png", &sound[..cut], &[]);
        assert!(said.contains("cut.png: the PNG "), "{cut}: {said}");
    }
    let mut damaged = sound.clone();
    damaged[45] ^= 0x55;
    assert!(file_refused("damaged.png", &damaged, &[]).contains("the PNG is damaged"));
    let gif = file_refused("boat.gif", b"GIF89a\x01\0\x01\0\x80\0\0\xff\xff", &[]);
    assert!(gif.contains("not a picture that can be read"), "{gif}");
    let wide = "ab".repeat(150);
    let said = file_refused("wide.ppm", &ppm(&[&wide]), &[]);
    assert!(
        said.contains("is 300 pixels wide; a band shows at most 199 columns"),
        "{said}"
    );
    assert!(said.contains("--columns"), "{said}");
    let marks = ".#".repeat(120);
    assert!(
        file_refused("wide.txt", marks.as_bytes(), &[]).contains("wider than a picture may be")
    );
    let mut grey = b"P5 20 20 255\n".to_vec();
    grey.extend((0_u8..200).chain(0..200));
    let said = file_refused("grey.pgm", &grey, &[]);
    assert!(
        said.contains("shows 200 colours; a picture has at most 64") && said.contains("--colours"),
        "{said}"
    );
    let four = ppm(&["aa", "bb", "cc", "dd"]);
    let said = file_refused("four.ppm", &four, &["--way", "solved"]);
    assert!(
        said.contains("4 colours do not hang on 3 threads"),
        "{said}"
    );
}

#[test]
fn wishes_that_do_not_fit_the_picture_are_refused() {
    let striped = ppm(&STRIPED);
    for (name, bytes, more, message) in [
        (
            "boat.txt",
            BOAT.as_bytes(),
            &["--columns", "5"][..],
            "each mark of which is a cell",
        ),
        (
            "boat.txt",
            BOAT.as_bytes(),
            &["--colours", "2"],
            "leave out --colours",
        ),
        (
            "boat.txt",
            BOAT.as_bytes(),
            &["--way", "leader", "--threads", "12"],
            "over a leader --threads says nothing",
        ),
        (
            "boat.txt",
            BOAT.as_bytes(),
            &["--way", "leader", "--free-rows", "2"],
            "over a leader --free-rows says nothing",
        ),
        (
            "boat.txt",
            BOAT.as_bytes(),
            &["--way", "solved", "--counts", "marine=10"],
            "--counts says nothing of sail",
        ),
        (
            "boat.txt",
            BOAT.as_bytes(),
            &["--way", "solved", "--counts", "marin=5,sail=5"],
            "shows no colour called marin",
        ),
        (
            "wave.txt",
            WAVE.as_bytes(),
            &["--counts", "aa=4,b=4"],
            "\"aa\" is not one of its letters",
        ),
        (
            "stripes.ppm",
            &striped,
            &["--columns", "7"],
            "cannot be shrunk to 7",
        ),
        (
            "stripes.ppm",
            &striped,
            &["--columns", "200"],
            "a number of columns",
        ),
        (
            "wide.ppm",
            &ppm(&["ab".repeat(100).as_str(); 2]),
            &[],
            "wide.ppm is 200 pixels wide; a band shows at most 199 columns",
        ),
        (
            "stripes.ppm",
            &striped,
            &["--colours", "0"],
            "a number of colours",
        ),
        (
            "stripes.ppm",
            &striped,
            &["--way", "leader"],
            "column 1 of the picture shows",
        ),
        (
            "stripes.ppm",
            &striped,
            &["--way", "pairs"],
            "two colours hang by turns",
        ),
        (
            "stripes.ppm",
            &striped,
            &["--threads", "6"],
            "the picture has 6 columns, and 6 threads have 5",
        ),
    ] {
        let said = file_refused(name, bytes, more);
        assert!(said.contains(message), "{more:?}: {said}");
    }
}

#[test]
fn what_somebody_has_changed_is_not_written_over() {
    let (place, _) = painted("boat.txt", BOAT.as_bytes(), &[]);
    let rule = place.path().join("made/boat.rhai");
    let text = fs::read_to_string(&rule).expect("text") + "// mine\n";
    fs::write(&rule, &text).expect("written");
    let again = hitchwork(place.path(), &["paint", "boat.txt", "--out", "made"]);
    assert_eq!(again.status, Some(2));
    assert!(
        again.err.contains("boat.rhai is there already"),
        "{}",
        again.err
    );
    assert_eq!(fs::read_to_string(&rule).expect("text"), text);
}

#[test]
fn where_knots_miss_it_is_said_what_would_miss_fewer() {
    let place = folder();
    // The numbers of a linear congruential generator (Knuth 1997, section 3.3.4, line 26).
    let mut state = 1_u32;
    let mut letter = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        ['a', 'b', 'c'][state as usize / 4096 % 3]
    };
    let noise: Vec<String> = (0..14)
        .map(|_| (0..8).map(|_| letter()).collect())
        .collect();
    let noise: Vec<&str> = noise.iter().map(String::as_str).collect();
    fs::write(place.path().join("noise.ppm"), ppm(&noise)).expect("written");
    let painted = |more: &[&str]| {
        let given = [
            &["paint", "noise.ppm", "--with", "text", "--out", "made"],
            more,
        ]
        .concat();
        let said = hitchwork(place.path(), &given);
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        said.out
    };
    let misses = |more: &[&str]| -> u64 {
        let said = painted(&[&["--json"], more].concat());
        let said: serde_json::Value = serde_json::from_str(&said).expect("data");
        said["misses"].as_u64().expect("a number")
    };
    let words = painted(&[]);
    let all = misses(&[]);
    assert!(all > 0, "{words}");
    // Its columns have several colours besides any ground: over a leader it cannot be tied.
    assert!(!words.contains("--way leader"), "{words}");
    let mut advised = 0;
    for line in words.lines() {
        let line = line.trim().trim_start_matches("advice").trim_start();
        let Some((option, would)) = line
            .split_once("(--")
            .and_then(|(_, rest)| rest.split_once("), "))
        else {
            continue;
        };
        let number = would.split(' ').find_map(|word| word.parse().ok());
        let is_exact = !would.starts_with("at most ");
        let promised = match would.starts_with("none would miss") {
            true => 0,
            false => number.expect("a number"),
        };
        let option: Vec<&str> = option.split(' ').collect();
        let name = format!("--{}", option[0]);
        let rows = line.split(' ').nth(1).expect("a number");
        let value = option.get(1).copied().unwrap_or(rows);
        assert!(promised < all);
        // The picture has eight columns, and so nine threads.
        let threads = |more: u64| (more + 9).to_string();
        assert!(
            name != "--threads"
                || (1..=2).any(|more| value == threads(more) && rows == more.to_string()),
            "{line}"
        );
        let misses = misses(&[&name, value]);
        assert!(misses <= promised, "{line}");
        assert!(misses == promised || !is_exact, "{line}: {misses}");
        advised += 1;
    }
    assert!(advised >= 2, "{words}");
    // Two colours are motif and ground, which the command ties over a leader.
    assert!(
        words.contains("(--colours 2), none would miss over a leader"),
        "{words}"
    );
    let solved = painted(&["--way", "solved"]);
    assert!(!solved.contains("over a leader"), "{solved}");
}

/// A brick lattice comes again without a gap where its rows are even in number.
#[test]
fn an_odd_number_of_rows_is_told_to_be_made_even() {
    let place = folder();
    fs::write(place.path().join("stripes.ppm"), ppm(&STRIPED[..5])).expect("written");
    let said = |more: &[&str]| {
        let given = [&["paint", "stripes.ppm", "--with", "text"], more].concat();
        hitchwork(place.path(), &given).out
    };
    let advice = "--free-rows 1";
    assert!(said(&[]).contains(advice), "{}", said(&[]));
    assert!(said(&[]).contains("warning[bends]"));
    assert!(!said(&["--free-rows", "1"]).contains(advice));
    assert!(!said(&["--free-rows", "1"]).contains("warning[bends]"));
    assert!(!said(&["--open"]).contains(advice));
    // Rows that were asked for are counted, not advised away.
    assert!(said(&["--free-rows", "2"]).contains("--free-rows 3"));
}

/// The words of `paint` on a file, and what it says as data.
fn said_of(name: &str, bytes: &[u8], more: &[&str]) -> (String, serde_json::Value) {
    let (place, mut data) = painted(name, bytes, more);
    let given = [&["paint", name, "--with", "text", "--out", "made"], more].concat();
    let said = hitchwork(place.path(), &given);
    assert_eq!(said.status, Some(0), "{}", said.err);
    let beside = hitchwork(place.path(), &[&given[..], &["--json"]].concat()).err;
    let notes = beside
        .lines()
        .map(|line| line.strip_prefix("note: ").expect("a note"));
    let notes: Vec<&str> = notes.collect();
    for note in &notes {
        let line = format!("  note        {note}\n");
        assert!(said.out.contains(&line), "{note}: {}", said.out);
    }
    assert_eq!(said.out.matches("  note  ").count(), notes.len());
    let between = notes.iter().find(|note| note.contains("between the knots"));
    let between = between.and_then(|note| note.split(' ').next()?.parse::<u64>().ok());
    data["between_knots"] = between.unwrap_or(0).into();
    data["notes"] = notes.into();
    (said.out, data)
}

/// As data it says exactly what was promised, and beside it why nothing was written.
#[test]
fn what_is_not_written_is_explained_beside_the_data_too() {
    let place = folder();
    fs::write(place.path().join("one.txt"), "a b a b a b\n").expect("written");
    let said = hitchwork(
        place.path(),
        &["paint", "one.txt", "--out", "made", "--json"],
    );
    assert_eq!(said.status, Some(1), "{}", said.err);
    assert!(said.err.contains("error["), "{}", said.err);
    assert!(
        said.err
            .ends_with("Nothing was written: put the findings right first.\n"),
        "{}",
        said.err
    );
    let data: serde_json::Value = serde_json::from_str(&said.out).expect("data");
    let keys: Vec<&String> = data.as_object().expect("a map").keys().collect();
    assert_eq!(
        keys,
        [
            "knots", "least", "missed", "misses", "proved", "threads", "way"
        ]
    );
    assert!(!place.path().join("made").exists());
}

/// A dot beside letters is any colour, and so a motif of one letter has no ground.
#[test]
fn a_text_of_one_letter_is_said_to_be_one_colour() {
    let motif = "..x..\n.xxx.\nxxxxx\n.xxx.\n";
    let (words, data) = said_of("star.txt", motif.as_bytes(), &[]);
    assert!(
        words.contains("  misses      none: everything is one colour\n"),
        "{words}"
    );
    let notes = data["notes"].to_string();
    assert!(
        notes.contains("a dot is any colour here. For a motif on a ground write # instead of x"),
        "{notes}"
    );
    let ground = motif.replace('x', "#");
    let (words, _) = said_of("star.txt", ground.as_bytes(), &[]);
    assert!(!words.contains("one colour"), "{words}");
    let two = said_of("wave.txt", WAVE.as_bytes(), &[]);
    assert_eq!(two.1["notes"], serde_json::json!([]));
    let plain = said_of("plain.txt", b"x x\n x\n", &[]).1["notes"].to_string();
    assert!(
        plain.contains("everything is one colour") && !plain.contains('#'),
        "{plain}"
    );
}

/// Half of the cells of a picture lie between the knots of the lattice: of 8 rows of 9 columns, 4
/// cells of each odd row and 5 of each even one.
#[test]
fn cells_between_the_knots_are_counted() {
    for way in ["solved", "pairs"] {
        let (words, data) = said_of("boat.txt", BOAT.as_bytes(), &["--way", way]);
        assert_eq!(data["between_knots"], 4 * 4 + 4 * 5);
        assert!(
            words.contains("36 of the 72 cells of the picture lie between the knots and are not tied; --way leader shows them all"),
            "{words}"
        );
    }
    // What only the lattice can do is no wish for a leader.
    let (words, _) = said_of("boat.txt", BOAT.as_bytes(), &["--threads", "10"]);
    assert!(!words.contains("--way leader"), "{words}");
    // Several colours in each column do not hang over a leader.
    let (words, data) = said_of("stripes.ppm", &ppm(&STRIPED), &[]);
    assert_eq!(data["between_knots"], 18);
    assert!(
        words
            .contains("18 of the 36 cells of the picture lie between the knots and are not tied\n"),
        "{words}"
    );
    // On two threads every row ties the one column.
    let narrow = said_of(
        "mast.ppm",
        &ppm(&["a", "b", "a", "a"]),
        &["--way", "solved"],
    );
    assert_eq!(narrow.1["between_knots"], 0);
    assert!(!narrow.0.contains("between the knots"), "{}", narrow.0);
    let full = said_of("full.txt", b"aab\nbba\n", &[]).1;
    assert_eq!(full["between_knots"], 3);
    assert_eq!(
        said_of("boat.txt", BOAT.as_bytes(), &[]).1["between_knots"],
        0
    );
}

/// A picture can run along the band, turned to the right as `along` of a rule turns it, and have a
/// margin of its ground.
#[test]
fn a_picture_is_turned_along_the_band_and_padded() {
    let flag = "#.....\n######\n";
    let along = "##\n#.\n#.\n#.\n#.\n#.\n";
    let padded = "....\n.##.\n.#..\n.#..\n.#..\n.#..\n.#..\n....\n";
    let knots = |name: &str, bytes: &[u8], more: &[&str]| {
        let (place, _) = painted(name, bytes, more);
        let short = name.split('.').next().expect("a name");
        knots_and_colours(&place.path().join("made"), short)
    };
    let turned = knots("flag.txt", flag.as_bytes(), &["--along"]);
    assert_eq!(turned.1.len(), 3, "two columns and the leader");
    assert_eq!(turned, knots("flag.txt", along.as_bytes(), &[]));
    assert_eq!(
        knots("flag.txt", flag.as_bytes(), &["--along", "--margin", "1"]),
        knots("flag.txt", padded.as_bytes(), &[])
    );
    assert_ne!(turned, knots("flag.txt", flag.as_bytes(), &[]));
    // The margin of pixels is what fills most of them.
    assert_eq!(
        knots("flag.ppm", &ppm(&["baa", "bbb", "aaa"]), &["--margin", "1"]),
        knots(
            "flag.ppm",
            &ppm(&["aaaaa", "abaaa", "abbba", "aaaaa", "aaaaa"]),
            &[]
        )
    );
    let hint = "--along turns it to run along the band";
    let notes =
        |bytes: &[u8], more: &[&str]| said_of("flag.txt", bytes, more).1["notes"].to_string();
    assert!(notes(flag.as_bytes(), &[]).contains(hint));
    assert!(!notes(flag.as_bytes(), &["--along"]).contains(hint));
    assert!(!notes(along.as_bytes(), &[]).contains(hint));
    for option in [&["--along"][..], &["--margin", "2"]] {
        let said = file_refused("wave.txt", WAVE.as_bytes(), option);
        assert!(said.contains(&format!("leave out {}", option[0])), "{said}");
    }
    let long = "#\n".repeat(250);
    assert!(file_refused("long.txt", long.as_bytes(), &["--along"]).contains("200 columns"));
}

#[test]
fn rows_that_are_shorter_than_others_are_named() {
    let notes = |text: &str| said_of("boat.txt", text.as_bytes(), &[]).1["notes"].to_string();
    let one = notes("..#..\n.##\n#####\n\n.###.\n.....\n");
    assert!(
        one.contains(
            "line 2 is shorter than others: what it lacks at its end is taken for the ground"
        ),
        "{one}"
    );
    let two = notes("..#..\n.##\n#####\n\n.###\n.....\n");
    assert!(two.contains("lines 2, 5 are shorter than others"), "{two}");
    // The first five of many are enough to find the others.
    let six = notes(&format!("..#..\n{}", ".##\n".repeat(6)));
    assert!(
        six.contains("lines 2, 3, 4, 5, 6, 1 more are shorter"),
        "{six}"
    );
    // Spaces at its end make a row as long as it is, and indentation is none of it.
    assert!(!notes("  ..#\n  .# \n  ###\n  .#.\n").contains("shorter"));
    // What is indented is as short as without it.
    let indented = notes("  ..#\n  .\n  ###\n  .#.\n");
    assert!(indented.contains("line 2 is shorter"), "{indented}");
    // A row of letters may end before the last column where it has no knot there.
    assert!(!notes("a b a\n b a\na b a\n a b\n").contains("shorter"));
    let letters = notes("a b a\n b a\na b\n a b\n");
    assert!(
        letters.contains(
            "line 3 is shorter than others: what it lacks at its end is taken for any colour"
        ),
        "{letters}"
    );
}

/// Who counts the threads is told that they need not be counted; the rule holds without the counts.
#[test]
fn counts_can_be_left_out() {
    let sum = refused(WAVE, &["--counts", "a=1,b=1"]);
    assert!(sum.contains("leave the counts out"), "{sum}");
    let (place, _) = painted("wave.txt", WAVE.as_bytes(), &[]);
    let rule = fs::read_to_string(place.path().join("made/wave.rhai")).expect("text");
    let (before, behind) = rule.split_once(", #{ counts: ").expect("counts");
    let (_, behind) = behind.split_once(';').expect("an end");
    let free = format!("{before});{behind}");
    fs::write(place.path().join("free.rhai"), free).expect("written");
    let made = hitchwork(place.path(), &["make", "free.rhai", "--with", "text"]);
    assert_eq!(made.status, Some(0), "{}{}", made.out, made.err);
}

/// Whoever writes other marks than letters mostly means a motif on a ground.
#[test]
fn other_marks_are_told_of_the_motif() {
    for text in ["■.■\n.■.\n", "0110\n1001\n", "...\n...\n"] {
        let said = refused(text, &[]);
        assert!(said.contains("write #"), "{said}");
    }
}

/// A file that is called a picture of pixels and is none is no text: its first letters are no colours.
#[test]
fn what_is_called_a_picture_and_is_none_is_refused() {
    let place = folder();
    for (name, bytes) in [
        ("buoy.pbm", &b"P7\nWIDTH 4\n"[..]),
        ("buoy.ppm", b"P1"),
        ("buoy.PNG", b"ab\nba\n"),
        ("buoy.png", b""),
    ] {
        fs::write(place.path().join(name), bytes).expect("written");
        let said = hitchwork(place.path(), &["paint", name]);
        assert_eq!(said.status, Some(2), "{name}: {}", said.err);
        assert!(said.err.contains(name), "{}", said.err);
        assert!(!place.path().join("out").exists(), "{name}");
    }
}

/// As in a rule, more threads than the picture takes are hung where they are counted.
#[test]
fn counts_widen_the_band_as_they_do_in_a_rule() {
    let place = picture(WAVE);
    let painted = data(&place, &["--counts", "a=6,b=6"]);
    assert_eq!(painted["threads"], serde_json::json!({ "a": 6, "b": 6 }));
    let rule = "solved(art, #{ counts: #{ \"sail\": 6, \"marine\": 6 }, threads: 12 })";
    let text = fs::read_to_string(place.path().join("out/wave/wave.rhai")).expect("a rule");
    assert!(
        text.contains(rule) || text.contains("threads: 12"),
        "{text}"
    );
    // Who says how many threads there are is taken at their word.
    let sum = refused(WAVE, &["--counts", "a=6,b=6", "--threads", "11"]);
    assert!(sum.contains("the band has 11"), "{sum}");
}

/// What is not in its place is blamed, and not what is.
#[test]
fn a_stray_letter_and_what_takes_no_place_are_named() {
    let stray = refused("..#..\n.#x#.\n#####\n", &[]);
    assert!(
        stray.contains("wave.txt, line 2, character 3: \"x\" is a letter"),
        "{stray}"
    );
    let stray = refused("a b a\n # a\na b b\n", &[]);
    assert!(stray.contains("line 2, character 2: \"#\""), "{stray}");
    // Of as many letters as # the letters count: each of them is a knot.
    let stray = refused("a b # #\n", &[]);
    assert!(stray.contains("line 1, character 5: \"#\""), "{stray}");
    for text in ["a\u{301} b a\n b a\n", "..#\n.#\u{200b}.\n"] {
        let said = refused(text, &[]);
        assert!(said.contains("takes no place of its own"), "{said}");
    }
    let one = refused("a b a\n b a\n", &["--threads", "2"]);
    assert!(one.contains("2 threads have 1"), "{one}");
}

/// A leader that is far longer than it need be is told of, with what would be easier.
#[test]
fn a_long_leader_is_weighed_against_other_ways() {
    let tower = |row: usize| match row % 20 {
        0..4 => "aaaaaaaaaaa".to_owned(),
        4..12 => "aaaabbbaaaa".to_owned(),
        _ => "aaabbbbbaaa".to_owned(),
    };
    let rows: Vec<String> = (0..40).map(tower).collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let notes = |more: &[&str]| said_of("tower.ppm", &ppm(&rows), more).1["notes"].to_string();
    let said = notes(&[]);
    assert!(
        said.contains("the leader is ") && said.contains("with --way pairs"),
        "{said}"
    );
    assert!(!notes(&["--way", "pairs"]).contains("the leader is "));
    // Half and half, either ground takes as long a leader: that is no advice.
    let halves = said_of("halves.ppm", &ppm(&["aabb", "aabb"]), &[]).1["notes"].to_string();
    assert!(!halves.contains("--ground"), "{halves}");
}

/// Of a picture in many colours that misses much it is said at once what would miss nothing.
#[test]
fn many_colours_that_miss_are_advised_to_become_two() {
    let mut state = 7_u32;
    // A linear congruential generator (Knuth 1997, section 3.3.4, line 26).
    let mut letter = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        ['a', 'b', 'c', 'd', 'e'][state as usize / 4096 % 5]
    };
    let rows: Vec<String> = (0..10)
        .map(|_| (0..7).map(|_| letter()).collect())
        .collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let place = folder();
    fs::write(place.path().join("noise.ppm"), ppm(&rows)).expect("written");
    let said = hitchwork(place.path(), &["paint", "noise.ppm", "--with", "text"]).out;
    let advice = said.lines().find(|line| line.starts_with("  advice "));
    let first = advice.expect("the first line of advice has a label");
    assert!(
        first.contains("in two colours every cell shows (--colours 2)"),
        "{first}"
    );
    assert!(
        said.contains("one colour fewer, which changes the picture"),
        "{said}"
    );
    // Nothing is wrong with the band, and yet it does not show the picture.
    assert!(!said.contains("  findings    none\n"), "{said}");
    let two = hitchwork(
        place.path(),
        &[
            "paint",
            "noise.ppm",
            "--with",
            "text",
            "--colours",
            "2",
            "--json",
        ],
    );
    let two: serde_json::Value = serde_json::from_str(&two.out).expect("data");
    assert_eq!(two["misses"], 0);
}
