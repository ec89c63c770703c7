//! `rules`: what rules there are, and what they take.

use hitchwork_rules::{Parameter, Rule, Rules, Settings, built_in_names};
use owo_colors::OwoColorize;
use serde::Serialize;

use crate::arguments::{RulesCommand, Show};
use crate::trouble::Trouble;
use crate::{Verdict, arguments, input, say};

#[derive(Serialize)]
struct Shown {
    name: String,
    sentence: String,
    description: String,
    parameters: Vec<Parameter>,
}

impl Shown {
    fn new(rules: &Rules, rule: &Rule) -> Self {
        Self {
            name: rule.name().to_owned(),
            sentence: rule.sentence(),
            description: rule.description(),
            parameters: rules.parameters(rule, &Settings::new()),
        }
    }
}

pub(crate) fn run(command: &arguments::Rules) -> Result<Verdict, Trouble> {
    match &command.command {
        RulesCommand::List(list) => list_all(list.json),
        RulesCommand::Show(show) => show_one(show),
    }?;
    Ok(Verdict::Sound)
}

fn list_all(as_json: bool) -> Result<(), Trouble> {
    let rules = Rules::new();
    let shown = |name| {
        Shown::new(
            &rules,
            &rules.built_in(name).expect("a built-in rule's name"),
        )
    };
    let all: Vec<Shown> = built_in_names().map(shown).collect();
    if as_json {
        return say::json(&all);
    }
    let widest = all.iter().map(|rule| rule.name.len()).max().unwrap_or(0);
    let line = |rule: &Shown| {
        format!(
            "{}  {}\n",
            format!("{:<widest$}", rule.name).style(say::heading()),
            rule.sentence
        )
    };
    say::out(all.iter().map(line).collect::<String>())
}

fn show_one(show: &Show) -> Result<(), Trouble> {
    let rules = Rules::new();
    let rule = input::rule(&rules, &show.rule)?;
    if show.text {
        return say::raw(rule.text().as_bytes());
    }
    let shown = Shown::new(&rules, &rule);
    if show.json {
        return say::json(&shown);
    }
    let mut text = format!(
        "{}\n{}\n\n",
        shown.name.style(say::heading()),
        shown.description
    );
    for parameter in &shown.parameters {
        let Parameter {
            name,
            sentence,
            range,
            default,
            ..
        } = parameter;
        text.push_str(&format!("  {}  {sentence}\n", name.style(say::heading())));
        text.push_str(&format!(
            "      {}; {default} unless you set it\n",
            range.words()
        ));
    }
    text.push_str(&format!("\n{}", rule.text()));
    say::out(text)
}
