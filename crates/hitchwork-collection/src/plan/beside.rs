//! The rules, pictures and fonts beside an item's rule, and what a run of it asked for among them.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use hitchwork_rules::{Answer, FileAnswer, Folder, Recording, Sources, built_in};
use serde::{Deserialize, Serialize};

use crate::digest::sha256;

/// This many answers are kept.
const MOST_KEPT: usize = 500;

/// This many pictures and fonts are kept, which are larger.
const MOST_FILES_KEPT: usize = 20;

/// The rules beside an item's rule. Each is read once, so that all members of a plan that has
/// been read see the same, whatever happens to the files meanwhile.
#[derive(Debug)]
pub(crate) struct RulesBeside {
    /// Where they lie; a built-in rule has only the library.
    folder: Option<Folder>,
    read: Mutex<BTreeMap<String, Read>>,
    files: Mutex<BTreeMap<String, FileAnswer>>,
}

/// What was answered, with its digest.
#[derive(Clone, Debug)]
struct Read {
    answer: Answer,
    digest: Option<String>,
}

impl RulesBeside {
    pub(super) fn new(folder: Option<Folder>) -> Arc<Self> {
        Arc::new(Self {
            folder,
            read: Mutex::default(),
            files: Mutex::default(),
        })
    }

    fn read_file(&self, name: &str) -> FileAnswer {
        let mut kept = self.files.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(answer) = kept.get(name) {
            return answer.clone();
        }
        let folder = self.folder.as_ref();
        let answer = folder.map_or(Ok(None), |folder| folder.file(name));
        if kept.len() >= MOST_FILES_KEPT {
            kept.clear();
        }
        kept.insert(name.to_owned(), answer.clone());
        answer
    }

    /// A digest of what lies today under a name for which was asked.
    fn digest(&self, name: &str) -> Option<String> {
        match is_file(name) {
            true => digest_of_file(&self.read_file(name)),
            false => self.read(name).digest,
        }
    }

    fn read(&self, name: &str) -> Read {
        let mut kept = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(read) = kept.get(name) {
            return read.clone();
        }
        let folder = self.folder.as_ref();
        let answer = folder.map_or(Ok(None), |folder| folder.source(name));
        let read = Read {
            digest: digest(name, &answer),
            answer,
        };
        if kept.len() >= MOST_KEPT {
            kept.clear();
        }
        kept.insert(name.to_owned(), read.clone());
        read
    }
}

impl Sources for RulesBeside {
    fn source(&self, name: &str) -> Answer {
        self.read(name).answer
    }

    fn names(&self) -> Vec<String> {
        self.folder.as_ref().map_or_else(Vec::new, Sources::names)
    }

    fn file(&self, name: &str) -> FileAnswer {
        self.read_file(name)
    }

    fn file_names(&self) -> Vec<String> {
        let folder = self.folder.as_ref();
        folder.map_or_else(Vec::new, Sources::file_names)
    }
}

/// Whether a name is that of a file: those have an ending, and names of rules have none.
pub(crate) fn is_file(name: &str) -> bool {
    name.contains('.')
}

/// A digest of a picture or a font; nothing where there is none.
fn digest_of_file(answer: &FileAnswer) -> Option<String> {
    match answer {
        Ok(Some(source)) => Some(sha256(&[b"file\n", &*source.bytes].concat())),
        Ok(None) => None,
        Err(why) => Some(sha256(format!("refused\n{why}").as_bytes())),
    }
}

/// A digest of the rule of a name: the one that lies there, or that of the library; nothing
/// where there is none.
fn digest(name: &str, answer: &Answer) -> Option<String> {
    let seen = match answer {
        Ok(Some(own)) => format!("own\n{}", own.text),
        Ok(None) => format!("built in\n{}", built_in(name)?),
        Err(why) => format!("refused\n{why}"),
    };
    Some(sha256(seen.as_bytes()))
}

/// The rules, pictures and fonts that runs of a rule asked for by their names, there or not, each
/// with a digest of what was found: what a member depends on besides its own rule and its settings.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Asked(BTreeMap<String, Option<String>>);

impl Asked {
    /// What was asked for in a run.
    pub(crate) fn of(recording: &Recording<Arc<RulesBeside>>) -> Self {
        let asked = recording.asked();
        let digests = asked.into_iter().map(|(name, answer)| {
            let digest = digest(&name, &answer);
            (name, digest)
        });
        let files = recording.asked_files().into_iter().map(|(name, answer)| {
            let digest = digest_of_file(&answer);
            (name, digest)
        });
        Self(digests.chain(files).collect())
    }

    /// Whether nothing was asked for.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Takes in what was asked for in another run.
    pub(crate) fn join(&mut self, other: Self) {
        self.0.extend(other.0);
    }

    /// The first name under which something else would be found today.
    pub(crate) fn changed(&self, beside: &RulesBeside) -> Option<&str> {
        let changed = |(name, digest): &(&String, &Option<String>)| beside.digest(name) != **digest;
        self.0.iter().find(changed).map(|(name, _)| name.as_str())
    }
}
