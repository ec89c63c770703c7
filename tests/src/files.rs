//! Folders as tests look at them: whole, and in order.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// All files below a folder in the order of their paths, with links as they are; what tools have
/// put there is passed over.
///
/// # Panics
/// When a folder cannot be read.
#[must_use]
pub fn below(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap_or_else(|why| panic!("{}: {why}", folder.display()));
    let mut found = Vec::new();
    for entry in entries {
        let entry = entry.expect("readable");
        let kind = entry.file_type().expect("it has one");
        let of_tools = ["node_modules", "target"].map(Into::into);
        match kind.is_dir() {
            true if of_tools.contains(&entry.file_name()) => {}
            true => found.extend(below(&entry.path())),
            false => found.push(entry.path()),
        }
    }
    found.sort();
    found
}

/// Those of them whose names have this ending, each with its text.
///
/// # Panics
/// When a folder or a file cannot be read.
#[must_use]
pub fn texts(folder: &Path, ending: &str) -> Vec<(PathBuf, String)> {
    let mut files = below(folder);
    files.retain(|path| path.extension().is_some_and(|end| end == ending));
    let text = |path: &PathBuf| fs::read_to_string(path).expect("a text");
    files
        .into_iter()
        .map(|path| (path.clone(), text(&path)))
        .collect()
}

/// What is in all files below a folder, by their paths from there; but for locks, which hold
/// nothing.
///
/// # Panics
/// When a folder or a file cannot be read.
#[must_use]
pub fn contents(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let is_lock = |path: &Path| {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        name.starts_with(".hitchwork-lock")
    };
    let mut files = below(folder);
    files.retain(|path| !is_lock(path));
    let inside = |path: &Path| path.strip_prefix(folder).expect("inside").to_owned();
    let bytes = |path: &Path| fs::read(path).expect("readable");
    files
        .iter()
        .map(|path| (inside(path), bytes(path)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_seen_whole_but_for_locks_and_what_tools_put_there() {
        let folder = tempfile::tempdir().expect("a folder");
        for (name, text) in [
            ("tide.txt", "low"),
            ("pier/b.rs", "b"),
            ("pier/a.rs", "a"),
            ("pier/.hitchwork-lock", ""),
            ("target/c.rs", "c"),
        ] {
            let place = folder.path().join(name);
            fs::create_dir_all(place.parent().expect("a folder")).expect("made");
            fs::write(place, text).expect("written");
        }
        let names: Vec<PathBuf> = contents(folder.path()).into_keys().collect();
        assert_eq!(
            names,
            ["pier/a.rs", "pier/b.rs", "tide.txt"].map(PathBuf::from)
        );
        assert_eq!(below(folder.path()).len(), 4);
        let found: Vec<String> = texts(folder.path(), "rs")
            .into_iter()
            .map(|(_, text)| text)
            .collect();
        assert_eq!(found, ["a", "b"]);
    }
}
