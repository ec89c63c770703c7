//! `rules`: what rules there are, what they take, and all that is needed to write one.

mod new;
mod page;
mod reference;
mod test;

use hitchwork_collection::names::quoted_for_shells;
use hitchwork_rules::{Parameter, Range, Rule, Rules, Settings, built_in_names};
use owo_colors::Style;
use serde::Serialize;

use crate::arguments::{RulesCommand, RulesShow};
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, arguments, input, say};

#[derive(Serialize)]
struct ListedRule {
    name: String,
    sentence: String,
    description: String,
    settings: Vec<Parameter>,
}

impl ListedRule {
    fn new(rules: &Rules, rule: &Rule) -> Self {
        Self {
            name: rule.name().to_owned(),
            sentence: rule.sentence(),
            description: rule.description(),
            settings: rules.parameters(rule, &Settings::new()),
        }
    }
}

pub(crate) fn run(command: &arguments::RulesArguments) -> Result<Verdict, Trouble> {
    match &command.command {
        RulesCommand::List(list) => list_all(list.json)?,
        RulesCommand::Show(show) => show_one(show)?,
        RulesCommand::New(new) => new::run(new)?,
        RulesCommand::Reference(reference) => reference::run(reference)?,
        RulesCommand::Test(test) => return test::run(test),
    }
    Ok(Verdict::Sound)
}

fn list_all(as_json: bool) -> Result<(), Trouble> {
    let rules = input::language();
    let shown = |name| {
        ListedRule::new(
            &rules,
            &rules.built_in(name).expect("a built-in rule's name"),
        )
    };
    let all: Vec<ListedRule> = built_in_names().map(shown).collect();
    if as_json {
        return say::json(&all);
    }
    let widest = all.iter().map(|rule| rule.name.len()).max().unwrap_or(0);
    let line = |rule: &ListedRule| {
        format!(
            "{}  {}\n",
            format!("{:<widest$}", rule.name).styled(say::heading()),
            rule.sentence
        )
    };
    say::out(all.iter().map(line).collect::<String>())
}

fn show_one(show: &RulesShow) -> Result<(), Trouble> {
    let rules = input::language();
    let rule = input::rule(&rules, &show.rule)?;
    if show.text {
        return say::raw(rule.text().as_bytes());
    }
    let shown = ListedRule::new(&rules, &rule);
    if show.json {
        return say::json(&shown);
    }
    say::out(words(&shown, &rule))
}

/// What a rule makes, what can be set, how to try it, and its text.
fn words(shown: &ListedRule, rule: &Rule) -> String {
    let mut text = format!(
        "{}\n{}\n",
        shown.name.styled(say::heading()),
        shown.description
    );
    if !shown.settings.is_empty() {
        text.push_str(&format!("\n{}\n", "You can set".styled(heading_of_part())));
    }
    for parameter in &shown.settings {
        let Parameter {
            name,
            sentence,
            range,
            default,
            ..
        } = parameter;
        // The palettes are many, and the same for every setting.
        let takes = match range {
            Range::Palette { .. } => "one of the palettes below".to_owned(),
            range => range.words(),
        };
        text.push_str(&format!("  {}  {sentence}\n", name.styled(say::heading())));
        text.push_str(&format!("      {takes}; default: {default}\n"));
    }
    let palettes = shown.settings.iter().find_map(|shown| match &shown.range {
        Range::Palette { options } => Some(options),
        _ => None,
    });
    if let Some(palettes) = palettes {
        text.push_str(&format!("\n{}\n", "Palettes".styled(heading_of_part())));
        text.push_str(&say::wrapped(&palettes.join(", "), 2));
    }
    let example = shown.settings.first().map_or(String::new(), |first| {
        let value = example_of(first);
        // A shell would take a space for the end of the value.
        let plain = |letter: char| letter.is_ascii_alphanumeric() || ".,-_".contains(letter);
        let value = match value.chars().all(plain) {
            true => value,
            false => quoted_for_shells(&value),
        };
        format!(" --set {}={value}", first.name)
    });
    text.push_str(&format!("\n{}\n", "Try it".styled(heading_of_part())));
    text.push_str(&format!("  hitchwork make {}{example}\n", shown.name));
    text.push_str(&format!("\n{}\n", "The rule".styled(heading_of_part())));
    for line in rule.text().lines() {
        text.push_str(format!("  {line}").trim_end());
        text.push('\n');
    }
    text
}

/// A value that differs from the default, where there is another.
fn example_of(parameter: &Parameter) -> String {
    match &parameter.range {
        Range::Whole { least, most } => {
            let default: i64 = parameter.default.to_string().parse().unwrap_or(*least);
            (if default + 2 <= *most {
                default + 2
            } else {
                *least
            })
            .to_string()
        }
        Range::Choice { options } => options.last().cloned().unwrap_or_default(),
        _ => parameter.default.to_string(),
    }
}

fn heading_of_part() -> Style {
    Style::new().cyan()
}
