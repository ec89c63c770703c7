//! The built-in rules: each makes a sound band wherever its parameters allow it to.

use hitchwork_core::band::Band;
use hitchwork_core::craft::Habits;
use hitchwork_core::file;
use hitchwork_core::proof::{Code, Report, Severity};
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Made, Parameter, Range, Rule, Rules, Settings, built_in_names};
use proptest::prelude::*;

/// Random combinations per rule; each ties a whole band.
const CASES: u32 = 10;

fn rule(rules: &Rules, name: &str) -> Rule {
    rules.built_in(name).expect("the name was listed")
}

fn make(rules: &Rules, rule: &Rule, settings: &Settings) -> Made {
    rules
        .make(rule, settings)
        .unwrap_or_else(|error| panic!("{} with {settings:?}:\n{error}", rule.name()))
}

fn proved(rules: &Rules, name: &str, settings: &Settings) -> Report {
    let band = make(rules, &rule(rules, name), settings).band;
    Tied::of(band).report().clone()
}

/// Makes the band and insists that nothing about it will disappoint. What is only a matter of
/// cutting each thread to its own length does not.
fn sound(rules: &Rules, rule: &Rule, settings: &Settings) -> Band {
    // Whether it is sound does not depend on the order of tying, which takes longer to look for.
    let habits = Habits {
        as_written: true,
        ..Habits::default()
    };
    let tied = Tied::by(make(rules, rule, settings).band, habits);
    let report = tied.report();
    let grave: Vec<&str> = report
        .findings
        .iter()
        .filter(|finding| finding.severity > Severity::Note)
        .filter(|finding| ![Code::FarLongerThread, Code::Tangles].contains(&finding.code))
        .map(|finding| finding.message.as_str())
        .collect();
    assert!(
        grave.is_empty(),
        "{} with {settings:?}: {grave:?}",
        rule.name()
    );
    assert!(report.repeats_to_close >= 1);
    assert!(report.knots_by_column.iter().all(|knots| *knots > 0));
    tied.into_band()
}

/// Every value that a parameter can take, or enough of them to meet its ends.
fn values(parameter: &Parameter) -> Vec<String> {
    match &parameter.range {
        Range::Whole { least, most } => (*least..=*most).map(|value| value.to_string()).collect(),
        Range::Number { least, most } => {
            let between = f64::midpoint(*least, *most);
            [*least, between, *most]
                .map(|value| value.to_string())
                .to_vec()
        }
        Range::Choice { options } => options.clone(),
        // A palette changes colours only; a long and a short one show that any will do.
        Range::Palette { .. } => vec!["spring tide".to_owned(), "regatta".to_owned()],
        Range::Flag => vec!["yes".to_owned(), "no".to_owned()],
        Range::Places { least, most } => vec![
            least.to_string(),
            most.to_string(),
            format!("{least},{most}"),
        ],
        // A rule may take digits alone, or letters that have a flag: those of its own word will do,
        // as few and as many as it takes.
        Range::Text { least, most } => {
            let word = parameter.default.to_string();
            let of = |count: &usize| word.chars().cycle().take(*count).collect::<String>();
            [*least, *most].iter().map(of).collect()
        }
        range => panic!("the values of {range:?} are not tried yet"),
    }
}

fn short() -> Settings {
    Settings::new().length_mm(30.0)
}

#[test]
fn every_value_of_every_parameter_gives_a_sound_band() {
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rule(&rules, name);
        for parameter in rules.parameters(&rule, &Settings::new()) {
            for value in values(&parameter) {
                sound(&rules, &rule, &short().set(parameter.name.as_str(), value));
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: CASES, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn chosen_together_they_give_a_sound_band_too(seed: u64, choices in prop::collection::vec(any::<prop::sample::Index>(), 8)) {
        let rules = Rules::new();
        for name in built_in_names() {
            let rule = rule(&rules, name);
            let before = short().seed(seed);
            let at_once = chosen(before.clone(), &rules.parameters(&rule, &before), &choices);
            let settings = match rules.make(&rule, &at_once) {
                // Now and then one by one all the same, for what only they reach.
                Ok(_) if seed % 4 > 0 => at_once,
                _ => one_by_one(&rules, &rule, before, &choices),
            };
            sound(&rules, &rule, &settings);
        }
    }
}

fn chosen(before: Settings, of: &[Parameter], choices: &[prop::sample::Index]) -> Settings {
    let chosen = |settings: Settings, (parameter, choice): (&Parameter, &prop::sample::Index)| {
        let values = values(parameter);
        let value = values[choice.index(values.len())].as_str();
        settings.set(parameter.name.as_str(), value)
    };
    of.iter().zip(choices).fold(before, chosen)
}

/// Ranges may depend on earlier parameters, so each is chosen when those before it are.
fn one_by_one(
    rules: &Rules,
    rule: &Rule,
    mut settings: Settings,
    choices: &[prop::sample::Index],
) -> Settings {
    for number in 0..choices.len() {
        let declared = rules.parameters(rule, &settings);
        let Some(next) = declared.get(number) else {
            break;
        };
        settings = chosen(settings, std::slice::from_ref(next), &choices[number..]);
    }
    settings
}

#[test]
fn every_rule_says_what_it_makes_and_what_each_parameter_means() {
    let rules = Rules::new();
    assert!(built_in_names().len() >= 16);
    for name in built_in_names() {
        let rule = rule(&rules, name);
        assert!(
            name.chars()
                .all(|letter| letter.is_ascii_lowercase() || letter == '_'),
            "{name}"
        );
        let sentence = rule.sentence();
        assert!(
            sentence.ends_with('.') && sentence.chars().count() <= 100,
            "{name}: {sentence}"
        );
        assert!(rule.text().lines().count() <= 60, "{name} is long");
        for parameter in rules.parameters(&rule, &Settings::new()) {
            assert!(
                parameter.sentence.contains(' '),
                "{name}: {}",
                parameter.name
            );
        }
    }
}

#[test]
fn the_same_settings_make_the_same_band_file() {
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rule(&rules, name);
        let text = || file::write(&make(&rules, &rule, &Settings::new().seed(7)).band);
        assert_eq!(text(), text(), "{name}");
    }
}

#[test]
fn a_candy_stripe_closes_after_as_many_rows_as_it_has_threads() {
    let rules = Rules::new();
    for threads in 3..=40 {
        let report = proved(
            &rules,
            "candy_stripe",
            &short().set("threads", threads.to_string()),
        );
        assert_eq!(report.rows_per_repeat, 1);
        assert_eq!(report.repeats_to_close, threads);
    }
}

#[test]
fn both_drifts_move_one_step_at_every_repeat() {
    let rules = Rules::new();
    for name in ["drift", "straight_drift"] {
        for threads in 4..=40 {
            let report = proved(&rules, name, &short().set("threads", threads.to_string()));
            let drift = report.drift.expect("it drifts");
            assert_eq!(
                (drift.colours, drift.steps_per_repeat),
                (threads, 1),
                "{name}"
            );
        }
    }
}

#[test]
fn bands_with_mirrored_halves_hang_alike_on_both_sides() {
    let rules = Rules::new();
    for name in ["chevron", "diamonds", "wakes"] {
        for pairs in 4..=20 {
            let band = make(&rules, &rule(&rules, name), &short().set("pairs", pairs)).band;
            let backwards: Vec<u16> = band.thread_colours().iter().rev().copied().collect();
            assert_eq!(band.thread_colours(), backwards, "{name}");
        }
    }
}

#[test]
fn bands_that_go_there_and_back_or_only_turn_close_after_one_repeat() {
    let rules = Rules::new();
    for name in [
        "afterglow",
        "anchors",
        "billow",
        "boats",
        "bunting",
        "checks",
        "diamonds",
        "drizzle",
        "fish",
        "gulls",
        "harbour_wall",
        "harlequin",
        "hearts",
        "hoarfrost",
        "hoist",
        "leaves",
        "lighthouse",
        "nameboard",
        "net",
        "rickrack",
        "sampler",
        "stars",
        "swell",
        "tide_table",
        "wakes",
        "waves",
        "whales",
        "zigzag",
    ] {
        assert_eq!(proved(&rules, name, &short()).repeats_to_close, 1, "{name}");
    }
}

#[test]
fn figures_hang_still_because_all_their_knots_turn() {
    let rules = Rules::new();
    for name in ["boats", "hearts", "hoarfrost", "stars"] {
        let band = make(&rules, &rule(&rules, name), &short()).band;
        let knots = band
            .repeat()
            .iter()
            .flat_map(hitchwork_core::row::Row::knots);
        assert!(
            knots.into_iter().all(|knot| !knot.kind().changes_places()),
            "{name}"
        );
    }
}

#[test]
fn another_seed_strews_other_stars() {
    let rules = Rules::new();
    let stars = rule(&rules, "stars");
    let night = |seed| make(&rules, &stars, &short().seed(seed)).band;
    assert_ne!(night(1).repeat(), night(2).repeat());
}
