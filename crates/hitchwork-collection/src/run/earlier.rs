//! What earlier runs have done, and what other machines have.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, BufReader, Cursor, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};

use hitchwork_draw::output::Output;
use serde::Deserialize;

use super::chosen::{self, BestOf};
use crate::folder::{
    FolderError, FolderErrorKind, LOCK, LockedFolder, Own, for_each_line, holds, is_own,
    open_to_read, real, reason, record_at,
};
use crate::making::{band_file, is_file_of, is_file_of_a_member};
use crate::manifest::{Seal, seal};
use crate::plan::{Item, Member};
use crate::record::{MadeMember, MemberOutcome, Record, RecordPlace, RecordedFile};

/// The number of the manifest among the sources of records.
const MANIFEST: u8 = 0;
/// The number of the journal.
pub(super) const JOURNAL: u8 = 1;

/// What of a line is read at first.
#[derive(Deserialize)]
#[serde(untagged)]
enum EarlierLine {
    Choice { choice: BestOf },
    LeftBehind { left_behind: RecordedFile },
    Record { name: String, key: String },
}

/// Where the record of a member stands, and what it is made from.
#[derive(Debug)]
struct EarlierMember {
    key: String,
    place: RecordPlace,
    used: AtomicBool,
}

/// What there is.
#[derive(Debug)]
pub(super) struct Earlier {
    /// Members whose files lie in the folder.
    entries: BTreeMap<String, EarlierMember>,
    /// Members that shares bring from elsewhere.
    brought: BTreeMap<String, EarlierMember>,
    choices: Vec<BestOf>,
    /// How the manifest was found.
    pub(super) manifest: Seal,
    /// Files that members had and have no more, or were about to have when a run died, by
    /// their paths: each as what it can be.
    left_behind: BTreeMap<String, Vec<RecordedFile>>,
    /// The files of records: the manifest, the journal, and those of shares.
    paths: Vec<PathBuf>,
    /// Shares that lie in the folder itself, and were joined: their numbers among the files of
    /// records.
    joined_here: Vec<usize>,
}

/// What is known of a member.
pub(super) enum EarlierState {
    /// It is there, and as the plan wants it.
    AsItIs(RecordPlace, Box<Record>),
    /// It is there, but some of its files are not what they were.
    Touched(RecordPlace, Box<Record>),
    /// It was made from something else, and had these files.
    Outdated(Vec<RecordedFile>),
    /// Nothing.
    Never,
}

/// A member that a share brings.
pub(super) struct Brought<'a> {
    pub(super) place: RecordPlace,
    pub(super) record: Box<Record>,
    /// Where its files lie.
    pub(super) share: &'a Path,
}

/// The files of records, opened once for each worker.
#[derive(Default)]
pub(super) struct Handles(BTreeMap<u8, fs::File>);

impl Handles {
    pub(super) fn record(&mut self, paths: &[PathBuf], place: RecordPlace) -> io::Result<Record> {
        let file = match self.0.entry(place.source) {
            std::collections::btree_map::Entry::Occupied(file) => file.into_mut(),
            std::collections::btree_map::Entry::Vacant(free) => {
                free.insert(open_to_read(&paths[usize::from(place.source)])?)
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
            brought: BTreeMap::new(),
            choices: Vec::new(),
            manifest: Seal::Missing,
            left_behind: BTreeMap::new(),
            paths: Vec::new(),
            joined_here: Vec::new(),
        }
    }
}

impl Earlier {
    /// What the manifest and the journal of a folder say; a damaged line says nothing, and
    /// what it was about is made again.
    pub(super) fn of(folder: &LockedFolder) -> Result<Self, FolderError> {
        let mut earlier = Self {
            paths: vec![folder.own(Own::Manifest), folder.own(Own::Journal)],
            ..Self::default()
        };
        earlier.read(MANIFEST, true)?;
        earlier.manifest =
            seal(&earlier.paths[0]).map_err(|error| unreadable(&earlier.paths[0], &error))?;
        // Lines before a cut are what was written; those that somebody has changed may say
        // anything. The files stay known as the collection's own.
        if earlier.manifest == Seal::Changed {
            for entry in earlier.entries.values_mut() {
                entry.key.clear();
            }
            earlier.choices.clear();
        }
        earlier.read(JOURNAL, true)?;
        Ok(earlier)
    }

    /// Reads a file of records; the files that it tells of lie in the folder, or elsewhere.
    fn read(&mut self, source: u8, here: bool) -> Result<(), FolderError> {
        let path = self.paths[usize::from(source)].clone();
        let file = match open_to_read(&path) {
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
            opened => opened.map_err(|error| unreadable(&path, &error))?,
        };
        let read = for_each_line(&mut BufReader::new(file), |begins, proved, line| {
            // A manifest is proved as a whole.
            let believed = proved || source != JOURNAL;
            match line {
                EarlierLine::Choice { choice } if believed => self.choices.push(choice),
                EarlierLine::LeftBehind { left_behind } if believed && here => {
                    let path = left_behind.path.clone();
                    self.left_behind.entry(path).or_default().push(left_behind);
                }
                EarlierLine::Record { name, mut key } => {
                    // What a changed line says is not believed; but its files stay known as
                    // the collection's own.
                    if !believed {
                        key.clear();
                    }
                    let place = RecordPlace { source, begins };
                    let used = AtomicBool::new(false);
                    let entries = match here {
                        true => &mut self.entries,
                        false => &mut self.brought,
                    };
                    entries.insert(name, EarlierMember { key, place, used });
                }
                EarlierLine::Choice { .. } | EarlierLine::LeftBehind { .. } => {}
            }
        });
        read.map_err(|error| unreadable(&path, &error))
    }

    /// Takes in the shares that lie in a folder.
    pub(super) fn bring_in(
        &mut self,
        folder: &LockedFolder,
        share: &Path,
    ) -> Result<(), FolderError> {
        let found = shares_in(share)?;
        let here = same_folder(share, folder.path());
        for manifest in found {
            let number = self.paths.len();
            let source = u8::try_from(number).ok().filter(|source| *source < u8::MAX);
            let source = source.ok_or_else(|| {
                FolderError::new(
                    FolderErrorKind::Other,
                    "more than 250 shares cannot be joined at once",
                    "join some of them first",
                )
            })?;
            if !matches!(seal(&manifest), Ok(Seal::Whole)) {
                return Err(FolderError::new(
                    FolderErrorKind::Share,
                    format!("{} is not what was written there", manifest.display()),
                    "make that share again, and join then",
                ));
            }
            self.paths.push(manifest);
            self.read(source, here)?;
            if here {
                self.joined_here.push(number);
            }
        }
        Ok(())
    }

    /// The files of records, by their numbers.
    pub(super) fn sources(&self) -> &[PathBuf] {
        &self.paths
    }

    /// The choice from the same candidates, if there is one that would be the same today.
    pub(super) fn choice(&self, digest: &str, item: &Item) -> Option<&BestOf> {
        chosen::known(&self.choices, digest, item)
    }

    pub(super) fn look_up(
        &self,
        folder: &LockedFolder,
        item: &Item,
        member: &Member,
        key: &str,
        handles: &mut Handles,
    ) -> EarlierState {
        let Some(entry) = self.entries.get(&member.name) else {
            return EarlierState::Never;
        };
        entry.used.store(true, Relaxed);
        let Ok(record) = handles.record(&self.paths, entry.place) else {
            return EarlierState::Never;
        };
        let same = entry.is_for(&record, item, member, key);
        match &record.outcome {
            MemberOutcome::Made(made) => {
                let whole = |file: &RecordedFile| holds(folder.path(), file);
                let wanted = same && has_the_names(made, item, member);
                match wanted {
                    true if made.files.iter().all(whole) => {
                        EarlierState::AsItIs(entry.place, Box::new(record))
                    }
                    true => EarlierState::Touched(entry.place, Box::new(record)),
                    false => EarlierState::Outdated(made.files.clone()),
                }
            }
            MemberOutcome::LeftOut { .. } if same => {
                EarlierState::AsItIs(entry.place, Box::new(record))
            }
            _ => EarlierState::Never,
        }
    }

    /// What the shares bring of a member that is as the plan wants it.
    pub(super) fn brought(
        &self,
        item: &Item,
        member: &Member,
        key: &str,
        handles: &mut Handles,
    ) -> Option<Brought<'_>> {
        let entry = self.brought.get(&member.name)?;
        let record = handles.record(&self.paths, entry.place).ok()?;
        let wanted = match &record.outcome {
            MemberOutcome::Made(made) => has_the_names(made, item, member),
            MemberOutcome::LeftOut { .. } => true,
            MemberOutcome::Failed(_) => false,
        };
        (wanted && entry.is_for(&record, item, member, key)).then_some(())?;
        Some(Brought {
            place: entry.place,
            record: Box::new(record),
            share: self.paths[usize::from(entry.place.source)].parent()?,
        })
    }

    /// Files that earlier plans have left behind, by their paths.
    pub(super) fn left_behind(&self) -> BTreeMap<String, Vec<RecordedFile>> {
        self.left_behind.clone()
    }

    /// What of that a member had, and has still as the collection made it.
    pub(super) fn left_behind_of(&self, folder: &LockedFolder, name: &str) -> Vec<RecordedFile> {
        let begins = format!("{name}/");
        let files = self.left_behind.range(begins.clone()..);
        files
            .take_while(|(path, _)| path.starts_with(&begins))
            .flat_map(|(_, files)| files)
            .filter(|file| holds(folder.path(), file))
            .cloned()
            .collect()
    }

    /// The files of members that nobody asked about.
    pub(super) fn unused(&self) -> io::Result<Vec<RecordedFile>> {
        let mut handles = Handles::default();
        let mut files = Vec::new();
        for entry in self
            .entries
            .values()
            .filter(|entry| !entry.used.load(Relaxed))
        {
            let record = handles.record(&self.paths, entry.place)?;
            if let MemberOutcome::Made(made) = record.outcome {
                files.extend(made.files);
            }
        }
        Ok(files)
    }

    /// The manifests of shares in the folder itself that have been joined, and their locks.
    pub(super) fn joined(&self, folder: &LockedFolder) -> Vec<PathBuf> {
        let manifests = self.joined_here.iter().map(|number| &self.paths[*number]);
        let with_locks = manifests.flat_map(|manifest| {
            let name = manifest.file_name().and_then(|name| name.to_str());
            let suffix = name
                .and_then(|name| name.strip_prefix("collection")?.strip_suffix(".json"))
                .map(|suffix| folder.place(&format!("{LOCK}{suffix}")));
            [Some(manifest.clone()), suffix]
        });
        with_locks.flatten().collect()
    }
}

impl EarlierMember {
    /// Whether a record stands where this entry says, and is of this member as the plan wants
    /// it.
    fn is_for(&self, record: &Record, item: &Item, member: &Member, key: &str) -> bool {
        record.name == member.name
            && record.key == key
            && self.key == key
            && record.asked.changed(&item.beside).is_none()
    }
}

/// Whether a member has the files that the plan gives it, by their names, and no others.
fn has_the_names(made: &MadeMember, item: &Item, member: &Member) -> bool {
    let name = &member.name;
    let of = |output: Output, file: &RecordedFile| is_file_of(name, output, &file.path);
    let (bands, others): (Vec<&RecordedFile>, Vec<&RecordedFile>) = made
        .files
        .iter()
        .partition(|file| file.path == band_file(name));
    let all_there = |output: &Output| others.iter().any(|file| of(*output, file));
    bands.len() == 1
        && bands[0].sha256 == made.digest
        && item.write.iter().all(all_there)
        && others
            .iter()
            .all(|file| item.write.iter().any(|output| of(*output, file)))
}

fn unreadable(path: &Path, error: &io::Error) -> FolderError {
    FolderError::new(
        FolderErrorKind::Taken,
        format!("{} cannot be read: {}", path.display(), reason(error)),
        "put that right, or choose another folder",
    )
}

/// Reads a journal from its bytes, as a run does that goes on: those records whose lines are
/// what was written.
#[doc(hidden)]
#[must_use]
pub fn journal_from_bytes(bytes: &[u8]) -> Vec<Record> {
    let mut begins = Vec::new();
    let each = |at, proved, line: EarlierLine| {
        if let (true, EarlierLine::Record { .. }) = (proved, line) {
            begins.push(at);
        }
    };
    for_each_line(&mut Cursor::new(bytes), each).expect("memory can be read");
    let mut from = Cursor::new(bytes);
    let records = begins.into_iter().map(|at| record_at(&mut from, at));
    records.filter_map(Result::ok).collect()
}

/// Whether a file is, or would be, one of a collection: one that it has for itself, or one of
/// a member by the records in the folder above.
#[must_use]
pub fn belongs_to_a_collection(path: &Path) -> bool {
    let path = real(path);
    let (Some(folder), Some(name)) = (path.parent(), path.file_name()) else {
        return false;
    };
    let Some(name) = name.to_str() else {
        return false;
    };
    let above = folder.parent().zip(folder.file_name());
    is_own(folder, name)
        || above.is_some_and(|(above, member)| {
            let path = format!("{}/{name}", member.to_string_lossy());
            is_file_of_a_member(&path) && is_recorded(above, &path)
        })
}

/// Whether the manifest or the journal of a folder tells of a file.
fn is_recorded(folder: &Path, path: &str) -> bool {
    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Told {
        LeftBehind { left_behind: RecordedFile },
        Record(Box<Record>),
    }
    let mut found = false;
    for own in [Own::Manifest, Own::Journal] {
        let Ok(file) = open_to_read(&folder.join(own.name(None))) else {
            continue;
        };
        // What cannot be read tells of nothing more.
        let _ = for_each_line(&mut BufReader::new(file), |_, _, told: Told| {
            found |= match &told {
                Told::LeftBehind { left_behind } => left_behind.path == path,
                Told::Record(record) => match &record.outcome {
                    MemberOutcome::Made(made) => made.files.iter().any(|file| file.path == path),
                    MemberOutcome::LeftOut { .. } | MemberOutcome::Failed(_) => false,
                },
            };
        });
    }
    found
}

fn same_folder(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// The manifests of shares that lie in a folder, in order.
pub(super) fn shares_in(folder: &Path) -> Result<Vec<PathBuf>, FolderError> {
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
    match found.is_empty() {
        true => Err(FolderError::new(
            FolderErrorKind::Share,
            format!("there is no share of a collection in {}", folder.display()),
            "name the folders in which shares were made",
        )),
        false => Ok(found),
    }
}
