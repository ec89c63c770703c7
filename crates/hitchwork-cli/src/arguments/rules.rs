//! The arguments of `rules`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

#[derive(Debug, Args)]
pub(crate) struct RulesArguments {
    #[command(subcommand)]
    pub(crate) command: RulesCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum RulesCommand {
    /// List the built-in rules
    List(RulesList),
    /// Show what a rule makes, its settings with their ranges, and its text
    Show(RulesShow),
    /// Start a rule of your own: one that runs, with comments and tests
    New(RulesNew),
    /// Run the tests written beside rules, and show what is not as expected
    Test(RulesTest),
    /// Look up the functions that rules are written with
    Reference(RulesReference),
}

#[derive(Debug, Args)]
pub(crate) struct RulesList {
    /// As JSON, with every setting, its default and its range
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct RulesShow {
    /// A built-in rule by its name, or a rule file
    #[arg(value_name = "RULE")]
    pub(crate) rule: String,
    /// Only the rule's text, to make a copy of your own
    #[arg(long, conflicts_with = "json")]
    pub(crate) text: bool,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct RulesNew {
    /// The rule's name; it is written to NAME.rhai, and its tests to NAME.tests.toml
    #[arg(value_name = "NAME")]
    pub(crate) name: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct RulesTest {
    /// Rule files, folders with rules, or built-in rules by their names; without any, the
    /// folder that you are in
    #[arg(value_name = "RULE")]
    pub(crate) rules: Vec<String>,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct RulesReference {
    /// One function only, by its name
    #[arg(value_name = "FUNCTION")]
    pub(crate) function: Option<String>,
    /// Write all of it as one web page, with a picture of what every example makes
    #[arg(long, short = 'o', value_name = "FILE", conflicts_with_all = ["function", "json", "definitions"])]
    pub(crate) html: Option<PathBuf>,
    /// Write files into this folder from which editors complete and explain functions
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["function", "json"])]
    pub(crate) definitions: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}
