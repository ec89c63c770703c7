//! Colours at the command line: gradients, and the threads that one owns.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::common::{Said, folder, hitchwork};

/// Ten threads of a class on the quay; invented.
const STASH: &str = "name,colour,code,left (m),tex
Slate pebble,#5b6770,,8,
Sea glass,#7fc4b2,,8,
Lamp,#ffc145,L1,8,
Coral,#ff6f59,,8,
Deep water,#12355b,,8,
Kelp,#3a5a40,,8,
Foam,#f2f7f5,,8,
Heather,#8e6c8a,,8,
Rust,#a4452c,,8,
Sky,#6cb4ee,,8,
";

fn with_stash(arguments: &[&str]) -> Said {
    let folder = folder();
    write(folder.path(), "stash.csv", STASH.as_bytes());
    hitchwork(folder.path(), arguments)
}

fn write(folder: &Path, name: &str, bytes: &[u8]) {
    fs::write(folder.join(name), bytes).expect("writable");
}

fn data(arguments: &[&str]) -> Value {
    let said = with_stash(&[arguments, &["--json"]].concat());
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    serde_json::from_str(&said.out).expect("JSON")
}

fn names(list: &Value) -> Vec<&str> {
    let entries = list.as_array().expect("a list").iter();
    entries
        .map(|entry| entry["name"].as_str().expect("a name"))
        .collect()
}

#[test]
fn a_gradient_is_listed_with_its_steps() {
    let said = with_stash(&["colours", "gradient", "open water", "-n", "7"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(
        said.out.starts_with("open water, 7 colours\n"),
        "{}",
        said.out
    );
    assert!(
        said.out.contains("    1  #eff9e9  white foam"),
        "{}",
        said.out
    );
    assert_eq!(said.out.matches(" to the next").count(), 7);
    assert!(!said.out.contains('\u{1b}'), "no colours but on a terminal");

    let even = [
        "colours",
        "gradient",
        "open water",
        "-n",
        "7",
        "--course",
        "open",
    ];
    let even = data(&even);
    let steps = even["colours"].as_array().expect("steps").iter();
    let steps: Vec<f64> = steps.filter_map(|step| step["to_next"].as_f64()).collect();
    let mean = steps.iter().sum::<f64>() / 6.0;
    let even = steps.iter().all(|step| (step / mean - 1.0).abs() < 0.15);
    assert!(even, "even to the eye: {steps:?}");

    let open = data(&[
        "colours", "gradient", "#102030", "#f0e0d0", "-n", "5", "--course", "open",
    ]);
    assert!(open["colours"][4]["to_next"].is_null(), "it leads nowhere");
    let back = data(&[
        "colours",
        "gradient",
        "#102030",
        "#f0e0d0",
        "-n",
        "6",
        "--course",
        "there-and-back",
    ]);
    let back = names(&back["colours"]);
    assert_eq!(
        back[1], back[5],
        "one thread serves the way there and the way back"
    );
}

/// Six steps of a palette, from the threads of the class.
const MATCH: [&str; 7] = [
    "colours",
    "match",
    "spring tide",
    "-n",
    "6",
    "--stash",
    "stash.csv",
];

#[test]
fn a_gradient_is_matched_from_the_threads_in_the_drawer() {
    let matched = data(&MATCH);
    let pairs = matched["pairs"].as_array().expect("pairs");
    let threads: Vec<&str> = pairs
        .iter()
        .map(|pair| pair["thread"]["name"].as_str().expect("a name"))
        .collect();
    assert_eq!(threads[..2], ["Coral", "Lamp"]);
    let far = |pair: &Value| pair["difference"].as_f64().expect("a number");
    let total: f64 = pairs.iter().map(far).sum();
    assert!((matched["total"].as_f64().expect("a number") - total).abs() < 1e-9);
    let worst = pairs.iter().map(far).fold(0.0, f64::max);
    assert_eq!(matched["worst"].as_f64(), Some(worst));

    let said = with_stash(&MATCH);
    assert!(said.out.contains("Lamp (L1), "), "{}", said.out);
    assert!(
        said.out
            .contains("no other choice of these threads is nearer"),
        "{}",
        said.out
    );

    let buy = with_stash(&[&MATCH[..], &["--buy", "5"]].concat());
    assert_eq!(buy.status, Some(0), "{}", buy.err);
    assert!(buy.out.contains("\nto buy\n"), "{}", buy.out);
    assert!(buy.out.contains("or use"), "{}", buy.out);
}

#[test]
fn threads_are_put_in_order_and_chosen() {
    let all = data(&["colours", "order", "stash.csv"]);
    assert_eq!(names(&all["threads"]).len(), 10);
    assert_eq!(all["exact"], true, "ten are ordered exactly");
    let liked = [
        "colours",
        "order",
        "stash.csv",
        "--open",
        "--thread",
        "kelp",
        "--thread",
        "Foam",
        "--thread",
        "Sea glass",
    ];
    let liked = data(&liked);
    assert_eq!(
        names(&liked["threads"])[1],
        "Sea glass",
        "between the dark and the pale"
    );
    let chosen = data(&["colours", "choose", "stash.csv", "-n", "5"]);
    assert_eq!(names(&chosen["threads"]).len(), 5);
}

#[test]
fn palettes_are_listed_and_shown() {
    let all = data(&["colours", "palettes"]);
    assert!(names(&all).len() >= 12);
    for palette in all.as_array().expect("a list") {
        assert!(
            palette["sentence"]
                .as_str()
                .is_some_and(|words| words.len() > 20)
        );
    }
    let one = with_stash(&["colours", "palettes", "gull"]);
    assert!(one.out.contains("    5  #f3bc25  beak"), "{}", one.out);
}

#[test]
fn colours_are_drawn_with_their_names() {
    let folder = folder();
    let draw = |file: &str| {
        hitchwork(
            folder.path(),
            &["colours", "gradient", "gull", "-n", "5", "--out", file],
        )
    };
    assert_eq!(draw("gull.svg").status, Some(0));
    let svg = fs::read_to_string(folder.path().join("gull.svg")).expect("written");
    assert!(
        svg.contains(">1 foam</text>") && svg.contains("@font-face"),
        "{svg}"
    );
    assert_eq!(draw("gull.png").status, Some(0));
    let png = fs::read(folder.path().join("gull.png")).expect("written");
    assert!(png.starts_with(b"\x89PNG"));
    let other = draw("gull.gif");
    assert_eq!(other.status, Some(2));
    assert!(
        other.err.contains("end the file's name in .svg or .png"),
        "{}",
        other.err
    );
}

#[test]
fn a_palette_of_ones_own_colours_a_band() {
    let folder = folder();
    let files: [(&str, &str); 3] = [
        (
            "quay.csv",
            "name;colour\r\nbollard;#33383d\r\nrope;#c9b27c\r\npaint;#b3312c\r\n",
        ),
        (
            "quay.toml",
            "name = \"quay\"\n[[colours]]\nname = \"bollard\"\nsrgb = \"#33383d\"\n[[colours]]\nname = \"rope\"\nsrgb = \"#c9b27c\"\n[[colours]]\nname = \"paint\"\nsrgb = \"#b3312c\"\n",
        ),
        (
            "quay.gpl",
            "GIMP Palette\nName: quay\n#\n 51  56  61\tbollard\n201 178 124\trope\n179  49  44\tpaint\n",
        ),
    ];
    for (file, text) in files {
        write(folder.path(), file, text.as_bytes());
        let said = hitchwork(
            folder.path(),
            &[
                "make",
                "drift",
                "--set",
                "threads=9",
                "--palette",
                file,
                "--out",
                "out",
                "--json",
            ],
        );
        assert_eq!(said.status, Some(0), "{file}: {}", said.err);
        let band = fs::read_to_string(folder.path().join("out/drift.band.json")).expect("a band");
        assert!(band.contains("\"bollard\""), "{file}: {band}");
    }
}

#[test]
fn what_cannot_be_is_refused_with_its_line() {
    let folder = folder();
    let files: [(&str, &[u8], &str); 8] = [
        ("empty.csv", b"", "the stash is empty"),
        (
            "short.csv",
            b"name,colour\nmud,#12\n",
            "line 2: \"#12\" is not a colour",
        ),
        (
            "twice.csv",
            b"name,colour\nmud,#6b5a48\nMud,#6b5a49\n",
            "line 3",
        ),
        ("nameless.csv", b"colour\n#6b5a48\n", "name"),
        ("latin.csv", b"name,colour\nm\xf6we,#6b5a48\n", "line 2"),
        ("nan.csv", b"name,colour,left\nmud,#6b5a48,NaN\n", "line 2"),
        ("below.csv", b"name,colour,left\nmud,#6b5a48,-3\n", "line 2"),
        (
            "one.csv",
            b"name,colour\nmud,#6b5a48\n",
            "12 threads are needed",
        ),
    ];
    for (file, bytes, words) in files {
        write(folder.path(), file, bytes);
        let match_it = ["colours", "match", "gull", "-n", "12", "--stash", file];
        let said = hitchwork(folder.path(), &match_it);
        assert_eq!(said.status, Some(2), "{file}: {}", said.out);
        assert!(said.err.contains(words), "{file}: {}", said.err);
        assert!(said.err.contains("help: "), "{file}: {}", said.err);
    }
    for (arguments, words) in [
        (
            &["gradient", "sprnig tide", "-n", "5"][..],
            "did you mean \"spring tide\"?",
        ),
        (&["gradient", "gull", "-n", "0"], "1 to 1000 colours"),
        (
            &["gradient", "red", "-n", "5"],
            "several colours, each as # and six hexadecimal digits",
        ),
        (
            &["gradient", "red", "blue", "-n", "5"],
            "give several colours, each as # and six hexadecimal digits",
        ),
        (
            &["gradient", "gull", "spring tide", "-n", "5"],
            "or one palette by its name or from its file",
        ),
        (
            &["gradient", "#zz0000", "#000000", "-n", "3"],
            "is not a colour",
        ),
        (
            &["order", "one.csv", "--thread", "silt"],
            "no thread called \"silt\"",
        ),
        (&["choose", "one.csv", "-n", "3"], "3 threads"),
        (&["order", "nowhere.csv"], "nowhere.csv cannot be read"),
    ] {
        let said = hitchwork(folder.path(), &[&["colours"], arguments].concat());
        assert_eq!(said.status, Some(2), "{arguments:?}: {}", said.out);
        assert!(said.err.contains(words), "{arguments:?}: {}", said.err);
    }
}

#[test]
fn a_spreadsheets_export_with_semicolons_and_a_byte_order_mark_is_read() {
    let folder = folder();
    let text = "\u{feff}Name;Colour;Left\r\n\"Mud; wet\";#6B5A48;\"2,5\"\r\nMoon;#E8E4D8;3\r\n";
    write(folder.path(), "export.csv", text.as_bytes());
    let said = hitchwork(folder.path(), &["colours", "order", "export.csv"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(said.out.contains("Mud; wet"), "{}", said.out);
    let wrong = text.replace("#E8E4D8", "#E8E4D");
    write(folder.path(), "export.csv", wrong.as_bytes());
    let said = hitchwork(folder.path(), &["colours", "order", "export.csv"]);
    assert!(said.err.contains("line 3: "), "{}", said.err);
}

#[test]
fn a_drawer_of_a_hundred_thousand_threads_is_read() {
    let folder = folder();
    let mut text = String::from("name,colour\n");
    for number in 0..100_000_u32 {
        text.push_str(&format!("t{number},#{:06x}\n", number * 167));
    }
    write(folder.path(), "many.csv", text.as_bytes());
    let said = hitchwork(
        folder.path(),
        &["colours", "match", "gull", "-n", "8", "--stash", "many.csv"],
    );
    assert!(said.status.is_some(), "it did not crash");
    assert!(
        said.status == Some(0) || said.err.contains("help: "),
        "{}",
        said.err
    );
}

#[test]
fn a_band_is_compared_with_what_is_left_in_the_drawer() {
    let folder = folder();
    let threads = "name,colour,left\nbollard,#33383d,0.4\nrope,#c9b27c,50\npaint,#b3312c,\n";
    write(folder.path(), "drawer.csv", threads.as_bytes());
    let made = |more: &[&str]| {
        let check = [
            "check",
            "candy_stripe",
            "--set",
            "threads=6",
            "--set",
            "stripes=3",
            "--palette",
            "drawer.csv",
            "--stash",
            "drawer.csv",
        ];
        hitchwork(folder.path(), &[&check[..], more].concat())
    };
    let said = made(&[]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(said.out.contains("bollard takes"), "{}", said.out);
    assert!(said.out.contains("and the stash has 0.4 m"), "{}", said.out);
    assert!(
        !said.out.contains("rope takes"),
        "there is enough of it: {}",
        said.out
    );
    assert_eq!(made(&["--strict"]).status, Some(1));
    let class = made(&["--people", "30"]);
    assert!(
        class.out.contains("rope takes"),
        "not for thirty: {}",
        class.out
    );
}
