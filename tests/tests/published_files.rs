//! The published figures as files: each is whole, each is held against something, each says
//! where it comes from, and so does every check that reads one. What is left out is left out
//! by a check that there is.

use std::path::{Path, PathBuf};

use hitchwork_tests::published::{self, Published};
use hitchwork_tests::sources::says_where_from;
use serde_json::Value;

/// The tests, by the names of their files.
fn tests() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let files = std::fs::read_dir(folder).expect("the folder of the tests");
    let paths = files.map(|file| file.expect("a file").path());
    let rust = paths.filter(|path| path.extension().is_some_and(|end| end == "rs"));
    // This file names no figures.
    let others = rust.filter(|path| !path.ends_with("published_files.rs"));
    others
        .map(|path| (stem(&path), std::fs::read_to_string(&path).expect("text")))
        .collect()
}

fn stem(path: &Path) -> String {
    let name = path.file_stem().and_then(|name| name.to_str());
    name.expect("a plain name").to_owned()
}

/// The files of figures.
fn files() -> Vec<PathBuf> {
    let folder = std::fs::read_dir(published::folder()).expect("the folder of the figures");
    let files: Vec<PathBuf> = folder.map(|file| file.expect("a file").path()).collect();
    assert!(files.len() > 40, "only {} files of figures", files.len());
    files
}

#[test]
fn every_file_is_read_by_a_check_and_every_exception_made_by_one() {
    let sources: String = tests().into_iter().map(|(_, text)| text).collect();
    for path in files() {
        let name = stem(&path);
        assert!(path.extension().is_some_and(|end| end == "json"), "{name}");
        let quoted = |words: &str| sources.contains(&format!("\"{words}\""));
        assert!(quoted(&name), "no check reads {name}");
        for left_out in Published::read(&name).left_out {
            assert!(
                quoted(&left_out.by),
                "{name}: no check is called {}",
                left_out.by
            );
        }
    }
}

/// A citation with its year for the whole file, or one at each case; or one of the labels
/// for what nobody published.
#[test]
fn every_case_has_a_source() {
    for path in files() {
        let name = stem(&path);
        let published = Published::read(&name);
        let of_all = &published.source;
        let see_cases = of_all.starts_with("see cases");
        assert!(see_cases || says_where_from(of_all), "{name}: {of_all}");
        for case in &published.cases {
            match case["source"].as_str() {
                Some(source) => assert!(
                    says_where_from(source),
                    "{} of {name}: {source}",
                    case["id"]
                ),
                None => assert!(!see_cases, "{} of {name} has no source", case["id"]),
            }
        }
    }
}

/// A case without a figure is a note that somebody looked for one.
#[test]
fn every_case_holds_something() {
    for path in files() {
        let name = stem(&path);
        for case in Published::read(&name).cases {
            let fields = case.as_object().expect("fields");
            let mut others = fields.keys().filter(|key| *key != "id" && *key != "source");
            assert!(others.next().is_some(), "{} of {name}", case["id"]);
            let empty = fields.iter().find(|(_, value)| value.is_null());
            assert!(empty.is_none(), "{} of {name}: {empty:?}", case["id"]);
        }
    }
}

/// How somebody came by a source is not a part of a citation.
const RETIRED: [&str; 14] = [
    "found",
    "here",
    "hosting",
    "located",
    "page",
    "quoted",
    "read",
    "readable",
    "search",
    "seen",
    "shown",
    "stored",
    "transcribed",
    "video",
];

/// The texts of a file, or of a case, that say where figures come from and what was done to
/// trust them.
fn citations(of: &Value) -> impl Iterator<Item = &str> {
    ["source", "verified"]
        .into_iter()
        .filter_map(|key| of[key].as_str())
}

#[test]
fn sources_are_plain_citations() {
    for path in files() {
        let name = stem(&path);
        let text = std::fs::read_to_string(&path).expect("text");
        let file: Value = serde_json::from_str(&text).expect("JSON");
        let cases = file["cases"].as_array().expect("cases");
        for citation in cases.iter().chain([&file]).flat_map(citations) {
            let words = citation.split(|letter: char| !letter.is_alphanumeric());
            let mut words = words.map(str::to_lowercase);
            let retired = words.find(|word| RETIRED.contains(&word.as_str()));
            assert_eq!(retired, None, "{name}: {citation}");
            // Two names with a stroke between them are somebody's account and what is kept
            // there, or a path in it.
            let account = citation.split_whitespace().find(|word| {
                let named = |part: &str| part.chars().filter(|c| c.is_alphabetic()).count() > 3;
                word.split('/').filter(|part| named(part)).count() > 1
            });
            assert_eq!(account, None, "{name}: {citation}");
        }
    }
}

/// The name of every test in a file, with the comment above it.
fn commented_tests(text: &str) -> Vec<(&str, String)> {
    let mut comment = String::new();
    let mut is_test = false;
    let mut found = Vec::new();
    for line in text.lines().map(str::trim) {
        if let Some(words) = line.strip_prefix("///") {
            comment.push_str(words);
        } else if line == "#[test]" {
            is_test = true;
        } else if !line.starts_with("#[") {
            let name = line
                .strip_prefix("fn ")
                .and_then(|rest| rest.split('(').next());
            if let Some(name) = name.filter(|_| is_test) {
                found.push((name, comment.clone()));
                is_test = false;
            }
            comment.clear();
        }
    }
    assert_eq!(found.len(), text.matches("#[test]").count(), "tests");
    found
}

/// Not at the head of the file, nor in the file of figures only: who reads a check wants to
/// know whom it asks.
#[test]
fn every_published_check_names_its_source_beside_it() {
    let mut counted = 0;
    for (file, text) in tests() {
        if !file.starts_with("published_") {
            continue;
        }
        for (name, comment) in commented_tests(&text) {
            assert!(says_where_from(&comment), "{file}, {name}:{comment}");
            counted += 1;
        }
        // The files of figures that comments speak of are there.
        for named in text.split("`published/").skip(1) {
            let named = named.split('`').next().unwrap_or_default();
            let is_there = named.contains('*') || published::folder().join(named).is_file();
            assert!(is_there, "{file} speaks of published/{named}");
        }
    }
    assert!(counted > 55, "only {counted} published checks");
}
