//! Rules' own tests: the built-in rules pass theirs, and what is not so is said clearly.

use hitchwork_rules::cases::{CaseOutcome, Cases, FactDifference};
use hitchwork_rules::{Rule, Rules, built_in_names, built_in_tests};

fn slant(rules: &Rules) -> Rule {
    let text = "let threads = whole(\"threads\", 6, 4..=40, \"threads on the band\");
band(threads).repeat([forward(1..threads), backward_forward(1..threads)]).colours(fade(\"open water\", threads))";
    rules.compile("slant", text).expect("a rule")
}

fn outcome(expect: &str) -> CaseOutcome {
    let rules = Rules::new();
    let text = format!("[[case]]\nname = \"the case\"\nexpect = {{ {expect} }}");
    let cases = Cases::read("slant.tests.toml", &text).expect("readable");
    cases.run(&rules, &slant(&rules)).remove(0)
}

fn only_difference(expect: &str) -> FactDifference {
    let mut differences = outcome(expect).differences;
    assert_eq!(differences.len(), 1, "{expect}: {differences:?}");
    differences.remove(0)
}

fn refused(text: &str) -> String {
    let error = Cases::read("slant.tests.toml", text).expect_err(text);
    assert_eq!(error.diagnostics()[0].code, "not-tests");
    error.render(false)
}

#[test]
fn every_built_in_rule_passes_its_own_tests() {
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("listed");
        let file = format!("{name}.tests.toml");
        let cases = Cases::read(&file, built_in_tests(name).expect("listed"))
            .unwrap_or_else(|error| panic!("{}", error.render(false)));
        for outcome in cases.run(&rules, &rule) {
            assert!(
                outcome.holds(),
                "{name}, {}: {:#?}",
                outcome.name,
                outcome.differences
            );
        }
    }
}

#[test]
fn every_parameter_of_a_built_in_rule_is_tested_at_both_ends() {
    use hitchwork_core::band::Setting;
    use hitchwork_rules::{Range, Settings};
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("listed");
        let cases = Cases::read(name, built_in_tests(name).expect("listed")).expect("readable");
        for parameter in rules.parameters(&rule, &Settings::new()) {
            let ends = match parameter.range {
                Range::Whole { least, most } => [Setting::Whole(least), Setting::Whole(most)],
                Range::Number { least, most } => [Setting::Number(least), Setting::Number(most)],
                _ => continue,
            };
            for end in ends {
                let set = |settings: &std::collections::BTreeMap<String, Setting>| {
                    settings.get(&parameter.name) == Some(&end)
                };
                assert!(
                    cases.cases.iter().any(|case| set(&case.settings)),
                    "{name} is not tested with {} = {end}",
                    parameter.name
                );
            }
        }
    }
}

#[test]
fn every_fact_that_is_so_holds() {
    let grid = r"grid = '''
\\\\\
<<<<<
'''";
    for fact in [
        "threads = 6",
        "colours = 6",
        "repeats_to_close = 6",
        "colour_repeats_to_close = 6",
        "drifts_by = 1",
        "rows = 2",
        "knots = 10",
        "half_rows = 4",
        "half_rows = \"4\"",
        "width_mm = [3, 9]",
        "length_mm = [30, 40]",
        "findings = []",
        "starts = \"half triangle from the left\"",
        "finishes = \"half triangle from the left\"",
        "start_edge = \"slants down to the right\"",
        "finish_edge = \"slants down to the right\"",
        "order = [2, 3, 4, 5, 6, 1]",
        grid,
    ] {
        assert_eq!(outcome(fact).differences, [], "{fact}");
    }
}

#[test]
fn every_fact_that_is_not_so_is_said_with_what_is() {
    for (fact, expected, got) in [
        ("threads = 7", "7", "6"),
        ("colours = 5", "5", "6"),
        ("repeats_to_close = 5", "5", "6"),
        ("colour_repeats_to_close = 3", "3", "6"),
        ("drifts_by = 0", "0", "1"),
        ("rows = 1", "1", "2"),
        ("knots = 9", "9", "10"),
        ("half_rows = \"7/2\"", "7/2", "4"),
        ("width_mm = [1, 2]", "from 1 to 2", "6.2"),
        ("length_mm = [1, 2]", "from 1 to 2", "33.3"),
        ("findings = [\"open-gaps\"]", "open-gaps", "none"),
        ("starts = \"flat\"", "flat", "half triangle from the left"),
        ("finishes = \"loop\"", "loop", "half triangle from the left"),
        (
            "start_edge = \"level\"",
            "level",
            "slants down to the right",
        ),
        (
            "finish_edge = \"pointed\"",
            "pointed",
            "slants down to the right",
        ),
        ("order = [1, 2]", "1, 2", "2, 3, 4, 5, 6, 1"),
        (
            "error = \"requirement\"",
            "requirement",
            "the band \"slant, 6 threads\"",
        ),
        (r"grid = '\\\\\'", r"\\\\\", "\\\\\\\\\\\n<<<<<"),
    ] {
        let difference = only_difference(fact);
        assert_eq!(fact.split(' ').next(), Some(difference.measure));
        assert_eq!(
            (difference.expected.as_str(), difference.got.as_str()),
            (expected, got)
        );
    }
    assert!(only_difference("hang = [\"blue\"]").got.contains(", "));
}

#[test]
fn a_refusal_is_a_fact_like_any_other() {
    let rules = Rules::new();
    let run = |expect: &str| {
        let text = format!(
            "[[case]]\nname = \"three\"\nsettings = {{ threads = 3 }}\nexpect = {{ {expect} }}"
        );
        Cases::read("slant.tests.toml", &text)
            .expect("readable")
            .run(&rules, &slant(&rules))
            .remove(0)
    };
    assert!(run("error = \"setting-refused\"").holds());
    let difference = run("threads = 3").differences.remove(0);
    assert_eq!(
        (difference.measure, difference.expected.as_str()),
        ("error", "none")
    );
    assert!(
        difference.got.starts_with("setting-refused: slant, line 1"),
        "{}",
        difference.got
    );
}

#[test]
fn tests_that_cannot_be_read_or_could_not_fail_are_refused() {
    let misspelt = refused("[[case]]\nname = \"six\"\nexpect = { repeat_to_close = 6 }");
    assert!(
        misspelt
            .contains("\"repeat_to_close\" is not a key here; it can be \"threads\", \"colours\""),
        "{misspelt}"
    );
    assert!(misspelt.contains("slant.tests.toml:3:"), "{misspelt}");
    assert!(refused("[[case]]\nexpect = { rows = 6 }").contains("the key \"name\" is missing"));
    assert!(refused("[[case]]\nname = \"six\"\nexpect = { }").contains("could not fail"));
    let long = "[[case]]\nname = \"six\"\nlength_mm = 999999990\nexpect = { rows = 1 }";
    let long = refused(long);
    assert!(long.contains("length_mm of the case \"six\""), "{long}");
    assert!(long.contains("from 1 to 100,000 mm"), "{long}");
    assert!(refused("").contains("has no cases"));
    assert!(refused("case = [[[").contains("cannot be read"));
}
