//! The built-in rules, damaged by chance: each makes a band or is refused with an
//! explanation. `MUTATIONS=100000 cargo test -p hitchwork-tests mutated_rules` goes
//! on for longer; `tests/fuzz` searches on purpose.

use hitchwork_core::chance::{Chance, Purpose};
use hitchwork_rules::{Error, Limits, Made, Rules, Settings, built_in, built_in_names};

/// How many damaged rules are tried.
fn mutations() -> u64 {
    std::env::var("MUTATIONS")
        .ok()
        .and_then(|count| count.parse().ok())
        .unwrap_or(600)
}

/// The words and signs of a rule, in order, with the spaces between them.
fn tokens(text: &str) -> Vec<&str> {
    let kind = |letter: char| match letter {
        letter if letter.is_alphanumeric() || letter == '_' => 0,
        letter if letter.is_whitespace() => 1,
        // Each sign stands for itself.
        letter => 2 + u32::from(letter),
    };
    let mut tokens = Vec::new();
    let mut start = 0;
    for (at, letter) in text.char_indices() {
        let next = text[at + letter.len_utf8()..].chars().next();
        if next.is_none_or(|next| kind(next) != kind(letter)) {
            tokens.push(&text[start..at + letter.len_utf8()]);
            start = at + letter.len_utf8();
        }
    }
    tokens
}

fn below(chance: &mut Chance, bound: usize) -> usize {
    usize::try_from(chance.below(bound as u64)).expect("below a length")
}

/// One of the tokens is dropped, doubled, exchanged with another, or becomes something
/// from another rule or a number that is hard to bear.
fn damaged(chance: &mut Chance, tokens: &[&str], other: &[&str]) -> String {
    const HARD: [&str; 8] = [
        "0",
        "-1",
        "9223372036854775807",
        "0.5",
        "[]",
        "#{}",
        "()",
        "\"\"",
    ];
    let mut tokens = tokens.to_vec();
    for _ in 0..=below(chance, 3) {
        let at = below(chance, tokens.len());
        match chance.below(5) {
            0 => drop(tokens.remove(at)),
            1 => tokens.insert(at, tokens[at]),
            2 => {
                let with = below(chance, tokens.len());
                tokens.swap(at, with);
            }
            3 => tokens[at] = other[below(chance, other.len())],
            _ => tokens[at] = HARD[below(chance, HARD.len())],
        }
    }
    tokens.concat()
}

/// The text with a few of its bytes changed; what is not a text any more is mended.
fn garbled(chance: &mut Chance, text: &str) -> String {
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..=below(chance, 4) {
        let at = below(chance, bytes.len());
        bytes[at] = chance.word().to_le_bytes()[0];
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

fn explained(outcome: Result<Made, Error>, text: &str) {
    if let Err(error) = outcome {
        assert!(!error.render(false).is_empty());
        for diagnostic in error.diagnostics() {
            assert!(
                hitchwork_rules::explain(diagnostic.code).is_some(),
                "{} is explained nowhere:\n{text}",
                diagnostic.code
            );
        }
    }
}

#[test]
fn a_damaged_rule_makes_a_band_or_says_why_not() {
    let rules = Rules::with_limits(Limits {
        operations: 300_000,
        knots: 50_000,
        ..Limits::default()
    });
    let texts: Vec<&str> = built_in_names().filter_map(built_in).collect();
    let split: Vec<Vec<&str>> = texts.iter().map(|text| tokens(text)).collect();
    let mut bands = 0;
    rules.batch(|| {
        for number in 0..mutations() {
            let mut chance = Chance::new(number, Purpose::Rule);
            let (one, other) = (
                below(&mut chance, texts.len()),
                below(&mut chance, texts.len()),
            );
            let text = if number % 3 == 0 {
                garbled(&mut chance, texts[one])
            } else {
                damaged(&mut chance, &split[one], &split[other])
            };
            let settings = Settings::new().seed(number).length_mm(20.0);
            let outcome = rules
                .compile("damaged.rhai", &text)
                .and_then(|rule| rules.make(&rule, &settings));
            bands += usize::from(outcome.is_ok());
            explained(outcome, &text);
        }
    });
    // Some damage, in a comment say, is none; if nothing came through, nothing was tried.
    assert!(bands > 0);
}
