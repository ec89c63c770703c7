//! Any text as a rule: a band, or an error with an explanation.
#![no_main]

use hitchwork_rules::{Limits, Rules, Settings, explain};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let rules = Rules::with_limits(Limits {
        operations: 100_000,
        knots: 20_000,
        ..Limits::default()
    });
    let outcome = rules
        .compile("fuzzed.rhai", text)
        .and_then(|rule| rules.make(&rule, &Settings::new().length_mm(20.0)));
    if let Err(error) = outcome {
        assert!(!error.render(false).is_empty());
        for diagnostic in error.diagnostics() {
            assert!(explain(diagnostic.code).is_some());
        }
    }
});
