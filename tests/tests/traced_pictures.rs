//! Whoever paints on a band points at a knot and means a cell of a picture: which one, whatever the
//! rule has made of the picture and of its rows, against pictures in which every cell has a colour of
//! its own, and against the second model of tying.

use std::num::NonZeroU32;
use std::sync::Arc;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::file;
use hitchwork_core::knot::{Column, Kind, Knot, Place};
use hitchwork_core::picture::Picture;
use hitchwork_core::row::Row;
use hitchwork_rules::{
    Answer, FileAnswer, FileSource, Made, PictureTrace, Rules, Settings, Sources,
};
use hitchwork_tests::by_chance::cases;
use hitchwork_tests::naive;
use proptest::prelude::*;

/// A picture of 8 by 7 cells, each with a colour that no other has.
fn all_different() -> Picture {
    let colour = |number: u8| Colour::new(format!("tone {number}"), Srgb::new(number, 9, 200));
    let colours = (0..56).map(colour).collect();
    let picture = Picture::new(8, colours, (0..56).map(Some).collect()).expect("56 cells");
    picture.coming_from(101..157)
}

/// One of the ways in which a picture becomes another, which leave its colours alone.
fn changed(picture: &Picture, way: u8, by: u16) -> Picture {
    let last = |most: u16| 1 + by % most;
    let made = match way {
        0 => picture.cropped(1..=last(picture.height()), 1..=last(picture.width())),
        1 => picture.padded([by.into(), 1], [0, by.into()]),
        2 => Ok(picture.mirrored()),
        3 => Ok(picture.upside_down()),
        4 => picture.quarter_turned(u8::try_from(by).expect("small")),
        5 => picture.beside(&picture.mirrored(), by.into()),
        6 => picture.above(&all_different(), by.into()),
        7 => picture.repeated(2, 1 + usize::from(by % 2)),
        _ => picture.trimmed(),
    };
    made.unwrap_or_else(|_| picture.clone())
}

proptest! {
    #![proptest_config(cases(200))]

    /// The colour of a cell says where it comes from, since no two cells of the original share one.
    #[test]
    fn every_cell_remembers_the_cell_that_it_was(ways in prop::collection::vec((0_u8..9, 0_u16..4), 1..5)) {
        let original = all_different();
        let mut picture = original.clone();
        for (way, by) in ways {
            picture = changed(&picture, way, by);
        }
        for row in 1..=picture.height() {
            for column in 1..=picture.width() {
                let number = picture.cell_number(row, column).expect("inside");
                let origin = picture.origin(number);
                let expected = picture.colour(row, column).map(|colour| u32::from(colour.srgb.red) + 101);
                prop_assert_eq!(origin.map(NonZeroU32::get), expected, "row {}, column {}", row, column);
            }
        }
    }
}

#[test]
fn other_colours_leave_a_cell_where_it_comes_from() {
    let original = all_different();
    let grey = Colour::new("grey", Srgb::new(90, 90, 90));
    let [bare, filled] = [
        original.recoloured(|colour| (colour.srgb.red != 3).then(|| grey.clone())),
        original
            .padded([1; 2], [0; 2])
            .and_then(|wide| wide.filled(grey.clone())),
    ]
    .map(|picture| picture.expect("few colours"));
    for picture in [&bare, &bare.inverted().expect("two things")] {
        let origins = (1..=56)
            .filter_map(NonZeroU32::new)
            .map(|cell| picture.origin(cell));
        let origins: Vec<u32> = origins.flatten().map(NonZeroU32::get).collect();
        assert_eq!(origins, (101..157).collect::<Vec<u32>>());
    }
    let first = filled.cell_number(1, 1).expect("inside");
    assert_eq!(
        filled.origin(first),
        None,
        "what was added comes from nowhere"
    );
    let second = filled.cell_number(1, 2).expect("inside");
    assert_eq!(filled.origin(second).map(NonZeroU32::get), Some(101));
}

#[test]
fn what_is_remembered_changes_neither_pictures_nor_knots() {
    let known = all_different();
    let unknown =
        Picture::new(8, known.colours().to_vec(), known.cells().to_vec()).expect("as it was");
    assert_eq!(known, unknown);
    assert_eq!(
        unknown
            .cell_number(1, 1)
            .and_then(|cell| unknown.origin(cell)),
        None
    );
    assert_eq!(known.cell_number(8, 1), None);
    assert_eq!(known.cell_number(0, 1), None);
    assert_eq!(known.cell_number(1, 9), None);
    let knot = Knot::new(Column::new(3).expect("from 1"), Kind::Forward);
    let place = Place {
        source: 7,
        line: 900_000,
        character: 12,
    };
    let showing = knot.made_at(place).showing(NonZeroU32::new(5));
    assert_eq!(knot, showing);
    assert_eq!(showing.place(), Some(place));
    assert_eq!(knot.place(), None);
    for turned in [showing.inverted(), showing.turned(), showing.upside_down()] {
        assert_eq!(turned.shows(), NonZeroU32::new(5));
    }
    assert_eq!(
        showing.mirrored(9).and_then(Knot::shows),
        NonZeroU32::new(5)
    );
    // A band may have millions of knots.
    assert_eq!(size_of::<Knot>(), 16);
}

/// One file beside a rule.
#[derive(Debug)]
struct OnePicture(String);

impl Sources for OnePicture {
    fn source(&self, _: &str) -> Answer {
        Ok(None)
    }

    fn file(&self, name: &str) -> FileAnswer {
        Ok((name == "art.txt").then(|| FileSource {
            file: name.to_owned(),
            bytes: self.0.as_bytes().into(),
        }))
    }
}

fn made(rule: &str, art: &[String], traces: bool) -> Made {
    let rules = match traces {
        true => Rules::new().tracing_pictures(),
        false => Rules::new(),
    };
    let compiled = rules.compile("art.rhai", rule).expect("it can be read");
    let compiled = compiled.finding(OnePicture(art.join("\n")));
    let made = rules.make(&compiled, &Settings::new());
    made.unwrap_or_else(|error| panic!("{rule}\n{}", error.render(false)))
}

/// The knots of the band's lead-in, of one repeat and of its lead-out, each with the name of the
/// colour that it shows.
fn seen(band: &Band) -> Vec<(Knot, String)> {
    let shown = naive::tie_band(band);
    let [lead_in, repeat, lead_out] =
        [Part::LeadIn, Part::Repeat, Part::LeadOut].map(|part| band.rows(part));
    let times = usize::try_from(band.repeats()).expect("few");
    let rows = lead_in
        .iter()
        .chain(repeat.iter().cycle().take(times * repeat.len()))
        .chain(lead_out);
    let knots = rows.flat_map(|row| row.knots().iter().copied());
    let name = |colour: usize| band.palette()[colour].name.clone();
    let knots: Vec<_> = knots
        .zip(shown.knots.iter().map(|knot| name(knot.colour)))
        .collect();
    assert_eq!(knots.len(), shown.knots.len());
    knots
}

/// Every cell of the file that is asked for is shown by a knot, and each knot shows what its cell
/// says. Gives how often each cell is meant in one repeat of the band.
fn check(
    band: &Band,
    trace: &PictureTrace,
    art: &[String],
    names: impl Fn(char) -> Option<&'static str>,
) {
    for (knot, shown) in seen(band) {
        let Some(wanted) = trace.wanted(knot) else {
            continue;
        };
        let Some((file, row, column)) = wanted.origin else {
            continue;
        };
        assert_eq!(trace.files()[file].name, "art.txt");
        let mark = art[usize::from(row)]
            .chars()
            .nth(column.into())
            .expect("a cell");
        match names(mark) {
            Some(name) => assert_eq!(
                shown == name,
                !wanted.is_missed,
                "{mark} at {row}, {column}: {shown}"
            ),
            None => assert!(!wanted.is_missed),
        }
    }
}

/// How often each cell is meant by the knots of the repeat, row by row.
fn meant(band: &Band, trace: &PictureTrace, art: &[String]) -> Vec<usize> {
    let width = art[0].chars().count();
    let mut times = vec![0; width * art.len()];
    for knot in band.repeat().iter().flat_map(Row::knots) {
        if let Some((_, row, column)) = trace.wanted(*knot).and_then(|wanted| wanted.origin) {
            times[usize::from(row) * width + usize::from(column)] += 1;
        }
    }
    times
}

const LEADER: &str = "let sea = colour(\"sea\", \"#1d6f8c\"); let lamp = colour(\"lamp\", \"#ffc145\");\nlet art = picture(\"art.txt\");\n";

/// Rules that make of a picture whatever can be made of it, and how often each cell comes then.
const OVER_LEADERS: [(&str, usize); 12] = [
    ("art", 1),
    ("art.padded(2, 1)", 1),
    ("art.mirrored()", 1),
    ("art.upside_down().mirrored()", 1),
    ("art.quarter_turned()", 1),
    ("art.quarter_turned(-1).padded(1)", 1),
    ("art.repeated(2, 3)", 6),
    ("art.above(art.mirrored(), 1)", 2),
    ("art.beside(art.upside_down(), 2)", 2),
    ("picture([\"#.\", \".#\"]).beside(art, 1)", 1),
    ("art.beside(picture(\"art.txt\"))", 2),
    ("art.inverted()", 1),
];

/// Random marks.
fn marks(of: &'static str, columns: usize, rows: usize) -> impl Strategy<Value = Vec<String>> {
    let mark = prop::sample::select(of.chars().collect::<Vec<char>>());
    let row =
        prop::collection::vec(mark, columns).prop_map(|row| row.into_iter().collect::<String>());
    prop::collection::vec(row, rows)
}

proptest! {
    #![proptest_config(cases(8))]

    /// Over a leader every knot of the picture shows its cell, so motif and ground say which it is.
    #[test]
    fn knots_over_leaders_show_the_cells_that_they_mean(art in marks("#.", 5, 4)) {
        prop_assume!(art.concat().contains('#') && art.concat().contains('.'));
        for (picture, times) in OVER_LEADERS {
            for wishes in ["#{}", "#{ from: RIGHT }", "#{ leaders: 2 }", "#{ leader_shows: \"motif\" }", "#{ along: true, comes_back: true }"] {
                let rule = format!("{LEADER}let pic = ({picture}).recoloured(lamp); let how = {wishes};\nlet colours = colours_over_leader(pic, sea, how);\nband(colours.len()).repeat(over_leader(pic, how)).colours(colours)");
                let Made { band, trace, .. } = made(&rule, &art, true);
                let trace = trace.expect("asked for");
                let inverted = picture.contains("inverted");
                let names = |mark| Some(if (mark == '#') == inverted { "sea" } else { "lamp" });
                for band in [&band, &band.clone().mirrored()] {
                    check(band, &trace, &art, names);
                    prop_assert_eq!(meant(band, &trace, &art), vec![times; 20], "{}", rule);
                }
            }
        }
    }

    /// Rows that a rule changes or puts beside others go on to mean the same cells.
    #[test]
    fn rows_that_are_changed_mean_the_same_cells(art in marks("#.", 4, 4)) {
        prop_assume!(art.concat().contains('#') && art.concat().contains('.'));
        let rows = "let rows = over_leader(art);\n";
        for change in ["rows + rows", "rows.upside_down()", "rows.mirrored(5)", "rows.half_turned(5)", "rows.shift(3)"] {
            let rule = format!("{LEADER}{rows}band(9).repeat({change}).colours(in_turn([sea, lamp], 9))");
            let Made { band, trace, .. } = made(&rule, &art, true);
            let times = if change.contains('+') { 2 } else { 1 };
            prop_assert_eq!(meant(&band, &trace.expect("asked for"), &art), vec![times; 16], "{}", change);
        }
    }

    /// On the lattice the knots that are said to miss are those that show another colour than their
    /// cell, by the second model of tying; and no others.
    #[test]
    fn knots_that_were_found_show_the_cells_that_they_mean(art in marks("abc", 5, 4)) {
        let shades = "#{ marks: #{ \"a\": colour(\"sea\", \"#1d6f8c\"), \"b\": colour(\"foam\", \"#e8f1ee\"), \"c\": colour(\"lamp\", \"#ffc145\") } }";
        let on_lattice: String = (0..4).flat_map(|row| (row % 2..5).step_by(2).map(move |column| (row, column))).map(|(row, column)| art[row].as_bytes()[column] as char).collect();
        prop_assume!(on_lattice.contains('a') && on_lattice.contains('b'));
        let names = |mark| Some(match mark { 'a' => "sea", 'b' => "foam", _ => "lamp" });
        for picture in ["art", "art.mirrored()"] {
            for wishes in ["#{}", "#{ threads: 8, free_rows: 2 }"] {
                let rule = format!("let art = picture(\"art.txt\", {shades});\nlet tied = solved({picture}, {wishes});\nband(tied.threads).repeat(tied.rows).colours(tied.colours)");
                let Made { band, trace, .. } = made(&rule, &art, true);
                let trace = trace.expect("asked for");
                check(&band, &trace, &art, names);
                let expected = (0..20).map(|at| usize::from((at / 5 + at % 5) % 2 == 0));
                prop_assert_eq!(meant(&band, &trace, &art), expected.collect::<Vec<_>>());
                let untraced = made(&rule, &art, false);
                prop_assert_eq!(file::write(&untraced.band), file::write(&band), "who traces gets the same band");
            }
        }
    }
}

/// Who does not ask is told nothing, and gets the same band.
#[test]
fn a_run_remembers_pictures_only_where_that_is_asked() {
    let art = ["#..".to_owned(), ".##".to_owned()];
    let rule = format!("{LEADER}band(4).repeat(over_leader(art))");
    let [known, unknown] = [true, false].map(|traces| made(&rule, &art, traces));
    assert!(unknown.trace.is_none());
    assert_eq!(file::write(&known.band), file::write(&unknown.band));
    let trace = known.trace.expect("asked for");
    let [file] = trace.files() else {
        panic!("one file")
    };
    assert_eq!(file.picture.to_string(), "#..\n.##\n");
    let marks = file
        .marks
        .as_ref()
        .map(Arc::as_ref)
        .expect("text has marks");
    assert!(marks.contains_key(&'#'));
}
