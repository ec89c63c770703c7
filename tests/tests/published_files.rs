//! The published figures as files: each is whole, each is held against something, and what
//! is left out is left out by a check that there is.

use std::path::Path;

use hitchwork_tests::published::{self, Published};

/// The sources of all tests that read published figures.
fn sources() -> String {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let files = std::fs::read_dir(tests).expect("the folder of the tests");
    let paths = files.map(|file| file.expect("a file").path());
    let rust = paths.filter(|path| path.extension().is_some_and(|end| end == "rs"));
    // This file names no figures.
    let others = rust.filter(|path| !path.ends_with("published_files.rs"));
    others
        .map(|path| std::fs::read_to_string(path).expect("text"))
        .collect()
}

#[test]
fn every_file_is_read_by_a_check_and_every_exception_made_by_one() {
    let sources = sources();
    let mut files = 0;
    for file in std::fs::read_dir(published::folder()).expect("the folder of the figures") {
        let path = file.expect("a file").path();
        let name = path.file_stem().and_then(|name| name.to_str());
        let name = name.expect("a plain name");
        assert!(path.extension().is_some_and(|end| end == "json"), "{name}");
        let quoted = |words: &str| sources.contains(&format!("\"{words}\""));
        assert!(quoted(name), "no check reads {name}");
        for left_out in Published::read(name).left_out {
            assert!(
                quoted(&left_out.by),
                "{name}: no check is called {}",
                left_out.by
            );
        }
        files += 1;
    }
    assert!(files > 0, "there are figures");
}

/// A source for the whole file, or one at each case.
#[test]
fn every_case_has_a_source() {
    for file in std::fs::read_dir(published::folder()).expect("the folder of the figures") {
        let path = file.expect("a file").path();
        let name = path.file_stem().and_then(|name| name.to_str());
        let name = name.expect("a plain name");
        let published = Published::read(name);
        if !published.source.starts_with("see cases") {
            continue;
        }
        for case in &published.cases {
            let source = case["source"].as_str().unwrap_or_default();
            assert!(!source.is_empty(), "{} of {name}", case["id"]);
        }
    }
}
