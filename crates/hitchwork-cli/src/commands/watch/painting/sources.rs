//! The folder of a rule, with what has been painted over its pictures.

use std::collections::BTreeMap;
use std::sync::Arc;

use hitchwork_rules::{Answer, FileAnswer, FileSource, Folder, Sources};

use super::file::Bytes;

/// A folder in which some pictures are as they have been painted on the page.
#[derive(Clone, Debug)]
pub(in crate::commands::watch) struct PaintedFolder {
    folder: Folder,
    painted: Arc<BTreeMap<String, Bytes>>,
}

impl PaintedFolder {
    pub(in crate::commands::watch) fn new(
        folder: Folder,
        painted: Arc<BTreeMap<String, Bytes>>,
    ) -> Self {
        Self { folder, painted }
    }
}

impl Sources for PaintedFolder {
    fn source(&self, name: &str) -> Answer {
        self.folder.source(name)
    }

    fn names(&self) -> Vec<String> {
        self.folder.names()
    }

    fn file(&self, name: &str) -> FileAnswer {
        match self.painted.get(name) {
            Some(bytes) => Ok(Some(FileSource {
                file: format!("{name} as it is painted"),
                bytes: Arc::clone(bytes),
            })),
            None => self.folder.file(name),
        }
    }

    fn file_names(&self) -> Vec<String> {
        self.folder.file_names()
    }
}
