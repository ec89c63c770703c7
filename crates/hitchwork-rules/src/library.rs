//! The built-in rule library, embedded from `scripts/`.

/// Name, text and tests of each.
const BUILT_IN: &[(&str, &str, &str)] = include!(concat!(env!("OUT_DIR"), "/built_in.rs"));

/// The names of the built-in rules, in alphabetical order.
///
/// ```
/// assert!(hitchwork_rules::built_in_names().any(|name| name == "drift"));
/// ```
pub fn built_in_names() -> impl ExactSizeIterator<Item = &'static str> {
    BUILT_IN.iter().map(|(name, _, _)| *name)
}

/// The text of a built-in rule.
///
/// ```
/// assert!(hitchwork_rules::built_in("drift").is_some_and(|text| text.starts_with("///")));
/// ```
#[must_use]
pub fn built_in(name: &str) -> Option<&'static str> {
    BUILT_IN
        .iter()
        .find(|(built_in, _, _)| *built_in == name)
        .map(|(_, text, _)| *text)
}

/// The tests of a built-in rule, as [`Cases::read`](crate::cases::Cases::read) takes them.
///
/// ```
/// assert!(hitchwork_rules::built_in_tests("drift").is_some_and(|tests| tests.contains("[[case]]")));
/// ```
#[must_use]
pub fn built_in_tests(name: &str) -> Option<&'static str> {
    BUILT_IN
        .iter()
        .find(|(built_in, _, _)| *built_in == name)
        .map(|(_, _, tests)| *tests)
}
