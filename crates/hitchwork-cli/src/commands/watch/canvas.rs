//! The session for whoever paints: strokes, pictures that are dropped, saving.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use hitchwork_rules::load::FileKind;
use hitchwork_rules::{Folder, PictureTrace, Sources};
use serde::Serialize;

use super::good::Good;
use super::lock::locked;
use super::painting::{Acts, Bytes, DroppedFit, KnotsInView, PaintedFolder, Refusal, Saved};
use super::runs::WatchRun;
use super::session::Session;
use super::update::Update;
use crate::input;
use crate::trouble::Trouble;

/// The cells of a picture, row by row.
#[derive(Debug, Serialize)]
pub(super) struct PictureCells {
    /// How many changes they hold.
    version: u64,
    /// For each the number of its pot.
    pots: Vec<Option<usize>>,
    /// Whether a knot of the band is to show it.
    are_tied: Vec<bool>,
}

impl Session {
    /// Does what a page asks of the pictures. Gives how many changes there have been.
    pub(super) fn paint(&self, acts: Acts) -> Result<u64, Refusal> {
        let version = locked(&self.painting).act(acts)?;
        self.tell_of_paint();
        Ok(version)
    }

    /// All pages learn at once what has been painted, and what comes of it when that is known.
    fn tell_of_paint(&self) {
        let wanted = self.wanted();
        self.updates.send_modify(|update| {
            *update = Arc::new(Update {
                painting: self.painting_news(),
                is_busy: true,
                ..Update::clone(update)
            });
        });
        drop(wanted);
        self.notifier.notify_of_paint();
    }

    /// Looks whether somebody else has changed the pictures that are painted here.
    pub(super) fn look_at_the_disk(&self, painted: &BTreeMap<String, Bytes>) {
        let folder = Folder::of_file(&self.rule);
        let found = painted.keys().map(|name| {
            let bytes = folder.file(name).ok().flatten().map(|source| source.bytes);
            (name.clone(), bytes)
        });
        let found = found.collect();
        locked(&self.painting).compare(&found);
    }

    /// Takes in what a run knows of the pictures.
    pub(super) fn learn(&self, trace: &PictureTrace, run: &WatchRun) {
        let files = run.asked.asked_files();
        let bytes = |name: &str| {
            let answer = files.get(name)?.as_ref().ok()?.as_ref()?;
            Some(Arc::clone(&answer.bytes))
        };
        locked(&self.painting).learn(trace, &bytes, &run.painted.0);
    }

    /// The cells of a picture, row by row.
    pub(super) fn cells(&self, name: &str) -> Option<PictureCells> {
        let (version, pots, columns) = locked(&self.painting).cells(name)?;
        let mut are_tied = vec![false; pots.len()];
        if let Some(good) = self.good() {
            for (row, column) in good.knots.cells_of(name) {
                let at = usize::from(row) * columns + usize::from(column);
                if let Some(is_tied) = are_tied
                    .get_mut(at)
                    .filter(|_| usize::from(column) < columns)
                {
                    *is_tied = true;
                }
            }
        }
        Some(PictureCells {
            version,
            pots,
            are_tied,
        })
    }

    /// A picture that was dropped takes the place of one of the rule's, if the rule makes a band of
    /// it. Gives how many changes there have been, and how it fits.
    pub(super) fn dropped(
        &self,
        name: &str,
        bytes: &[u8],
    ) -> Result<(u64, Option<DroppedFit>), Trouble> {
        let (dropped, mut painted) = {
            let painting = locked(&self.painting);
            (painting.fitted(name, bytes)?, painting.unsaved())
        };
        painted.insert(name.to_owned(), dropped.bytes());
        let folder = PaintedFolder::new(Folder::of_file(&self.rule), Arc::new(painted));
        let rule = self.rule(&self.rules)?.finding(folder);
        let settings = self.settings(&self.wanted().wishes);
        let made = self.rules.make(&rule, &settings)?;
        let fit = made.trace.and_then(|trace| dropped.fit(&trace));
        let version = locked(&self.painting).put_dropped(dropped);
        self.tell_of_paint();
        Ok((version, fit))
    }

    /// The pictures whose paint has not been saved.
    pub(super) fn unsaved_pictures(&self) -> Vec<String> {
        locked(&self.painting).not_saved()
    }

    /// Saves what has been painted over a picture, in the rule's own folder.
    pub(super) fn save_picture(&self, name: &str) -> Result<Saved, Trouble> {
        let saving = locked(&self.painting).to_save(name)?;
        let folder = Path::new(&self.rule).parent();
        let folder = folder.filter(|folder| !folder.as_os_str().is_empty());
        let rule = input::text(&self.rule, FileKind::Rule).unwrap_or_default();
        let folder = folder.unwrap_or(Path::new("."));
        let saved = saving.write(folder, &rule);
        match &saved {
            Ok(_) => locked(&self.painting).remember_saved(&saving),
            Err(_) => {
                locked(&self.painting).remember_refused(&saving, saving.lies_there(folder));
            }
        }
        self.tell_of_paint();
        saved
    }
}

impl Good {
    /// The knots in this part of the picture.
    pub(super) fn knots_in(&self, part: [f64; 4]) -> KnotsInView<'_> {
        self.knots.in_view(self.number, part)
    }
}
