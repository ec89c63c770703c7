//! Runs end where their limits are, also within a native call, and all that one question
//! takes has the same limits.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use hitchwork_core::band::{MAX_NAME_LETTERS, MAX_NOTES_LETTERS, MAX_TITLE_LETTERS};
use hitchwork_rules::{Error, Limits, Rules, Settings, rhai};

/// The language with a function that counts how often it is called.
fn counting(limits: Limits) -> (Rules, Arc<AtomicU64>) {
    let calls = Arc::new(AtomicU64::new(0));
    let counted = Arc::clone(&calls);
    let mut functions = rhai::Module::new();
    functions.set_native_fn("wave", move || {
        counted.fetch_add(1, Ordering::Relaxed);
        Ok(())
    });
    let rules = Rules::builder().limits(limits).functions(functions).build();
    (rules, calls)
}

fn refusals(error: &Error) -> usize {
    let diagnostics = error.diagnostics().iter();
    diagnostics
        .filter(|it| it.code == "setting-refused")
        .count()
}

/// To say all that is wrong with the settings, the rule is run again without each of them;
/// it must not get its steps anew every time.
#[test]
fn refused_settings_share_one_budget() {
    let limits = Limits {
        operations: 100_000,
        ..Limits::default()
    };
    let (rules, waves) = counting(limits);
    let text = r#"
        for i in 0..1000 { wave(); }
        for i in 0..150 { whole(`berth${i}`, 1, 1..=2, "one of many"); }
        band(4).repeat(forward(1..4))
    "#;
    let rule = rules.compile("berths.rhai", text).expect("a rule");
    let refused = |count: usize| {
        (0..count).fold(Settings::new(), |settings, number| {
            settings.set(format!("berth{number}"), 9)
        })
    };
    let error = rules
        .make(&rule, &refused(3))
        .expect_err("9 is out of range");
    assert_eq!(refusals(&error), 3, "{error}");
    waves.store(0, Ordering::Relaxed);
    let error = rules
        .make(&rule, &refused(150))
        .expect_err("9 is out of range");
    // Every wave is a step or more.
    assert!(waves.load(Ordering::Relaxed) <= 100_000);
    assert!((2..150).contains(&refusals(&error)), "{error}");
}

/// Whoever wants something newer need not wait for the end of a native call.
#[test]
fn a_wish_to_stop_is_heard_within_a_native_call() {
    let stop = Arc::new(AtomicBool::new(false));
    let heard = Arc::clone(&stop);
    let mut functions = rhai::Module::new();
    functions.set_native_fn("stop_soon", move || {
        heard.store(true, Ordering::Relaxed);
        Ok(())
    });
    // Nothing else would ever end these.
    let limits = Limits {
        operations: u64::MAX,
        seconds: u64::MAX,
        ..Limits::default()
    };
    let rules = Rules::builder().limits(limits).functions(functions).build();
    let rules = rules.stopped_by(Arc::clone(&stop));
    for call in [
        "random_rows(40, 400, #{ longest_run: 1 })",
        "random_rows(40, 40, #{ such_that: |rows| { stop_soon(); false }, tries: 1000000000000 })",
        "lattice(200, 9000, |row, column| forward(column))",
        "forward(1..200).times(900)",
        "symmetry(forward(1..200).times(900), 200)",
        "gradient(\"spring tide\", 999)",
        "gradient(\"spring tide\", 999, \"longer hue\")",
        "gradient(in_turn([colour(\"ebb\", \"#204060\")], 200), 200)",
        "fade(\"spring tide\", 999)",
        "fade(in_turn([colour(\"ebb\", \"#204060\")], 200), 200)",
        "fade(\"spring tide\", 999, \"shorter hue\")",
        "there_and_back(\"spring tide\", 999)",
        "contrasting(\"spring tide\", 999)",
        "{ let rows = forward(1).times(20000); for turn in 0..4 { shuffled(rows); } }",
    ] {
        stop.store(false, Ordering::Relaxed);
        // Too few steps for a look at the clock between them.
        let text = format!("stop_soon(); {call}");
        let rule = rules.compile("slow.rhai", &text).expect("a rule");
        let error = rules.make(&rule, &Settings::new()).expect_err("stopped");
        assert!(
            error.to_string().contains("as you asked"),
            "{call}: {error}"
        );
    }
}

#[test]
fn more_seconds_than_a_clock_can_count_are_no_bound() {
    let rules = Rules::with_limits(Limits {
        seconds: u64::MAX,
        ..Limits::default()
    });
    let drift = rules.built_in("drift").expect("built in");
    assert!(rules.make(&drift, &Settings::new()).is_ok());
}

/// Limits that are said in letters count letters, of which some take four bytes.
#[test]
fn limits_in_letters_count_letters() {
    let rules = Rules::new();
    let made = |text: &str| {
        let rule = rules.compile("letters.rhai", text).expect("a rule");
        rules.make(&rule, &Settings::new()).map(|made| made.band)
    };
    let band = "band(4).repeat(forward(1..4))";
    for (call, most) in [
        ("title", MAX_TITLE_LETTERS),
        ("notes", MAX_NOTES_LETTERS.min(7_000)),
    ] {
        for letter in ["a", "ß", "潮", "🌊"] {
            let fits = format!("{band}.{call}(\"{}\")", letter.repeat(most));
            assert!(made(&fits).is_ok(), "{call} {letter}");
        }
    }
    let too_long = [
        (
            format!("{band}.title(\"{}\")", "潮".repeat(201)),
            "the title has 201 letters",
        ),
        (
            format!("{band}.notes(\"{}\")", "a".repeat(10_001)),
            "the text of the notes has 10001 letters",
        ),
        (
            format!(
                "colour(\"{}\", \"#000000\")",
                "潮".repeat(MAX_NAME_LETTERS + 1)
            ),
            "the name of a colour has 101 letters",
        ),
        (
            format!("whole(\"{}\", 1, 1..=2, \"n\")", "a".repeat(101)),
            "the name of a setting has 101 letters",
        ),
    ];
    for (text, said) in too_long {
        let error = made(&text).expect_err("too long");
        assert!(error.to_string().contains(said), "{error}");
        assert!(error.to_string().len() < 2_000, "{said}: too much to read");
    }
}
