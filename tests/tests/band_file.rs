//! Band files: what is written is read back to the byte, and the schema says what a band
//! file is.

use boon::{Compiler, SchemaIndex, Schemas};
use hitchwork_core::band::{Band, BandParts, Origin, Setting};
use hitchwork_core::file;
use hitchwork_core::knot::Kind;
use hitchwork_tests::{by_chance, golden, made};
use proptest::prelude::*;
use serde_json::{Value, json};

/// What somebody writes by hand: no more than there must be.
const BY_HAND: &str = r##"{
  "palette": [{ "name": "lamp", "srgb": "#FFC145" }, { "name": "night", "srgb": "#1c2541" }],
  "threads": [0, 1, 1],
  "repeat": [{ "knots": [{ "at": 1, "kind": "forward" }, { "at": 2, "kind": "forward-backward" }] }],
  "repeats": 30
}"##;

struct Schema {
    schemas: Schemas,
    index: SchemaIndex,
}

impl Schema {
    fn of_band_files() -> Self {
        let mut schemas = Schemas::new();
        let mut compiler = Compiler::new();
        let schema: Value = serde_json::from_str(&file::schema()).expect("a schema is JSON");
        compiler
            .add_resource("band.schema.json", schema)
            .expect("a name");
        let index = compiler
            .compile("band.schema.json", &mut schemas)
            .expect("a sound schema");
        Self { schemas, index }
    }

    fn accepts(&self, value: &Value) -> bool {
        self.schemas.validate(value, self.index).is_ok()
    }
}

#[test]
fn the_published_schema_is_that_of_the_code() {
    golden::check(
        "crates/hitchwork-core/schema/band.schema.json",
        &file::schema(),
    );
}

#[test]
fn a_file_written_by_hand_is_read_and_fits_the_schema() {
    let band = file::read(BY_HAND.as_bytes()).expect("the least that a band file needs");
    assert_eq!(band.thread_colours(), [0, 1, 1]);
    assert_eq!(
        band.repeat(),
        [made::run(Kind::Forward, [1]).then(&made::run(Kind::ForwardBackward, [2]))]
    );
    assert_eq!(band.repeats(), 30);
    assert!(band.origin().is_none());
    let value = serde_json::from_str(BY_HAND).expect("JSON");
    assert!(Schema::of_band_files().accepts(&value));
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_do_no_harm() {
    let band = file::read(BY_HAND.as_bytes()).expect("a band");
    let elsewhere = format!("\u{feff}{}", BY_HAND.replace('\n', "\r\n"));
    let same = file::read(elsewhere.as_bytes()).expect("the same band");
    assert_eq!(file::write(&band), file::write(&same));
}

#[test]
fn a_written_file_is_set_out_for_people() {
    let band = file::read(BY_HAND.as_bytes()).expect("a band");
    golden::check("tests/golden/by_hand.band.json", &file::write(&band));
}

#[test]
fn settings_that_cannot_be_written_down_are_refused() {
    for number in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let origin = Origin {
            settings: [("sway".to_owned(), Setting::Number(number))].into(),
            ..Origin::default()
        };
        let parts = made::band(3, vec![made::run(Kind::Forward, [1, 2])], 1).into_parts();
        let error = Band::new(BandParts {
            origin: Some(origin),
            ..parts
        })
        .expect_err("no number");
        assert_eq!(
            error.to_string(),
            "the setting \"sway\" of the band's origin is not a number"
        );
    }
}

#[test]
fn the_schema_refuses_what_reading_refuses_wherever_a_schema_can_say_so() {
    let schema = Schema::of_band_files();
    let good: Value = serde_json::from_str(BY_HAND).expect("JSON");
    let with = |path: &str, value: Value| {
        let mut file = good.clone();
        *file.pointer_mut(path).expect("a field of the example") = value;
        file
    };
    let and = |name: &str, value: Value| {
        let mut file = good.clone();
        file[name] = value;
        file
    };
    let without = |name: &str| {
        let mut file = good.clone();
        file.as_object_mut().expect("an object").remove(name);
        file
    };
    let refused = [
        without("palette"),
        without("threads"),
        without("repeat"),
        without("repeats"),
        and("format", json!("hitchwork-band/2")),
        and("colour", json!(3)),
        and("title", json!(3)),
        and("notes", json!(null)),
        and("palette", json!([])),
        and("palette", json!([["lamp", "#ffc145"]])),
        with("/palette/0/srgb", json!("#ffc14")),
        with("/palette/0/srgb", json!("lamp")),
        with("/palette/0/name", json!("")),
        with("/palette/0/name", json!(" ")),
        and("threads", json!([])),
        and("threads", json!([0])),
        and("threads", json!(vec![0; 201])),
        and("threads", json!([0, -1])),
        and("threads", json!([0, 0.5])),
        and("threads", json!([0, 65_536])),
        and("repeat", json!([])),
        and("repeat", json!([[]])),
        and("repeat", json!([{ "knots": [] }])),
        and("lead_in", json!([{ "knots": [] }])),
        with("/repeat/0/knots/0/at", json!(0)),
        with("/repeat/0/knots/0/at", json!(200)),
        with("/repeat/0/knots/0/at", json!("1")),
        with("/repeat/0/knots/0/kind", json!("sideways")),
        with("/repeat/0/knots/0/kind", json!({ "forward": null })),
        with("/repeat/0/knots/0/kind", json!(1)),
        with("/repeat/0/knots/0", json!([1, "forward"])),
        with("/repeats", json!(0)),
        with("/repeats", json!(1_000_001)),
        with("/repeats", json!(-3)),
        and("start", json!({ "shape": "round" })),
        and("start", json!({ "ties": "cut" })),
        and("start", json!(["flat", "cut"])),
        and("finish", json!({ "shape": "flat", "ties": "glued" })),
        and("gauge", json!({ "thread_mm": 0.5, "column_mm": 1.0 })),
        and(
            "gauge",
            json!({ "thread_mm": 0.0, "column_mm": 1.0, "half_row_mm": 1.0 }),
        ),
        and(
            "gauge",
            json!({ "thread_mm": 11.0, "column_mm": 1.0, "half_row_mm": 1.0 }),
        ),
        and(
            "gauge",
            json!({ "thread_mm": 0.5, "column_mm": 51.0, "half_row_mm": 1.0 }),
        ),
        and("gauge", json!([0.5, 1.0, 1.0])),
        and("origin", json!({})),
        and("origin", json!({ "rule": "tide", "seed": -1 })),
        and(
            "origin",
            json!({ "rule": "tide", "settings": { "turns": [[3]] } }),
        ),
        and(
            "origin",
            json!({ "rule": "tide", "settings": { "turns": null } }),
        ),
        json!([]),
        json!("band"),
    ];
    for value in &refused {
        assert!(
            file::read(value.to_string().as_bytes()).is_err(),
            "reading takes {value}"
        );
        assert!(!schema.accepts(value), "the schema takes {value}");
    }
    let beyond_a_schema = [
        and("threads", json!([0, 1, 2])),
        with("/repeat/0/knots/0/at", json!(3)),
        with("/palette/0/name", json!("night")),
    ];
    for value in &beyond_a_schema {
        assert!(
            file::read(value.to_string().as_bytes()).is_err(),
            "reading takes {value}"
        );
        assert!(
            schema.accepts(value),
            "the schema could say so after all: {value}"
        );
    }
}

fn is_same_band(one: &Band, other: &Band) -> bool {
    let same_parts = [
        hitchwork_core::band::Part::LeadIn,
        hitchwork_core::band::Part::Repeat,
        hitchwork_core::band::Part::LeadOut,
    ]
    .iter()
    .all(|part| one.rows(*part) == other.rows(*part));
    same_parts
        && (one.title(), one.notes(), one.palette())
            == (other.title(), other.notes(), other.palette())
        && (one.thread_colours(), one.repeats()) == (other.thread_colours(), other.repeats())
        && (one.start(), one.finish(), one.gauge())
            == (other.start(), other.finish(), other.gauge())
        && one.origin() == other.origin()
}

proptest! {
    #![proptest_config(by_chance::cases(256))]

    #[test]
    fn what_is_written_is_read_back_to_the_byte(band in by_chance::lavish_band()) {
        let text = file::write(&band);
        let again = file::read(text.as_bytes()).expect("what is written can be read");
        prop_assert!(is_same_band(&band, &again));
        prop_assert_eq!(file::write(&again), text);
    }

    #[test]
    fn what_is_written_fits_the_schema(bands in prop::collection::vec(by_chance::lavish_band(), 1..4)) {
        let schema = Schema::of_band_files();
        for band in bands {
            let value: Value = serde_json::from_str(&file::write(&band)).expect("JSON");
            prop_assert!(schema.accepts(&value), "{}", value);
        }
    }

    #[test]
    fn what_is_set_out_by_another_program_is_the_same_band(band in by_chance::lavish_band()) {
        let value: Value = serde_json::from_str(&file::write(&band)).expect("JSON");
        // Its numbers are those of the same digits, its fields in another order.
        let elsewhere = serde_json::to_string_pretty(&value).expect("JSON");
        let again = file::read(elsewhere.as_bytes()).expect("the same band");
        prop_assert!(again.repeat() == band.repeat() && again.palette() == band.palette());
    }

    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        prop_assert!(file::read(&bytes).is_err());
    }

    #[test]
    fn a_file_that_something_happened_to_never_panics(
        band in by_chance::lavish_band(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0_u8..4), 1..6),
    ) {
        let mut bytes = file::write(&band).into_bytes();
        for (at, byte, what) in changes {
            let at = at.index(bytes.len());
            match what {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                2 => bytes.truncate(at + 1),
                _ => drop(bytes.remove(at)),
            }
            if bytes.is_empty() {
                break;
            }
        }
        if let Err(error) = file::read(&bytes) {
            prop_assert!(!error.to_string().is_empty());
            prop_assert!(error.help().is_some());
        }
    }

    #[test]
    fn any_json_in_place_of_a_field_never_panics(
        band in by_chance::lavish_band(),
        field in prop::sample::select(vec![
            "/format", "/title", "/palette", "/palette/0", "/palette/0/srgb", "/threads", "/threads/0", "/repeat",
            "/repeat/0", "/repeat/0/knots", "/repeat/0/knots/0", "/repeat/0/knots/0/at", "/repeats", "/start",
            "/start/shape", "/gauge", "/gauge/thread_mm",
        ]),
        value in any_json(),
    ) {
        let mut file: Value = serde_json::from_str(&file::write(&band)).expect("JSON");
        *file.pointer_mut(field).expect("written") = value;
        if let Err(error) = file::read(file.to_string().as_bytes()) {
            prop_assert!(error.to_string().chars().count() < 600, "{}", error);
        }
    }
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        any::<String>().prop_map(Value::from),
    ];
    leaf.prop_recursive(3, 20, 4, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..4).prop_map(Value::from),
            prop::collection::btree_map("name|srgb|knots|at|kind|shape|x", inner, 0..4)
                .prop_map(|fields| Value::Object(fields.into_iter().collect())),
        ]
    })
}
