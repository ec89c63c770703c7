//! The built-in rule library, embedded from `scripts/`.

use hitchwork_scripts::{SCRIPTS, Script};

/// The names of the built-in rules, in alphabetical order.
///
/// ```
/// assert!(hitchwork_rules::built_in_names().any(|name| name == "drift"));
/// ```
pub fn built_in_names() -> impl ExactSizeIterator<Item = &'static str> {
    SCRIPTS.iter().map(|script| script.name)
}

/// The text of a built-in rule.
///
/// ```
/// assert!(hitchwork_rules::built_in("drift").is_some_and(|text| text.starts_with("///")));
/// ```
#[must_use]
pub fn built_in(name: &str) -> Option<&'static str> {
    find(name).map(|script| script.text)
}

/// The tests of a built-in rule, as [`Cases::read`](crate::cases::Cases::read) takes them.
///
/// ```
/// assert!(hitchwork_rules::built_in_tests("drift").is_some_and(|tests| tests.contains("[[case]]")));
/// ```
#[must_use]
pub fn built_in_tests(name: &str) -> Option<&'static str> {
    find(name).map(|script| script.tests)
}

fn find(name: &str) -> Option<&'static Script> {
    SCRIPTS.iter().find(|script| script.name == name)
}
