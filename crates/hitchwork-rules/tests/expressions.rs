//! Conditions and scores over the measures of bands.

use hitchwork_core::band::Band;
use hitchwork_core::measures::{MEASURES, MeasureValue};
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Expression, Rules, Settings};

fn made(rule: &str, settings: &Settings) -> Band {
    let rules = Rules::new();
    let rule = rules.built_in(rule).expect("built in");
    rules.make(&rule, settings).expect("a band").band
}

fn refused(text: &str) -> String {
    Expression::condition(text)
        .expect_err("it cannot be")
        .render(false)
}

#[test]
fn every_figure_can_be_asked_for() {
    let band = made("drift", &Settings::new());
    let tied = Tied::of(band);
    for measure in MEASURES {
        let name = measure.name;
        let asked = match tied.measure(name).expect("it is a measure") {
            MeasureValue::Whole(whole) => format!("{name} == {whole}"),
            MeasureValue::Number(number) => format!("{name} == {number:?}"),
            MeasureValue::Flag(true) => name.to_owned(),
            MeasureValue::Flag(false) => format!("!{name}"),
            MeasureValue::Text(word) => {
                assert!(measure.words.contains(&word), "{name} can be {word}");
                format!("{name} == \"{word}\"")
            }
        };
        let condition = Expression::condition(&asked).expect("it can be read");
        assert!(condition.uses(name));
        assert!(
            condition.holds(&tied).expect("it can be answered"),
            "{asked}"
        );
    }
}

#[test]
fn conditions_and_measures_of_a_family() {
    let closes = Expression::condition("repeats_to_close == threads && drifts").expect("read");
    let slow =
        Expression::score("minutes / knots * 60 + abs(0 - threads) + max(1, 2)").expect("read");
    for threads in [6, 8, 12] {
        let band = made("drift", &Settings::new().set("threads", threads));
        let tied = Tied::of(band);
        assert!(closes.holds(&tied).expect("answered"));
        assert!(slow.value(&tied).expect("a number") > f64::from(threads));
    }
}

#[test]
fn more_than_figures_can_be_known() {
    let score = Expression::score_knowing("novelty * 2 + threads", &["novelty"]).expect("read");
    let band = made("drift", &Settings::new().set("threads", 6));
    let tied = Tied::of(band);
    assert_eq!(
        score.value_knowing(&tied, &[("novelty", 0.5)]).ok(),
        Some(7.0)
    );
    assert!(Expression::score("novelty").is_err());
}

#[test]
fn what_is_wrong_is_said_before_any_band_is_made() {
    for (text, said) in [
        ("widht_mm < 20", "did you mean width_mm?"),
        ("glitter > 2", "there is no measure called glitter"),
        ("knot_symmetry == glide", "words stand in quotes: \"glide\""),
        (
            "knot_symmetry == \"p3\"",
            "it is never \"p3\", but one of none, glide",
        ),
        (
            "minutes < \"90\"",
            "a number is compared with the word \"90\"",
        ),
        ("drifts == 1", "yes or no is compared with a number"),
        ("minutes", "the condition gives a number"),
        ("minutes <", "the condition"),
        ("", "there is nothing in the condition"),
        ("width_mm = 20", "the condition"),
        ("while true {}", "the condition"),
        ("minutes ** 2 > 4", "the condition"),
        ("glow(3)", "glow"),
    ] {
        let found = refused(text);
        assert!(found.contains(said), "{text}:\n{found}");
    }
    // A condition is not a rule, and is not called one.
    for broken in ["minutes <", "(minutes < 3", "minutes < \"3", "loop {}"] {
        let found = refused(broken);
        assert!(found.contains("error[not-a-condition]"), "{found}");
        assert!(!found.contains("the rule"), "{found}");
    }
    let long = "threads + ".repeat(1000) + "1 > 3";
    assert!(refused(&long).contains("longer than 4 KB"));
    let deep = format!("{}true{}", "(".repeat(500), ")".repeat(500));
    assert!(!refused(&deep).is_empty());
    let score = Expression::score("drifts")
        .expect_err("no number")
        .render(false);
    assert!(score.contains("the score gives yes or no"), "{score}");
}

#[test]
fn a_score_that_is_no_number_is_said_for_the_band() {
    let band = made("drift", &Settings::new());
    let tied = Tied::of(band);
    for text in [
        "1.0 / (threads - threads)",
        "threads / (rows_per_repeat - rows_per_repeat)",
    ] {
        let score = Expression::score(text).map(|score| score.value(&tied));
        // The band that an expression is tried on at first may stop it as well.
        if let Ok(value) = score {
            let error = value.expect_err("it divides by zero").render(false);
            assert!(error.contains("zero"), "{error}");
        }
    }
}
