//! The files of this crate lean on each other in one direction: none of them leads back to
//! itself.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// The modules of a folder by their names, with their code but no comments.
fn modules(folder: &Path, prefix: &str, found: &mut BTreeMap<String, String>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let stem = path.file_stem().and_then(|stem| stem.to_str());
        let stem = stem.expect("plain names").to_owned();
        if path.is_dir() {
            modules(&path, &format!("{prefix}{stem}::"), found);
        } else if path.extension().is_some_and(|ending| ending == "rs") && stem != "lib" {
            let text = fs::read_to_string(&path).expect("a text");
            let code: Vec<&str> = text
                .lines()
                .filter(|line| !line.trim_start().starts_with("//"))
                .collect();
            let name = match stem.as_str() {
                "mod" => prefix.trim_end_matches("::").to_owned(),
                _ => format!("{prefix}{stem}"),
            };
            found.insert(name, code.join("\n"));
        }
    }
}

/// The names that stand behind a word and colons: alone, or several in braces.
fn behind<'a>(code: &'a str, word: &str) -> BTreeSet<&'a str> {
    let is_name = |letter: char| letter.is_alphanumeric() || letter == '_';
    let first = |text: &'a str| text.trim_start().split(|letter| !is_name(letter)).next();
    let mut names = BTreeSet::new();
    for (at, _) in code.match_indices(word) {
        let rest = &code[at + word.len()..];
        match rest.strip_prefix('{') {
            Some(list) => {
                let list = list.split('}').next().unwrap_or("");
                names.extend(list.split(',').filter_map(first));
            }
            None => names.extend(first(rest)),
        }
    }
    names
}

/// Which modules each module leans on.
fn leans_on() -> BTreeMap<String, BTreeSet<String>> {
    let mut code = BTreeMap::new();
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    modules(&source, "", &mut code);
    assert!(
        code.len() > 25 && code.contains_key("functions::rows"),
        "{:?}",
        code.keys()
    );
    let leaning = |(name, text): (&String, &String)| {
        let folder = name
            .split_once("::")
            .map_or(name.as_str(), |(folder, _)| folder);
        let own = match name.contains("::") {
            true => behind(text, "super::"),
            // What is declared with mod is leant on.
            false => behind(text, "mod "),
        };
        let beside = own.iter().map(|other| format!("{folder}::{other}"));
        let others = behind(text, "crate::").into_iter().map(str::to_owned);
        let known = beside
            .chain(others)
            .filter(|other| code.contains_key(other));
        (name.clone(), known.filter(|other| other != name).collect())
    };
    code.iter().map(leaning).collect()
}

#[test]
fn no_file_leads_back_to_itself() {
    let mut left = leans_on();
    let edges: usize = left.values().map(BTreeSet::len).sum();
    assert!(
        edges > 60,
        "{edges}: the files were not read as they are written"
    );
    // Those that lean on nothing that is left are taken away, until nothing is left.
    loop {
        let free: Vec<String> = left
            .iter()
            .filter(|(_, on)| on.iter().all(|other| !left.contains_key(other)))
            .map(|(name, _)| name.clone())
            .collect();
        if free.is_empty() {
            break;
        }
        left.retain(|name, _| !free.contains(name));
    }
    assert!(
        left.is_empty(),
        "files in circles, and files that lean on them: {left:#?}"
    );
}
