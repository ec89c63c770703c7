//! The command, run as people and scripts run it.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Command;

use tempfile::TempDir;

/// What a run of the command gave.
pub(crate) struct Said {
    pub(crate) status: Option<i32>,
    pub(crate) out: String,
    pub(crate) err: String,
}

/// Runs the command in a folder.
pub(crate) fn hitchwork(folder: &Path, arguments: &[&str]) -> Said {
    let output = Command::new(env!("CARGO_BIN_EXE_hitchwork"))
        .args(arguments)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("the command starts");
    let text = |bytes| String::from_utf8(bytes).expect("the command speaks UTF-8");
    Said {
        status: output.status.code(),
        out: text(output.stdout),
        err: text(output.stderr),
    }
}

/// A folder for one test.
pub(crate) fn folder() -> TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// The names of what lies in a folder, in order; none where there is no folder. What the
/// command remembers there for itself is not among them.
pub(crate) fn files_in(folder: &Path) -> Vec<String> {
    let Ok(entries) = fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("readable")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.retain(|name| name != ".hitchwork-made" && name != ".hitchwork-lock");
    names.sort();
    names
}

/// Files by their paths, with what is in them.
pub(crate) type Tree = BTreeMap<String, Vec<u8>>;

/// All files of a folder and its folders, but for the lock.
pub(crate) fn tree(folder: &Path) -> Tree {
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("a folder").flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if entry.path().is_dir() {
            for (inner, bytes) in tree(&entry.path()) {
                files.insert(format!("{name}/{inner}"), bytes);
            }
        } else if !name.starts_with(".hitchwork-lock") {
            files.insert(name, fs::read(entry.path()).expect("readable"));
        }
    }
    files
}
