//! `rules new`: a rule of your own to begin with.

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::Path;

use hitchwork_rules::built_in_names;

use crate::arguments::RulesNew;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{folder, say};

const RULE: &str = include_str!("new/rule.rhai");
const TESTS: &str = include_str!("new/tests.toml");
/// What stands for the rule's name in both.
const NAME: &str = "NAME";

pub(super) fn run(new: &RulesNew) -> Result<(), Trouble> {
    let given = new.name.with_extension("");
    let extension = new
        .name
        .extension()
        .and_then(|extension| extension.to_str());
    let name = given
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or("");
    let plain = name.starts_with(|letter: char| letter.is_ascii_lowercase())
        && name
            .chars()
            .all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '_');
    if !plain || !matches!(extension, None | Some("rhai")) {
        return Err(Trouble::new(
            format!("a rule cannot be called \"{}\"", new.name.display()),
            "use small letters, digits and _, beginning with a letter, for example low_tide",
        ));
    }
    let rule = given.with_extension("rhai");
    let tests = given.with_extension("tests.toml");
    for file in [&rule, &tests] {
        // A link counts too, wherever it leads: nothing is written through it.
        if std::fs::symlink_metadata(file).is_ok() {
            return Err(taken(file));
        }
    }
    if let Some(folder) = given
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
    {
        std::fs::create_dir_all(folder).map_err(|error| refused(folder, &error))?;
    }
    let shown = rule.display().to_string();
    write_new(&rule, &RULE.replace(NAME, &shown))?;
    write_new(&tests, &TESTS.replace(NAME, &shown)).inspect_err(|_| {
        // Both or neither: this one was made just now.
        let _ = std::fs::remove_file(&rule);
    })?;
    let shadows = match built_in_names().any(|built_in| Some(built_in) == name_of(&rule)) {
        true => shadowing(&shown, name),
        false => String::new(),
    };
    // All three explanations begin below each other, behind the longest command.
    let commands = [
        (format!("make {shown}"), "make its band"),
        (format!("rules test {shown}"), "run its tests"),
        ("rules reference".to_owned(), "look up the functions"),
    ];
    let wide = commands.iter().map(|(command, _)| command.chars().count());
    let wide = wide.max().unwrap_or(0);
    let lines = commands
        .iter()
        .map(|(command, does)| format!("  hitchwork {command:<wide$}  {does}\n"));
    say::out(format!(
        "{}\n{}\n{shadows}\n{}\n{}",
        rule.display(),
        tests.display(),
        "What you can do now".styled(say::heading()),
        lines.collect::<String>(),
    ))
}

fn name_of(rule: &Path) -> Option<&str> {
    rule.file_stem().and_then(|stem| stem.to_str())
}

/// What follows from a rule having the name of a built-in one.
fn shadowing(shown: &str, name: &str) -> String {
    format!(
        "\nThere is a built-in rule called {name} too. Rules in this folder that use rule(\"{name}\") now\n\
         get yours; on the command line {name} is still the built-in one, and {shown} is yours.\n"
    )
}

/// Writes a file that must not be there yet, so that nobody's rule is lost.
fn write_new(file: &Path, text: &str) -> Result<(), Trouble> {
    let mut options = OpenOptions::new();
    let opened = options.write(true).create_new(true).open(file);
    let written = opened.and_then(|mut opened| {
        let written = opened.write_all(text.as_bytes());
        written.inspect_err(|_| {
            let _ = std::fs::remove_file(file);
        })
    });
    written.map_err(|error| match error.kind() {
        ErrorKind::AlreadyExists => taken(file),
        _ => refused(file, &error),
    })
}

fn taken(file: &Path) -> Trouble {
    Trouble::new(
        format!("{} is there already, and stays as it is", file.display()),
        "choose another name, or move that file away",
    )
}

fn refused(file: &Path, error: &std::io::Error) -> Trouble {
    Trouble::new(
        format!(
            "{} was not written: {}",
            file.display(),
            folder::reason(error)
        ),
        "choose another place",
    )
}
