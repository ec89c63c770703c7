//! Where a rule finds the other rules that it uses.

use std::collections::BTreeMap;
use std::fmt::Debug;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::load::{self, FileKind, Unread};

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
    /// Its file cannot be read, or is longer than a rule may be.
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
}

impl<S: Sources + ?Sized> Sources for Arc<S> {
    fn source(&self, name: &str) -> Answer {
        (**self).source(name)
    }

    fn names(&self) -> Vec<String> {
        (**self).names()
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
}

impl<S: Sources> Recording<S> {
    /// These sources, asked for nothing yet. Clones have one memory.
    #[must_use]
    pub fn new(sources: S) -> Self {
        Self {
            sources,
            asked: Arc::default(),
        }
    }

    /// What was asked for, with what was first answered.
    #[must_use]
    pub fn asked(&self) -> BTreeMap<String, Answer> {
        self.memory().clone()
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
}

/// Rules in a folder, as files whose names end in `.rhai`.
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

    /// What messages call the file of a name.
    fn file(&self, name: &str) -> String {
        format!("{}{name}.rhai", self.shown)
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

impl Sources for Folder {
    fn source(&self, name: &str) -> Answer {
        if !is_plain(name) {
            return Err(SourceError::NotAName);
        }
        let file = self.file(name);
        let Ok(real) = self.path.join(name).with_extension("rhai").canonicalize() else {
            return Ok(None);
        };
        let folder = self.path.canonicalize().map_err(|error| {
            format!(
                "the folder of {file} cannot be found: {}",
                load::reason(&error)
            )
        })?;
        if !real.starts_with(&folder) {
            return Err(SourceError::LeadsOut { file });
        }
        match load::text(&real, &file, FileKind::Rule) {
            Ok(text) => Ok(Some(Source { file, text })),
            Err(unread) if unread.is_missing() => Ok(None),
            Err(unread) => Err(unread.into()),
        }
    }

    fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(&self.path).into_iter().flatten();
        let name = |entry: std::io::Result<std::fs::DirEntry>| {
            let file = PathBuf::from(entry.ok()?.file_name());
            let is_rule = file.extension().is_some_and(|end| end == "rhai");
            let name = file.file_stem()?.to_str()?.to_owned();
            (is_rule && is_plain(&name)).then_some(name)
        };
        let mut names: Vec<String> = entries.take(MOST_NAMES).filter_map(name).collect();
        names.sort();
        names
    }
}
