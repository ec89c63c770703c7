//! The one way in for files that people write: rules and their tests, plans, palettes, stashes
//! and band files.
//!
//! All are read in the same manner: ordinary files only, so that a pipe or a device keeps
//! nobody waiting; whole or not at all, with the most bytes that the [`FileKind`] may have; as
//! UTF-8, with or without a byte order mark (or as UTF-16 with one), whatever ends the lines.

use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use hitchwork_core::{colour, file, text};

use crate::limits::MAX_RULE_BYTES;

/// What kind of file is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum FileKind {
    /// A rule.
    Rule,
    /// The tests of a rule.
    Tests,
    /// The plan of a collection.
    Plan,
    /// A palette of your own.
    Palette,
    /// The threads that one owns.
    Stash,
    /// A band file.
    BandFile,
    /// A picture.
    Picture,
}

impl FileKind {
    /// The most bytes that such a file may have.
    ///
    /// ```
    /// use hitchwork_rules::load::FileKind;
    /// assert_eq!(FileKind::Rule.most_bytes(), 256 << 10);
    /// ```
    #[must_use]
    pub const fn most_bytes(self) -> usize {
        match self {
            Self::Rule => MAX_RULE_BYTES,
            Self::Tests | Self::Plan => 1 << 20,
            Self::Palette | Self::Stash => colour::MAX_LIST_BYTES,
            Self::BandFile => file::MAX_BYTES,
            Self::Picture => 8 << 20,
        }
    }

    /// What to do about a file that is too long.
    #[must_use]
    pub const fn shorter(self) -> &'static str {
        match self {
            Self::Rule => "a rule is a short text; long tables of knots belong in a band file",
            Self::Tests => "test both ends of every setting, not every value",
            Self::Plan => "let ranges and lists say what comes again and again",
            Self::Palette => "keep the colours that the gradient is to pass through",
            Self::Stash => "give only the threads that you own, one a line",
            Self::BandFile => "tie a shorter repeat more often",
            Self::Picture => "shrink it first, to a few hundred pixels across",
        }
    }

    /// The words that refuse a file for its length.
    #[must_use]
    pub fn too_long(self, shown: &str) -> String {
        let kilobytes = self.most_bytes() >> 10;
        match kilobytes >> 10 {
            0 => format!("{shown} is longer than {kilobytes} KB"),
            megabytes => format!("{shown} is longer than {megabytes} MB"),
        }
    }
}

/// Why a file was not read. As text it says what is wrong, complete in one line.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct Unread {
    message: String,
    help: String,
    missing: bool,
}

impl Unread {
    /// What to do about it.
    #[must_use]
    pub fn help(&self) -> &str {
        &self.help
    }

    /// Whether there is no such file.
    #[must_use]
    pub const fn is_missing(&self) -> bool {
        self.missing
    }

    fn new(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            help: help.into(),
            missing: false,
        }
    }

    fn of(error: &io::Error, shown: &str) -> Self {
        Self {
            missing: error.kind() == ErrorKind::NotFound,
            ..Self::new(
                format!("{shown} cannot be read: {}", reason(error)),
                "check the path",
            )
        }
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
        ErrorKind::NotADirectory => "part of the path is a file, not a folder".to_owned(),
        ErrorKind::IsADirectory => "it is a folder, not a file".to_owned(),
        ErrorKind::AlreadyExists => "there is already something of that name".to_owned(),
        _ => error.to_string(),
    }
}

/// The bytes of a file, which messages call `shown`.
///
/// ```
/// use hitchwork_rules::load::{FileKind, bytes};
/// let place = tempfile::tempdir()?;
/// let file = place.path().join("class.csv");
/// std::fs::write(&file, "name,colour")?;
/// assert_eq!(bytes(&file, "class.csv", FileKind::Palette)?, b"name,colour");
/// assert!(bytes(&place.path().join("none.csv"), "none.csv", FileKind::Palette).unwrap_err().is_missing());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When there is no such file, it may not be read, is not an ordinary file, or is longer than its
/// kind may be.
pub fn bytes(path: &Path, shown: &str, kind: FileKind) -> Result<Vec<u8>, Unread> {
    let unread = |error: &io::Error| Unread::of(error, shown);
    // Looked at before it is opened, for opening alone already makes some devices act; and
    // once more when it is open, for another may lie there by then.
    let found = std::fs::metadata(path).map_err(|error| unread(&error))?;
    ordinary(&found, shown)?;
    let file = open(path).map_err(|error| unread(&error))?;
    let found = file.metadata().map_err(|error| unread(&error))?;
    ordinary(&found, shown)?;
    let most = kind.most_bytes() as u64;
    let mut bytes = Vec::new();
    if found.len() <= most {
        // It may grow while it is read: one byte more than is allowed shows that.
        file.take(most + 1)
            .read_to_end(&mut bytes)
            .map_err(|error| unread(&error))?;
    }
    match found.len().max(bytes.len() as u64) > most {
        true => Err(Unread::new(kind.too_long(shown), kind.shorter())),
        false => Ok(bytes),
    }
}

/// The text of a file, which messages call `shown`, without a byte order mark.
///
/// ```
/// use hitchwork_rules::load::{FileKind, text};
/// let place = tempfile::tempdir()?;
/// let file = place.path().join("ebb.rhai");
/// // Saved with a byte order mark.
/// std::fs::write(&file, "\u{feff}band(4)")?;
/// assert_eq!(text(&file, "ebb.rhai", FileKind::Rule)?, "band(4)");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// As [`bytes`], and when it is not a text.
pub fn text(path: &Path, shown: &str, kind: FileKind) -> Result<String, Unread> {
    let bytes = bytes(path, shown, kind)?;
    let text = text::decoded(&bytes).map_err(|error| {
        Unread::new(
            format!("{shown}: {error}"),
            error.help().unwrap_or_default(),
        )
    })?;
    Ok(text.into_owned())
}

fn ordinary(found: &Metadata, shown: &str) -> Result<(), Unread> {
    if found.is_dir() {
        return Err(Unread::of(&ErrorKind::IsADirectory.into(), shown));
    }
    if !found.is_file() {
        return Err(Unread::new(
            format!("{shown} cannot be read: it is a pipe or a device, not a file"),
            "save what comes out of it into a file first, and give that",
        ));
    }
    Ok(())
}

/// Opens a file for reading, without waiting for whoever is at the other end of a pipe.
fn open(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::custom_flags(&mut options, libc::O_NONBLOCK);
    options.open(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_too_long_is_refused_and_never_cut() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("gulls.rhai");
        for kind in [FileKind::Rule, FileKind::Tests, FileKind::Plan] {
            let longest = vec![b' '; kind.most_bytes()];
            std::fs::write(&path, &longest).expect("written");
            assert_eq!(bytes(&path, "gulls", kind), Ok(longest.clone()));
            std::fs::write(&path, [&longest[..], b" "].concat()).expect("written");
            let refused = bytes(&path, "gulls", kind).expect_err("too long");
            assert!(refused.to_string().starts_with("gulls is longer than "));
        }
        for kind in [FileKind::Palette, FileKind::Stash, FileKind::BandFile] {
            let file = File::create(&path).expect("written");
            file.set_len(kind.most_bytes() as u64 + 1).expect("grown");
            let refused = bytes(&path, "gulls", kind).expect_err("too long");
            assert_eq!(refused.to_string(), "gulls is longer than 64 MB");
        }
    }

    #[test]
    fn a_text_is_the_same_with_and_without_a_mark() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("ebb.rhai");
        let wide = |mark: u16, unit: fn(u16) -> [u8; 2]| {
            let units = std::iter::once(mark).chain("bänd".encode_utf16());
            units.flat_map(unit).collect::<Vec<u8>>()
        };
        for bytes in [
            "bänd".as_bytes().to_vec(),
            "\u{feff}bänd".as_bytes().to_vec(),
            wide(0xfeff, u16::to_le_bytes),
            wide(0xfeff, u16::to_be_bytes),
        ] {
            std::fs::write(&path, bytes).expect("written");
            assert_eq!(text(&path, "ebb", FileKind::Rule).as_deref(), Ok("bänd"));
        }
        std::fs::write(&path, b"one\rtwo\r\nthree\n").expect("written");
        let lines = text(&path, "ebb", FileKind::Rule);
        assert_eq!(lines.as_deref(), Ok("one\ntwo\r\nthree\n"));
        let unmarked = wide(u16::from_le_bytes(*b"x\n"), u16::to_le_bytes);
        std::fs::write(&path, unmarked).expect("written");
        let refused = text(&path, "ebb", FileKind::Rule).expect_err("which of two it is");
        assert_eq!(
            refused.to_string(),
            "ebb: line 2 holds a zero byte, which no text has: the file may be UTF-16 without a byte order mark"
        );
        std::fs::write(&path, b"one\nr\xe9d").expect("written");
        let refused = text(&path, "ebb", FileKind::Rule).expect_err("Latin-1");
        assert_eq!(
            refused.to_string(),
            "ebb: line 2 holds a character that is not UTF-8"
        );
    }

    #[test]
    fn a_file_that_is_not_there_is_told_from_one_that_cannot_be_read() {
        let folder = tempfile::tempdir().expect("a folder");
        let missing =
            bytes(&folder.path().join("none"), "none", FileKind::Plan).expect_err("missing");
        assert!(missing.is_missing());
        let of_folder = bytes(folder.path(), "rules", FileKind::Plan).expect_err("a folder");
        assert!(!of_folder.is_missing());
        assert_eq!(
            of_folder.to_string(),
            "rules cannot be read: it is a folder, not a file"
        );
    }

    #[cfg(unix)]
    #[test]
    fn pipes_and_devices_are_refused_at_once() {
        let folder = tempfile::tempdir().expect("a folder");
        let pipe = folder.path().join("pipe.rhai");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status();
        assert!(made.expect("mkfifo starts").success());
        let zeros = folder.path().join("zeros.rhai");
        std::os::unix::fs::symlink("/dev/zero", &zeros).expect("a link");
        for path in [pipe, zeros] {
            let refused = bytes(&path, "it", FileKind::Rule).expect_err("no file");
            assert_eq!(
                refused.to_string(),
                "it cannot be read: it is a pipe or a device, not a file"
            );
        }
    }
}
