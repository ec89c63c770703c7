//! Libraries know of no command and no option: what they say is said to embedders too, and the
//! command adds its own advice.

use std::collections::BTreeSet;

use hitchwork_tests::files;
use hitchwork_tests::own_code::{CrateCode, crates};
use proc_macro2::{TokenStream, TokenTree};
use quote::ToTokens;
use syn::{Item, Lit};

/// The crate that has commands and options.
const COMMAND: &str = "hitchwork-cli";

/// Marks in files and keys of a browser's store, which nobody reads and which must stay: not
/// said to anybody.
const MARKS: [&str; 2] = [
    "<meta name=\"generator\" content=\"hitchwork collect\">",
    "hitchwork sheet ",
];

/// All texts in quotes in some code; those of comments where they become help (in the functions of
/// the rule language), and not elsewhere.
fn texts(code: TokenStream, with_comments: bool, found: &mut Vec<String>) {
    let mut after_hash = false;
    for token in code {
        match token {
            TokenTree::Group(group) => {
                let inside = group.stream();
                let first = inside.clone().into_iter().next();
                let is_comment = after_hash && first.is_some_and(|it| it.to_string() == "doc");
                if with_comments || !is_comment {
                    texts(inside, with_comments, found);
                }
                after_hash = false;
            }
            TokenTree::Literal(literal) => {
                if let Ok(Lit::Str(text)) = syn::parse2(literal.to_token_stream()) {
                    found.push(text.value());
                }
                after_hash = false;
            }
            // Inner attributes have a mark between.
            TokenTree::Punct(mark) => after_hash = mark.as_char() == '#' || after_hash,
            TokenTree::Ident(_) => after_hash = false,
        }
    }
}

/// The commands, as they are typed.
fn commands() -> BTreeSet<String> {
    let code = CrateCode::read(&crates()[COMMAND]);
    let arguments = &code.modules[&vec!["arguments".to_owned()]];
    let commands = arguments.items.iter().find_map(|item| match item {
        Item::Enum(item) if item.ident == "Command" => Some(item),
        _ => None,
    });
    let commands = commands.expect("the commands").variants.iter();
    commands
        .map(|command| command.ident.to_string().to_lowercase())
        .collect()
}

/// What in a text names an option or a command.
fn named(text: &str, commands: &BTreeSet<String>) -> Option<String> {
    let option = text.match_indices("--").find(|(at, _)| {
        let before = text[..*at].chars().next_back();
        let after = text[at + 2..].chars().next();
        before.is_none_or(|it| !it.is_alphanumeric() && it != '-')
            && after.is_some_and(|it| it.is_ascii_lowercase())
    });
    let word =
        |rest: &str| -> String { rest.chars().take_while(char::is_ascii_lowercase).collect() };
    let command = text
        .match_indices("hitchwork ")
        .map(|(at, begins)| word(&text[at + begins.len()..]))
        .find(|word| commands.contains(word));
    option
        .map(|(at, _)| format!("--{}", word(&text[at + 2..])))
        .or(command)
        .or_else(|| {
            text.contains("command line")
                .then(|| "the command line".to_owned())
        })
}

#[test]
fn libraries_name_no_option_and_no_command() {
    let commands = commands();
    assert!(
        commands.len() > 10 && commands.contains("collect"),
        "{commands:?}"
    );
    let (mut wrong, mut read, mut marks) = (Vec::new(), 0, BTreeSet::new());
    for (library, folder) in crates().into_iter().filter(|(name, _)| name != COMMAND) {
        let mut said = Vec::new();
        for (module, code) in CrateCode::read(&folder).modules {
            let become_help = module.first().is_some_and(|room| room == "functions");
            for item in &code.items {
                texts(item.to_token_stream(), become_help, &mut said);
            }
        }
        let pages = files::texts(&folder.join("src"), "txt").into_iter();
        said.extend(pages.map(|(_, page)| page));
        for text in said {
            read += 1;
            if let Some(mark) = MARKS.iter().find(|mark| **mark == text) {
                marks.insert(*mark);
            } else if let Some(named) = named(&text, &commands) {
                wrong.push(format!("{library}: {named} in {text:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(read > 3000, "only {read} texts were read");
    assert_eq!(
        marks.len(),
        MARKS.len(),
        "a mark that is nowhere: {marks:?}"
    );
}

#[test]
fn options_and_commands_are_seen() {
    let commands = commands();
    let named = |text| named(text, &commands);
    assert_eq!(named("choose another with --out").as_deref(), Some("--out"));
    assert_eq!(
        named("`hitchwork collect PLAN` reads").as_deref(),
        Some("collect")
    );
    assert_eq!(
        named("set it on the command line").as_deref(),
        Some("the command line")
    );
    assert_eq!(
        named("rows -- and knots; --; a--b; hitchwork makes bands"),
        None
    );
    let mut found = Vec::new();
    let code = "/// --one\n fn f() { #![doc = \"--two\"] g!(\"--three {}\", \"four\"); }";
    texts(code.parse().expect("tokens"), false, &mut found);
    assert_eq!(found, ["--three {}", "four"]);
}
