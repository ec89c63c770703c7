//! Text from outside, made safe for XML.

/// The text with markup escaped and without the characters that XML 1.0 forbids.
pub(crate) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\u{fffe}' | '\u{ffff}' => {}
            control if control.is_control() => safe.push(' '),
            other => safe.push(other),
        }
    }
    safe
}
