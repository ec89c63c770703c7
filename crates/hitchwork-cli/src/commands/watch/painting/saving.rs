//! Saving what has been painted: the picture's own file where it is text, and a text beside it where
//! it is pixels, which stay as they are.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use hitchwork_collection::folder::UnfinishedFile;
use hitchwork_core::picture::Picture;
use hitchwork_rules::{Folder, Sources};

use super::dropped::written;
use super::file::{Bytes, Cells, NOT_READ_YET, PaintedFile};
use super::{NO_FILE, Painting};
use crate::folder::reason;
use crate::trouble::Trouble;

/// What is to be written, and where.
pub(in crate::commands::watch) struct Saving {
    /// The picture that was painted.
    name: String,
    /// The file that is written.
    file: String,
    bytes: Bytes,
    /// What has to lie there, if nobody is to lose anything; nothing where no file may.
    expected: Option<Bytes>,
    /// What the rule has to say to read it, where it reads another file yet.
    call: Option<String>,
}

/// What was saved.
pub(in crate::commands::watch) struct Saved {
    pub(in crate::commands::watch) path: PathBuf,
    /// What is to be done for the rule to read it.
    pub(in crate::commands::watch) advice: Option<String>,
    /// What the rule is to say then, which is a part of the advice.
    pub(in crate::commands::watch) call: Option<String>,
}

impl Painting {
    /// What saving a picture means.
    pub(in crate::commands::watch) fn to_save(&self, name: &str) -> Result<Saving, Trouble> {
        let file = self
            .files
            .get(name)
            .ok_or_else(|| Trouble::new(NO_FILE, "load the page again, and save what it shows"))?;
        if file.found.is_some() {
            return Err(changed_meanwhile(name));
        }
        if !file.is_unsaved() {
            return Err(Trouble::new(
                format!("nothing has been painted on {name} since it was saved"),
                "paint first",
            ));
        }
        Ok(match &file.now.cells {
            Cells::Marks(..) => Saving {
                name: name.to_owned(),
                file: name.to_owned(),
                bytes: Arc::clone(&file.now.bytes),
                expected: file.disk.clone(),
                call: None,
            },
            Cells::Pixels(picture) => {
                let beside = beside(name);
                let (words, call) = as_text(picture, &beside);
                Saving {
                    name: name.to_owned(),
                    file: beside,
                    bytes: words.into_bytes().into(),
                    expected: file.saved_beside.clone(),
                    call: Some(call),
                }
            }
            Cells::Unread => {
                return Err(Trouble::new(NOT_READ_YET, "wait until the band shows it"));
            }
        })
    }

    /// It has been saved like this.
    pub(in crate::commands::watch) fn is_saved(&mut self, saving: &Saving) {
        if let Some(file) = self.files.get_mut(&saving.name) {
            match saving.call {
                Some(_) => file.saved_beside = Some(Arc::clone(&saving.bytes)),
                None => file.disk = Some(Arc::clone(&saving.bytes)),
            }
        }
    }
}

impl PaintedFile {
    /// Whether the text beside a picture of pixels holds all that is painted.
    pub(super) fn is_saved_beside(&self) -> bool {
        match (&self.now.cells, &self.saved_beside) {
            (Cells::Pixels(picture), Some(saved)) => as_text(picture, "").0.as_bytes() == &**saved,
            _ => false,
        }
    }
}

/// The name of the text beside a picture of pixels.
fn beside(name: &str) -> String {
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    format!("{stem}.txt")
}

/// A picture of pixels as text, and the call that reads it back.
fn as_text(picture: &Picture, file: &str) -> (String, String) {
    let marks: Vec<char> = std::iter::once('#')
        .chain('a'..='z')
        .chain('A'..='Z')
        .chain('0'..='9')
        .chain(['+'])
        .collect();
    let colours = picture.colours();
    let place = |srgb| colours.iter().position(|colour| colour.srgb == srgb);
    let words = written(picture, |colour| {
        let at = colour.and_then(|colour| place(colour.srgb));
        at.map_or('.', |at| marks[at])
    });
    let shown = picture.shown();
    let known = shown.iter().filter_map(|colour| {
        let mark = marks[place(colour.srgb)?];
        Some(format!(
            "{}: colour({}, \"{}\")",
            quoted(&mark.to_string()),
            quoted(&colour.name),
            colour.srgb
        ))
    });
    let known: Vec<String> = known.collect();
    let call = format!(
        "picture({}, #{{ marks: #{{ {} }} }})",
        quoted(file),
        known.join(", ")
    );
    (words, call)
}

/// A text as a rule writes it.
fn quoted(words: &str) -> String {
    format!("\"{}\"", words.replace('\\', "\\\\").replace('"', "\\\""))
}

fn changed_meanwhile(name: &str) -> Trouble {
    Trouble::new(
        format!("{name} was changed elsewhere while it was painted here, and was not saved"),
        "keep what is painted here, and save again; or take what the file says now",
    )
}

impl Saving {
    /// The same for a file of another name.
    #[cfg(test)]
    pub(super) fn move_to(&mut self, file: &str) {
        file.clone_into(&mut self.file);
        self.expected = None;
    }

    /// Writes it into the folder of the rule, whole or not at all, if what lies there is what was
    /// painted over; `rule` is the text of the rule.
    pub(in crate::commands::watch) fn write(
        &self,
        folder: &Path,
        rule: &str,
    ) -> Result<Saved, Trouble> {
        let place = folder.join(&self.file);
        let refused = |why: &str, help: &str| {
            Trouble::new(
                format!("{} was not saved: {why}", place.display()),
                help.to_owned(),
            )
        };
        let real = |path: &Path| path.canonicalize();
        let parent = place
            .parent()
            .filter(|parent| !parent.as_os_str().is_empty());
        let inside = real(parent.unwrap_or(Path::new(".")))
            .and_then(|parent| Ok(parent.starts_with(real(folder)?)));
        if !inside.is_ok_and(|inside| inside) {
            return Err(refused(
                "its place leads out of the rule's own folder",
                "put a folder there instead of a link",
            ));
        }
        let there = std::fs::symlink_metadata(&place);
        let permissions = match (&there, &self.expected) {
            (Ok(found), _) if !found.is_file() => {
                return Err(refused(
                    "there is a link or a folder in its place, not a plain file",
                    "put a plain file there, and it can be painted over",
                ));
            }
            (Ok(found), Some(_)) if found.permissions().readonly() => {
                return Err(refused(
                    "the file may only be read",
                    "allow it to be written, and save again",
                ));
            }
            (Ok(_), None) => {
                return Err(refused(
                    "there is such a file already, which comes from elsewhere",
                    "rename that one, and save again: the pixels and that file stay as they are",
                ));
            }
            (Ok(found), Some(_)) => Some(found.permissions()),
            (Err(_), _) => None,
        };
        if let Some(expected) = self.expected.as_ref().filter(|_| permissions.is_some()) {
            let found = Folder::new(folder).file(&self.file);
            let found = found.ok().flatten().map(|source| source.bytes);
            if found.as_ref() != Some(expected) {
                return Err(changed_meanwhile(&self.file));
            }
        }
        let written = UnfinishedFile::whole(&place, &self.bytes).and_then(|unfinished| {
            unfinished.into_place()?;
            match permissions {
                Some(permissions) => std::fs::set_permissions(&place, permissions),
                None => Ok(()),
            }
        });
        written.map_err(|error| {
            refused(
                &reason(&error),
                "make room there, or allow it to be written; the picture as it was before is still whole, and what is painted stays on this page",
            )
        })?;
        Ok(Saved {
            path: place,
            advice: self.call.as_ref().map(|call| self.advice(call, rule)),
            call: self.call.clone(),
        })
    }

    /// What is to be changed in the rule for it to read the text instead of the pixels.
    fn advice(&self, call: &str, rule: &str) -> String {
        let named = quoted(&self.name);
        let lines: Vec<String> = (1..)
            .zip(rule.lines())
            .filter(|(_, line)| line.contains(&named))
            .map(|(number, _): (usize, &str)| number.to_string())
            .collect();
        let lines = match &lines[..] {
            [] => "where the rule names it".to_owned(),
            [one] => format!("in line {one} of the rule"),
            many => format!("in lines {} of the rule", many.join(", ")),
        };
        format!(
            "the rule still reads {}, which stays as it was: {lines}, write {call} instead of what reads the pixels",
            self.name
        )
    }
}
