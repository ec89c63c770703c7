//! Names of files and folders that every system can write.

use unicode_normalization::UnicodeNormalization as _;

/// What devices are called on Windows, where no file can have such a name, whatever ending
/// comes behind it (Microsoft, "Naming Files, Paths, and Namespaces"; from memory).
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "conin$", "conout$"];

/// A name for a file or a folder, made safe: without letters that some system does not allow
/// in names, without dots and blanks at its end, and not that of a device. A name that is
/// safe already stays as it is. Nothing may be left of a name.
///
/// ```
/// use hitchwork_collection::names::safe;
/// assert_eq!(safe("spring-tide"), "spring-tide");
/// assert_eq!(safe("a*?"), "a--");
/// assert_eq!(safe("CON"), "CON_");
/// assert_eq!(safe("com1.tide"), "com1_.tide");
/// assert_eq!(safe("ebb. ."), "ebb");
/// ```
#[must_use]
pub fn safe(name: &str) -> String {
    let letter = |letter: char| match letter {
        '<' | '>' | ':' | '"' | '/' | '\\' | '|' | '?' | '*' => '-',
        letter if letter.is_control() => '-',
        letter => letter,
    };
    let name: String = name.chars().map(letter).collect();
    let name = name.trim_end_matches(['.', ' ']);
    let stem = name.split('.').next().unwrap_or_default();
    match is_device(stem.trim_end_matches(' ')) {
        true => format!("{}_{}", stem.trim_end_matches(' '), &name[stem.len()..]),
        false => name.to_owned(),
    }
}

/// What two names have in common that are one and the same on some disk: some do not tell
/// capitals from small letters, and some not an `é` that is one character from an `e` with an
/// accent behind it (Unicode Standard Annex 15, 2023: canonical equivalence).
pub(crate) fn on_every_disk(name: &str) -> String {
    let small: String = name.nfc().flat_map(char::to_lowercase).collect();
    small.nfc().collect()
}

/// Names one behind the other, the first few of them, and how many more there are.
///
/// ```
/// use hitchwork_collection::names::told;
/// assert_eq!(told(&["ebb"]), "ebb");
/// assert_eq!(told(&["ebb", "flood", "slack"]), "ebb, flood and slack");
/// assert_eq!(told(&["a", "b", "c", "d", "e", "f", "g"]), "a, b, c, d, e and 2 more");
/// ```
#[must_use]
pub fn told<Name: AsRef<str>>(names: &[Name]) -> String {
    const MOST: usize = 5;
    let few: Vec<&str> = names.iter().take(MOST).map(AsRef::as_ref).collect();
    match (names.len().saturating_sub(MOST), &few[..]) {
        (0, [before @ .., last]) if !before.is_empty() => {
            format!("{} and {last}", before.join(", "))
        }
        (0, few) => few.concat(),
        (more, few) => format!("{} and {more} more", few.join(", ")),
    }
}

/// A word in quotes for a shell, which takes all that stands in them as it is (POSIX.1-2017,
/// Shell Command Language, 2.2.2; an apostrophe ends the quotes, and stands between two such).
///
/// ```
/// use hitchwork_collection::names::quoted_for_shells;
/// assert_eq!(quoted_for_shells("spring tide"), "'spring tide'");
/// assert_eq!(quoted_for_shells("skipper's"), r"'skipper'\''s'");
/// ```
#[must_use]
pub fn quoted_for_shells(word: &str) -> String {
    format!("'{}'", word.replace('\'', r"'\''"))
}

/// `COM1` to `COM9` and `LPT1` to `LPT9` count too, also with digits that stand high.
fn is_device(stem: &str) -> bool {
    let stem = stem.to_lowercase();
    let numbered = ["com", "lpt"].into_iter().any(|port| {
        let digit = stem.strip_prefix(port).map(|rest| rest.chars());
        let mut digit = digit.into_iter().flatten();
        matches!(
            digit.next(),
            Some('0'..='9' | '\u{b9}' | '\u{b2}' | '\u{b3}')
        ) && digit.next().is_none()
    });
    numbered || DEVICES.contains(&stem.as_str())
}

/// Settings that say how many of something there are: "12 threads", where others say "height 4".
const COUNTED: [&str; 4] = ["threads", "pairs", "colours", "stripes"];

/// Whether a setting of this name says how many of something there are.
///
/// ```
/// assert!(hitchwork_collection::names::is_counted("threads"));
/// assert!(!hitchwork_collection::names::is_counted("height"));
/// ```
#[must_use]
pub fn is_counted(setting: &str) -> bool {
    COUNTED.contains(&setting)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{on_every_disk, safe};

    #[test]
    fn names_that_are_one_on_some_disk_are_known() {
        for (one, other) in [
            ("Ebbe", "ebbe"),
            ("\u{e9}bb", "e\u{301}bb"),
            ("\u{c9}bb", "e\u{301}bb"),
            ("\u{212b}", "a\u{30a}"),
            // Two accents in either order (UAX 15: canonical ordering).
            ("a\u{323}\u{307}", "a\u{307}\u{323}"),
        ] {
            assert_eq!(
                on_every_disk(one),
                on_every_disk(other),
                "{one} and {other}"
            );
        }
        for (one, other) in [("ebb", "ebbe"), ("\u{e9}bb", "ebb"), ("a", "\u{ff41}")] {
            assert_ne!(
                on_every_disk(one),
                on_every_disk(other),
                "{one} and {other}"
            );
        }
    }

    #[test]
    fn devices_are_renamed_and_names_that_only_begin_so_are_not() {
        for (name, made) in [
            ("nul", "nul_"),
            ("Aux.band", "Aux_.band"),
            ("CON .band", "CON_.band"),
            ("LPT9", "LPT9_"),
            ("com\u{b2}", "com\u{b2}_"),
            ("COM10", "COM10"),
            ("console", "console"),
            ("conin$", "conin$_"),
            ("ebb \u{7}", "ebb -"),
            ("...", ""),
        ] {
            assert_eq!(safe(name), made, "{name:?}");
        }
    }

    proptest! {
        /// What Windows asks of a name, said once more and in another way.
        #[test]
        fn what_is_safe_can_be_written_everywhere(name in "[a-zA-Z0-9<>:\"/|?*. \\\\\\x01$]{0,12}|(?i)(con|prn|aux|nul|com1|lpt0)[. ]{0,2}[a-z]{0,2}") {
            let safe = safe(&name);
            prop_assert_eq!(super::safe(&safe), safe.clone(), "made safe once, it stays");
            prop_assert!(!safe.ends_with('.') && !safe.ends_with(' '));
            prop_assert!(safe.bytes().all(|byte| byte >= b' ' && !b"<>:\"/\\|?*".contains(&byte)));
            let before_dot = safe.split('.').next().unwrap_or_default().trim_end().to_ascii_uppercase();
            prop_assert!(!["CON", "PRN", "AUX", "NUL", "COM1", "LPT0", "CONIN$", "CONOUT$"].contains(&before_dot.as_str()), "{}", safe);
        }
    }
}
