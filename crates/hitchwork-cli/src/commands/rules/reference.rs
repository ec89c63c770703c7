//! `rules reference`: the functions that rules are written with.

use hitchwork_core::near::nearest;
use hitchwork_rules::reference::Function;
use owo_colors::Style;

use super::page;
use crate::arguments::RulesReference;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{folder, input, say};

pub(super) fn run(asked: &RulesReference) -> Result<(), Trouble> {
    let rules = input::language();
    let reference = rules.reference();
    if let Some(file) = &asked.html {
        let page = page::of(&rules, &reference)?;
        folder::write_one(file, page.as_bytes(), folder::ResultKind::Other)?;
        return say::out(format!("{}\n", file.display()));
    }
    if let Some(folder) = &asked.definitions {
        let files: Vec<(String, Vec<u8>)> = rules
            .definitions()
            .into_iter()
            .map(|(name, text)| (name, text.into_bytes()))
            .collect();
        let folder::WrittenFiles { places, .. } = folder::write_all(folder, &files)?;
        return say::out(
            places
                .iter()
                .map(|place| format!("{}\n", place.display()))
                .collect::<String>(),
        );
    }
    if let Some(name) = &asked.function {
        let Some(function) = reference.find(name) else {
            let names: Vec<&str> = reference
                .functions()
                .map(|found| found.name.as_str())
                .collect();
            let near = nearest(name, names.iter().copied());
            let like: Vec<&str> = names
                .iter()
                .filter(|known| known.contains(name.as_str()))
                .copied()
                .collect();
            let help = match (near, like.is_empty()) {
                (Some(near), _) => format!("did you mean {near}?"),
                (None, false) => format!("there is {}", like.join(", ")),
                (None, true) => format!("there are {}", names.join(", ")),
            };
            return Err(Trouble::new(format!("no function is called {name}"), help));
        };
        return if asked.json {
            say::json(function)
        } else {
            say::out(words(function))
        };
    }
    if asked.json {
        return say::json(&reference);
    }
    let mut text = String::new();
    for room in &reference.rooms {
        let title = room.title.to_uppercase();
        text.push_str(&format!("{}\n", title.styled(Style::new().cyan().bold())));
        text.push_str(&say::wrapped(&room.sentence, 0));
        text.push('\n');
        for function in &room.functions {
            text.push_str(&words(function));
            text.push('\n');
        }
    }
    say::out(text)
}

fn words(function: &Function) -> String {
    let mut text = String::new();
    for form in &function.forms {
        text.push_str(&format!("  {}\n", form.call.styled(say::heading())));
        text.push_str(&say::wrapped(&form.meaning, 4));
        for argument in &form.arguments {
            let line = format!("{}: {}", argument.name, argument.meaning);
            text.push_str(&say::wrapped(&line, 6));
        }
        if let Some(errors) = &form.errors {
            text.push_str(&say::wrapped(&format!("Errors: {errors}"), 4));
        }
    }
    let style = Style::new().green();
    text.push_str("    Example:\n");
    for line in function.example.lines() {
        text.push_str(&format!("      {}\n", line.styled(style)));
    }
    text
}
