//! Painting on the live page: what has been painted over the pictures of a rule, and not been saved.
//!
//! A picture that is painted on lies here as the bytes of a file, which the rule reads in place of
//! the one on the disk (`sources`); that one stays as it is until somebody saves (`saving`). `marks`
//! paints over text and leaves the rest of it alone; pictures of pixels become a pixel a cell (`file`).
//! `dropped` fits in pictures from elsewhere, and `knots` says which knots show which cells.

mod dropped;
mod file;
mod knots;
mod marks;
mod saving;
mod sources;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use hitchwork_rules::{PictureTrace, TracedFile};
use serde::{Deserialize, Serialize};

pub(super) use dropped::DroppedFit;
pub(super) use file::{Bytes, Pot, Refusal};
use file::{Cells, NO_PICTURE, PaintedFile, Version, as_marks, pots_of_marks, pots_of_pixels};
pub(super) use knots::{BandKnots, KnotsInView};
pub(super) use saving::Saved;
pub(super) use sources::PaintedFolder;

/// The most steps that can be taken back, and the most bytes that are kept for that.
const MOST_STEPS: usize = 1_000;
const MOST_STEP_BYTES: usize = 64 << 20;
/// The most pages of which it is known how far they have been heard.
const MOST_PAGES: usize = 1_000;
/// The most pictures of one rule that are shown.
const MOST_FILES: usize = 16;

/// What a page asks for, one act after another. Acts are numbered, so that one that is sent again
/// because its answer was lost is not done twice.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Acts {
    /// A word by which the page is known.
    page: String,
    /// The number of the first act.
    from: u64,
    acts: Vec<Act>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(tag = "act", rename_all = "kebab-case", deny_unknown_fields)]
enum Act {
    /// Cells (rows and columns, counted from 0) are painted with what is in this pot. Parts of one
    /// stroke have its number, and are taken back as one.
    Stroke {
        stroke: u64,
        file: String,
        pot: String,
        cells: Vec<(u16, u16)>,
    },
    Undo,
    Redo,
    /// Of a picture that somebody else has changed: what is painted stays.
    Keep {
        file: String,
    },
    /// What somebody else has saved takes its place.
    Take {
        file: String,
    },
}

const NO_FILE: Refusal = "the rule reads no picture of that name";

/// One step that can be taken back.
#[derive(Clone, Debug)]
struct Step {
    /// The stroke of a page of which it is a part.
    stroke: Option<(String, u64)>,
    file: String,
    before: Version,
    after: Version,
}

/// All that has been painted.
#[derive(Clone, Debug, Default)]
pub(super) struct Painting {
    files: BTreeMap<String, PaintedFile>,
    /// Those that the rule reads, in the order in which it does.
    read: Vec<String>,
    done: Vec<Step>,
    undone: Vec<Step>,
    /// Counts what has been changed.
    version: u64,
    /// For each page the number of the next act that it has not been heard about.
    heard: BTreeMap<String, u64>,
}

/// What the page is told of a picture.
#[derive(Clone, Debug, Serialize)]
pub(super) struct PictureNews {
    name: String,
    rows: usize,
    columns: usize,
    pots: Vec<Pot>,
    is_text: bool,
    is_unsaved: bool,
    /// Whether what is painted on pixels lies in a text beside them, which the rule may not read yet.
    is_saved_beside: bool,
    /// Whether somebody else has changed the file meanwhile, or taken it away.
    is_changed: bool,
    is_gone: bool,
    /// The text beside pixels, where somebody else has changed it since it was saved.
    changed_beside: Option<String>,
    /// Whether the rule still reads it.
    is_read: bool,
}

/// What the page is told of all of them.
#[derive(Clone, Debug, Default, Serialize)]
pub(super) struct PaintingNews {
    /// How many changes it holds.
    pub(super) version: u64,
    /// How many of them the band holds that is shown.
    pub(super) tied: u64,
    files: Vec<PictureNews>,
    can_undo: bool,
    can_redo: bool,
    /// How many knots of the repeat show another colour than the picture asks for.
    pub(super) missed: usize,
    /// Whether knots show a picture that no file holds, and that can only be changed in the rule.
    pub(super) shows_drawn: bool,
}

impl Painting {
    pub(super) fn version(&self) -> u64 {
        self.version
    }

    /// The files whose paint has not been saved, as the rule is to read them.
    pub(super) fn unsaved(&self) -> BTreeMap<String, Bytes> {
        let unsaved = self.files.iter().filter(|(_, file)| file.is_unsaved());
        unsaved
            .map(|(name, file)| (name.clone(), Arc::clone(&file.now.bytes)))
            .collect()
    }

    /// The pictures whose paint no file holds.
    pub(super) fn not_saved(&self) -> Vec<String> {
        let unsaved = self
            .files
            .iter()
            .filter(|(_, file)| file.is_unsaved() && !file.is_saved_beside());
        unsaved.map(|(name, _)| name.clone()).collect()
    }

    /// Does what a page asks for, all of it or nothing.
    pub(super) fn act(&mut self, acts: Acts) -> Result<u64, Refusal> {
        if acts.page.len() > 64 {
            return Err("a page is known by a short word");
        }
        let heard = self.heard.get(&acts.page).copied().unwrap_or(0);
        let end = acts.from.saturating_add(acts.acts.len() as u64);
        let known = usize::try_from(heard.saturating_sub(acts.from)).unwrap_or(usize::MAX);
        let mut next = self.clone();
        let mut done = acts.acts.into_iter().skip(known);
        // What is refused is not heard, so that it is refused again when it is sent again: a page
        // does that when an answer has got lost.
        done.try_for_each(|act| next.one_act(act, &acts.page))?;
        if end > heard {
            next.version += 1;
            *self = next;
        }
        if self.heard.len() >= MOST_PAGES && !self.heard.contains_key(&acts.page) {
            self.heard.clear();
        }
        self.heard.insert(acts.page, end.max(heard));
        Ok(self.version)
    }

    fn one_act(&mut self, act: Act, page: &str) -> Result<(), Refusal> {
        match act {
            Act::Stroke {
                stroke,
                file,
                pot,
                cells,
            } => {
                let painted = self
                    .files
                    .get(&file)
                    .ok_or(NO_FILE)?
                    .painted(&pot, &cells)?;
                self.change(&file, painted, Some((page.to_owned(), stroke)));
            }
            Act::Undo => {
                if let Some(step) = self.done.pop() {
                    self.put(&step.file, step.before.clone());
                    self.undone.push(step);
                }
            }
            Act::Redo => {
                if let Some(step) = self.undone.pop() {
                    self.put(&step.file, step.after.clone());
                    self.done.push(step);
                }
            }
            Act::Keep { file } => {
                let file = self.files.get_mut(&file).ok_or(NO_FILE)?;
                if file.keeps_its_own_beside() {
                    return Ok(());
                }
                if let Some(found) = file.found.take() {
                    file.disk = found;
                }
            }
            Act::Take { file } => {
                let name = file;
                let file = self.files.get_mut(&name).ok_or(NO_FILE)?;
                if let Some(taken) = file.taken_from_beside()? {
                    self.change(&name, taken, None);
                    return Ok(());
                }
                let Some(Some(found)) = file.found.take() else {
                    return Err("the file is as it was, or is gone");
                };
                let cells = match &file.now.cells {
                    Cells::Marks(_, marks) => as_marks(&found, marks).ok_or(NO_PICTURE)?,
                    _ => Cells::Unread,
                };
                file.disk = Some(Arc::clone(&found));
                // It can be taken back, so that nothing is lost that was painted.
                self.change(
                    &name,
                    Version {
                        bytes: found,
                        cells,
                    },
                    None,
                );
            }
        }
        Ok(())
    }

    fn put(&mut self, name: &str, version: Version) {
        if let Some(file) = self.files.get_mut(name) {
            file.now = version;
        }
    }

    /// A picture becomes another, as a step that can be taken back.
    fn change(&mut self, name: &str, after: Version, stroke: Option<(String, u64)>) {
        let Some(file) = self.files.get_mut(name) else {
            return;
        };
        let before = std::mem::replace(&mut file.now, after.clone());
        self.undone.clear();
        match self.done.last_mut() {
            Some(last) if stroke.is_some() && last.stroke == stroke && last.file == name => {
                last.after = after;
            }
            _ if before.bytes == after.bytes => {}
            _ => self.done.push(Step {
                stroke,
                file: name.to_owned(),
                before,
                after,
            }),
        }
        let mut bytes = 0;
        let size = |step: &Step| step.before.bytes.len() + step.after.bytes.len();
        let kept = self.done.iter().rev().take(MOST_STEPS);
        let kept = kept.take_while(|step| {
            bytes += size(step);
            bytes <= MOST_STEP_BYTES
        });
        let too_many = self.done.len() - kept.count().max(1).min(self.done.len());
        self.done.drain(..too_many);
    }

    /// Takes in what a run has read that was made of these paints, and what it knows of the
    /// pictures.
    pub(super) fn learn(
        &mut self,
        trace: &PictureTrace,
        bytes: &dyn Fn(&str) -> Option<Bytes>,
        painted: &BTreeMap<String, Bytes>,
    ) {
        let mut read: Vec<String> = Vec::new();
        for traced in trace.files() {
            if read.contains(&traced.name) || read.len() >= MOST_FILES {
                continue;
            }
            let Some(bytes) = bytes(&traced.name) else {
                continue;
            };
            read.push(traced.name.clone());
            let is_paint = painted.contains_key(&traced.name);
            self.learn_file(traced, &bytes, is_paint);
        }
        let names: BTreeSet<&String> = read
            .iter()
            .chain(self.done.iter().map(|step| &step.file))
            .collect();
        let names: BTreeSet<String> = names.into_iter().cloned().collect();
        self.files
            .retain(|name, file| file.is_unsaved() || names.contains(name));
        self.read = read;
    }

    fn learn_file(&mut self, traced: &TracedFile, bytes: &Bytes, is_paint: bool) {
        let cells = || match &traced.marks {
            Some(marks) => as_marks(bytes, marks).unwrap_or(Cells::Unread),
            None => Cells::Pixels(traced.picture.clone()),
        };
        let file = self.files.entry(traced.name.clone());
        let file = file.or_insert_with(|| PaintedFile {
            disk: Some(Arc::clone(bytes)),
            now: Version {
                bytes: Arc::clone(bytes),
                cells: cells(),
            },
            pots: Vec::new(),
            found: None,
            beside: None,
        });
        if !file.is_unsaved() && !is_paint {
            file.disk = Some(Arc::clone(bytes));
            file.now.bytes = Arc::clone(bytes);
        }
        if file.now.bytes == *bytes {
            file.now.cells = cells();
        } else if let (Cells::Marks(_, known), Some(marks)) = (&mut file.now.cells, &traced.marks) {
            *known = Arc::clone(marks);
        }
        file.pots = match &traced.marks {
            Some(marks) => pots_of_marks(marks),
            None => pots_of_pixels(&traced.picture, std::mem::take(&mut file.pots)),
        };
    }

    /// What lies on the disk now, by the names of files; nothing where one is gone. Those that were
    /// changed there by somebody else are marked, unless they are as painted now.
    pub(super) fn compare(&mut self, disk: &BTreeMap<String, Option<Bytes>>) {
        for (name, found) in disk {
            let Some(file) = self.files.get_mut(name).filter(|file| file.is_unsaved()) else {
                continue;
            };
            match found {
                Some(found) if *found == file.now.bytes => {
                    file.disk = Some(Arc::clone(found));
                    file.found = None;
                }
                found if *found == file.disk => file.found = None,
                found => file.found = Some(found.clone()),
            }
        }
        for file in self.files.values_mut().filter(|file| !file.is_unsaved()) {
            file.found = None;
        }
    }

    pub(super) fn news(&self) -> PaintingNews {
        let lost = self.files.iter().filter(|(name, file)| {
            file.is_unsaved() && !file.is_saved_beside() && !self.read.contains(name)
        });
        let names = self.read.iter().chain(lost.map(|(name, _)| name));
        let one = |name: &String| {
            let file = self.files.get(name)?;
            let (rows, columns) = file.size();
            Some(PictureNews {
                name: name.clone(),
                rows,
                columns,
                pots: file.pots.clone(),
                is_text: file.is_text(),
                is_unsaved: file.is_unsaved(),
                is_saved_beside: file.is_saved_beside(),
                is_changed: file.found.is_some(),
                is_gone: file.found == Some(None),
                changed_beside: file.changed_beside().map(|beside| beside.file.clone()),
                is_read: self.read.contains(name),
            })
        };
        PaintingNews {
            version: self.version,
            files: names.filter_map(one).collect(),
            can_undo: !self.done.is_empty(),
            can_redo: !self.undone.is_empty(),
            ..PaintingNews::default()
        }
    }

    /// For each cell of a picture, row by row, the number of its pot; before them how many changes
    /// they hold, and behind them how many columns there are.
    pub(super) fn cells(&self, name: &str) -> Option<(u64, Vec<Option<usize>>, usize)> {
        let file = self.files.get(name)?;
        Some((self.version, file.cells(), file.size().1))
    }
}
