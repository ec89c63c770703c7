//! One list of everything that can be written of a tied band: each entry is what its own room
//! makes, and everybody who offers outputs offers these.

use std::fs;
use std::path::Path;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::Sight;
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::Drift;
use hitchwork_core::tied::Tied;
use hitchwork_draw::output::{Output, OutputOptions};
use hitchwork_draw::{
    fabric, font, gradient, html, knots, order, pdf, png, strands, text, thread_use,
};
use hitchwork_tests::{files, made};

#[path = "../../crates/hitchwork/examples/hundred_bands.rs"]
#[expect(dead_code, reason = "an example begins with its own main")]
mod hundred_bands;

fn band(repeats: u32) -> Tied {
    let parts = BandParts {
        title: "A mooring line".into(),
        palette: made::colours(4),
        threads: vec![0, 1, 2, 3, 3],
        repeat: vec![made::run(Kind::Forward, 1..5)],
        repeats,
        ..BandParts::default()
    };
    Tied::of(Band::new(parts).expect("a sound band"))
}

fn whole(svg: &str) -> Vec<u8> {
    font::carried(svg).expect("XML").into_bytes()
}

/// What an output's files hold, from the functions of its own room. A new output comes here,
/// with what shows that it is right in the tests of its room.
fn by_its_own_room(output: Output, tied: &Tied) -> Vec<Vec<u8>> {
    let band = tied.band();
    match output.name() {
        "fabric" => {
            let svg = fabric::svg(tied, &fabric::FabricOptions::default()).expect("drawn");
            vec![whole(&svg), png::render(&svg, 1.0).expect("painted")]
        }
        "tile" => {
            let svg = fabric::tile(tied, &fabric::FabricOptions::default()).expect("drawn");
            vec![whole(&svg), png::render(&svg, 1.0).expect("painted")]
        }
        "strands" => {
            let pages = strands::pages(tied, &strands::ChartOptions::default()).expect("drawn");
            pages.iter().map(|page| whole(page)).collect()
        }
        "knots" => {
            let pages = knots::pages(tied, &knots::KnotChartOptions::default()).expect("drawn");
            pages.iter().map(|page| whole(page)).collect()
        }
        "order" => vec![whole(&order::svg(tied))],
        "thread" => vec![whole(&thread_use::svg(tied))],
        "gradient" => {
            let (cyclic, sight) = (
                Drift::of_band(band).is_some(),
                Sight::of_knot(&band.gauge()),
            );
            let svg = gradient::svg(band.title(), band.palette(), cyclic, sight);
            vec![whole(&svg.expect("drawn"))]
        }
        "html" => vec![html::sheet(tied).expect("written").into_bytes()],
        "pdf" => vec![pdf::sheet(tied, pdf::Paper::A4).expect("written")],
        "text" => vec![text::sheet(tied).into_bytes()],
        new => panic!("{new} is in the list of outputs and not tested: say here what it holds"),
    }
}

#[test]
fn every_output_is_what_its_own_room_makes() {
    let tied = band(24);
    let options = OutputOptions {
        pixels_too: true,
        ..OutputOptions::fitting(&tied)
    };
    for output in Output::all() {
        let files = output.files(&tied, &options).expect("made");
        let bytes: Vec<Vec<u8>> = files.iter().map(|file| file.bytes.clone()).collect();
        assert!(bytes == by_its_own_room(output, &tied), "{output}");
        for file in files.iter().filter(|file| !file.name.ends_with(".png")) {
            assert!(output.makes(&file.name), "{output}: {}", file.name);
        }
        let drawn = output.svg(&tied, &options);
        assert_eq!(drawn.is_ok(), output.is_picture(), "{output}");
    }
}

#[test]
fn pixels_are_made_of_the_fabric_only_and_only_where_they_are_wanted() {
    let tied = band(24);
    let names = |pixels_too| -> Vec<String> {
        let options = OutputOptions {
            pixels_too,
            ..OutputOptions::fitting(&tied)
        };
        Output::all()
            .flat_map(|output| output.files(&tied, &options).expect("made"))
            .map(|file| file.name)
            .filter(|name| name.ends_with(".png"))
            .collect()
    };
    assert_eq!(names(true), ["fabric.png", "tile.png"]);
    assert!(names(false).is_empty());
}

/// 300,000 repeats are too many to be drawn, and then a picture shows fewer.
#[test]
fn a_long_band_is_drawn_with_as_many_repeats_as_show_well() {
    let long = band(300_000);
    let output = Output::find("fabric").expect("listed");
    assert!(output.files(&long, &OutputOptions::default()).is_err());
    let fitting = output
        .files(&long, &OutputOptions::fitting(&long))
        .expect("made");
    assert_eq!(fitting.len(), 1);
}

/// A room that says how its output is made, and is not in the list, is of no use to anybody.
#[test]
fn every_room_that_makes_an_output_is_in_the_list() {
    let draw = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/hitchwork-draw/src");
    let recipes = files::texts(&draw, "rs").into_iter();
    let recipes = recipes.map(|(_, text)| text.matches(": Recipe = Recipe {").count());
    assert_eq!(recipes.sum::<usize>(), Output::all().len());
}

/// `RENEW=1` writes the names into the schema, and fails.
#[test]
fn the_schema_of_plans_offers_exactly_what_is_in_the_list() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../crates/hitchwork-collection/plan.schema.json");
    let schema = fs::read_to_string(&file).expect("there is a schema");
    let (before, rest) = schema
        .split_once(r#""write": { "type": "array", "items": { "enum": ["#)
        .expect("plans say what is written");
    let (named, _) = rest.split_once(']').expect("a list ends");
    let listed: Vec<String> = Output::all()
        .map(|output| format!("\"{output}\""))
        .collect();
    let listed = listed.join(", ");
    if named != listed && std::env::var_os("RENEW").is_some() {
        let at = schema.len() - rest.len();
        let renewed = format!("{}{listed}{}", &schema[..at], &rest[named.len()..]);
        fs::write(&file, renewed).expect("writable");
        panic!(
            "the schema was renewed; look at what has changed after {}",
            before.len()
        );
    }
    assert_eq!(
        named, listed,
        "the schema is stale: RENEW=1 cargo test -p hitchwork-tests outputs"
    );
}

#[test]
fn an_embedder_draws_a_hundred_bands_in_under_thirty_lines() {
    let folder = tempfile::tempdir().expect("a folder");
    hundred_bands::hundred(folder.path()).expect("drawn");
    let mut drawn: Vec<String> = fs::read_dir(folder.path())
        .expect("readable")
        .map(|entry| fs::read_to_string(entry.expect("readable").path()).expect("SVG is text"))
        .collect();
    assert_eq!(drawn.len(), 100);
    assert!(drawn.iter().all(|svg| svg.starts_with("<svg")));
    drawn.sort();
    drawn.dedup();
    assert!(drawn.len() > 90, "{} of them differ", drawn.len());
    let example =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/hitchwork/examples/hundred_bands.rs");
    let lines = fs::read_to_string(example).expect("there").lines().count();
    assert!(lines < 30, "{lines}");
}
