//! Words that several parts of a sheet need.

/// "1, 4 and 7".
pub(super) fn listed(numbers: &[u16], and: &str) -> String {
    let words: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    match words.split_last() {
        Some((last, before)) if !before.is_empty() => {
            format!("{} {and} {last}", before.join(", "))
        }
        _ => words.join(""),
    }
}

/// A message as a sentence: with a capital and a full stop.
pub(super) fn sentence(message: &str) -> String {
    let mut letters = message.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).chain(['.']).collect()
}
