//! Figures from outside, in `tests/published`. Each file holds its source, how it was
//! verified and what its fields mean; `# Panics` everywhere means that a file is broken, or
//! that a check does not use all that it holds.
//!
//! No case is passed over in silence: a check that cannot use some of a file's cases names
//! itself, and the file says in `left_out` which these are and why.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// A file of figures as it is written.
#[derive(Debug, Deserialize)]
pub struct Published {
    /// Where the figures come from; "see cases" where each says so by itself.
    pub source: String,
    /// How many cases there should be, so that none gets lost.
    pub n_cases: usize,
    /// The cases, each with an `id` of its own.
    pub cases: Vec<Value>,
    /// What checks do not use, and why.
    #[serde(default)]
    pub left_out: Vec<LeftOut>,
}

/// Cases that a check does not use.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftOut {
    /// The check, in the words by which it calls itself.
    pub by: String,
    /// The cases, by their ids; "ID, from ..." where a part of a case is meant.
    pub ids: Vec<String>,
    /// The reason.
    pub why: String,
}

/// The folder of the files.
#[must_use]
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("published")
}

impl Published {
    /// Reads `tests/published/NAME.json`.
    ///
    /// # Panics
    /// When the file is missing, says other than it holds, or leaves out what it has not.
    #[must_use]
    pub fn read(name: &str) -> Self {
        let path = folder().join(name).with_extension("json");
        let text = std::fs::read_to_string(&path)
            .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let published: Self = serde_json::from_str(&text)
            .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        assert!(!published.source.is_empty(), "{name} names its source");
        assert!(!published.cases.is_empty(), "{name} has cases");
        assert_eq!(published.cases.len(), published.n_cases, "cases of {name}");
        let ids: BTreeSet<&str> = published.cases.iter().map(id).collect();
        assert_eq!(
            ids.len(),
            published.n_cases,
            "every id of {name} is its own"
        );
        for left_out in &published.left_out {
            assert!(left_out.why.len() > 10, "{name}: why, {}?", left_out.by);
            for left in &left_out.ids {
                let case = left.split(", ").next().expect("something");
                assert!(ids.contains(case), "{name} has no case {case} to leave out");
            }
        }
        published
    }
}

fn id(case: &Value) -> &str {
    case["id"].as_str().expect("every case has an id")
}

fn parsed<T: DeserializeOwned>(name: &str, case: &Value) -> T {
    serde_json::from_value(case.clone())
        .unwrap_or_else(|error| panic!("{} of {name}: {error}", id(case)))
}

/// The cases of `tests/published/NAME.json`, for a check that uses all of them.
///
/// # Panics
/// When the file is missing or its cases have other fields than the test reads.
#[must_use]
pub fn cases<T: DeserializeOwned>(name: &str) -> Vec<T> {
    let published = Published::read(name);
    published
        .cases
        .iter()
        .map(|case| parsed(name, case))
        .collect()
}

/// Gives each case of `tests/published/NAME.json` to a check, which says whether it could
/// use it. Those that it could not use must be those of which the file says so, under the
/// words by which the check calls itself.
///
/// # Panics
/// When a case is passed over of which the file does not say why, or used against its word.
pub fn each<T: DeserializeOwned>(name: &str, by: &str, mut check: impl FnMut(T) -> bool) {
    let published = Published::read(name);
    let (used, passed_over): (Vec<&Value>, Vec<&Value>) = published
        .cases
        .iter()
        .partition(|case| check(parsed(name, case)));
    assert!(!used.is_empty(), "{by} uses none of {name}");
    only_those_left_out(name, by, passed_over.into_iter().map(id));
}

/// Holds what a check passed over against what the file says that it leaves out.
///
/// # Panics
/// When they are not the same.
pub fn only_those_left_out<S: Into<String>>(
    name: &str,
    by: &str,
    passed_over: impl IntoIterator<Item = S>,
) {
    let published = Published::read(name);
    let left_out = published.left_out.iter().filter(|left| left.by == by);
    let said: BTreeSet<String> = left_out.flat_map(|left| left.ids.clone()).collect();
    let passed_over: BTreeSet<String> = passed_over.into_iter().map(Into::into).collect();
    assert_eq!(
        passed_over, said,
        "passed over by {by}, and said to be by {name}"
    );
}

/// Bytes from hexadecimal digits.
///
/// # Panics
/// When the text is not that.
#[must_use]
pub fn bytes(hex: &str) -> Vec<u8> {
    assert!(hex.len().is_multiple_of(2), "two digits a byte");
    (0..hex.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).expect("hexadecimal digits"))
        .collect()
}
