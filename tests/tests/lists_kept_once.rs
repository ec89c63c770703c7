//! Lists that are kept once: what names one of their entries elsewhere names one that there is,
//! and each entry is of use.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use hitchwork_core::compare::COMPARED;
use hitchwork_core::measures::{MEASURES, Measure};
use hitchwork_core::proof::Code;
use hitchwork_tests::files;

fn crates() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates")
}

/// The texts of all Rust files under a folder, by their paths.
fn sources(folder: &Path) -> Vec<(PathBuf, String)> {
    files::texts(folder, "rs")
}

/// The names of the pages in a folder.
fn pages(folder: &str) -> BTreeSet<String> {
    let entries = fs::read_dir(crates().join(folder)).expect("our own folder");
    let names = entries.map(|entry| entry.expect("readable").path());
    names
        .map(|page| {
            let stem = page.file_stem().expect("a name");
            stem.to_string_lossy().into_owned()
        })
        .collect()
}

/// A file of checks that no program has would be checks that nobody runs.
#[test]
fn every_file_of_checks_is_part_of_a_program() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let program = fs::read_to_string(folder.join("main.rs")).expect("our own file");
    let modules = program.lines().filter_map(|line| {
        let name = line.strip_prefix("mod ")?;
        name.strip_suffix(';')
    });
    let mut known: BTreeSet<&str> = modules.collect();
    // By itself, or the program itself.
    known.extend(["contained_rules", "main"]);
    let entries = fs::read_dir(&folder).expect("our own folder");
    let stems = entries.map(|entry| entry.expect("readable").path());
    let stems: BTreeSet<String> = stems
        .map(|path| {
            path.file_stem()
                .expect("a name")
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    assert_eq!(
        stems.iter().map(String::as_str).collect::<BTreeSet<_>>(),
        known
    );
}

#[test]
fn every_code_has_its_page_and_every_page_its_code() {
    let of_bands: BTreeSet<String> = Code::ALL.iter().map(ToString::to_string).collect();
    assert_eq!(of_bands, pages("hitchwork-core/src/proof/pages"));
    assert_eq!(of_bands.len(), Code::ALL.len(), "two codes have one name");
    let codes = hitchwork_rules::codes();
    let of_rules: BTreeSet<String> = codes.iter().map(ToString::to_string).collect();
    assert_eq!(of_rules, pages("hitchwork-rules/src/pages"));
    assert_eq!(of_rules.len(), codes.len(), "two codes have one name");
    assert!(of_bands.is_disjoint(&of_rules));
    let explained = |page: &str, begins: String, why: &str| {
        assert!(page.starts_with(&begins), "{begins} {page}");
        for heading in ["What it means", why, "Example", "What to do"] {
            let line = format!("\n{heading}\n");
            assert!(page.contains(&line), "{begins} lacks \"{heading}\"");
        }
    };
    for code in Code::ALL {
        let begins = format!("{code} ({}", code.severity());
        explained(code.page(), begins, "At the table");
    }
    for code in codes {
        let page = hitchwork_rules::explain(code).expect("its page");
        explained(page, format!("{code} (error):"), "Why it matters");
    }
}

/// A finding that is found nowhere would be a promise that nobody keeps.
#[test]
fn every_finding_is_found_somewhere() {
    let core = sources(&crates().join("hitchwork-core/src"));
    let elsewhere: Vec<&str> = core
        .iter()
        .filter(|(path, _)| !path.ends_with("proof/finding.rs"))
        .map(|(_, text)| text.split("#[cfg(test)]").next().unwrap_or(text))
        .collect();
    for code in Code::ALL {
        let raised = format!("Code::{code:?}");
        let found = elsewhere.iter().any(|text| {
            let code = text.match_indices(&raised);
            code.map(|(at, _)| &text[at + raised.len()..])
                .any(|rest| !rest.starts_with(char::is_alphanumeric))
        });
        assert!(found, "{code} is found nowhere");
    }
}

/// The first words in quotes after each place where an error of rules is made.
fn raised(text: &str) -> impl Iterator<Item = &str> {
    text.split("Diagnostic::new(").skip(1).filter_map(|rest| {
        let code = rest.trim_start().strip_prefix('"')?;
        code.split('"').next()
    })
}

#[test]
fn every_error_of_rules_that_is_raised_has_its_row() {
    let known: BTreeSet<&str> = hitchwork_rules::codes().into_iter().collect();
    let texts = sources(&crates().join("hitchwork-rules/src"));
    let mut seen = 0;
    for (path, text) in &texts {
        for code in raised(text) {
            assert!(known.contains(code), "{}: {code}", path.display());
            seen += 1;
        }
    }
    assert!(seen > 20, "only {seen} were read");
    for code in known {
        let quoted = format!("\"{code}\"");
        let mut elsewhere = texts
            .iter()
            .filter(|(path, _)| !path.ends_with("src/error.rs"));
        let in_error = texts.iter().any(|(path, text)| {
            path.ends_with("src/error.rs") && text.matches(&quoted).count() > 1
        });
        assert!(
            in_error || elsewhere.any(|(_, text)| text.contains(&quoted)),
            "{code} is never raised"
        );
    }
}

#[test]
fn every_figure_has_a_name_a_sentence_and_the_unit_of_its_name() {
    let names: BTreeSet<&str> = MEASURES.iter().map(|measure| measure.name).collect();
    assert_eq!(names.len(), MEASURES.len(), "two measures have one name");
    for measure in MEASURES {
        let Measure {
            name,
            unit,
            sentence,
            words,
            ..
        } = measure;
        assert!(!sentence.is_empty() && !sentence.ends_with('.'), "{name}");
        for (ending, meant) in [
            ("_mm", "mm"),
            ("_cm", "cm"),
            ("_m", "m"),
            ("minutes", "minutes"),
        ] {
            assert!(
                !name.ends_with(ending) || *unit == meant,
                "{name} in {unit}"
            );
        }
        assert_eq!(
            measure.is_number(),
            words.is_empty() && *name != "drifts",
            "{name}"
        );
    }
    for name in COMPARED {
        assert!(
            Measure::named(name).is_some_and(Measure::is_number),
            "{name}"
        );
    }
}

/// Names that several crates may give to a type, and why.
const SHARED_NAMES: [(&str, &str); 3] = [
    (
        "Error",
        "every library has one, and its path says whose it is",
    ),
    ("Problem", "what stands behind the error of a library"),
    (
        "ReadMe",
        "carries the examples of a README, and nobody names it",
    ),
];

/// The names of the types that a text defines: public or not, tests left out. What traits want
/// of their implementors is none, nor is what stands within a function.
fn types(text: &str) -> impl Iterator<Item = &str> {
    let text = text.split("#[cfg(test)]").next().unwrap_or(text);
    text.lines().filter_map(|line| {
        let bare = match line.strip_prefix("pub") {
            Some(rest) if rest.starts_with('(') => rest.split_once(") ")?.1,
            Some(rest) => rest.trim_start(),
            None => line,
        };
        let (kind, rest) = bare.split_once(' ')?;
        let end = rest.find(|letter: char| !letter.is_alphanumeric() && letter != '_');
        let is_type = ["struct", "enum", "trait", "type", "union"].contains(&kind);
        is_type.then(|| &rest[..end.unwrap_or(rest.len())])
    })
}

#[test]
fn every_type_name_has_one_meaning() {
    let mut places: BTreeMap<&str, BTreeSet<&Path>> = BTreeMap::new();
    let mut texts = sources(&crates());
    texts.extend(sources(&crates().join("../tests/src")));
    texts.retain(|(path, _)| path.components().any(|part| part.as_os_str() == "src"));
    for (path, text) in &texts {
        for name in types(text) {
            places.entry(name).or_default().insert(path);
        }
    }
    assert!(places.len() > 300, "only {} were read", places.len());
    for (name, places) in &places {
        let shared = SHARED_NAMES.iter().any(|(shared, _)| shared == name);
        assert_eq!(
            places.len() > 1,
            shared,
            "{name} means one thing here and another there (or is no longer shared): {places:?}"
        );
    }
    for (name, _) in SHARED_NAMES {
        assert!(places.contains_key(name), "{name} is gone");
    }
}

#[test]
fn types_are_found_however_they_are_shown() {
    let text = "pub struct Sail(u8);\npub(crate) enum Rope<T> {\nstruct Mast {\n    type Value = Keel;\npub(in crate::proof) struct Oar\ntype Knots<'a> = Vec<&'a Knot>;\nlet x = 1;\n#[cfg(test)]\nstruct Case";
    let found: Vec<&str> = types(text).collect();
    assert_eq!(found, ["Sail", "Rope", "Mast", "Oar", "Knots"]);
}
