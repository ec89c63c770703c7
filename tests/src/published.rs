//! Figures from outside, in `tests/published`. Each file holds its source, how it was
//! verified and what its fields mean; `# Panics` everywhere means that a file is broken.

use std::path::Path;

use serde::de::DeserializeOwned;

/// The cases of `tests/published/NAME.json`.
///
/// # Panics
/// When the file is missing or its cases have other fields than the test reads.
#[must_use]
pub fn cases<T: DeserializeOwned>(name: &str) -> Vec<T> {
    #[derive(serde::Deserialize)]
    #[serde(bound = "T: DeserializeOwned")]
    struct Published<T> {
        source: String,
        cases: Vec<T>,
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("published")
        .join(name)
        .with_extension("json");
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let published: Published<T> =
        serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    assert!(!published.source.is_empty(), "{name} names its source");
    assert!(!published.cases.is_empty(), "{name} has cases");
    published.cases
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
