//! Any text as a plan: members that can be counted and named, or an error.
#![no_main]

use std::sync::LazyLock;

use hitchwork_collection::plan;
use hitchwork_rules::Rules;
use libfuzzer_sys::fuzz_target;

static RULES: LazyLock<Rules> = LazyLock::new(Rules::new);

fuzz_target!(|text: &str| match plan::read(&RULES, "plan.toml", text) {
    Ok(plan) => {
        for item in &plan.items {
            assert!(item.members().take(20).count() as u64 <= item.candidates());
        }
    }
    Err(error) => assert!(!error.render(false).is_empty()),
});
