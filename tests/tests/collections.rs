//! Collections as embedders make them, and their published schemas.

use std::ops::ControlFlow;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use hitchwork_collection::run::{CollectOptions, Collected, collect, prove};
use hitchwork_collection::{manifest, plan};
use hitchwork_rules::Rules;
use serde_json::Value;

const PLAN: &str = r#"
    title = "Moorings"
    [defaults]
    lengths = 3
    write = ["text"]
    [[item]]
    rule = "candy_stripe"
    settings = { stripes = 4 }
    grid = { threads = [3, 4, 5] }
    mirrored = [false, true]
    [[item]]
    rule = "flotsam"
    settings = { threads = 5, fours = 1, colours = 2 }
    seeds = ["1..20", 77]
    keep = ["repeats_to_close <= 4"]
    best = { count = 3, by = "contrast" }
    [[item]]
    rule = "chevron"
    keep = ["threads < 4"]
"#;

fn made(folder: &Path) -> Collected {
    let rules = Rules::new();
    let plan = plan::read(&rules, "moorings.toml", PLAN).expect("a plan");
    let go_on = &mut |_: &_| ControlFlow::Continue(());
    let options = CollectOptions {
        workers: 2,
        ..CollectOptions::default()
    };
    collect(
        &rules,
        &plan,
        folder,
        &options,
        &AtomicBool::new(false),
        go_on,
    )
    .expect("it can be made")
}

fn holds_for(schema: &str, data: &Value) {
    if let Err(error) = validated(schema, data) {
        panic!("{error}");
    }
}

/// What a schema has against some data.
fn validated(schema: &str, data: &Value) -> Result<(), String> {
    let schema: Value = serde_json::from_str(schema).expect("a schema is JSON");
    let mut schemas = boon::Schemas::new();
    let mut compiler = boon::Compiler::new();
    compiler
        .add_resource("file:///checked.json", schema)
        .expect("a schema");
    let index = compiler
        .compile("file:///checked.json", &mut schemas)
        .expect("a schema");
    schemas
        .validate(data, index)
        .map_err(|error| format!("{error:#}"))
}

#[test]
fn a_manifest_is_what_its_schema_says() {
    let folder = tempfile::tempdir().expect("a folder");
    let collected = made(folder.path());
    let progress = collected.progress;
    assert_eq!(
        (progress.made, progress.failed, progress.left_out),
        (7, 2, 1)
    );
    let text = std::fs::read_to_string(folder.path().join("collection.json")).expect("written");
    let data: Value = serde_json::from_str(&text).expect("JSON");
    holds_for(manifest::SCHEMA, &data);
    let read = manifest::read(folder.path()).expect("it can be read");
    assert_eq!(read.records.len(), 10);
}

#[test]
fn plans_are_what_their_schema_says() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/evening-class/plan.toml");
    let demo = std::fs::read_to_string(demo).expect("the demo's plan");
    for text in [PLAN, &demo] {
        let data: toml::Value = toml::from_str(text).expect("TOML");
        holds_for(plan::SCHEMA, &serde_json::to_value(data).expect("data"));
    }
    let slip: toml::Value = toml::from_str("[[item]]\nruel = \"drift\"").expect("TOML");
    validated(plan::SCHEMA, &serde_json::to_value(slip).expect("data")).expect_err("a slip");
}

/// The same words as behind the command's option, and the schema takes what the reader takes.
/// A row of 18 knots in 210 seconds is 35/3 seconds for a knot.
#[test]
fn a_plan_gives_a_pace_in_words_in_seconds_or_as_a_timed_row() {
    let rules = Rules::new();
    let plan = |pace: &str| format!("[[item]]\nrule = \"drift\"\npace = {pace}\n");
    let by_schema = |text: &str| {
        let data: toml::Value = toml::from_str(text).expect("TOML");
        validated(plan::SCHEMA, &serde_json::to_value(data).expect("data"))
    };
    for (pace, seconds) in [
        ("\"beginner\"", 12.0),
        ("\"practised\"", 8.0),
        ("\"quick\"", 5.0),
        ("7", 7.0),
        ("7.5", 7.5),
        ("\"7.5\"", 7.5),
        ("\"18:210\"", 35.0 / 3.0),
    ] {
        let text = plan(pace);
        by_schema(&text).expect(pace);
        let read = plan::read(&rules, "paced.toml", &text).expect(pace);
        let read = read.items[0].habits.pace.seconds_per_knot();
        assert!((read - seconds).abs() < 1e-12, "{pace}: {read}");
    }
    for pace in ["\"practiced\"", "\"Quick\"", "0", "true", "[8]", "\"18:\""] {
        let text = plan(pace);
        by_schema(&text).expect_err(pace);
        plan::read(&rules, "paced.toml", &text).expect_err(pace);
    }
}

#[test]
fn proving_finds_what_making_finds_and_writes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let collected = made(folder.path());
    let rules = Rules::new();
    let plan = plan::read(&rules, "moorings.toml", PLAN).expect("a plan");
    let go_on = &mut |_: &_| ControlFlow::Continue(());
    let proved = prove(
        &rules,
        &plan,
        &CollectOptions::default(),
        &AtomicBool::new(false),
        go_on,
    )
    .expect("it can be proved");
    assert_eq!(proved.progress, collected.progress);
    assert_eq!(proved.failures, collected.failures);
    assert_eq!(proved.findings, collected.findings);
}

#[test]
fn the_demo_is_a_class_of_some_sixty_bands() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/evening-class/plan.toml");
    let text = std::fs::read_to_string(&file).expect("the demo's plan");
    let rules = Rules::new();
    let plan = plan::read(&rules, &file.display().to_string(), &text).expect("a plan");
    let go_on = &mut |_: &_| ControlFlow::Continue(());
    let options = CollectOptions {
        workers: 2,
        ..CollectOptions::default()
    };
    let proved =
        prove(&rules, &plan, &options, &AtomicBool::new(false), go_on).expect("it can be proved");
    assert_eq!(proved.progress.failed, 0, "{:?}", proved.failures);
    assert!(
        (50..=70).contains(&proved.progress.made),
        "{:?}",
        proved.progress
    );
}
