//! Notices changes of a rule, and of every rule, picture and font that it asks for.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use notify::{Event, RecommendedWatcher, RecursiveMode, Watcher};

use super::lock::locked;
use crate::trouble::Trouble;

/// What, when it changes, may change the band.
const ENDINGS: [&str; 4] = ["rhai", "toml", "csv", "gpl"];

/// Whole folders are watched, for editors put new files in the place of old ones, and a
/// file that is watched by itself is then lost.
pub(super) struct Noticing {
    folder: PathBuf,
    /// What watches, and which folders in it are watched too.
    watching: Mutex<(RecommendedWatcher, BTreeSet<PathBuf>)>,
    /// The folders in it that would be, whether they are there or not, and the pictures and fonts
    /// for which the rule asks.
    hoped_for: Arc<Mutex<BTreeSet<PathBuf>>>,
}

impl Noticing {
    /// Begins to watch the folder of a rule; `changed` is told of whatever may matter.
    pub(super) fn new(rule: &Path, changed: impl Fn() + Send + 'static) -> Result<Self, Trouble> {
        let folder = std::path::absolute(rule).unwrap_or_else(|_| rule.to_owned());
        let folder = folder.parent().unwrap_or(Path::new("/")).to_owned();
        let hoped_for = Arc::<Mutex<BTreeSet<PathBuf>>>::default();
        let hopes = Arc::clone(&hoped_for);
        let seen = move |event: notify::Result<Event>| {
            let matters = |path: &PathBuf| {
                let ending = path.extension().and_then(|ending| ending.to_str());
                ending.is_some_and(|ending| ENDINGS.contains(&ending))
                    || locked(&hopes).contains(path)
            };
            // What the page saves has other endings; being read changes nothing.
            if event.is_ok_and(|event| !event.kind.is_access() && event.paths.iter().any(matters)) {
                changed();
            }
        };
        let refused = |error: notify::Error| {
            Trouble::new(
                format!("changes in {} cannot be noticed: {error}", folder.display()),
                "close other programs that are watching many files, or make the band with make",
            )
        };
        let mut watcher = notify::recommended_watcher(seen).map_err(refused)?;
        watcher
            .watch(&folder, RecursiveMode::NonRecursive)
            .map_err(refused)?;
        Ok(Self {
            folder,
            watching: Mutex::new((watcher, BTreeSet::new())),
            hoped_for,
        })
    }

    /// Watches the folders in which these rules and files lie, or would. Gives whether one of them
    /// is watched only now, so that something may have happened in it unseen.
    pub(super) fn follow<'a>(
        &self,
        rules: impl IntoIterator<Item = &'a String>,
        files: impl IntoIterator<Item = &'a String>,
    ) -> bool {
        let files: Vec<&String> = files.into_iter().collect();
        let mut folders = BTreeSet::new();
        for name in rules.into_iter().chain(files.iter().copied()) {
            let inside = Path::new(name).ancestors().skip(1);
            let inside = inside.filter(|folder| !folder.as_os_str().is_empty());
            folders.extend(inside.map(|folder| self.folder.join(folder)));
        }
        let (watcher, watched) = &mut *locked(&self.watching);
        watched.retain(|folder| {
            let stays = folder.is_dir() && folders.contains(folder);
            if !stays {
                // One that is gone is watched no more already.
                let _ = watcher.unwatch(folder);
            }
            stays
        });
        let mut is_new = false;
        for folder in &folders {
            if !watched.contains(folder)
                && folder.is_dir()
                && watcher.watch(folder, RecursiveMode::NonRecursive).is_ok()
            {
                watched.insert(folder.clone());
                is_new = true;
            }
        }
        folders.extend(files.into_iter().map(|file| self.folder.join(file)));
        *locked(&self.hoped_for) = folders;
        is_new
    }
}
