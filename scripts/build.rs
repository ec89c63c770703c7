//! Lists the rules of this folder, so that adding one is adding it and its tests.

use std::fmt::Write as _;
use std::path::PathBuf;

fn main() -> std::io::Result<()> {
    println!("cargo::rerun-if-changed=.");
    let here = PathBuf::from(std::env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets it"));
    let mut files: Vec<PathBuf> = std::fs::read_dir(here)?
        .map(|entry| Ok(entry?.path()))
        .collect::<std::io::Result<_>>()?;
    files.retain(|file| {
        file.extension()
            .is_some_and(|extension| extension == "rhai")
    });
    files.sort();
    let mut list = String::from("&[\n");
    for file in &files {
        println!("cargo::rerun-if-changed={}", file.display());
        let name = file
            .file_stem()
            .and_then(|stem| stem.to_str())
            .expect("rules have plain names");
        let path = file.to_str().expect("the project lies under a plain path");
        let tests = file.with_extension("tests.toml");
        let tests = tests.to_str().expect("as plain as the rule's own path");
        println!("cargo::rerun-if-changed={tests}");
        writeln!(
            list,
            "    Script {{ name: {name:?}, text: include_str!({path:?}), tests: include_str!({tests:?}) }},"
        )
        .expect("writing to memory");
    }
    list.push(']');
    let out = PathBuf::from(std::env::var_os("OUT_DIR").expect("cargo sets it"));
    std::fs::write(out.join("scripts.rs"), list)
}
