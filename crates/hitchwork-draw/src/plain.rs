//! Text from outside, made safe to stand among words of ours.

/// Text without marks that would turn the words around it, and without non-characters.
pub(crate) fn harmless(text: &str) -> String {
    text.chars()
        .filter(|character| !forces_direction(*character) && !is_no_character(*character))
        .collect()
}

/// The same on one line.
pub fn plain(text: &str) -> String {
    one_line(&harmless(text))
}

/// Text on one line: whatever would move the cursor becomes a space.
pub(crate) fn one_line(text: &str) -> String {
    let is_one = text.bytes().all(|byte| matches!(byte, b' '..=b'~'));
    if is_one && text.trim_ascii().len() == text.len() && !text.contains("  ") {
        return text.to_owned();
    }
    let spaced: String = text
        .chars()
        .map(|character| {
            if character.is_control() {
                ' '
            } else {
                character
            }
        })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

const fn forces_direction(character: char) -> bool {
    matches!(character, '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn is_no_character(character: char) -> bool {
    let code = u32::from(character);
    matches!(code & 0xffff, 0xfffe | 0xffff) || matches!(code, 0xfdd0..=0xfdef)
}
