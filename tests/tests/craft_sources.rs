//! Every constant of the craft says where it comes from.

use std::fs;
use std::path::{Path, PathBuf};

use hitchwork_tests::sources::says_where_from;

/// Where the constants of the craft stand.
const ROOMS: [&str; 4] = ["craft", "proof/report.rs", "proof/edges.rs", "steps.rs"];

fn files(place: &Path) -> Vec<PathBuf> {
    match fs::read_dir(place) {
        Ok(inside) => inside
            .map(|entry| entry.expect("readable").path())
            .collect(),
        Err(_) => vec![place.to_path_buf()],
    }
}

/// The constants that hold numbers, as their line, with the comment above each.
fn constants(text: &str) -> Vec<(&str, String)> {
    let mut comment = String::new();
    let mut found = Vec::new();
    for line in text.lines().map(str::trim) {
        if let Some(words) = line.strip_prefix("///") {
            comment.push_str(words);
            continue;
        }
        let declared = line
            .split_once("const ")
            .and_then(|(_, rest)| rest.split_once(": "));
        if let Some((_, kind)) = declared.filter(|(name, _)| !name.contains(['(', ' '])) {
            let holds = kind.split(" =").next().unwrap_or(kind);
            if [
                "f64",
                "u16",
                "u32",
                "u64",
                "usize",
                "Self",
                "Range",
                "Wrist",
                "YarnClass",
            ]
            .iter()
            .any(|number| holds.contains(number))
            {
                found.push((line, comment.clone()));
            }
        }
        if !line.starts_with("#[") {
            comment.clear();
        }
    }
    found
}

#[test]
fn every_constant_of_the_craft_says_where_it_comes_from() {
    let core = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/hitchwork-core/src");
    let mut counted = 0;
    for file in ROOMS.iter().flat_map(|room| files(&core.join(room))) {
        let text = fs::read_to_string(&file).expect("our own file");
        for (line, comment) in constants(&text) {
            // Lists of what there is are no figures.
            if line.contains("ALL:") || line.contains("NAMED:") {
                continue;
            }
            let said = says_where_from(&comment);
            assert!(said, "{}: {line}\nsays no source:{comment}", file.display());
            counted += 1;
        }
    }
    assert!(counted >= 24, "only {counted} constants were found");
}
