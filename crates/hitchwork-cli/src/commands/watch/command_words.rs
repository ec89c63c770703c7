//! The words of a command, as they are typed.

use hitchwork_collection::names::quoted_for_shells;

use crate::arguments::{Subject, WatchArguments};

/// A word for a shell.
pub(super) fn quoted(word: &str) -> String {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "-_./=,:".contains(letter);
    match word.chars().all(plain) {
        true => word.to_owned(),
        false => quoted_for_shells(word),
    }
}

/// The words of the command line for what the page does not change.
pub(super) fn base_words(watch: &WatchArguments) -> Vec<String> {
    let Subject {
        thread,
        swatch,
        operations,
        seconds,
        ..
    } = &watch.subject;
    let said = [
        (
            "--thread",
            thread.as_ref().map(|thread| thread.words.clone()),
        ),
        (
            "--swatch",
            swatch.as_ref().map(|swatch| swatch.words.clone()),
        ),
        ("--pace", watch.pace.as_ref().map(|pace| pace.words.clone())),
        (
            "--half-rows-ahead",
            watch.order.half_rows_ahead.map(|count| count.to_string()),
        ),
        ("--operations", operations.map(|steps| steps.to_string())),
        ("--seconds", seconds.map(|seconds| seconds.to_string())),
    ];
    let as_written = watch.order.as_written.then(|| "--as-written".to_owned());
    said.into_iter()
        .filter_map(|(option, words)| Some(format!("{option} {}", quoted(&words?))))
        .chain(as_written)
        .collect()
}
