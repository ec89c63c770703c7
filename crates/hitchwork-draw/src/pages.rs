//! Names of the files that hold a picture.

/// The names of files that hold this many pages: `stem.svg`, or `stem-1.svg` and so on.
///
/// ```
/// use hitchwork_draw::pages::names;
/// assert_eq!(names("fabric", "svg", 1), ["fabric.svg"]);
/// assert_eq!(names("strands", "png", 2), ["strands-1.png", "strands-2.png"]);
/// ```
#[must_use]
pub fn names(stem: &str, ending: &str, pages: usize) -> Vec<String> {
    if pages == 1 {
        return vec![format!("{stem}.{ending}")];
    }
    (1..=pages)
        .map(|page| format!("{stem}-{page}.{ending}"))
        .collect()
}
