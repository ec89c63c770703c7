//! What earlier runs have done, and what other machines have.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};

use serde::{Deserialize, Serialize};

use super::Place;
use crate::folder::{
    Folder, FolderError, LOCK, for_each_line, holds, reason, record_at, stays_inside,
};
use crate::manifest::{Seal, seal};
use crate::record::{File, Outcome, Record};

/// The number of the manifest among the sources of records.
const MANIFEST: u8 = 0;
/// The number of the journal.
pub(super) const JOURNAL: u8 = 1;

/// What of a line is read at first.
#[derive(Deserialize)]
#[serde(untagged)]
enum Line {
    Choice { choice: Choice },
    LeftBehind { left_behind: File },
    Record { name: String, key: String },
}

/// Which members of an item were chosen as the best.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Choice {
    /// A digest of the item and of all that it combines.
    pub(crate) item: String,
    /// The numbers of its members, from 1.
    pub(crate) numbers: Vec<u64>,
}

/// Where the record of a member stands, and what it is made from.
#[derive(Debug)]
struct Entry {
    key: String,
    place: Place,
    used: AtomicBool,
}

/// What there is.
#[derive(Debug)]
pub(super) struct Earlier {
    entries: BTreeMap<String, Entry>,
    choices: Vec<Choice>,
    /// How the manifest was found.
    pub(super) manifest: Seal,
    /// Files of members that earlier plans had.
    pub(super) left_behind: Vec<File>,
    /// The files of records: the manifest, the journal, and those of shares.
    paths: Vec<PathBuf>,
}

/// What is known of a member.
pub(super) enum Seen {
    /// It is there, and as the plan wants it.
    AsItIs(Place, Box<Record>),
    /// It was made from something else, or its files are not what they were: these.
    Changed(Vec<File>),
    /// Nothing.
    Never,
}

/// The files of records, opened once for each worker.
#[derive(Default)]
pub(super) struct Handles(BTreeMap<u8, fs::File>);

impl Handles {
    pub(super) fn record(&mut self, paths: &[PathBuf], place: Place) -> io::Result<Record> {
        let file = match self.0.entry(place.source) {
            std::collections::btree_map::Entry::Occupied(file) => file.into_mut(),
            std::collections::btree_map::Entry::Vacant(free) => {
                free.insert(fs::File::open(&paths[usize::from(place.source)])?)
            }
        };
        record_at(file, place.begins)
    }
}

impl Default for Earlier {
    /// Nothing.
    fn default() -> Self {
        Self {
            entries: BTreeMap::new(),
            choices: Vec::new(),
            manifest: Seal::Missing,
            left_behind: Vec::new(),
            paths: Vec::new(),
        }
    }
}

impl Earlier {
    /// What the manifest and the journal of a folder say; a damaged line says nothing, and
    /// what it was about is made again.
    pub(super) fn of(folder: &Folder) -> Result<Self, FolderError> {
        let mut earlier = Self {
            paths: vec![folder.manifest(), folder.journal()],
            ..Self::default()
        };
        earlier.read(MANIFEST)?;
        earlier.manifest = seal(&folder.manifest()).map_err(|error| {
            FolderError::new(
                format!(
                    "{} cannot be read: {}",
                    folder.manifest().display(),
                    reason(&error)
                ),
                "mend that, or choose another folder with --out",
            )
        })?;
        // Lines before a cut are what was written; those that somebody has changed may say
        // anything. The files stay known as the collection's own.
        if earlier.manifest == Seal::Changed {
            for entry in earlier.entries.values_mut() {
                entry.key.clear();
            }
            earlier.choices.clear();
        }
        earlier.read(JOURNAL)?;
        Ok(earlier)
    }

    fn read(&mut self, source: u8) -> Result<(), FolderError> {
        let path = self.paths[usize::from(source)].clone();
        let read = for_each_line(&path, |begins, line: Line| match line {
            Line::Choice { choice } => self.choices.push(choice),
            Line::LeftBehind { left_behind } => self.left_behind.push(left_behind),
            Line::Record { name, key } => {
                let place = Place { source, begins };
                let used = AtomicBool::new(false);
                self.entries.insert(name, Entry { key, place, used });
            }
        });
        read.map_err(|error| {
            FolderError::new(
                format!("{} cannot be read: {}", path.display(), reason(&error)),
                "mend that, or choose another folder with --out",
            )
        })
    }

    /// Takes in the shares that lie in a folder, and copies what is in them to where the
    /// collection is joined.
    pub(super) fn bring_in(&mut self, folder: &Folder, share: &Path) -> Result<(), FolderError> {
        let found = share_files(share);
        if found.is_empty() {
            return Err(FolderError::new(
                format!("there is no share of a collection in {}", share.display()),
                "shares are made with --part; name the folders that they were made in",
            ));
        }
        for manifest in found {
            let source = u8::try_from(self.paths.len())
                .ok()
                .filter(|source| *source < u8::MAX);
            let source = source.ok_or_else(|| {
                FolderError::new(
                    "more than 250 shares cannot be joined at once",
                    "join some of them first",
                )
            })?;
            if !matches!(seal(&manifest), Ok(Seal::Whole)) {
                return Err(FolderError::new(
                    format!("{} is not what was written there", manifest.display()),
                    "make that share again with the same --part, and join then",
                ));
            }
            self.paths.push(manifest);
            self.read(source)?;
            if same_folder(share, folder.path()) {
                continue;
            }
            let mut handles = Handles::default();
            let places: Vec<Place> = self
                .entries
                .values()
                .map(|entry| entry.place)
                .filter(|place| place.source == source)
                .collect();
            for place in places {
                let Ok(Record {
                    outcome: Outcome::Made(made),
                    ..
                }) = handles.record(&self.paths, place)
                else {
                    continue;
                };
                for file in &made.files {
                    if !holds(folder.path(), file) && holds(share, file) {
                        let bytes = fs::read(share.join(&file.path)).unwrap_or_default();
                        folder.write(&[(file.path.clone(), bytes)])?;
                    }
                }
            }
        }
        Ok(())
    }

    /// The files of records, by their numbers.
    pub(super) fn sources(&self) -> &[PathBuf] {
        &self.paths
    }

    pub(super) fn choice(&self, item: &str) -> Option<&Choice> {
        self.choices.iter().rfind(|choice| choice.item == item)
    }

    pub(super) fn look_up(
        &self,
        folder: &Folder,
        name: &str,
        key: &str,
        handles: &mut Handles,
    ) -> Seen {
        let Some(entry) = self.entries.get(name) else {
            return Seen::Never;
        };
        entry.used.store(true, Relaxed);
        let Ok(record) = handles.record(&self.paths, entry.place) else {
            return Seen::Never;
        };
        let same = record.name == name && record.key == key && entry.key == key;
        match &record.outcome {
            Outcome::Made(made) => {
                let whole = |file: &File| holds(folder.path(), file);
                match same && made.files.iter().all(whole) {
                    true => Seen::AsItIs(entry.place, Box::new(record)),
                    false => Seen::Changed(made.files.clone()),
                }
            }
            Outcome::LeftOut { .. } if same => Seen::AsItIs(entry.place, Box::new(record)),
            _ => Seen::Never,
        }
    }

    /// The files of members that nobody asked about.
    pub(super) fn unused(&self, sources: &[PathBuf]) -> io::Result<Vec<File>> {
        let mut handles = Handles::default();
        let mut files = Vec::new();
        for entry in self
            .entries
            .values()
            .filter(|entry| !entry.used.load(Relaxed))
        {
            let record = handles.record(sources, entry.place)?;
            if let Outcome::Made(made) = record.outcome {
                files.extend(
                    made.files
                        .into_iter()
                        .filter(|file| stays_inside(&file.path)),
                );
            }
        }
        Ok(files)
    }
}

fn same_folder(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// The manifests of shares that lie in a folder.
fn share_files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let is_share = |path: &PathBuf| {
        let name = path
            .file_name()
            .and_then(|name| name.to_str())
            .unwrap_or("");
        name.starts_with("collection.part-") && name.ends_with(".json")
    };
    let mut found: Vec<PathBuf> = entries.map(|entry| entry.path()).filter(is_share).collect();
    found.sort();
    found
}

/// The manifests of shares, and their locks, in the folder of the whole.
pub(super) fn shares_in(folder: &Folder) -> Vec<PathBuf> {
    let mut found = share_files(folder.path());
    let locks = found.iter().filter_map(|share| {
        let name = share.file_name()?.to_str()?;
        let suffix = name.strip_prefix("collection")?.strip_suffix(".json")?;
        Some(folder.place(&format!("{LOCK}{suffix}")))
    });
    let locks: Vec<PathBuf> = locks.collect();
    found.extend(locks);
    found
}
