//! Where a rule finds the other rules that it uses, and the pictures and fonts.

use std::collections::BTreeMap;
use std::fmt::Debug;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::load::{self, FileKind, Unread};
use crate::picture_file::picture_endings;

/// At most this many entries of a folder are looked at for a name that is near.
const MOST_NAMES: usize = 2_000;

/// The text of a rule that another rule uses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// What messages call it: its file.
    pub file: String,
    /// Its text.
    pub text: String,
}

/// What is answered to whoever asks for a rule: its text, nothing where there is none, or why
/// it may not or cannot be used.
pub type Answer = Result<Option<Source>, SourceError>;

/// What lies in a file beside a rule: a picture or a font.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileSource {
    /// What messages call it.
    pub file: String,
    /// Its bytes.
    pub bytes: Arc<[u8]>,
}

/// What is answered to whoever asks for such a file: its bytes, nothing where there is none, or
/// why it may not or cannot be used.
pub type FileAnswer = Result<Option<FileSource>, SourceError>;

const FONT_ENDING: &str = "bdf";

/// How the names of files end that a rule may read: pictures, and last a font.
fn endings() -> impl Iterator<Item = &'static str> {
    picture_endings().chain([FONT_ENDING])
}

fn endings_in_words() -> String {
    endings().collect::<Vec<_>>().join(", ")
}

/// Why a rule may not or cannot be used. As text it says so, complete in one line.
///
/// ```
/// use hitchwork_rules::{Folder, SourceError, Sources};
/// let folder = Folder::new("rules");
/// assert_eq!(folder.source("../elsewhere"), Err(SourceError::NotAName));
/// let locked = SourceError::from("the chest is locked");
/// assert_eq!(locked.to_string(), "the chest is locked");
/// ```
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SourceError {
    /// What was asked for cannot be the name of a rule.
    #[error("a rule is called by a plain name")]
    NotAName,
    /// The rule lies outside of the place in which rules are looked for.
    #[error("{file} leads out of the rule's own folder")]
    LeadsOut {
        /// Its file, as messages call it.
        file: String,
    },
    /// There is a link of that name, and nothing where it leads.
    #[error("{file} is a link to something that is not there")]
    LeadsNowhere {
        /// The link, as messages call it.
        file: String,
    },
    /// What was asked for cannot be the name of a file beside a rule.
    #[error(
        "a file beside a rule is called by plain words and one of the endings {}",
        endings_in_words()
    )]
    NotAFileName,
    /// Its file cannot be read, or is longer than it may be.
    #[error(transparent)]
    Unread(#[from] Unread),
    /// Anything else, said in a sentence.
    #[error("{0}")]
    Other(String),
}

impl From<String> for SourceError {
    fn from(why: String) -> Self {
        Self::Other(why)
    }
}

impl From<&str> for SourceError {
    fn from(why: &str) -> Self {
        Self::Other(why.to_owned())
    }
}

/// A place in which rules lie by their names.
///
/// The rules of your own place come before those of the built-in library, which every
/// rule finds. Implement it to keep rules in memory or in a database; [`Folder`] keeps
/// them in files.
///
/// ```
/// use hitchwork_rules::{Answer, Rules, Settings, Source, Sources};
///
/// #[derive(Debug)]
/// struct Mooring;
/// impl Sources for Mooring {
///     fn source(&self, name: &str) -> Answer {
///         let text = "band(4).repeat(forward(1..4))".to_owned();
///         Ok((name == "rope").then(|| Source { file: "rope".to_owned(), text }))
///     }
/// }
///
/// let rules = Rules::new();
/// let rule = rules.compile("moored", r#"rule("rope").beside(rule("rope"))"#)?;
/// let made = rules.make(&rule.finding(Mooring), &Settings::new())?;
/// assert_eq!(made.band.thread_count(), 8);
/// # Ok::<(), hitchwork_rules::Error>(())
/// ```
pub trait Sources: Debug + Send + Sync {
    /// The rule of that name, or nothing where there is none.
    ///
    /// # Errors
    /// When there is one that may not or cannot be used: why, in a sentence.
    fn source(&self, name: &str) -> Answer;

    /// Names that can be offered where one is misspelt; none if they cannot be listed.
    fn names(&self) -> Vec<String> {
        Vec::new()
    }

    /// The picture or the font in the file of that name, or nothing where there is none; its name
    /// has its ending, such as `anchor.png`. Without it there are no such files.
    ///
    /// ```
    /// use hitchwork_rules::{Answer, FileAnswer, FileSource, Rules, Settings, Sources};
    ///
    /// #[derive(Debug)]
    /// struct Locker;
    /// impl Sources for Locker {
    ///     fn source(&self, _: &str) -> Answer {
    ///         Ok(None)
    ///     }
    ///     fn file(&self, name: &str) -> FileAnswer {
    ///         let bytes = b".#.\n###\n".as_slice().into();
    ///         Ok((name == "buoy.txt").then(|| FileSource { file: name.to_owned(), bytes }))
    ///     }
    /// }
    ///
    /// let rules = Rules::new();
    /// let rule = rules.compile("buoy", "band(4).repeat(over_leader(picture(\"buoy.txt\")))")?;
    /// let made = rules.make(&rule.finding(Locker), &Settings::new())?;
    /// assert_eq!(made.band.repeat()[0].to_string(), "forward at 1, backward at 2, forward at 3");
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When there is one that may not or cannot be used: why, in a sentence.
    fn file(&self, name: &str) -> FileAnswer {
        let _ = name;
        Ok(None)
    }

    /// Names of such files that can be offered where one is misspelt.
    fn file_names(&self) -> Vec<String> {
        Vec::new()
    }
}

impl<S: Sources + ?Sized> Sources for Arc<S> {
    fn source(&self, name: &str) -> Answer {
        (**self).source(name)
    }

    fn names(&self) -> Vec<String> {
        (**self).names()
    }

    fn file(&self, name: &str) -> FileAnswer {
        (**self).file(name)
    }

    fn file_names(&self) -> Vec<String> {
        (**self).file_names()
    }
}

/// Sources that remember what they were asked for, whether it was there or not: all that a
/// band depends on besides its own rule, its settings and the library.
///
/// ```
/// use hitchwork_rules::{Folder, Recording, Rules, Settings};
/// let rules = Rules::new();
/// let rule = rules.compile("moored", r#"rule("candy_stripe")"#)?;
/// let asked = Recording::new(Folder::new("a folder that is empty"));
/// rules.make(&rule.finding(asked.clone()), &Settings::new())?;
/// assert_eq!(asked.asked()["candy_stripe"], Ok(None), "so that of the library was taken");
/// # Ok::<(), hitchwork_rules::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Recording<S> {
    sources: S,
    asked: Arc<Mutex<BTreeMap<String, Answer>>>,
    asked_files: Arc<Mutex<BTreeMap<String, FileAnswer>>>,
}

impl<S: Sources> Recording<S> {
    /// These sources, asked for nothing yet. Clones have one memory.
    #[must_use]
    pub fn new(sources: S) -> Self {
        Self {
            sources,
            asked: Arc::default(),
            asked_files: Arc::default(),
        }
    }

    /// The rules that were asked for, with what was first answered.
    #[must_use]
    pub fn asked(&self) -> BTreeMap<String, Answer> {
        self.memory().clone()
    }

    /// The files that were asked for, with what was first answered.
    #[must_use]
    pub fn asked_files(&self) -> BTreeMap<String, FileAnswer> {
        self.memory_of_files().clone()
    }

    fn memory_of_files(&self) -> MutexGuard<'_, BTreeMap<String, FileAnswer>> {
        let asked = self.asked_files.lock();
        asked.unwrap_or_else(PoisonError::into_inner)
    }

    fn memory(&self) -> MutexGuard<'_, BTreeMap<String, Answer>> {
        self.asked.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<S: Sources> Sources for Recording<S> {
    fn source(&self, name: &str) -> Answer {
        let answer = self.sources.source(name);
        self.memory()
            .entry(name.to_owned())
            .or_insert_with(|| answer.clone());
        answer
    }

    fn names(&self) -> Vec<String> {
        self.sources.names()
    }

    fn file(&self, name: &str) -> FileAnswer {
        let answer = self.sources.file(name);
        self.memory_of_files()
            .entry(name.to_owned())
            .or_insert_with(|| answer.clone());
        answer
    }

    fn file_names(&self) -> Vec<String> {
        self.sources.file_names()
    }
}

/// Rules in a folder, as files whose names end in `.rhai`, and the pictures and fonts beside them.
///
/// Nothing outside of the folder is ever read: names are plain words, separated by `/` for
/// folders inside it, and a link that leads out is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Folder {
    path: PathBuf,
    /// What messages put before the names of its files.
    shown: String,
}

impl Folder {
    /// The folder at a path.
    #[must_use]
    pub fn new(path: impl Into<PathBuf>) -> Self {
        let path = path.into();
        let mut shown = path.display().to_string();
        if !shown.is_empty() && !shown.ends_with(std::path::is_separator) {
            shown.push(std::path::MAIN_SEPARATOR);
        }
        Self { path, shown }
    }

    /// The folder in which a rule's own file lies.
    #[must_use]
    pub fn of_file(file: impl AsRef<Path>) -> Self {
        let parent = file.as_ref().parent().unwrap_or(Path::new(""));
        match parent.as_os_str().is_empty() {
            true => Self::new(".").shown_as(""),
            false => Self::new(parent),
        }
    }

    /// The folder, with this before the names of its files in messages, instead of its path:
    /// for messages that are kept, and must be the same on every machine.
    ///
    /// ```
    /// use hitchwork_rules::{Folder, Sources};
    /// let here = std::env::temp_dir().join("hitchwork-example");
    /// std::fs::create_dir_all(&here)?;
    /// std::fs::write(here.join("rope.rhai"), "band(4).repeat(forward(1..4))")?;
    /// let rope = Folder::new(&here).shown_as("parts/").source("rope")?.expect("just written");
    /// assert_eq!(rope.file, "parts/rope.rhai");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn shown_as(self, shown: impl Into<String>) -> Self {
        let shown = shown.into();
        Self { shown, ..self }
    }

    /// What messages call a file.
    fn shown_file(&self, name: &str) -> String {
        format!("{}{name}", self.shown)
    }

    /// Where the file of this name really lies, if there is one: inside the folder.
    fn inside(&self, name: &str, file: &str) -> Result<Option<PathBuf>, SourceError> {
        let path = self.path.join(name);
        let Ok(real) = path.canonicalize() else {
            let is_link = path.is_symlink();
            let file = file.to_owned();
            return match is_link {
                true => Err(SourceError::LeadsNowhere { file }),
                false => Ok(None),
            };
        };
        let folder = self.path.canonicalize().map_err(|error| {
            format!(
                "the folder of {file} cannot be found: {}",
                load::reason(&error)
            )
        })?;
        match real.starts_with(&folder) {
            true => Ok(Some(real)),
            false => Err(SourceError::LeadsOut {
                file: file.to_owned(),
            }),
        }
    }

    /// The names of its files, as far as they are looked at.
    fn entries(&self) -> impl Iterator<Item = PathBuf> {
        let entries = std::fs::read_dir(&self.path).into_iter().flatten();
        let name = |entry: std::io::Result<std::fs::DirEntry>| Some(entry.ok()?.file_name().into());
        entries.take(MOST_NAMES).filter_map(name)
    }
}

/// Whether every part of a name is a plain word, so that it leads nowhere else.
pub(crate) fn is_plain(name: &str) -> bool {
    let plain = |part: &str| {
        !part.is_empty()
            && part
                .chars()
                .all(|letter| letter.is_alphanumeric() || "_-".contains(letter))
    };
    name.len() <= 200 && name.split('/').all(plain)
}

/// Whether every part of a file's name is made of plain words, so that it leads nowhere else, and
/// it ends as the names of files do that a rule may read.
pub(crate) fn is_plain_file(name: &str) -> bool {
    let plain = |part: &str| {
        !part.starts_with(['.', ' '])
            && !part.ends_with([' ', '.'])
            && part
                .chars()
                .all(|letter| letter.is_alphanumeric() || "_-. ".contains(letter))
    };
    name.len() <= 200
        && name.split('/').all(|part| !part.is_empty() && plain(part))
        && ending(name).is_some()
}

/// Which of the endings a name has.
fn ending(name: &str) -> Option<&'static str> {
    let (stem, given) = name.rsplit_once('.')?;
    let known = endings().find(|known| given.eq_ignore_ascii_case(known));
    known.filter(|_| !stem.is_empty())
}

impl Sources for Folder {
    fn source(&self, name: &str) -> Answer {
        if !is_plain(name) {
            return Err(SourceError::NotAName);
        }
        let name = format!("{name}.rhai");
        let file = self.shown_file(&name);
        let Some(real) = self.inside(&name, &file)? else {
            return Ok(None);
        };
        match load::text(&real, &file, FileKind::Rule) {
            Ok(text) => Ok(Some(Source { file, text })),
            Err(unread) if unread.is_missing() => Ok(None),
            Err(unread) => Err(unread.into()),
        }
    }

    fn names(&self) -> Vec<String> {
        let name = |file: PathBuf| {
            let is_rule = file.extension().is_some_and(|end| end == "rhai");
            let name = file.file_stem()?.to_str()?.to_owned();
            (is_rule && is_plain(&name)).then_some(name)
        };
        let mut names: Vec<String> = self.entries().filter_map(name).collect();
        names.sort();
        names
    }

    fn file(&self, name: &str) -> FileAnswer {
        if !is_plain_file(name) {
            return Err(SourceError::NotAFileName);
        }
        let file = self.shown_file(name);
        let Some(real) = self.inside(name, &file)? else {
            return Ok(None);
        };
        let kind = match ending(name) {
            Some(FONT_ENDING) => FileKind::Font,
            _ => FileKind::Picture,
        };
        match load::bytes(&real, &file, kind) {
            Ok(bytes) => Ok(Some(FileSource {
                file,
                bytes: bytes.into(),
            })),
            Err(unread) if unread.is_missing() => Ok(None),
            Err(unread) => Err(unread.into()),
        }
    }

    fn file_names(&self) -> Vec<String> {
        let name = |file: PathBuf| {
            file.to_str()
                .filter(|name| is_plain_file(name))
                .map(str::to_owned)
        };
        let mut names: Vec<String> = self.entries().filter_map(name).collect();
        names.sort();
        names
    }
}
