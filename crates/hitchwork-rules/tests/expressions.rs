//! Conditions and measures over the figures of bands.

use hitchwork_core::band::Band;
use hitchwork_core::figures::{FIGURES, FigureValue};
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
    for figure in FIGURES {
        let name = figure.name;
        let asked = match tied.figure(name).expect("it is a figure") {
            FigureValue::Whole(whole) => format!("{name} == {whole}"),
            FigureValue::Number(number) => format!("{name} == {number:?}"),
            FigureValue::Flag(true) => name.to_owned(),
            FigureValue::Flag(false) => format!("!{name}"),
            FigureValue::Text(word) => {
                assert!(figure.words.contains(&word), "{name} can be {word}");
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
        Expression::measure("minutes / knots * 60 + abs(0 - threads) + max(1, 2)").expect("read");
    for threads in [6, 8, 12] {
        let band = made("drift", &Settings::new().set("threads", threads));
        let tied = Tied::of(band);
        assert!(closes.holds(&tied).expect("answered"));
        assert!(slow.value(&tied).expect("a number") > f64::from(threads));
    }
}

#[test]
fn more_than_figures_can_be_known() {
    let measure = Expression::measure_knowing("novelty * 2 + threads", &["novelty"]).expect("read");
    let band = made("drift", &Settings::new().set("threads", 6));
    let tied = Tied::of(band);
    assert_eq!(
        measure.value_knowing(&tied, &[("novelty", 0.5)]).ok(),
        Some(7.0)
    );
    assert!(Expression::measure("novelty").is_err());
}

#[test]
fn what_is_wrong_is_said_before_any_band_is_made() {
    for (text, said) in [
        ("widht_mm < 20", "did you mean width_mm?"),
        ("glitter > 2", "there is no figure called glitter"),
        ("structure == p2", "words stand in quotes: \"p2\""),
        (
            "structure == \"p3\"",
            "it is never \"p3\", but one of p1, p11g",
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
    let long = "threads + ".repeat(1000) + "1 > 3";
    assert!(refused(&long).contains("longer than 4 KB"));
    let deep = format!("{}true{}", "(".repeat(500), ")".repeat(500));
    assert!(!refused(&deep).is_empty());
    let measure = Expression::measure("drifts")
        .expect_err("no number")
        .render(false);
    assert!(measure.contains("the measure gives yes or no"), "{measure}");
}

#[test]
fn a_measure_that_is_no_number_is_said_for_the_band() {
    let band = made("drift", &Settings::new());
    let tied = Tied::of(band);
    for text in [
        "1.0 / (threads - threads)",
        "threads / (rows_per_repeat - rows_per_repeat)",
    ] {
        let measure = Expression::measure(text).map(|measure| measure.value(&tied));
        // The band that an expression is tried on at first may stop it as well.
        if let Ok(value) = measure {
            let error = value.expect_err("it divides by zero").render(false);
            assert!(error.contains("zero"), "{error}");
        }
    }
}
