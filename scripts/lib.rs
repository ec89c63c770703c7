//! The built-in rules of Hitchwork and their tests, as text: every `NAME.rhai` of this folder
//! with its `NAME.tests.toml`. `hitchwork-rules` runs them.

/// A rule of the library, as its files are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Script {
    /// The name by which it is called: that of its file, without the ending.
    pub name: &'static str,
    /// The rule.
    pub text: &'static str,
    /// What it makes of which settings.
    pub tests: &'static str,
}

/// All rules of the library, in alphabetical order.
///
/// ```
/// let drift = hitchwork_scripts::SCRIPTS.iter().find(|script| script.name == "drift");
/// assert!(drift.is_some_and(|drift| drift.text.starts_with("///")));
/// ```
pub const SCRIPTS: &[Script] = include!(concat!(env!("OUT_DIR"), "/scripts.rs"));
