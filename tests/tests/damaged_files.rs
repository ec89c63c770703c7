//! Files that others wrote, damaged by chance: whatever reads them takes them or says why not,
//! and never panics. The files stand in `tests/fuzz/kept`, each reader's in a folder of its
//! name; what a search in `tests/fuzz` finds is kept there too. `MUTATIONS=100000` goes on for
//! longer.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use hitchwork_core::chance::{Chance, Purpose};
use hitchwork_tests::readers::READERS;

/// How many damaged files each reader gets.
fn mutations() -> u64 {
    let count = std::env::var("MUTATIONS").ok();
    count.and_then(|count| count.parse().ok()).unwrap_or(250)
}

fn fuzz(inside: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz")
        .join(inside)
}

fn names(folder: &str) -> BTreeSet<String> {
    let entries = fs::read_dir(fuzz(folder)).expect("our own folder");
    let stem = |entry: fs::DirEntry| {
        let path = entry.path();
        let stem = path.file_stem().expect("has a name");
        stem.to_str().expect("of plain letters").to_owned()
    };
    entries
        .map(|entry| stem(entry.expect("readable")))
        .collect()
}

/// The kept files of a reader, by name, so that the same damage is done everywhere.
fn kept(name: &str) -> Vec<Vec<u8>> {
    let entries = fs::read_dir(fuzz("kept").join(name)).expect("a folder of kept files");
    let mut paths: Vec<PathBuf> = entries
        .map(|entry| entry.expect("readable").path())
        .collect();
    paths.sort();
    let read = |path: &PathBuf| fs::read(path).expect("our own file");
    paths.iter().map(read).collect()
}

fn below(chance: &mut Chance, bound: usize) -> usize {
    usize::try_from(chance.below(bound.max(1) as u64)).expect("below a length")
}

/// Some bytes become others, are cut out, come twice, or something hard to bear comes in.
fn damaged(chance: &mut Chance, bytes: &[u8], other: &[u8]) -> Vec<u8> {
    const HARD: [&str; 12] = [
        "0",
        "-1",
        "1e999",
        "18446744073709551616",
        "0.1",
        "null",
        "[",
        "}",
        "\"",
        "\n",
        "\u{feff}",
        "\u{202e}",
    ];
    let mut bytes = bytes.to_vec();
    for _ in 0..=below(chance, 3) {
        let from = below(chance, bytes.len() + 1);
        let to = (from + 1 + below(chance, 12)).min(bytes.len());
        let piece = match chance.below(5) {
            0 => Vec::new(),
            1 => bytes[from..to].repeat(2),
            2 => vec![chance.word().to_le_bytes()[0]],
            3 => HARD[below(chance, HARD.len())].into(),
            _ => {
                let at = below(chance, other.len());
                other[at..(at + 20).min(other.len())].to_vec()
            }
        };
        bytes.splice(from..to, piece);
    }
    bytes
}

#[test]
fn every_reader_has_kept_files_and_a_search_of_its_own() {
    let listed: BTreeSet<String> = READERS.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(names("kept"), listed);
    assert_eq!(names("fuzz_targets"), listed);
}

#[test]
fn what_is_whole_is_read() {
    for (name, read) in READERS {
        let whole = kept(name).iter().filter(|bytes| read(bytes)).count();
        assert!(
            whole > 0,
            "{name} reads none of the files that are kept for it"
        );
    }
}

#[test]
fn what_is_damaged_is_read_or_refused_with_words() {
    for (name, read) in READERS {
        let kept = kept(name);
        let mut refused = 0;
        for number in 0..mutations() {
            let mut chance = Chance::new(number, Purpose::Rule);
            let (one, other) = (
                below(&mut chance, kept.len()),
                below(&mut chance, kept.len()),
            );
            refused += u64::from(!read(&damaged(&mut chance, &kept[one], &kept[other])));
        }
        assert!(refused > 0, "{name} takes whatever comes");
    }
}
