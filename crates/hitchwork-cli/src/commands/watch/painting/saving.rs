//! Saving what has been painted: the picture's own file where it is text, and a text beside it where
//! it is pixels, which stay as they are.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use hitchwork_collection::folder::UnfinishedFile;
use hitchwork_core::picture::{Picture, mark_of, marked};
use hitchwork_core::text;
use hitchwork_rules::picture_file::png_of;
use hitchwork_rules::{Folder, Sources};

use super::dropped::written;
use super::file::{Bytes, Cells, NOT_READ_YET, PaintedFile, Refusal, TextBeside, Version};
use super::marks::Marks;
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
        match &file.found {
            None => {}
            Some(None) => return Err(gone_meanwhile(name)),
            Some(Some(_)) => return Err(changed_meanwhile(name)),
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
                if let Some(changed) = file.changed_beside() {
                    return Err(changed_beside(&changed.file));
                }
                let (beside, expected) = match &file.beside {
                    Some(known) => (known.file.clone(), known.saved.clone()),
                    None => (beside(name), None),
                };
                let (words, call) = as_text(picture, &beside);
                Saving {
                    name: name.to_owned(),
                    file: beside,
                    bytes: words.into_bytes().into(),
                    expected,
                    call: Some(call),
                }
            }
            Cells::Unread => {
                return Err(Trouble::new(NOT_READ_YET, "wait until the band shows it"));
            }
        })
    }

    /// It has been saved like this.
    pub(in crate::commands::watch) fn remember_saved(&mut self, saving: &Saving) {
        if let Some(file) = self.files.get_mut(&saving.name) {
            match (&saving.call, &file.now.cells) {
                (None, _) => file.disk = Some(Arc::clone(&saving.bytes)),
                (Some(_), cells) => {
                    let marks = match cells {
                        Cells::Pixels(picture) => marks_of(picture),
                        _ => Marks::new(),
                    };
                    file.beside = Some(TextBeside {
                        file: saving.file.clone(),
                        saved: Some(Arc::clone(&saving.bytes)),
                        marks,
                        found: None,
                    });
                }
            }
        }
    }

    /// It could not be saved, and this lies in its place: of a text beside pixels that somebody else
    /// has changed since it was saved, whoever paints has to say which is to stay.
    pub(in crate::commands::watch) fn remember_refused(
        &mut self,
        saving: &Saving,
        found: Option<Bytes>,
    ) {
        let file = self.files.get_mut(&saving.name);
        let beside = file.and_then(|file| file.beside.as_mut());
        let beside = beside.filter(|beside| saving.call.is_some() && beside.saved.is_some());
        if let Some(beside) = beside {
            beside.found = found.filter(|found| Some(found) != beside.saved.as_ref());
        }
    }
}

/// Why the text beside pixels is not taken.
const NOT_IN_THESE_MARKS: Refusal = "the text beside the pixels cannot be read with the marks with which it was saved: keep what is painted here, under another name";

impl PaintedFile {
    /// Whether the text beside a picture of pixels holds all that is painted.
    pub(super) fn is_saved_beside(&self) -> bool {
        let beside = self.beside.as_ref().filter(|beside| beside.found.is_none());
        match (
            &self.now.cells,
            beside.and_then(|beside| beside.saved.as_ref()),
        ) {
            (Cells::Pixels(picture), Some(saved)) => as_text(picture, "").0.as_bytes() == &**saved,
            _ => false,
        }
    }

    /// The text beside pixels, if somebody else has changed it since it was saved.
    pub(super) fn changed_beside(&self) -> Option<&TextBeside> {
        self.beside.as_ref().filter(|beside| beside.found.is_some())
    }

    /// What somebody else has made of the text beside stays there, and what is painted here is saved
    /// under another name. Gives whether there was such a text.
    pub(super) fn keeps_its_own_beside(&mut self) -> bool {
        let Some(changed) = self.changed_beside() else {
            return false;
        };
        self.beside = Some(TextBeside {
            file: next_name(&changed.file),
            saved: None,
            marks: Marks::new(),
            found: None,
        });
        true
    }

    /// What somebody else has made of the text beside, as pixels; nothing where nobody has changed it.
    pub(super) fn taken_from_beside(&mut self) -> Result<Option<Version>, Refusal> {
        let Some(beside) = &mut self.beside else {
            return Ok(None);
        };
        let Some(found) = &beside.found else {
            return Ok(None);
        };
        let words = text::decoded(found).map_err(|_| NOT_IN_THESE_MARKS)?;
        let read = marked(&words, &beside.marks).map_err(|_| NOT_IN_THESE_MARKS)?;
        beside.saved = beside.found.take();
        Ok(Some(Version {
            bytes: png_of(&read.picture).into(),
            cells: Cells::Pixels(read.picture),
        }))
    }
}

/// The name of the text beside a picture of pixels.
fn beside(name: &str) -> String {
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    format!("{stem}.txt")
}

/// The name after this one: `art-2.txt` after `art.txt`, and `art-3.txt` after that.
fn next_name(file: &str) -> String {
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
    let counted = stem.rsplit_once('-');
    let counted = counted.and_then(|(stem, number)| Some((stem, number.parse::<u32>().ok()?)));
    match counted {
        Some((stem, number)) => format!("{stem}-{}.txt", number.saturating_add(1)),
        None => format!("{stem}-2.txt"),
    }
}

/// What the marks stand for in which a picture of pixels is written.
fn marks_of(picture: &Picture) -> Marks {
    let colours = picture.colours().iter().cloned().enumerate();
    let marks = colours.filter_map(|(number, colour)| Some((mark_of(number)?, Some(colour))));
    marks.collect()
}

/// A picture of pixels as text, and the call that reads it back.
fn as_text(picture: &Picture, file: &str) -> (String, String) {
    let colours = picture.colours();
    let place = |srgb| colours.iter().position(|colour| colour.srgb == srgb);
    let words = written(picture, |colour| {
        let at = colour.and_then(|colour| place(colour.srgb));
        at.and_then(mark_of).unwrap_or('.')
    });
    let shown = picture.shown();
    let known = shown.iter().filter_map(|colour| {
        let mark = mark_of(place(colour.srgb)?)?;
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

fn gone_meanwhile(name: &str) -> Trouble {
    Trouble::new(
        format!("{name} was taken away while it was painted here, and was not saved"),
        "keep what is painted here, and save again: then it is written anew",
    )
}

/// The same of a text beside pixels.
fn changed_beside(file: &str) -> Trouble {
    Trouble::new(
        format!("{file} was changed elsewhere since it was saved here, and was not written over"),
        "keep what is painted here, and it is saved under another name; or take what the text says now",
    )
}

impl Saving {
    /// What lies in its place now.
    pub(in crate::commands::watch) fn lies_there(&self, folder: &Path) -> Option<Bytes> {
        let found = Folder::new(folder).file(&self.file).ok().flatten();
        found.map(|source| source.bytes)
    }

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
        if let Some(expected) = self.expected.as_ref().filter(|_| permissions.is_some())
            && self.lies_there(folder).as_ref() != Some(expected)
        {
            return Err(match self.call {
                Some(_) => changed_beside(&self.file),
                None => changed_meanwhile(&self.file),
            });
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
