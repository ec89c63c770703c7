//! The folder of a collection: its lock, its journal, and files that are written whole or
//! not at all.
//!
//! A file is written beside its place and moved there; a member is done when its record is in
//! the journal. What a record says is believed only where the files are what it
//! says, by length and digest: so it does not matter in which order a dying machine has
//! brought files and journal to the disk.
//!
//! Others may have put things into the folder. A file that the collection has not made is
//! never written over, and a link is never followed: not at the place of a file, not at the
//! name that a file has while it is written, and not at that of the journal or a lock.

use std::fs::{self, OpenOptions, TryLockError};
use std::io::{self, BufRead, BufReader, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Component, Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::time::Duration;

#[doc(hidden)]
pub use hitchwork_rules::load::reason;

use crate::beginnings::{FORMAT, GALLERY_MARK, MANIFEST_BEGINS, TABLE_BEGINS};
use crate::digest::{sha256, sha256_of};
use crate::record::{Record, RecordedFile};

/// What files are called while they are being written.
const UNFINISHED: &str = ".hitchwork-";

/// The name of the lock of a folder.
#[doc(hidden)]
pub const LOCK: &str = ".hitchwork-lock";

/// Why a folder could not be worked in.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
pub struct FolderError {
    kind: FolderErrorKind,
    message: String,
    help: String,
}

/// What kind of trouble there is with a folder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum FolderErrorKind {
    /// Something lies where the collection would go, or another run is at work there: another
    /// folder would do.
    Taken,
    /// Files cannot be moved out to where they are to go.
    NotMovedOut,
    /// A share of a collection is missing, or is not what was written.
    Share,
    /// A manifest, or a file that it names, is missing or is not what was written: a run with
    /// the plan makes it anew.
    NotWhole,
    /// Anything else, such as a disk that is full.
    Other,
}

impl FolderError {
    pub(crate) fn new(
        kind: FolderErrorKind,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        Self {
            kind,
            message: message.into(),
            help: help.into(),
        }
    }

    /// What kind of trouble it is.
    #[must_use]
    pub fn kind(&self) -> FolderErrorKind {
        self.kind
    }

    /// What to do about it.
    #[must_use]
    pub fn help(&self) -> &str {
        &self.help
    }

    fn of(error: &io::Error, doing: &str, path: &Path) -> Self {
        Self::new(
            FolderErrorKind::Other,
            format!("{} cannot be {doing}: {}", path.display(), reason(error)),
            "what was finished before is whole; put this right, and start again to continue",
        )
    }
}

/// Which share of a collection is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Share {
    /// The number of the share, from 1.
    pub number: u32,
    /// How many shares there are.
    pub of: u32,
}

impl Share {
    /// Whether a member belongs to the share, by its place among all members.
    pub(crate) fn has(self, place: u64) -> bool {
        place % u64::from(self.of) == u64::from(self.number) - 1
    }

    fn suffix(part: Option<Self>) -> String {
        part.map_or(String::new(), |Self { number, of }| {
            format!(".part-{number}-of-{of}")
        })
    }
}

/// The name of the manifest, or of that of a share.
#[must_use]
pub fn manifest_name(part: Option<Share>) -> String {
    format!("collection{}.json", Share::suffix(part))
}

/// A file of the collection itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Own {
    /// What all members are, with the digests of their files.
    Manifest,
    /// The members as a table.
    Table,
    /// The page to choose from.
    Gallery,
    /// What has been done since the manifest was written.
    Journal,
}

impl Own {
    pub(crate) fn name(self, part: Option<Share>) -> String {
        match self {
            Self::Manifest => manifest_name(part),
            Self::Table => TABLE.to_owned(),
            Self::Gallery => GALLERY.to_owned(),
            Self::Journal => format!("collection{}.journal", Share::suffix(part)),
        }
    }

    /// Whether a file that begins so is one that `collect` has written, also where it was
    /// changed or cut short since. Nothing is lost with an empty one, nor with the zeros
    /// that a loss of power leaves.
    fn begins_so(self, beginning: &[u8]) -> bool {
        if beginning.iter().all(|byte| *byte == 0) {
            return true;
        }
        let holds = |words: &str| {
            let words = words.as_bytes();
            beginning.windows(words.len()).any(|piece| piece == words)
        };
        match self {
            Self::Manifest => {
                // Of another version too: it is named, and made again.
                let format = FORMAT.trim_end_matches(char::is_numeric);
                beginning.starts_with(MANIFEST_BEGINS.as_bytes()) && holds(format)
            }
            Self::Table => beginning.starts_with(TABLE_BEGINS.as_bytes()),
            Self::Gallery => holds(GALLERY_MARK),
            // It alone can be cut short: it grows in its place.
            Self::Journal => {
                let head = journal_head();
                beginning.starts_with(head.as_bytes()) || head.as_bytes().starts_with(beginning)
            }
        }
    }
}

/// Whether a file lies, or would lie, at the place of one that a collection has for itself: its
/// folder would not be taken for a collection any more.
pub(crate) fn is_own(folder: &Path, name: &str) -> bool {
    let all = [Own::Manifest, Own::Table, Own::Gallery, Own::Journal];
    let written_by_us = |own: Own, name: &str| {
        let mut beginning = Vec::new();
        let read = open_to_read(&folder.join(name))
            .and_then(|file| file.take(BEGINNING).read_to_end(&mut beginning));
        read.is_ok_and(|count| count > 0) && own.begins_so(&beginning)
    };
    let is_share = name.starts_with("collection.part-");
    let is_collection = || {
        let holds = |own: &Own| written_by_us(*own, &own.name(None));
        all.iter().any(holds)
    };
    let has_the_name = |own: &Own| name == own.name(None);
    match all.iter().find(|own| has_the_name(own)) {
        Some(own) => written_by_us(*own, name) || is_collection(),
        None if is_share => all.iter().any(|own| written_by_us(*own, name)),
        None => name.starts_with(UNFINISHED),
    }
}

/// The name of the table.
pub(crate) const TABLE: &str = "collection.csv";
/// The name of the page to choose from.
pub(crate) const GALLERY: &str = "index.html";

/// This many bytes of a file say whose it is.
const BEGINNING: u64 = 1 << 12;

/// A plain file, opened; a link, a pipe or a device is refused, and so is a file that was
/// put in its place while it was being opened.
pub(crate) fn open_plain(path: &Path, options: &OpenOptions) -> io::Result<fs::File> {
    let seen = fs::symlink_metadata(path)?;
    if !seen.is_file() {
        let what = match seen.is_dir() {
            true => return Err(ErrorKind::IsADirectory.into()),
            false if seen.is_symlink() => "it is a link, and links are not followed here",
            false => "it is not a plain file",
        };
        return Err(io::Error::other(what));
    }
    let file = options.open(path)?;
    match same_file(&seen, &file.metadata()?) {
        true => Ok(file),
        false => Err(io::Error::other("it was swapped for another file just now")),
    }
}

#[cfg(unix)]
fn same_file(one: &fs::Metadata, other: &fs::Metadata) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    (one.dev(), one.ino()) == (other.dev(), other.ino())
}

#[cfg(not(unix))]
fn same_file(one: &fs::Metadata, other: &fs::Metadata) -> bool {
    one.file_type() == other.file_type()
}

/// A plain file to be read.
pub(crate) fn open_to_read(path: &Path) -> io::Result<fs::File> {
    open_plain(path, OpenOptions::new().read(true))
}

/// Opens a plain file, or makes it.
fn open_or_make(path: &Path) -> io::Result<fs::File> {
    let mut options = OpenOptions::new();
    options.read(true).write(true);
    // Making a new file never follows a link that lies at its place.
    match options.clone().create_new(true).open(path) {
        Err(error) if error.kind() == ErrorKind::AlreadyExists => open_plain(path, &options),
        opened => opened,
    }
}

/// A file that is written beside its place, and moved there when it is whole, so that a full
/// disk leaves nothing half written. What was not moved goes.
///
/// ```
/// use hitchwork_collection::folder::UnfinishedFile;
/// let folder = tempfile::tempdir()?;
/// let place = folder.path().join("ebb.txt");
/// let unfinished = UnfinishedFile::whole(&place, b"low water")?;
/// assert!(!place.exists());
/// unfinished.into_place()?;
/// assert_eq!(std::fs::read(&place)?, b"low water");
/// # Ok::<(), std::io::Error>(())
/// ```
#[derive(Debug)]
#[doc(hidden)]
pub struct UnfinishedFile {
    file: fs::File,
    beside: PathBuf,
    place: PathBuf,
}

impl UnfinishedFile {
    /// Begins a file under the name that it has while it is written. What lies there was begun
    /// by a run that died, or is a link that somebody has put there: it goes, and not what it
    /// leads to.
    fn begin(place: &Path) -> io::Result<Self> {
        let name = place.file_name().unwrap_or_default().to_string_lossy();
        Self::called(&format!("{UNFINISHED}{name}"), place)
    }

    /// A file with these bytes, which are on the disk but not yet at their place. Whoever writes
    /// it needs no lock: until it is moved it has a name that no other file has.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn whole(place: &Path, bytes: &[u8]) -> io::Result<Self> {
        static COUNT: AtomicU64 = AtomicU64::new(0);
        let (process, number) = (std::process::id(), COUNT.fetch_add(1, Relaxed));
        let mut unfinished = Self::called(&format!("{UNFINISHED}{process}-{number}"), place)?;
        unfinished.file.write_all(bytes)?;
        unfinished.file.sync_all()?;
        Ok(unfinished)
    }

    fn called(name: &str, place: &Path) -> io::Result<Self> {
        let beside = place.with_file_name(name);
        let new = || {
            let mut options = OpenOptions::new();
            options.write(true).create_new(true).open(&beside)
        };
        let file = match new() {
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {
                fs::remove_file(&beside)?;
                new()?
            }
            begun => begun?,
        };
        Ok(Self {
            file,
            beside,
            place: place.to_owned(),
        })
    }

    /// Moves it to its place, over what lies there.
    ///
    /// # Errors
    /// When it cannot be moved; it is deleted then.
    pub fn into_place(self) -> io::Result<()> {
        // Where that fails, the file still lies beside, and goes.
        fs::rename(&self.beside, &self.place)
    }
}

impl Drop for UnfinishedFile {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.beside);
    }
}

/// Refuses to work where a file of somebody else lies at the place of one of the
/// collection's own.
fn leave_alone(path: &Path, part: Option<Share>, own: Own) -> Result<(), FolderError> {
    let place = path.join(own.name(part));
    let mut beginning = Vec::new();
    let read =
        open_to_read(&place).and_then(|file| file.take(BEGINNING).read_to_end(&mut beginning));
    let why = match read {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        // Nothing can be there where a part of the path is not a folder.
        Err(error) if error.kind() == ErrorKind::NotADirectory => return Ok(()),
        Ok(_) if own.begins_so(&beginning) => return Ok(()),
        Ok(_) => "no collection has made it".to_owned(),
        Err(error) => reason(&error),
    };
    Err(FolderError::new(
        FolderErrorKind::Taken,
        format!("{} is there already: {why}", place.display()),
        "move it away, or choose another folder; nothing was changed",
    ))
}

/// The lock of a folder, held for as long as this lives. All that write files under names of
/// their own choice hold it while they do.
#[doc(hidden)]
#[derive(Debug)]
pub struct Lock {
    _file: fs::File,
}

impl Lock {
    /// So often a lock is asked for that somebody else holds, and so long between.
    const TRIES: u32 = 500;
    const BETWEEN: Duration = Duration::from_millis(20);

    /// Waits some ten seconds until nobody else writes into a folder.
    ///
    /// # Errors
    /// When the lock cannot be opened, or somebody else still holds it.
    ///
    /// ```
    /// use hitchwork_collection::folder::Lock;
    /// let folder = tempfile::tempdir()?;
    /// let lock = Lock::wait_for(folder.path())?;
    /// drop(lock);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn wait_for(folder: &Path) -> Result<Self, FolderError> {
        let place = folder.join(LOCK);
        for _ in 0..Self::TRIES {
            let taken = Self::try_take(&place, false);
            if let Some(lock) = taken.map_err(|error| FolderError::of(&error, "locked", &place))? {
                return Ok(lock);
            }
            std::thread::sleep(Self::BETWEEN);
        }
        Err(busy(folder, "another run is at work"))
    }

    /// Takes a lock, alone or together with others; nothing where somebody else holds it.
    fn try_take(place: &Path, together: bool) -> io::Result<Option<Self>> {
        let file = open_or_make(place)?;
        let taken = match together {
            true => file.try_lock_shared(),
            false => file.try_lock(),
        };
        match taken {
            Ok(()) => Ok(Some(Self { _file: file })),
            Err(TryLockError::WouldBlock) => Ok(None),
            Err(TryLockError::Error(error)) => Err(error),
        }
    }
}

fn busy(folder: &Path, what: &str) -> FolderError {
    FolderError::new(
        FolderErrorKind::Taken,
        format!("{what} in {}", folder.display()),
        "wait for it to end, or choose another folder",
    )
}

/// A folder that nobody else works in.
#[derive(Debug)]
pub(crate) struct LockedFolder {
    path: PathBuf,
    part: Option<Share>,
    /// Held for as long as the folder is.
    _locks: Vec<Lock>,
}

impl LockedFolder {
    /// Takes a folder for oneself, making it if need be; those who make shares take it
    /// together.
    pub(crate) fn take(path: &Path, part: Option<Share>) -> Result<Self, FolderError> {
        if path.exists() && !path.is_dir() {
            return Err(FolderError::new(
                FolderErrorKind::Taken,
                format!("{} is a file, and a collection is a folder", path.display()),
                "choose another folder",
            ));
        }
        let owned: &[Own] = match part {
            None => &[Own::Manifest, Own::Table, Own::Gallery, Own::Journal],
            Some(_) => &[Own::Manifest, Own::Journal],
        };
        for own in owned {
            leave_alone(path, part, *own)?;
        }
        fs::create_dir_all(path).map_err(|error| FolderError::of(&error, "made", path))?;
        let take = |suffix: &str, together: bool, what: &str| {
            let place = path.join(format!("{LOCK}{suffix}"));
            let taken = Lock::try_take(&place, together);
            taken
                .map_err(|error| FolderError::of(&error, "locked", &place))?
                .ok_or_else(|| busy(path, what))
        };
        let mut locks = vec![take("", part.is_some(), "another run is at work")?];
        if part.is_some() {
            let what = "another run is at work on this share";
            locks.push(take(&Share::suffix(part), false, what)?);
        }
        Ok(Self {
            path: path.to_owned(),
            part,
            _locks: locks,
        })
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    pub(crate) fn own(&self, own: Own) -> PathBuf {
        self.path.join(own.name(self.part))
    }

    /// Where a file of a member lies.
    pub(crate) fn place(&self, path: &str) -> PathBuf {
        self.path.join(path)
    }

    /// Writes the files of a member, each whole or not at all.
    pub(crate) fn write(&self, files: &[(String, Vec<u8>)]) -> Result<(), FolderError> {
        for (path, bytes) in files {
            let place = self.place(path);
            let Some(folder) = place.parent() else {
                continue;
            };
            plain_folder(folder)?;
            let written = UnfinishedFile::begin(&place).and_then(|mut beside| {
                beside.file.write_all(bytes)?;
                beside.into_place()
            });
            written.map_err(|error| FolderError::of(&error, "written", &place))?;
        }
        Ok(())
    }

    /// What lies at the place of a file that is to be written. The beginning of it, with
    /// nothing or zeros behind, is what a loss of power leaves, and counts as nothing.
    pub(crate) fn found(&self, path: &str, bytes: &[u8]) -> Occupant {
        let place = self.place(path);
        // Where its folder is none or a link, writing says so.
        if !lies_inside(&self.path, path) {
            return Occupant::Nothing;
        }
        let Ok(found) = fs::symlink_metadata(&place) else {
            return Occupant::Nothing;
        };
        if !found.is_file() || found.len() > bytes.len() as u64 {
            return Occupant::Another;
        }
        match fs::read(&place) {
            Ok(found) if found == bytes => Occupant::These,
            Ok(found) if is_remnant(&found, bytes) => Occupant::Nothing,
            _ => Occupant::Another,
        }
    }

    /// Whether anything lies at the place of a file of a member.
    pub(crate) fn has(&self, path: &str) -> bool {
        lies_inside(&self.path, path) && fs::symlink_metadata(self.place(path)).is_ok()
    }

    /// Takes away what an earlier run had begun to write for a member.
    pub(crate) fn clear_unfinished(&self, member: &str) {
        let folder = self.path.join(member);
        if !fs::symlink_metadata(&folder).is_ok_and(|found| found.is_dir()) {
            return;
        }
        let entries = fs::read_dir(folder).into_iter().flatten().flatten();
        for entry in entries {
            if entry.file_name().to_string_lossy().starts_with(UNFINISHED) {
                let _ = fs::remove_file(entry.path());
            }
        }
    }

    /// Writes a file of the collection itself, to the disk and then into its place.
    pub(crate) fn replace(
        &self,
        own: Own,
        write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<(), FolderError> {
        let place = self.own(own);
        let refused = |error: io::Error| FolderError::of(&error, "written", &place);
        let begun = UnfinishedFile::begin(&place).and_then(|beside| {
            let mut file = io::BufWriter::new(&beside.file);
            write(&mut file)?;
            file.flush()?;
            drop(file);
            beside.file.sync_all()?;
            Ok(beside)
        });
        let outcome = begun.map_err(refused).and_then(|beside| {
            // Somebody may have put a file of theirs there while the members were made.
            leave_alone(&self.path, self.part, own)?;
            beside.into_place().map_err(refused)
        });
        // The folder's own entry; not every system can bring that to the disk by itself.
        let _ = fs::File::open(&self.path).and_then(|folder| folder.sync_all());
        outcome
    }
}

/// What lies at the place of a file that is to be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Occupant {
    /// Nothing, or what a loss of power has left of the file.
    Nothing,
    /// The very bytes of it: also a run that died before it could say so has written them.
    These,
    /// Something else.
    Another,
}

/// Whether bytes are the beginning of others, with nothing or zeros behind.
fn is_remnant(found: &[u8], bytes: &[u8]) -> bool {
    let both = found.iter().zip(bytes);
    let same = both.take_while(|(found, byte)| found == byte).count();
    found[same..].iter().all(|byte| *byte == 0)
}

/// Makes a folder, unless there is one; a link to one does not count.
pub(crate) fn plain_folder(folder: &Path) -> Result<(), FolderError> {
    match fs::symlink_metadata(folder) {
        Ok(found) if found.is_dir() => Ok(()),
        Ok(_) => Err(FolderError::new(
            FolderErrorKind::Other,
            format!("{} is in the way: it is not a folder", folder.display()),
            "move it away, or give the item another name in the plan",
        )),
        Err(_) => {
            fs::create_dir_all(folder).map_err(|error| FolderError::of(&error, "made", folder))
        }
    }
}

/// Where a path leads, over links and as far as it is there already.
pub(crate) fn real(path: &Path) -> PathBuf {
    let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let found = whole.ancestors().find_map(|above| {
        let below = whole.strip_prefix(above).ok()?;
        Some(above.canonicalize().ok()?.join(below))
    });
    found.unwrap_or(whole)
}

/// Moves a file. From one disk to another it is copied beside its place first, so that it is
/// whole wherever it is.
pub(crate) fn move_file(from: &Path, to: &Path) -> io::Result<()> {
    match fs::rename(from, to) {
        Err(error) if error.kind() == ErrorKind::CrossesDevices => {}
        moved => return moved,
    }
    let copied = open_to_read(from).and_then(|mut from| {
        let mut beside = UnfinishedFile::begin(to)?;
        io::copy(&mut from, &mut beside.file)?;
        beside.file.sync_all()?;
        beside.into_place()
    });
    copied.and_then(|()| fs::remove_file(from))
}

/// Whether a file is what its record says.
pub(crate) fn holds(folder: &Path, file: &RecordedFile) -> bool {
    open_member(folder, file)
        .is_ok_and(|opened| sha256_of(opened).is_ok_and(|digest| digest == file.sha256))
}

/// The bytes of a file that is what its record says.
pub(crate) fn bytes_of(folder: &Path, file: &RecordedFile) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open_member(folder, file)?
        .take(file.bytes)
        .read_to_end(&mut bytes)?;
    match sha256(&bytes) == file.sha256 {
        true => Ok(bytes),
        false => Err(io::Error::other("it is not what was written there")),
    }
}

/// Opens a file of a member that has the length of its record, and lies in a folder and
/// behind no link.
fn open_member(folder: &Path, file: &RecordedFile) -> io::Result<fs::File> {
    if !lies_inside(folder, &file.path) {
        return Err(io::Error::other("it leads out of the collection"));
    }
    let opened = open_to_read(&folder.join(&file.path))?;
    match opened.metadata()?.len() == file.bytes {
        true => Ok(opened),
        false => Err(io::Error::other("it is not what was written there")),
    }
}

/// Whether a path leads to a file of a member and nowhere else.
pub(crate) fn stays_inside(path: &str) -> bool {
    let path = Path::new(path);
    path.components().count() == 2
        && path
            .components()
            .all(|part| matches!(part, Component::Normal(_)))
}

/// Whether a path leads to a file of a member by its words, and over no link on the disk.
pub(crate) fn lies_inside(folder: &Path, path: &str) -> bool {
    let place = folder.join(path);
    let above = place.parent().map(fs::symlink_metadata);
    stays_inside(path) && above.is_some_and(|above| above.is_ok_and(|above| above.is_dir()))
}

/// The first line of every journal.
fn journal_head() -> String {
    proved(&format!("{{\"journal\":\"{FORMAT}\"}}"))
}

/// A line of a journal with its digest behind, so that it is seen when it was changed.
fn proved(line: &str) -> String {
    format!("{line}\t{}\n", sha256(line.as_bytes()))
}

/// A file with one record to a line, which grows at its end.
#[derive(Debug)]
pub(crate) struct Journal {
    file: fs::File,
    path: PathBuf,
    end: u64,
}

impl Journal {
    /// Opens or begins a journal; a last line that was not finished is dropped.
    pub(crate) fn open(path: &Path) -> Result<Self, FolderError> {
        let refused = |error: io::Error| FolderError::of(&error, "written", path);
        let mut file = open_or_make(path).map_err(refused)?;
        if has_other_names(&file.metadata().map_err(refused)?) {
            return Err(FolderError::new(
                FolderErrorKind::Other,
                format!(
                    "{} has a second name elsewhere (a hard link), under which it would change too",
                    path.display()
                ),
                "put a copy of it in its place, or move it away",
            ));
        }
        let end = whole_lines(&mut file).map_err(refused)?;
        file.set_len(end).map_err(refused)?;
        let mut journal = Self {
            file,
            path: path.to_owned(),
            end,
        };
        if journal.end == 0 {
            journal.write(&journal_head())?;
        }
        Ok(journal)
    }

    /// Adds a line, and says where it begins.
    pub(crate) fn add(&mut self, line: &str) -> Result<u64, FolderError> {
        self.write(&proved(line))
    }

    fn write(&mut self, line: &str) -> Result<u64, FolderError> {
        let refused = |error: io::Error| FolderError::of(&error, "written", &self.path);
        let begins = self.end;
        self.file.seek(SeekFrom::Start(begins)).map_err(refused)?;
        self.file.write_all(line.as_bytes()).map_err(refused)?;
        self.end += line.len() as u64;
        Ok(begins)
    }
}

#[cfg(unix)]
fn has_other_names(file: &fs::Metadata) -> bool {
    std::os::unix::fs::MetadataExt::nlink(file) > 1
}

#[cfg(not(unix))]
fn has_other_names(_: &fs::Metadata) -> bool {
    false
}

/// The longest line of a journal or a manifest that is read; a longer one is damage.
const MOST_LINE_BYTES: usize = 64 << 20;

/// Reads a line with its end, and says how many bytes it has; none at the end of all. Of one
/// that is too long nothing is kept.
pub(crate) fn read_line(from: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<u64> {
    line.clear();
    let (mut count, mut ended) = (0, false);
    while !ended {
        let some = from.fill_buf()?;
        if some.is_empty() {
            break;
        }
        let end = some.iter().position(|byte| *byte == b'\n');
        ended = end.is_some();
        let some = &some[..end.map_or(some.len(), |end| end + 1)];
        if count + some.len() <= MOST_LINE_BYTES {
            line.extend_from_slice(some);
        } else {
            *line = Vec::new();
        }
        count += some.len();
        let taken = some.len();
        from.consume(taken);
    }
    Ok(count as u64)
}

/// Where the last whole line of a file ends.
fn whole_lines(file: &mut fs::File) -> io::Result<u64> {
    file.seek(SeekFrom::Start(0))?;
    let length = file.metadata()?.len();
    let mut reader = BufReader::new(file);
    let (mut end, mut line) = (0, Vec::new());
    loop {
        let count = read_line(&mut reader, &mut line)?;
        let cut = end + count == length && line.last() != Some(&b'\n');
        if count == 0 || cut {
            return Ok(end);
        }
        end += count;
    }
}

/// Calls for every line that holds data of a kind, with the place where it begins, and with
/// whether it is proved by a digest of its own; what is not such a line is passed over. The
/// lines of a manifest have commas at their ends, and are proved all together.
pub(crate) fn for_each_line<T: serde::de::DeserializeOwned>(
    from: &mut impl BufRead,
    mut each: impl FnMut(u64, bool, T),
) -> io::Result<()> {
    let (mut begins, mut line) = (0, Vec::new());
    loop {
        let count = read_line(from, &mut line)?;
        if count == 0 {
            return Ok(());
        }
        let (data, digest) = parted(&line);
        let proved = digest.is_some_and(|digest| digest == sha256(data).as_bytes());
        if let Ok(data) = serde_json::from_slice(data) {
            each(begins, proved, data);
        }
        begins += count;
    }
}

/// The data of a line, and the digest behind it if there is one.
fn parted(line: &[u8]) -> (&[u8], Option<&[u8]>) {
    let line = line.trim_ascii();
    // Data has no tab: in words it is written \t.
    match line.iter().rposition(|byte| *byte == b'\t') {
        Some(tab) => (&line[..tab], Some(&line[tab + 1..])),
        None => (line.strip_suffix(b",").unwrap_or(line), None),
    }
}

/// The record in the line that begins at a place.
pub(crate) fn record_at<F: Read + Seek>(file: &mut F, begins: u64) -> io::Result<Record> {
    file.seek(SeekFrom::Start(begins))?;
    let mut line = Vec::new();
    read_line(&mut BufReader::new(file), &mut line)?;
    serde_json::from_slice(parted(&line).0).map_err(io::Error::from)
}
