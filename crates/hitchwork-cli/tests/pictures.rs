//! `draw` and what `make` writes: every picture, on its pages.

use std::fs;

use crate::common::{files_in, folder, hitchwork};

#[test]
fn every_picture_comes_as_svg_and_as_png() {
    let folder = folder();
    for picture in ["fabric", "tile", "strands", "order", "thread", "gradient"] {
        for kind in ["svg", "png"] {
            let file = format!("{picture}.{kind}");
            let draw = [
                "draw",
                "drift",
                "--set",
                "threads=6",
                "--picture",
                picture,
                "--out",
                &file,
            ];
            let said = hitchwork(folder.path(), &draw);
            assert_eq!(said.status, Some(0), "{}", said.err);
            assert_eq!(
                (said.out.as_str(), said.err.trim_end()),
                ("", file.as_str())
            );
            let bytes = fs::read(folder.path().join(&file)).expect("written");
            let begins: &[u8] = if kind == "svg" { b"<svg" } else { b"\x89PNG" };
            assert!(bytes.starts_with(begins), "{file}");
            // Words bring their letters along; fabrics have no words.
            let words = kind == "svg" && !["fabric", "tile"].contains(&picture);
            let font = bytes.windows(10).any(|bytes| bytes == b"@font-face");
            assert_eq!(font, words, "{file}");
        }
    }
}

#[test]
fn several_pages_are_numbered_and_do_not_go_to_standard_output() {
    let folder = folder();
    let chart = [
        "draw",
        "drift",
        "--set",
        "threads=6",
        "--picture",
        "strands",
        "--rows-a-page",
        "1",
    ];
    let said = hitchwork(folder.path(), &chart);
    assert_eq!((said.status, said.out.as_str()), (Some(2), ""));
    assert!(
        said.err.contains("the chart has 2 pages") && said.err.contains("strands-1.svg"),
        "{}",
        said.err
    );
    let said = hitchwork(
        folder.path(),
        &[&chart[..], &["--out", "in/row.svg"]].concat(),
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(said.err, "in/row-1.svg\nin/row-2.svg\n");
    let second = fs::read_to_string(folder.path().join("in/row-2.svg")).expect("written");
    assert!(second.contains("Carried over: the order after row 1 of 2, repeat"));
}

/// Rows over a leader at one side of the band alone: it bends, and is drawn straight on request.
#[test]
fn a_band_that_bends_is_drawn_straight_where_that_is_asked_for() {
    let folder = folder();
    let knot = |column: u16, kind: &str| format!(r#"{{"at":{column},"kind":"{kind}"}}"#);
    let row = |knots: &[String]| format!(r#"{{"knots":[{}]}}"#, knots.join(","));
    let rows = [
        row(&[knot(1, "backward"), knot(2, "backward"), knot(4, "forward")]),
        row(&[
            knot(2, "forward"),
            knot(1, "forward"),
            knot(3, "forward"),
            knot(5, "forward"),
        ]),
    ];
    let band = format!(
        r##"{{"format":"hitchwork-band/1","palette":[{{"name":"tide","srgb":"#2f7f99"}}],"threads":[0,0,0,0,0,0],"repeat":[{}],"repeats":20}}"##,
        rows.join(",")
    );
    fs::write(folder.path().join("bends.band.json"), band).expect("writable");
    let height = |options: &[&str]| {
        let draw = ["draw", "bends.band.json", "--out", "bends.svg"];
        let said = hitchwork(folder.path(), &[&draw, options].concat());
        assert_eq!(said.status, Some(0), "{}", said.err);
        let svg = fs::read_to_string(folder.path().join("bends.svg")).expect("written");
        let (_, height) = svg.split_once(" height=\"").expect("a height");
        let (height, _) = height.split_once('"').expect("a height");
        height.parse::<f64>().expect("a number")
    };
    assert!(height(&["--straight"]) < 0.7 * height(&[]));
}

#[test]
fn options_of_other_pictures_are_refused() {
    let folder = folder();
    for (options, says) in [
        (
            ["--picture", "order", "--repeats", "3"],
            "--repeats is for the fabric",
        ),
        (
            ["--picture", "fabric", "--scale", "3"],
            "take --pixels-per-mm",
        ),
        (
            ["--picture", "tile", "--of-repeat", "3"],
            "--of-repeat is for the strands",
        ),
        (
            ["--picture", "strands", "--of-repeat", "999999"],
            "give a repeat from 1 to",
        ),
        (
            ["--picture", "strands", "--rows-a-page", "0"],
            "a whole number above 0",
        ),
    ] {
        let said = hitchwork(folder.path(), &[&["draw", "drift"][..], &options].concat());
        assert_eq!(
            (said.status, said.out.as_str()),
            (Some(2), ""),
            "{options:?}"
        );
        assert!(said.err.contains(says), "{}", said.err);
    }
    assert!(files_in(folder.path()).is_empty());
}

#[test]
fn make_writes_what_it_is_asked_for() {
    let folder = folder();
    let make = [
        "make",
        "drift",
        "--set",
        "threads=6",
        "--out",
        "made",
        "--with",
    ];
    let said = hitchwork(
        folder.path(),
        &[&make[..], &["text,order,tile,text"]].concat(),
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(
        files_in(&folder.path().join("made")),
        [
            "drift.band.json",
            "order.svg",
            "sheet.txt",
            "tile.png",
            "tile.svg"
        ]
    );
    let said = hitchwork(folder.path(), &[&make[..], &["poster"]].concat());
    assert_eq!(said.status, Some(2));
    assert!(
        said.err.contains("possible values: fabric, tile, strands"),
        "{}",
        said.err
    );
}

#[test]
fn a_band_too_long_for_one_picture_is_drawn_shorter_and_says_so() {
    let folder = folder();
    // Three threads and two knots a repeat, so often that the whole would be too much.
    let band = r##"{"format": "hitchwork-band/1", "palette": [{"name": "tar", "srgb": "#202020"}, {"name": "sail", "srgb": "#f0ead8"}],
        "threads": [0, 1, 1], "repeat": [{"knots": [{"at": 1, "kind": "forward"}, {"at": 2, "kind": "forward"}]}], "repeats": 21000}"##;
    fs::write(folder.path().join("hawser.band.json"), band).expect("written");
    let draw = ["draw", "hawser.band.json", "--out", "hawser.svg"];
    let said = hitchwork(folder.path(), &draw);
    assert_eq!(said.status, Some(2));
    assert!(
        said.err.contains("at most 20000 of this band fit"),
        "{}",
        said.err
    );
    let make = [
        "make",
        "hawser.band.json",
        "--with",
        "fabric",
        "--out",
        "made",
    ];
    let said = hitchwork(folder.path(), &make);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(
        said.out.contains("fabric with 2000 of 21000 repeats"),
        "{}",
        said.out
    );
}

/// Names that the command chooses itself replace its own files alone, and all or none.
#[test]
fn pages_take_the_place_of_nothing_that_others_made() {
    let folder = folder();
    let draw = |set: &str| {
        let asked = "draw drift --picture strands --rows-a-page 1 --all-rows --length 1 --out chart.svg --set";
        let asked: Vec<&str> = asked.split(' ').chain([set]).collect();
        hitchwork(folder.path(), &asked)
    };
    let chart = |page: u8| folder.path().join(format!("chart-{page}.svg"));
    fs::write(chart(2), "precious").expect("written");
    let said = draw("threads=6");
    assert_eq!(said.status, Some(2), "{}", said.err);
    assert!(
        said.err.contains("chart-2.svg is there already") && said.err.contains("--out"),
        "{}",
        said.err
    );
    assert_eq!(
        files_in(folder.path()),
        ["chart-2.svg"],
        "no half set stays"
    );
    assert_eq!(fs::read_to_string(chart(2)).expect("there"), "precious");
    fs::remove_file(chart(2)).expect("removed");
    assert_eq!(draw("threads=6").status, Some(0));
    let six = fs::read(chart(2)).expect("written");
    // Its own it replaces; not one that somebody has drawn on since.
    assert_eq!(draw("threads=8").status, Some(0));
    assert_ne!(fs::read(chart(2)).expect("written"), six);
    fs::write(chart(1), "with remarks").expect("written");
    let eight = fs::read(chart(2)).expect("written");
    assert_eq!(draw("threads=6").status, Some(2));
    assert_eq!(fs::read_to_string(chart(1)).expect("there"), "with remarks");
    assert_eq!(fs::read(chart(2)).expect("there"), eight);
}
