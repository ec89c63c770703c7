//! Where a rule finds the other rules that it uses.

use std::fmt::Debug;
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::limits::MAX_RULE_BYTES;

/// At most so many entries of a folder are looked at for a name that is near.
const MOST_NAMES: usize = 2_000;

/// The text of a rule that another rule uses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// What messages call it: its file.
    pub file: String,
    /// Its text.
    pub text: String,
}

/// A place in which rules lie by their names.
///
/// The rules of one's own place come before those of the built-in library, which every
/// rule finds. Implement it to keep rules in memory or in a database; [`Folder`] keeps
/// them in files.
///
/// ```
/// use hitchwork_rules::{Rules, Settings, Source, Sources};
///
/// #[derive(Debug)]
/// struct Mooring;
/// impl Sources for Mooring {
///     fn source(&self, name: &str) -> Result<Option<Source>, String> {
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
    fn source(&self, name: &str) -> Result<Option<Source>, String>;

    /// Names that can be offered where one is misspelt; none if they cannot be listed.
    fn names(&self) -> Vec<String> {
        Vec::new()
    }
}

/// Rules in a folder, as files whose names end in `.rhai`.
///
/// Nothing outside of the folder is ever read: names are plain words, parted by `/` for
/// folders inside it, and a link that leads out is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Folder {
    path: PathBuf,
}

impl Folder {
    /// The folder at a path.
    #[must_use]
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Self { path: path.into() }
    }

    /// The folder in which a rule's own file lies.
    #[must_use]
    pub fn of_file(file: impl AsRef<Path>) -> Self {
        let parent = file.as_ref().parent().unwrap_or(Path::new(""));
        Self::new(if parent.as_os_str().is_empty() {
            Path::new(".")
        } else {
            parent
        })
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
    fn source(&self, name: &str) -> Result<Option<Source>, String> {
        if !is_plain(name) {
            return Err("a rule is called by a plain name".to_owned());
        }
        let file = self.path.join(name).with_extension("rhai");
        let shown = file.display().to_string();
        let Ok(real) = file.canonicalize() else {
            return Ok(None);
        };
        let folder = self.path.canonicalize().map_err(|error| {
            format!(
                "the folder {} cannot be found: {error}",
                self.path.display()
            )
        })?;
        if !real.starts_with(&folder) {
            return Err(format!("{shown} leads out of the rule's own folder"));
        }
        if !real.is_file() {
            return Err(format!("{shown} is not a file"));
        }
        // One byte more than a rule may have, so that a longer one is found to be so.
        let most = MAX_RULE_BYTES as u64 + 1;
        let mut bytes = Vec::new();
        std::fs::File::open(&real)
            .and_then(|open| open.take(most).read_to_end(&mut bytes))
            .map_err(|error| format!("{shown} cannot be read: {error}"))?;
        if bytes.len() > MAX_RULE_BYTES {
            return Err(format!(
                "{shown} is longer than {} KB",
                MAX_RULE_BYTES >> 10
            ));
        }
        let text = String::from_utf8(bytes).map_err(|_| format!("{shown} is not UTF-8 text"))?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text).to_owned();
        Ok(Some(Source { file: shown, text }))
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
