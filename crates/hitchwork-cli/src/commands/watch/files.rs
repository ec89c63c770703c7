//! Notices changes of a rule, and of anything in its folder that it may use.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use notify::{Event, RecommendedWatcher, RecursiveMode, Watcher};

use super::desk::Desk;
use crate::trouble::Trouble;

/// What, when it changes, may change the band.
const ENDINGS: [&str; 4] = ["rhai", "toml", "csv", "gpl"];

/// Watches the folder of a rule, for editors put new files in the place of old ones, and a
/// file that is watched by itself is then lost. Ends when the watcher is dropped.
pub(super) fn notice(rule: &Path, desk: &Arc<Desk>) -> Result<RecommendedWatcher, Trouble> {
    let folder = rule
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let folder = folder.to_owned();
    let desk = Arc::clone(desk);
    let seen = move |event: notify::Result<Event>| {
        let matters = |path: &PathBuf| {
            let ending = path.extension().and_then(|ending| ending.to_str());
            ending.is_some_and(|ending| ENDINGS.contains(&ending))
        };
        // What the page saves has other endings; being read changes nothing.
        if event.is_ok_and(|event| !event.kind.is_access() && event.paths.iter().any(matters)) {
            desk.look_again();
        }
    };
    let refused = |error: notify::Error| {
        Trouble::new(
            format!("changes in {} cannot be noticed: {error}", folder.display()),
            "close other programs that watch many files, or make the band with make",
        )
    };
    let mut watcher = notify::recommended_watcher(seen).map_err(refused)?;
    watcher
        .watch(&folder, RecursiveMode::NonRecursive)
        .map_err(refused)?;
    // Imports may lie in folders of their own beside the rule.
    for entry in std::fs::read_dir(&folder).into_iter().flatten().flatten() {
        let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        let rules = || {
            std::fs::read_dir(entry.path())
                .into_iter()
                .flatten()
                .flatten()
        };
        if is_folder
            && rules().any(|file| {
                file.path()
                    .extension()
                    .is_some_and(|ending| ending == "rhai")
            })
        {
            let _ = watcher.watch(&entry.path(), RecursiveMode::NonRecursive);
        }
    }
    Ok(watcher)
}
