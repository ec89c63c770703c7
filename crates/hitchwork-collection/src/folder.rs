//! The folder of a collection: its lock, its journal, and files that are written whole or
//! not at all.
//!
//! A file is written beside its place and moved there; a member is done when its record
//! stands in the journal. What a record says is believed only where the files are what it
//! says, by length and digest: so it does not matter in which order a dying machine has
//! brought files and journal to the disk.

use std::fs::{self, OpenOptions, TryLockError};
use std::io::{self, BufRead, BufReader, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Component, Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::record::{File, Record};

/// What files are called while they are being written.
const UNFINISHED: &str = ".hitchwork-";

pub(crate) const LOCK: &str = ".hitchwork-lock";

/// Why a folder could not be worked in.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
pub struct FolderError {
    message: String,
    help: String,
}

impl FolderError {
    pub(crate) fn new(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            help: help.into(),
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn help(&self) -> &str {
        &self.help
    }

    fn of(error: &io::Error, doing: &str, path: &Path) -> Self {
        Self::new(
            format!("{} cannot be {doing}: {}", path.display(), reason(error)),
            "what was finished before is whole; mend this, and run the same command again to go on",
        )
    }
}

/// Why a file or folder could not be read or written, in words for its owner.
#[must_use]
pub fn reason(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        ErrorKind::PermissionDenied => "you are not allowed to".to_owned(),
        ErrorKind::ReadOnlyFilesystem => "that disk is read-only".to_owned(),
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "the disk is full".to_owned(),
        ErrorKind::NotADirectory => "a part of the path is a file, not a folder".to_owned(),
        ErrorKind::IsADirectory => "it is a folder, not a file".to_owned(),
        ErrorKind::AlreadyExists => "something of that name is there already".to_owned(),
        _ => error.to_string(),
    }
}

/// Which share of a collection is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    /// The number of the share, from 1.
    pub number: u32,
    /// How many shares there are.
    pub of: u32,
}

impl Part {
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
pub fn manifest_name(part: Option<Part>) -> String {
    format!("collection{}.json", Part::suffix(part))
}

/// A folder that nobody else works in.
#[derive(Debug)]
pub(crate) struct Folder {
    path: PathBuf,
    part: Option<Part>,
    /// Held for as long as the folder is.
    _locks: Vec<fs::File>,
}

impl Folder {
    /// Takes a folder for oneself, making it if need be; those who make shares take it
    /// together.
    pub(crate) fn take(path: &Path, part: Option<Part>) -> Result<Self, FolderError> {
        if path.exists() && !path.is_dir() {
            return Err(FolderError::new(
                format!("{} is a file, and a collection is a folder", path.display()),
                "choose another folder with --out",
            ));
        }
        fs::create_dir_all(path).map_err(|error| FolderError::of(&error, "made", path))?;
        let open = |name: String| {
            let place = path.join(name);
            let file = OpenOptions::new()
                .create(true)
                .truncate(false)
                .write(true)
                .open(&place);
            file.map_err(|error| FolderError::of(&error, "opened", &place))
        };
        let all = open(LOCK.to_owned())?;
        let mut locks = Vec::new();
        let taken = match part {
            None => all.try_lock(),
            Some(_) => all.try_lock_shared(),
        };
        let busy = |locked: Result<(), TryLockError>, what: &str| match locked {
            Ok(()) => Ok(()),
            Err(TryLockError::WouldBlock) => Err(FolderError::new(
                format!("{what} in {}", path.display()),
                "wait for it to end, or choose another folder with --out",
            )),
            Err(TryLockError::Error(error)) => Err(FolderError::of(&error, "locked", path)),
        };
        busy(taken, "another run is at work")?;
        locks.push(all);
        if part.is_some() {
            let own = open(format!("{LOCK}{}", Part::suffix(part)))?;
            busy(own.try_lock(), "another run is at work on this share")?;
            locks.push(own);
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

    pub(crate) fn manifest(&self) -> PathBuf {
        self.path.join(manifest_name(self.part))
    }

    pub(crate) fn journal(&self) -> PathBuf {
        self.path
            .join(format!("collection{}.journal", Part::suffix(self.part)))
    }

    /// Where a file of a member lies.
    pub(crate) fn place(&self, path: &str) -> PathBuf {
        self.path.join(path)
    }

    /// Writes the files of a member, each whole or not at all.
    pub(crate) fn write(&self, files: &[(String, Vec<u8>)]) -> Result<(), FolderError> {
        for (path, bytes) in files {
            let place = self.place(path);
            let Some((folder, name)) = place.parent().zip(place.file_name()) else {
                continue;
            };
            match fs::symlink_metadata(folder) {
                Ok(found) if found.is_dir() => {}
                Ok(_) => {
                    return Err(FolderError::new(
                        format!("{} is in the way: it is no folder", folder.display()),
                        "move it away, or give the item another name in the plan",
                    ));
                }
                Err(_) => fs::create_dir_all(folder)
                    .map_err(|error| FolderError::of(&error, "made", folder))?,
            }
            let beside = folder.join(format!("{UNFINISHED}{}", name.to_string_lossy()));
            let written = fs::write(&beside, bytes).and_then(|()| fs::rename(&beside, &place));
            if let Err(error) = written {
                let _ = fs::remove_file(&beside);
                return Err(FolderError::of(&error, "written", &place));
            }
        }
        Ok(())
    }

    /// Says so where a file is in the way that this collection has not made. What lies at
    /// the place of a new file and has the very bytes of it was written by a run that died
    /// before it could say so; its beginning, with nothing or zeros behind, is what a loss of
    /// power leaves of one.
    pub(crate) fn of_others(&self, path: &str, bytes: &[u8]) -> Option<String> {
        let place = self.place(path);
        let found = fs::symlink_metadata(&place).ok()?;
        let ours = found.is_file()
            && fs::read(&place).is_ok_and(|found| {
                let both = found.iter().zip(bytes);
                let same = both.take_while(|(found, byte)| found == byte).count();
                found[same..].iter().all(|byte| *byte == 0)
            });
        let why = format!(
            "{} is there already, and this collection has not made it",
            place.display()
        );
        (!ours).then_some(why)
    }

    /// Takes away what an earlier run had begun to write for a member.
    pub(crate) fn clear_unfinished(&self, member: &str) {
        let entries = fs::read_dir(self.path.join(member))
            .into_iter()
            .flatten()
            .flatten();
        for entry in entries {
            if entry.file_name().to_string_lossy().starts_with(UNFINISHED) {
                let _ = fs::remove_file(entry.path());
            }
        }
    }

    /// Writes a file of the collection itself, to the disk and then into its place.
    pub(crate) fn replace(
        &self,
        place: &Path,
        write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<(), FolderError> {
        let name = place.file_name().unwrap_or_default().to_string_lossy();
        let beside = self.path.join(format!("{UNFINISHED}{name}"));
        let outcome = (|| {
            let mut file = io::BufWriter::new(fs::File::create(&beside)?);
            write(&mut file)?;
            file.flush()?;
            file.get_ref().sync_all()?;
            fs::rename(&beside, place)
        })();
        outcome.map_err(|error| {
            let _ = fs::remove_file(&beside);
            FolderError::of(&error, "written", place)
        })?;
        // The folder's own entry; not every system can bring that to the disk by itself.
        let _ = fs::File::open(&self.path).and_then(|folder| folder.sync_all());
        Ok(())
    }
}

/// Whether a file is what its record says.
pub(crate) fn holds(folder: &Path, file: &File) -> bool {
    if !stays_inside(&file.path) {
        return false;
    }
    let place = folder.join(&file.path);
    let right_length =
        fs::metadata(&place).is_ok_and(|found| found.is_file() && found.len() == file.bytes);
    right_length && digest(&place).is_ok_and(|digest| digest == file.sha256)
}

/// Whether a path leads to a file of a member and nowhere else.
pub(crate) fn stays_inside(path: &str) -> bool {
    let path = Path::new(path);
    path.components().count() == 2
        && path
            .components()
            .all(|part| matches!(part, Component::Normal(_)))
}

/// The SHA-256 of a file.
pub(crate) fn digest(path: &Path) -> io::Result<String> {
    let mut file = fs::File::open(path)?;
    let mut hasher = Sha256::new();
    let mut buffer = vec![0; 1 << 16];
    loop {
        let count = file.read(&mut buffer)?;
        if count == 0 {
            return Ok(format!("{:x}", hasher.finalize()));
        }
        hasher.update(&buffer[..count]);
    }
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
        let mut options = OpenOptions::new();
        let file = options
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path);
        let mut file = file.map_err(refused)?;
        let end = whole_lines(&mut file).map_err(refused)?;
        file.set_len(end).map_err(refused)?;
        Ok(Self {
            file,
            path: path.to_owned(),
            end,
        })
    }

    /// Adds a line, and says where it begins.
    pub(crate) fn add(&mut self, line: &str) -> Result<u64, FolderError> {
        let refused = |error: io::Error| FolderError::of(&error, "written", &self.path);
        let begins = self.end;
        self.file.seek(SeekFrom::Start(begins)).map_err(refused)?;
        let bytes = format!("{line}\n");
        self.file.write_all(bytes.as_bytes()).map_err(refused)?;
        self.end += bytes.len() as u64;
        Ok(begins)
    }
}

/// Where the last whole line of a file ends.
fn whole_lines(file: &mut fs::File) -> io::Result<u64> {
    let mut reader = BufReader::new(file);
    let (mut end, mut line) = (0, Vec::new());
    loop {
        line.clear();
        let count = reader.read_until(b'\n', &mut line)?;
        if count == 0 || line.last() != Some(&b'\n') {
            return Ok(end);
        }
        end += count as u64;
    }
}

/// Calls for every line of a file that holds data of a kind, with the place where it begins;
/// what is no such line is passed over. Commas at the ends of lines do not matter.
pub(crate) fn for_each_line<T: serde::de::DeserializeOwned>(
    path: &Path,
    mut each: impl FnMut(u64, T),
) -> io::Result<()> {
    let file = match fs::File::open(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        opened => opened?,
    };
    let mut reader = BufReader::new(file);
    let (mut begins, mut line) = (0, Vec::new());
    loop {
        line.clear();
        let count = reader.read_until(b'\n', &mut line)?;
        if count == 0 {
            return Ok(());
        }
        if let Ok(data) = serde_json::from_slice(trimmed(&line)) {
            each(begins, data);
        }
        begins += count as u64;
    }
}

fn trimmed(line: &[u8]) -> &[u8] {
    let line = line.trim_ascii();
    line.strip_suffix(b",").unwrap_or(line)
}

/// The record in the line that begins at a place.
pub(crate) fn record_at(file: &mut fs::File, begins: u64) -> io::Result<Record> {
    file.seek(SeekFrom::Start(begins))?;
    let mut line = Vec::new();
    BufReader::new(file).read_until(b'\n', &mut line)?;
    serde_json::from_slice(trimmed(&line)).map_err(io::Error::from)
}
