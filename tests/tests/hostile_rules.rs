//! Whatever a rule or a setting says, the answer is a band or an error: no panic, no
//! endless run, no flood of memory.

use hitchwork_rules::{Limits, Rules, Settings};
use hitchwork_tests::by_chance;
use proptest::prelude::*;

/// Small limits, so that thousands of runs take seconds.
fn rules() -> Rules {
    Rules::with_limits(Limits {
        operations: 200_000,
        knots: 20_000,
        ..Limits::default()
    })
}

fn survives(rules: &Rules, text: &str, settings: &Settings) {
    if let Ok(rule) = rules.compile("hostile.rhai", text) {
        let parameters = rules.parameters(&rule, settings);
        match rules.make(&rule, settings) {
            Ok(made) => assert_eq!(made.parameters, parameters),
            Err(error) => {
                assert!(!error.to_string().is_empty() && !error.render(false).is_empty());
                assert!(
                    error
                        .diagnostics()
                        .iter()
                        .all(|diagnostic| hitchwork_rules::explain(diagnostic.code).is_some())
                );
            }
        }
    }
}

/// Pieces of which rules are made, and of which nonsense can be made.
fn pieces() -> impl Strategy<Value = Vec<&'static str>> {
    const PIECES: [&str; 48] = [
        "band(6)",
        ".repeat(",
        ".drift(",
        "forward(",
        "backward(",
        "forward_backward(",
        "lattice(6, 4, ",
        "|row, column| ",
        "1..6",
        "1..=5",
        "[",
        "]",
        "(",
        ")",
        "{",
        "}",
        ",",
        ";",
        "let x = ",
        "x",
        "0",
        "-1",
        "7",
        "9223372036854775807",
        "0.5",
        "\"gull\"",
        "gradient(",
        "colour(",
        "whole(\"a\", 1, 0..=9, \"\")",
        "places(\"p\", [2], 1..=5, \"\")",
        ".but(",
        ".times(",
        ".shift(",
        ".mirrored(6)",
        ".every(0)",
        " + ",
        " - ",
        " * ",
        " / 0",
        "loop { ",
        "while true { ",
        "fn f(n) { f(n) } ",
        "f(1)",
        "shuffled(",
        "roll(1..=6)",
        "throw ",
        "#{ a: 1 }",
        "LEFT",
    ];
    proptest::collection::vec(proptest::sample::select(&PIECES[..]), 0..24)
}

proptest! {
    #![proptest_config(by_chance::cases(400))]

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,200}") {
        survives(&rules(), &text, &Settings::new());
    }

    #[test]
    fn any_mixture_of_pieces_is_read_or_refused(pieces in pieces()) {
        survives(&rules(), &pieces.concat(), &Settings::new());
    }

    #[test]
    fn any_setting_is_taken_or_refused(name in "(threads|turns|palette|\\PC{0,9})", value in "(-?[0-9]{1,20}|[0-9 ,]{0,20}|\\PC{0,20})") {
        let rules = rules();
        let drift = rules.built_in("drift").expect("built in");
        if let Err(error) = rules.make(&drift, &Settings::new().set(name, value)) {
            prop_assert!(error.is_setting(), "{}", error);
        }
    }

    #[test]
    fn the_same_seed_makes_the_same_band(seed: u64) {
        const RULE: &str = "let n = 9;\nlet rows = lattice(n, 4, |row, column| if chance(0.5) { forward(column) } else { backward(column) });\nband(n).repeat(shuffled(rows)).repeats(roll(1..=9)).title(pick([\"ebb\", \"flood\"]))";
        let rules = rules();
        let rule = rules.compile("chance.rhai", RULE).expect("a good rule");
        let band = |seed| rules.make(&rule, &Settings::new().seed(seed)).map(|made| hitchwork_core::file::write(&made.band));
        prop_assert_eq!(band(seed).expect("a band"), band(seed).expect("a band"));
    }
}

/// A golden member: what a seed makes must not change with any version of anything.
#[test]
fn a_seed_makes_what_it_always_made() {
    const RULE: &str = "let rolls = []; for i in 0..12 { rolls.push(roll(1..=6)); }\nband(8).repeat(forward(shuffled([1, 2, 3, 4, 5, 6, 7]))).notes(`${rolls}`)";
    let rules = rules();
    let rule = rules.compile("chance.rhai", RULE).expect("a good rule");
    let band = rules
        .make(&rule, &Settings::new().seed(1848))
        .expect("a band")
        .band;
    hitchwork_tests::golden::check(
        "tests/golden/chance_of_a_seed.txt",
        &format!("{}\n{}\n", band.notes(), band.repeat()[0]),
    );
}

#[test]
fn a_rule_knows_nothing_of_the_world_outside() {
    let rules = rules();
    for text in [
        "eval(\"1\")",
        "timestamp()",
        "sleep(1)",
        "print(1)",
        "debug(1)",
        "exit()",
        "get_fn_metadata_list()",
        "open_file(\"x\")",
        "env(\"HOME\")",
        "parse_json(\"{}\")",
        "now()",
        "rand()",
        "std::process::exit(1)",
    ] {
        let outcome = rules
            .compile("outside.rhai", text)
            .and_then(|rule| rules.make(&rule, &Settings::new()));
        let error = outcome
            .err()
            .unwrap_or_else(|| panic!("{text} was let through"));
        let code = error.diagnostics()[0].code;
        assert!(
            ["unknown-name", "not-a-rule"].contains(&code),
            "{text}: {error}"
        );
    }
}
