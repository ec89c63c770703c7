//! The files of a crate lean on each other in one direction: none of them leads back to itself.
//!
//! A file leans on another where it uses something that is defined there, whatever path it takes:
//! names are followed through every `use`. Handing names on, as a folder's first file does for
//! the others in it, is not a leaning; nor is what only the tests inside a file use.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use hitchwork_tests::own_code::{CrateCode, Names, crates};
use proc_macro2::{Delimiter, TokenStream, TokenTree};
use quote::ToTokens;
use syn::Item;

/// For each file the files on which it leans, and by what.
type Leaning = BTreeMap<Names, BTreeMap<Names, BTreeSet<String>>>;

/// All paths that stand in some code, those in braces each on its own; and those in quotes, as
/// attributes have them.
fn named(code: TokenStream, found: &mut BTreeSet<Names>) {
    let mut path = Names::new();
    let mut goes_on = false;
    let end = |path: &mut Names| {
        let path = std::mem::take(path);
        (!path.is_empty()).then_some(path)
    };
    for token in code {
        let went_on = std::mem::replace(&mut goes_on, false);
        match token {
            TokenTree::Ident(name) => {
                if !went_on {
                    found.extend(end(&mut path));
                }
                path.push(name.to_string());
            }
            TokenTree::Punct(mark) => goes_on = mark.as_char() == ':',
            TokenTree::Group(group) if went_on && group.delimiter() == Delimiter::Brace => {
                let mut inner = BTreeSet::new();
                named(group.stream(), &mut inner);
                found.extend(inner.into_iter().map(|rest| [path.clone(), rest].concat()));
                path.clear();
            }
            TokenTree::Group(group) => {
                found.extend(end(&mut path));
                named(group.stream(), found);
            }
            TokenTree::Literal(text) => {
                let text = text.to_string();
                let quoted = text.trim_matches('"');
                if quoted.starts_with("crate::") {
                    found.insert(quoted.split("::").map(str::to_owned).collect());
                }
            }
        }
    }
    found.extend(end(&mut path));
}

/// Which file leans on which.
fn leaning(code: &CrateCode) -> Leaning {
    let mut leaning = Leaning::new();
    for (name, module) in &code.modules {
        let on = leaning.entry(name.clone()).or_default();
        let mut paths = BTreeSet::new();
        let is_declaration = |item: &&Item| matches!(item, Item::Mod(it) if it.content.is_none());
        for item in module.items.iter().filter(|item| !is_declaration(item)) {
            named(item.to_token_stream(), &mut paths);
        }
        let meant = paths.iter().filter_map(|path| code.meant(path, name));
        for (other, what) in meant.filter_map(|path| code.definition(&path)) {
            if other != *name {
                on.entry(other).or_default().insert(what);
            }
        }
    }
    leaning
}

/// What is left when files that lean on nothing, or on which nothing leans, are taken away again
/// and again: circles, and what lies between them, each with what it leans on and by what.
fn circles(mut left: Leaning) -> String {
    loop {
        let leant_on: BTreeSet<Names> = left.values().flat_map(|on| on.keys().cloned()).collect();
        let count = left.len();
        left.retain(|module, on| !on.is_empty() && leant_on.contains(module));
        if left.len() == count {
            break;
        }
        let there: BTreeSet<Names> = left.keys().cloned().collect();
        for on in left.values_mut() {
            on.retain(|module, _| there.contains(module));
        }
    }
    let mut said = String::new();
    for (module, on) in left {
        for (other, names) in on {
            let names: Vec<String> = names.into_iter().collect();
            let (module, other) = (module.join("::"), other.join("::"));
            let line = writeln!(said, "{module} leans on {other} by {}", names.join(", "));
            line.expect("a text takes all");
        }
    }
    said
}

#[test]
fn no_file_leads_back_to_itself() {
    let mut read = 0;
    for (name, folder) in crates() {
        let leaning = leaning(&CrateCode::read(&folder));
        let edges: usize = leaning.values().map(BTreeMap::len).sum();
        // What was read as it is written hangs together.
        assert!(edges + 1 >= leaning.len(), "{name}: {edges}");
        read += edges;
        let circles = circles(leaning);
        assert!(circles.is_empty(), "{name}:\n{circles}");
    }
    assert!(read > 800, "only {read} were found");
}

/// What is said of two files, `one` and `two` in a folder whose first file is `shown`.
fn said(shown: &str, one: &str, two: &str) -> String {
    let module = |names: &[&str]| names.iter().map(ToString::to_string).collect::<Names>();
    let files = [
        (module(&[]), "mod shown;"),
        (module(&["shown"]), shown),
        (module(&["shown", "one"]), one),
        (module(&["shown", "two"]), two),
    ];
    let files = files.map(|(name, text)| (name, text.to_owned()));
    circles(leaning(&CrateCode::of(&files.into())))
}

#[test]
fn circles_are_seen_however_they_are_written() {
    let shown = "mod one; mod two; pub use one::{One, first}; pub use two::Two;";
    let first = "pub struct One; pub fn first() {}";
    assert_eq!(said(shown, first, "pub struct Two(super::One);"), "");
    for leads_back in [
        "pub struct Two(super::One);",
        "use super::One; pub struct Two(One);",
        "use crate::shown; pub struct Two(shown::One);",
        "use crate::shown::{self as here, *}; pub struct Two(One);",
        "use super::one::One as Other; pub struct Two(Other);",
        "pub struct Two; fn two() { use super::{one::{One}}; }",
        "pub struct Two; fn two() { print!(\"{}\", super::one::first()); }",
        "pub struct Two(#[serde(with = \"crate::shown::one::first\")] u8);",
    ] {
        let one = "use super::two; pub struct One(two::Two); pub fn first() {}";
        let found = said(shown, one, leads_back);
        for (from, to) in [("one", "two"), ("two", "one")] {
            let line = format!("shown::{from} leans on shown::{to} by");
            assert!(found.contains(&line), "{leads_back}: {found}");
        }
    }
    // A folder's first file that uses what is in it, and has something for it.
    let both = "mod one; mod two; pub struct Room; fn room() { one::first() }";
    let found = said(both, "pub fn first() -> super::Room { super::Room }", "");
    assert!(
        found.contains("shown leans on shown::one by first"),
        "{found}"
    );
    let only_tests =
        "pub struct Two; #[cfg(test)] mod tests { use super::super::One; fn two(_: One) {} }";
    let one = "pub struct One(super::Two); pub fn first() {}";
    assert_eq!(said(shown, one, only_tests), "");
}
