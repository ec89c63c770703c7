//! What counts as a source beside a figure or a check: a year, as with everything that was
//! published, or one of a few labels that say honestly that there is no such thing.

/// One of these stands where no year does.
pub const LABELS: [&str; 4] = [
    "no source",
    "our own judgement",
    "from memory",
    "definition",
];

/// Whether a text says where its figures come from.
///
/// ```
/// use hitchwork_tests::sources::says_where_from;
/// assert!(says_where_from("Peirce (1937), section 4"));
/// assert!(says_where_from("Common practice, no source."));
/// assert!(!says_where_from("CIEDE2000 in 20,000 steps"));
/// ```
#[must_use]
pub fn says_where_from(text: &str) -> bool {
    let lower = text.to_lowercase();
    LABELS.iter().any(|label| lower.contains(label)) || gives_a_year(text)
}

fn gives_a_year(text: &str) -> bool {
    let words = text.split(|letter: char| !letter.is_ascii_alphanumeric());
    let numbers = words.filter(|word| word.len() == 4 && !word.starts_with('0'));
    let mut years = numbers.filter_map(|word| word.parse::<u16>().ok());
    // From the oldest handbook of needlework that is cited here to the day after tomorrow.
    years.any(|year| (1850..2100).contains(&year))
}
