//! Any settings of a built-in rule: a band, or an error that blames a setting or the rule's
//! own conditions.
#![no_main]

use hitchwork_rules::{Rules, Settings, built_in_names};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|given: (u8, u64, Vec<(u8, String)>)| {
    let (which, seed, values) = given;
    let rules = Rules::new();
    let count = built_in_names().len();
    let name = built_in_names().nth(usize::from(which) % count).expect("below the count");
    let rule = rules.built_in(name).expect("listed");
    let parameters = rules.parameters(&rule, &Settings::new());
    let mut settings = Settings::new().seed(seed).length_mm(20.0);
    for (parameter, value) in values {
        let at = usize::from(parameter) % parameters.len().max(1);
        if let Some(parameter) = parameters.get(at) {
            settings = settings.set(parameter.name.as_str(), value);
        }
    }
    if let Err(error) = rules.make(&rule, &settings) {
        let blamed = error.is_setting() || error.diagnostics()[0].code == "requirement";
        assert!(blamed, "{name}: {error}");
    }
});
