//! Every crate that goes into the product may be given away under our licences.

use std::process::Command;

/// Licences (SPDX) under which we take code in: none that asks anything of those who
/// take ours but to keep the notice; the Mozilla licence binds only its own files, which
/// stay as they are (a small string type inside the script engine).
const ACCEPTED: [&str; 13] = [
    "MPL-2.0+",
    "MIT",
    "MIT-0",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "Unicode-3.0",
    "Unlicense",
    "0BSD",
    "CC0-1.0",
];

/// Whether an SPDX expression can be met: all of its AND parts, any of its OR parts.
fn accepted(expression: &str) -> bool {
    let expression = expression.replace(" / ", " OR ").replace('/', " OR ");
    let plain = |text: &str| {
        text.trim()
            .trim_start_matches('(')
            .trim_end_matches(')')
            .trim()
            .to_owned()
    };
    expression.split(" AND ").all(|all| {
        all.split(" OR ")
            .any(|one| ACCEPTED.contains(&plain(one).as_str()))
    })
}

#[test]
fn every_dependency_has_a_licence_that_we_accept() {
    let output = Command::new(env!("CARGO"))
        .args([
            "metadata",
            "--format-version",
            "1",
            "--locked",
            "--filter-platform",
            "x86_64-unknown-linux-gnu",
        ])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let packages = metadata["packages"].as_array().expect("a list of packages");
    assert!(packages.len() > 50, "the whole tree is looked at");
    let refused: Vec<String> = packages
        .iter()
        .filter(|package| !accepted(package["license"].as_str().unwrap_or("none")))
        .map(|package| format!("{} ({})", package["name"], package["license"]))
        .collect();
    assert!(refused.is_empty(), "{refused:?}");
}

#[test]
fn a_licence_must_meet_all_its_parts() {
    assert!(accepted("MIT OR GPL-3.0"));
    assert!(accepted("(MIT OR Apache-2.0) AND Unicode-3.0"));
    assert!(accepted("Unlicense/MIT"));
    assert!(!accepted("MIT AND GPL-3.0"));
    assert!(!accepted("none"));
}
