//! One word for one thing: words that were given up are in no text that somebody reads.
//!
//! DEVELOPERS.md says under "The words" which word is used for what.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use hitchwork_tests::files::below;

/// A word that is not used, with what is said instead, and the texts in which it would mislead.
struct Retired {
    word: &'static str,
    instead: &'static str,
    read_by: Readers,
}

/// Who reads a text.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Readers {
    /// Makers and programmers.
    All,
    /// Makers alone: pages, help, messages, rules and demo files.
    Makers,
}

const fn all(word: &'static str, instead: &'static str) -> Retired {
    Retired {
        word,
        instead,
        read_by: Readers::All,
    }
}

const fn makers(word: &'static str, instead: &'static str) -> Retired {
    Retired {
        word,
        instead,
        read_by: Readers::Makers,
    }
}

/// Whole words, in small letters.
const RETIRED: &[Retired] = &[
    all("follower", "maker"),
    all("followers", "makers, or people"),
    all("hitchwork balance", "hitchwork compare"),
    all("the mend", "what to do"),
    makers("effort", "difficulty"),
    makers("figure", "measure"),
    makers("figures", "measures"),
    makers("fact", "measure"),
    makers("facts", "measures"),
    all("closes_after", "repeats_to_close"),
    all("colours_close_after", "colour_repeats_to_close"),
    makers("parameter", "setting"),
    makers("parameters", "settings"),
    makers("structure", "the symmetry of the knots"),
    makers("appearance", "the symmetry of the colours"),
    all("other hand", "mirrored"),
    all("other-hand", "mirrored"),
    makers("unless set", "default:"),
    makers("unless said", "default:"),
    makers("unless you set it", "default:"),
    makers("for ever", "always, or without end"),
    makers("so many", "this many"),
    makers("in turn", "alternating, or one after another"),
    makers("shall", "must, or is to"),
    makers("the rest", "what is left, or the others"),
    makers("throw", "another seed"),
    makers("all as the rule says", "reset"),
    makers("least first", "low first"),
    makers("most first", "high first"),
    makers("only with", "filter by"),
    makers("choose none", "clear"),
    makers("the curve bends", "the best trade"),
    makers("two and two", "in pairs"),
    makers("come along", "built-in"),
    makers("threads of the computer", "processor cores"),
    makers("is no", "is not a"),
    all("`balance`", "`compare`"),
    makers("closes after", "comes round after"),
];

/// Honest uses of such a word: where, what is written there, and why it may stay.
const HONEST: &[(&str, &str, &str)] = &[
    ("DEVELOPERS.md", "~~", "the table of the words itself"),
    (
        "CHANGELOG.md",
        "plain words, the same",
        "says what the old words became",
    ),
    (
        "crates/hitchwork-rules",
        "throw",
        "a statement of the script language",
    ),
];

/// Where a text was found, and what it says.
struct Text {
    place: String,
    words: String,
    read_by: Readers,
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Where nothing stands that makers or programmers read.
const UNREAD: [&str; 3] = ["tests", "benches", "fonts"];

/// All files below a folder that somebody reads and whose names end in one of these.
fn files(folder: &str, endings: &[&str]) -> impl Iterator<Item = PathBuf> {
    let root = root();
    let mut files = below(&root.join(folder));
    files.retain(|path| {
        let place = path.strip_prefix(&root).expect("inside");
        let is_read = place.parent().is_none_or(|folders| {
            !folders
                .iter()
                .any(|part| UNREAD.iter().any(|unread| part == *unread))
        });
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        is_read && endings.iter().any(|ending| name.ends_with(ending))
    });
    files.into_iter()
}

/// What stands between double quotes in a line of code, as far as it is closed there.
fn quoted(line: &str) -> Vec<String> {
    let (mut all, mut open): (Vec<String>, Option<String>) = (Vec::new(), None);
    let mut letters = line.chars();
    while let Some(letter) = letters.next() {
        match (&mut open, letter) {
            (None, '"') => open = Some(String::new()),
            (None, '\'') => {
                // A quote as a letter opens nothing.
                let rest: String = letters.clone().take(3).collect();
                if rest.starts_with("\"'") || rest.starts_with("\\\"'") {
                    letters.next();
                    letters.next();
                }
            }
            (None, '/') if letters.as_str().starts_with('/') => break,
            (Some(text), '\\') => {
                text.push(' ');
                letters.next();
            }
            (Some(_), '"') => all.extend(open.take()),
            (Some(text), letter) => text.push(letter),
            _ => {}
        }
    }
    all.extend(open);
    all
}

/// The texts in a file of code: messages for makers, documentation for programmers.
fn texts_in_code(place: &str, code: &str, out: &mut Vec<Text>) {
    let code = code.split("#[cfg(test)]").next().unwrap_or(code);
    // The doc comments of arguments and of the functions of rules are what makers read.
    let of_makers = place.contains("src/arguments") || place.contains("src/functions/");
    let mut doc = String::new();
    let mut begins = 0;
    let end = |doc: &mut String, line: usize, out: &mut Vec<Text>| {
        if !doc.is_empty() {
            out.push(Text {
                place: format!("{place}:{line}"),
                words: std::mem::take(doc),
                read_by: if of_makers {
                    Readers::Makers
                } else {
                    Readers::All
                },
            });
        }
    };
    for (line, text) in (1..).zip(code.lines()) {
        let trimmed = text.trim_start();
        let comment = trimmed.strip_prefix("///").or(trimmed.strip_prefix("//!"));
        if let Some(comment) = comment {
            if doc.is_empty() {
                begins = line;
            }
            doc.push_str(comment);
            doc.push(' ');
            continue;
        }
        end(&mut doc, begins, out);
        if trimmed.starts_with("#[") && !trimmed.contains("error(") {
            continue;
        }
        for words in quoted(text) {
            // Names and keys are one word; sentences have several.
            if words.contains(' ') || words.contains('_') {
                out.push(Text {
                    place: format!("{place}:{line}"),
                    words,
                    read_by: Readers::Makers,
                });
            }
        }
    }
    end(&mut doc, begins, out);
}

/// The paragraphs, entries of lists and rows of tables of a text, each with its first line.
fn paragraphs(text: &str) -> Vec<(usize, String)> {
    let mut all: Vec<(usize, String)> = Vec::new();
    let mut goes_on = false;
    for (line, words) in (1..).zip(text.lines()) {
        let begins = words.starts_with("- ") || words.starts_with("| ");
        match all.last_mut().filter(|_| goes_on && !begins) {
            Some((_, paragraph)) => {
                paragraph.push(' ');
                paragraph.push_str(words.trim());
            }
            None => all.push((line, words.trim().to_owned())),
        }
        goes_on = !words.trim().is_empty();
    }
    all
}

fn texts() -> Vec<Text> {
    let mut paths = Vec::new();
    let endings = [
        ".rs", ".md", ".txt", ".json", ".toml", ".rhai", ".js", ".csv",
    ];
    for folder in ["crates", "scripts", "demo"] {
        paths.extend(files(folder, &endings));
    }
    for page in ["README.md", "DEVELOPERS.md", "CHANGELOG.md"] {
        paths.push(root().join(page));
    }
    let mut all = Vec::new();
    for path in paths {
        let place = path
            .strip_prefix(root())
            .expect("below")
            .display()
            .to_string();
        if place.ends_with("Cargo.toml") || place.contains("LICEN") {
            continue;
        }
        let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{place}: {error}"));
        if place.ends_with(".rs") || place.ends_with(".js") {
            texts_in_code(&place, &text, &mut all);
            continue;
        }
        let of_programmers = ["DEVELOPERS.md", "CHANGELOG.md"].contains(&place.as_str())
            || place.starts_with("crates/hitchwork/")
            || place.ends_with("palettes.md");
        let read_by = match of_programmers {
            true => Readers::All,
            false => Readers::Makers,
        };
        // The newest part of the changes; older ones say what was so then.
        let text = match place.as_str() {
            "CHANGELOG.md" => text.split("\n## ").nth(1).unwrap_or_default().to_owned(),
            _ => text,
        };
        for (line, words) in paragraphs(&text) {
            all.push(Text {
                place: format!("{place}:{line}"),
                words,
                read_by,
            });
        }
    }
    all
}

/// Whether the word stands in the text as a whole.
fn holds(text: &str, word: &str) -> Option<usize> {
    let part = |letter: char| letter.is_alphanumeric() || letter == '_';
    text.match_indices(word).map(|(at, _)| at).find(|at| {
        // Of something that is not there at all, nothing else can be said.
        if word == "is no" && text[..*at].ends_with("there ") {
            return false;
        }
        let before = text[..*at].chars().next_back();
        let after = text[at + word.len()..].chars().next();
        !before.is_some_and(part) && !after.is_some_and(part)
    })
}

/// The symbols of crystallography stand behind words, in brackets.
#[test]
fn symbols_of_symmetries_stand_behind_their_words() {
    let mut read = 0;
    for text in texts()
        .iter()
        .filter(|text| text.read_by == Readers::Makers)
    {
        for symbol in ["p11g", "p11m", "p1m1", "p2mg", "p2mm"] {
            let Some(at) = holds(&text.words, symbol) else {
                continue;
            };
            let before = &text.words[..at];
            let behind = before.ends_with('(') || before.ends_with("(p11g or ");
            assert!(behind, "{}: {}", text.place, text.words);
            read += 1;
        }
    }
    assert!(read > 3, "only {read} were read");
}

#[test]
fn no_text_has_a_word_that_was_given_up() {
    let texts = texts();
    assert!(texts.len() > 5_000, "only {} texts were read", texts.len());
    let mut used = BTreeMap::new();
    let mut wrong = Vec::new();
    for text in &texts {
        let words = text.words.to_lowercase();
        for retired in RETIRED {
            let reads = text.read_by == Readers::Makers || retired.read_by == Readers::All;
            let Some(at) = holds(&words, retired.word).filter(|_| reads) else {
                continue;
            };
            let honest = HONEST.iter().find(|(place, written, _)| {
                text.place.starts_with(place) && words.contains(&written.to_lowercase())
            });
            if let Some((place, written, _)) = honest {
                *used.entry((place, written)).or_insert(0) += 1;
                continue;
            }
            let from = words[..at]
                .char_indices()
                .rev()
                .nth(30)
                .map_or(0, |(from, _)| from);
            let near: String = words[from..].chars().take(80).collect();
            wrong.push(format!(
                "{}: \"{}\", say {}: …{near}…",
                text.place, retired.word, retired.instead
            ));
        }
    }
    for (place, written, why) in HONEST {
        let is_used = used.contains_key(&(place, written));
        assert!(
            is_used,
            "nothing in {place} needs \"{written}\" any more: {why}"
        );
    }
    assert!(
        wrong.is_empty(),
        "{} texts:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}
