//! Names that were misspelt, and what was meant.

/// The name nearest to a misspelt one, if any is near; capital and small letters count as
/// the same.
///
/// ```
/// use hitchwork_core::near::nearest;
/// let tides = ["ebb", "flood", "slack"];
/// assert_eq!(nearest("flod", tides), Some("flood"));
/// assert_eq!(nearest("Ebb", tides), Some("ebb"));
/// assert_eq!(nearest("storm", tides), None);
/// ```
#[must_use]
pub fn nearest<'a>(name: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let name = name.to_lowercase();
    let distance = |other: &&str| strsim::damerau_levenshtein(&name, &other.to_lowercase());
    let letters = name.chars().count();
    let most = (letters / 3).max(1);
    // Names may be long; those that differ in length by too much need no closer look.
    let may_be = |other: &&str| other.chars().count().abs_diff(letters) <= most;
    let near = names.into_iter().filter(may_be).min_by_key(distance)?;
    (letters > 1 && distance(&near) <= most).then_some(near)
}

/// The beginning of a help that asks about the name nearest to a misspelt one; nothing where
/// none is near.
///
/// ```
/// use hitchwork_core::near::did_you_mean;
/// let tides = ["ebb", "flood", "slack"];
/// assert_eq!(did_you_mean("flod", tides), "did you mean flood? ");
/// assert_eq!(did_you_mean("storm", tides), "");
/// ```
#[must_use]
pub fn did_you_mean<'a>(name: &str, names: impl IntoIterator<Item = &'a str>) -> String {
    nearest(name, names).map_or_else(String::new, |near| format!("did you mean {near}? "))
}

/// The same for names that stand in quotes.
///
/// ```
/// use hitchwork_core::near::did_you_mean_quoted;
/// let palettes = ["harbour", "low tide"];
/// assert_eq!(
///     did_you_mean_quoted("low tied", palettes),
///     "did you mean \"low tide\"? "
/// );
/// ```
#[must_use]
pub fn did_you_mean_quoted<'a>(name: &str, names: impl IntoIterator<Item = &'a str>) -> String {
    nearest(name, names).map_or_else(String::new, |near| format!("did you mean \"{near}\"? "))
}
