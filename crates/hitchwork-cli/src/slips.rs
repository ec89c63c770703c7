//! Slips in typing a command that a maker makes and a parser does not understand.

use clap::builder::StyledStr;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use hitchwork_rules::Settings;

use crate::input;

/// Options whose values may be several words, which a shell hands over one by one unless they
/// stand in quotes.
const OF_SEVERAL_WORDS: [&str; 7] = [
    "--palette",
    "--where",
    "--best-by",
    "--want-symmetry",
    "--stash",
    "--near",
    "--out",
];

/// What the parser refused, with what was meant where that can be told.
pub(crate) fn explained(mut error: clap::Error, typed: &[String]) -> clap::Error {
    if error.kind() != ErrorKind::UnknownArgument {
        return error;
    }
    let Some(ContextValue::String(found)) = error.get(ContextKind::InvalidArg) else {
        return error;
    };
    let Some(meant) = meant(found, typed) else {
        return error;
    };
    // An option that sounds alike is not what was meant, and how it is used no help.
    error.remove(ContextKind::SuggestedArg);
    error.remove(ContextKind::Usage);
    let tip = ContextValue::StyledStrs(vec![StyledStr::from(meant)]);
    error.insert(ContextKind::Suggested, tip);
    error
}

fn meant(found: &str, typed: &[String]) -> Option<String> {
    match found.strip_prefix("--") {
        Some(name) => setting_as_option(name, typed),
        None => words_apart(found, typed),
    }
}

/// "--threads 10", where threads is a setting of the rule.
fn setting_as_option(name: &str, typed: &[String]) -> Option<String> {
    let rules = input::language();
    let rule = typed.iter().skip(2);
    let rule = rule.filter(|word| !word.starts_with('-'));
    let rule = rule
        .filter_map(|word| input::rule(&rules, word).ok())
        .next()?;
    let settings = rules.parameters(&rule, &Settings::new());
    let setting = settings
        .iter()
        .find(|setting| setting.name == name || setting.name == name.replace('-', "_"))?;
    let option = format!("--{name}");
    let value = typed.iter().enumerate().find_map(|(at, word)| {
        let behind = word.strip_prefix(&option)?;
        match behind.strip_prefix('=') {
            Some(value) => Some(value.to_owned()),
            None => typed.get(at + 1).filter(|_| behind.is_empty()).cloned(),
        }
    });
    let value =
        value.filter(|value| !value.starts_with('-') && input::rule(&rules, value).is_err());
    let value = value.unwrap_or_else(|| setting.value.to_string());
    let name = &setting.name;
    let is_compared = typed.get(1).is_some_and(|command| command == "compare");
    let option = match is_compared && value.contains("..") {
        true => "--over",
        false => "--set",
    };
    Some(format!(
        "{name} is a setting of the rule: write {option} {name}={value}"
    ))
}

/// A word that belongs to the one before it: "--set threads 10", "--palette spring tide".
fn words_apart(found: &str, typed: &[String]) -> Option<String> {
    let at = typed.iter().position(|word| word == found)?;
    let (option, before) = match typed[at.checked_sub(1)?].split_once('=') {
        Some((option, before)) if option.starts_with("--") => (option, before),
        _ => (typed[at.checked_sub(2)?].as_str(), typed[at - 1].as_str()),
    };
    match option {
        "--set" if !before.contains('=') => Some(format!(
            "a setting and its value are joined by an equals sign: write --set {before}={found}"
        )),
        option if OF_SEVERAL_WORDS.contains(&option) => Some(format!(
            "words that belong together stand in quotes: {option} \"{before} {found}\""
        )),
        _ => None,
    }
}
