//! Whether a folder is what a plan asks for today.

use std::collections::BTreeMap;
use std::io::BufReader;
use std::path::Path;

use serde::Deserialize;

use super::chosen::{self, BestOf};
use crate::folder::{
    FolderError, FolderErrorKind, for_each_line, manifest_name, open_to_read, reason,
};
use crate::making;
use crate::manifest::{self, FileDifference};
use crate::plan::{Asked, Item, Member, Plan, is_file};

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Verified {
    /// How many files the manifest names.
    pub files: usize,
    /// Files that are not what the manifest says.
    pub differences: Vec<FileDifference>,
    /// Members that would be made from something else today, or are not there; their paths
    /// are their names.
    pub outdated: Vec<FileDifference>,
}

/// What the manifest says that a member was made from.
struct MadeFrom {
    key: String,
    asked: Asked,
}

/// What of a line of the manifest is read.
#[derive(Deserialize)]
#[serde(untagged)]
enum ManifestLine {
    Choice {
        choice: BestOf,
    },
    Record {
        name: String,
        key: String,
        #[serde(default)]
        asked: Asked,
    },
}

/// Proves a folder against its manifest, and the manifest against the plan: every file is
/// what it was, and every member is made from the plan, the rules and the palettes as they
/// are now. Nothing is made or written.
///
/// ```
/// # use std::{ops::ControlFlow, sync::atomic::AtomicBool};
/// # use hitchwork_collection::{plan, run::{CollectOptions, collect}};
/// # let rules = hitchwork_rules::Rules::new();
/// # let plan = plan::read(&rules, "drifts.toml", "title = \"Drifts\"\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8] }\n")?;
/// # let folder = tempfile::tempdir()?;
/// # collect(&rules, &plan, folder.path(), &CollectOptions::default(), &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()))?;
/// use hitchwork_collection::run::verify;
/// let verified = verify(&plan, folder.path())?;
/// assert!(verified.differences.is_empty() && verified.outdated.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When there is no manifest, or it is damaged.
pub fn verify(plan: &Plan, folder: &Path) -> Result<Verified, FolderError> {
    let (files, differences) = manifest::verify(folder)?;
    let (mut choices, mut members) = (Vec::new(), BTreeMap::new());
    let path = folder.join(manifest_name(None));
    let read = open_to_read(&path).and_then(|file| {
        for_each_line(
            &mut BufReader::new(file),
            |_, _, line: ManifestLine| match line {
                ManifestLine::Choice { choice } => choices.push(choice),
                ManifestLine::Record { name, key, asked } => {
                    members.insert(name, MadeFrom { key, asked });
                }
            },
        )
    });
    read.map_err(|error| {
        FolderError::new(
            FolderErrorKind::Taken,
            format!("{} cannot be read: {}", path.display(), reason(&error)),
            "put that right, or choose another folder",
        )
    })?;
    let mut outdated = Vec::new();
    for (at, item) in plan.items.iter().enumerate() {
        let digest = making::item_digest(item);
        let mut look_at = |member: Member| {
            let what = outdated_by(item, &digest, &member, members.get(&member.name));
            outdated.extend(what.map(|what| FileDifference {
                path: member.name,
                what: what.into(),
            }));
        };
        match &item.best {
            None => (0..item.candidates()).for_each(|nth| look_at(item.member(at, nth))),
            Some(best) => {
                let digest = chosen::digest(item, best);
                match chosen::known(&choices, &digest, item) {
                    Some(chosen) => chosen
                        .numbers
                        .iter()
                        .for_each(|number| look_at(item.member(at, number - 1))),
                    None => outdated.push(FileDifference {
                        path: item.rule_name.clone(),
                        what: "needs its best bands chosen again".into(),
                    }),
                }
            }
        }
    }
    Ok(Verified {
        files,
        differences,
        outdated,
    })
}

/// Why a member would be made again, if it would.
fn outdated_by(
    item: &Item,
    digest: &str,
    member: &Member,
    made: Option<&MadeFrom>,
) -> Option<String> {
    let Some(made) = made else {
        return Some("is not there yet".to_owned());
    };
    if made.key != making::key(digest, member) {
        return Some("was made from another rule or other settings than there are now".to_owned());
    }
    let changed = made.asked.changed(&item.beside)?;
    let what = if is_file(changed) { "file" } else { "rule" };
    Some(format!(
        "was made with another {what} {changed} than there is now"
    ))
}
