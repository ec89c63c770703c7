//! The variables of a rule at the line where it stopped.

use hitchwork_core::colour::Colour;
use hitchwork_core::row::Row;
use rhai::{Array, Dynamic, Scope};

use crate::error::{Diagnostic, Variable};
use crate::sketch::Sketch;

/// The most letters of a value that are shown.
const MOST_LETTERS: usize = 60;

/// The most variables that are shown.
const MOST_SHOWN: usize = 6;

/// The variables outside all functions when a run stopped, the one made last first.
pub(crate) fn all(scope: &Scope) -> Vec<Variable> {
    let shown = |(name, constant, value): (&str, bool, &Dynamic)| {
        let value = (!constant).then(|| shown(value)).flatten()?;
        Some(Variable {
            name: name.to_owned(),
            value,
        })
    };
    scope.iter_raw().filter_map(shown).collect()
}

/// Those of the variables that stand on the line of the rule that stopped: its own, or
/// where it called the function that stopped. Variables inside functions are not known.
pub(crate) fn on_the_line(
    diagnostic: &Diagnostic,
    file: &str,
    text: &str,
    all: Vec<Variable>,
) -> Vec<Variable> {
    let place = match diagnostic.calls.last() {
        Some(outermost) => outermost.place.as_ref(),
        None => diagnostic.place.as_ref(),
    };
    let line = place
        .filter(|place| place.file == file)
        .and_then(|place| text.lines().nth(place.line - 1))
        .unwrap_or("");
    // The names of a |…| function's own values hide those outside.
    let mut parts = line.split('|');
    let before = parts.next().unwrap_or("");
    let own = parts.next().unwrap_or("");
    let after = parts.collect::<Vec<_>>().join("|");
    let names = |text: &str| -> Vec<String> {
        let words = text.split(|letter: char| !(letter.is_alphanumeric() || letter == '_'));
        words
            .filter(|word| !word.is_empty())
            .map(ToOwned::to_owned)
            .collect()
    };
    let own = names(own);
    let standing: Vec<String> = [before, &after]
        .into_iter()
        .flat_map(names)
        .filter(|name| !own.contains(name))
        .collect();
    let mut found: Vec<Variable> = Vec::new();
    for variable in all {
        // The latest of that name is the one that is meant.
        if standing.contains(&variable.name)
            && found.iter().all(|known| known.name != variable.name)
        {
            found.insert(0, variable);
        }
    }
    found.truncate(MOST_SHOWN);
    found
}

fn shown(value: &Dynamic) -> Option<String> {
    let text = if let Some(row) = value.read_lock::<Row>() {
        if row.is_empty() {
            "a row without knots".to_owned()
        } else {
            row.to_string()
        }
    } else if let Some(list) = value.read_lock::<Array>() {
        list_shown(&list)
    } else if let Some(sketch) = value.read_lock::<Sketch>() {
        format!("a band of {} threads", sketch.threads)
    } else if let Some(colour) = value.read_lock::<Colour>() {
        colour.name.clone()
    } else if value.is_string() {
        format!("\"{value}\"")
    } else if value.is_int() || value.is_float() || value.is_bool() || value.is_unit() {
        if value.is_unit() {
            "nothing".to_owned()
        } else {
            value.to_string()
        }
    } else {
        return None;
    };
    Some(shortened(&text))
}

fn list_shown(list: &Array) -> String {
    let plain: Option<Vec<String>> = list
        .iter()
        .take(MOST_LETTERS)
        .map(|entry| {
            (entry.is_int() || entry.is_float() || entry.is_string()).then(|| entry.to_string())
        })
        .collect();
    match plain {
        Some(entries) => format!("[{}]", entries.join(", ")),
        None => format!("a list of {}", list.len()),
    }
}

fn shortened(text: &str) -> String {
    if text.chars().count() <= MOST_LETTERS {
        return text.to_owned();
    }
    let beginning: String = text.chars().take(MOST_LETTERS - 1).collect();
    format!("{beginning}…")
}
