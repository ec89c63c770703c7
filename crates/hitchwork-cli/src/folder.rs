//! Writes files whole or not at all, and never over what others have made.

use std::collections::BTreeMap;
use std::io::{self, ErrorKind, Read as _};
use std::path::{Path, PathBuf};

use hitchwork_collection::digest::{sha256, sha256_of};
use hitchwork_collection::folder::{LOCK, Lock, UnfinishedFile};
use hitchwork_collection::names::told;
use hitchwork_collection::run::belongs_to_a_collection;
pub(crate) use hitchwork_rules::load::reason;
use serde::{Deserialize, Serialize};

use crate::pictures;
use crate::trouble::Trouble;

/// What a folder remembers of the files that the command has written into it.
const MADE: &str = ".hitchwork-made";

/// The most bytes that are read of it: more than ten thousand files have.
const MOST_MADE_BYTES: u64 = 16 << 20;

/// The files that were written into a folder, by their names, with the SHA-256 of what was in
/// them. A file that is one of these may be replaced, and no other one.
#[derive(Default, Serialize, Deserialize)]
struct OwnFiles {
    files: BTreeMap<String, Vec<String>>,
}

impl OwnFiles {
    /// What a folder remembers; nothing where it does not, or where that cannot be read.
    fn of(folder: &Path) -> Self {
        let place = folder.join(MADE);
        let plain = std::fs::symlink_metadata(&place).is_ok_and(|found| found.is_file());
        let mut text = Vec::new();
        let read = plain.then(|| {
            let file = std::fs::File::open(place)?;
            file.take(MOST_MADE_BYTES).read_to_end(&mut text)
        });
        match read {
            Some(Ok(_)) => serde_json::from_slice(&text).unwrap_or_default(),
            _ => Self::default(),
        }
    }

    /// Whether something lies at this place that is not ours to replace: it was not written by
    /// us, or has been changed since. The `bytes` that would be written are in nobody's way.
    fn is_of_others(&self, folder: &Path, name: &str, bytes: Option<&[u8]>) -> bool {
        let place = folder.join(name);
        let found = match std::fs::symlink_metadata(&place) {
            // Nothing can be there where a part of the path is not a folder.
            Err(error)
                if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) =>
            {
                return false;
            }
            found => found.ok(),
        };
        let ours = found
            .filter(std::fs::Metadata::is_file)
            .is_some_and(|found| {
                // With an empty file nothing is lost.
                found.len() == 0
                    || digest_of_file(&place).is_ok_and(|there| {
                        self.knows(name, &there)
                            || bytes.is_some_and(|bytes| sha256(bytes) == there)
                    })
            });
        !ours
    }

    /// Refuses to write where something of others is in the way, and names all of it.
    fn leave_alone<'a>(
        &self,
        folder: &Path,
        files: impl Iterator<Item = (&'a str, Option<&'a [u8]>)>,
    ) -> Result<(), Trouble> {
        let mut of_others: Vec<String> = files
            .filter(|(name, bytes)| self.is_of_others(folder, name, *bytes))
            .map(|(name, _)| name.to_owned())
            .collect();
        if let Some(inner) = of_others.iter().find(|name| folder.join(name).is_dir()) {
            return Err(Trouble::new(
                format!(
                    "{} is a folder, so no file can be written there",
                    folder.join(inner).display()
                ),
                "move it away, or choose another place with --out",
            ));
        }
        of_others.sort();
        match &of_others[..] {
            [] => Ok(()),
            [name] => Err(Trouble::new(
                format!(
                    "{} is there already, and hitchwork does not recognise it as its own: it comes from elsewhere, or has been changed since",
                    folder.join(name).display()
                ),
                "rename it if you want to keep it, or delete it, and it is made again; or choose another place with --out. Nothing was written",
            )),
            names => Err(Trouble::new(
                format!(
                    "{} are in {} already, and hitchwork does not recognise them as its own: they come from elsewhere, or have been changed since",
                    told(names),
                    folder.display()
                ),
                "rename those that you want to keep, or delete them, and they are made again; or choose another place with --out. Nothing was written",
            )),
        }
    }

    /// The files that an earlier run has written into the folder, and this one has not: as
    /// they were written then.
    fn earlier(&self, folder: &Path, files: &[(String, Vec<u8>)]) -> Vec<String> {
        let is_new = |name: &str| files.iter().any(|(new, _)| new == name);
        let is_there = |name: &str| {
            let digest = digest_of_file(&folder.join(name));
            digest.is_ok_and(|digest| self.knows(name, &digest))
        };
        let earlier = self.files.keys();
        let earlier = earlier.filter(|name| !is_new(name) && is_there(name));
        earlier.cloned().collect()
    }

    fn knows(&self, name: &str, digest: &str) -> bool {
        let known = self.files.get(name);
        known.is_some_and(|known| known.iter().any(|known| known == digest))
    }

    /// Remembers what is about to be written, besides what lies there now: a run that dies
    /// between two files leaves some of both.
    fn about_to_write(&mut self, folder: &Path, files: &[(String, Vec<u8>)]) {
        for (name, bytes) in files {
            let now = digest_of_file(&folder.join(name)).ok();
            let mut digests = vec![sha256(bytes)];
            digests.extend(now.filter(|now| *now != digests[0]));
            self.files.insert(name.clone(), digests);
        }
    }
}

fn digest_of_file(path: &Path) -> io::Result<String> {
    sha256_of(std::fs::File::open(path)?)
}

fn not_written(folder: &Path, error: &io::Error) -> Trouble {
    Trouble::new(
        format!(
            "nothing was written into {}: {}",
            folder.display(),
            reason(error)
        ),
        "choose another folder with --out, or make room in this one; what was there before is still whole",
    )
}

/// What was written into a folder.
pub(crate) struct WrittenFiles {
    /// The places of the files.
    pub(crate) places: Vec<PathBuf>,
    /// The names of files that lie there from earlier runs, and belong to what was made then.
    pub(crate) earlier: Vec<String>,
}

/// Writes all the files into a folder, making it if need be. First everything is written
/// beside its place, then all is moved there, so that a full disk leaves nothing half
/// done and what was there before stays whole until then. Where a file of somebody else
/// lies, or one of ours that somebody has changed, nothing is written at all.
pub(crate) fn write_all(
    folder: &Path,
    files: &[(String, Vec<u8>)],
) -> Result<WrittenFiles, Trouble> {
    let each = || {
        let each = files.iter();
        each.map(|(name, bytes)| (name.as_str(), Some(&bytes[..])))
    };
    // Looked at before anything is left in the folder, and once more when nobody else writes.
    OwnFiles::of(folder).leave_alone(folder, each())?;
    let new = !folder.exists();
    std::fs::create_dir_all(folder).map_err(|error| {
        let error = if folder.is_file() {
            io::Error::from(ErrorKind::NotADirectory)
        } else {
            error
        };
        not_written(folder, &error)
    })?;
    let lock = Lock::wait_for(folder)?;
    let mut made = OwnFiles::of(folder);
    made.leave_alone(folder, each())?;
    let earlier = made.earlier(folder, files);
    made.about_to_write(folder, files);
    let outcome = write_beside_then_move(folder, files, &made);
    drop(lock);
    if outcome.is_err() && new {
        // An empty folder of ours is no use to anybody; one that is not empty stays.
        let _ = std::fs::remove_file(folder.join(LOCK));
        let _ = std::fs::remove_dir(folder);
    }
    let places = outcome.map_err(|error| not_written(folder, &error))?;
    Ok(WrittenFiles { places, earlier })
}

/// Looks, before long work is begun, whether its files could be written into a folder: `is_one`
/// says of a name whether the work may write it.
pub(crate) fn takes(folder: &Path, is_one: &dyn Fn(&str) -> bool) -> Result<(), Trouble> {
    let there = folder
        .ancestors()
        .map(|above| match above.as_os_str().is_empty() {
            true => Path::new("."),
            false => above,
        })
        .find(|above| std::fs::symlink_metadata(above).is_ok());
    let tried = there.map_or(Ok(()), |there| match there.is_dir() {
        true => UnfinishedFile::whole(&there.join(MADE), b"").map(drop),
        false => Err(ErrorKind::NotADirectory.into()),
    });
    tried.map_err(|error| not_written(folder, &error))?;
    let names: Vec<String> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .filter(|name| is_one(name))
        .collect();
    let each = names.iter().map(|name| (name.as_str(), None));
    OwnFiles::of(folder).leave_alone(folder, each)
}

fn write_beside_then_move(
    folder: &Path,
    files: &[(String, Vec<u8>)],
    made: &OwnFiles,
) -> io::Result<Vec<PathBuf>> {
    let remembered = serde_json::to_vec(made).map_err(io::Error::from)?;
    let remembered = UnfinishedFile::whole(&folder.join(MADE), &remembered)?;
    let mut written = Vec::with_capacity(files.len());
    for (name, bytes) in files {
        let place = folder.join(name);
        written.push((UnfinishedFile::whole(&place, bytes)?, place));
    }
    remembered.into_place()?;
    let moved = |(file, place): (UnfinishedFile, PathBuf)| file.into_place().map(|()| place);
    written.into_iter().map(moved).collect()
}

/// What kind of result a file is that a maker names, by the names that a run without such a
/// wish would give it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum ResultKind {
    /// A picture of a band.
    Picture,
    /// A sheet to tie from.
    Sheet,
    /// A list, a plot, a palette: nothing that a folder is filled with.
    Other,
}

impl ResultKind {
    /// The kind of a file that was written under a name of our choice.
    fn of(name: &str) -> Self {
        let ending = Path::new(name)
            .extension()
            .and_then(|ending| ending.to_str());
        match ending {
            _ if name.starts_with("contact") => Self::Other,
            Some("svg" | "png") => Self::Picture,
            Some("html" | "pdf" | "txt") => Self::Sheet,
            _ => Self::Other,
        }
    }
}

/// Refuses a file at a place that a maker names where it cannot be written, or is one of a
/// collection, or another kind of result that was written there. Any other file there is what
/// the maker means.
pub(crate) fn may_be_named(path: &Path, kind: ResultKind) -> Result<(), Trouble> {
    match std::fs::symlink_metadata(path) {
        Ok(found) if found.is_dir() => {
            return Err(one_not_written(
                path,
                &io::Error::from(ErrorKind::IsADirectory),
            ));
        }
        // What it leads to would stay as it is, and the link would be gone.
        Ok(found) if !found.is_file() => {
            return Err(one_not_written(
                path,
                &io::Error::other("there is a link or a device there, not a plain file"),
            ));
        }
        _ => {}
    }
    if belongs_to_a_collection(path) {
        return Err(Trouble::new(
            format!(
                "{} was not written: that name belongs to a file of the collection",
                path.display()
            ),
            "name another file, or the collection would no longer recognise its own",
        ));
    }
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let known = OwnFiles::of(folder_of(path)).files.contains_key(&*name);
    if known && path.exists() && (kind == ResultKind::Other || ResultKind::of(&name) != kind) {
        return Err(Trouble::new(
            format!(
                "{} was not written: another kind of file that hitchwork made is there",
                path.display()
            ),
            "name another file, or delete that one first",
        ));
    }
    Ok(())
}

fn one_not_written(path: &Path, error: &io::Error) -> Trouble {
    Trouble::new(
        format!("{} was not written: {}", path.display(), reason(error)),
        "choose another place with --out; what was there before is still whole",
    )
}

/// The folder in which a file lies.
fn folder_of(path: &Path) -> &Path {
    path.parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

/// What to do about a folder whose name JSON cannot carry.
pub(crate) const NOT_IN_JSON: &str =
    "choose another folder with --out, or leave out --json, which can only name files in UTF-8";

/// A path as text. Where it is none, nothing that goes by its text would find the file.
pub(crate) fn as_text<'a>(path: &'a Path, help: &str) -> Result<&'a str, Trouble> {
    path.to_str().ok_or_else(|| {
        let shown = path.display();
        Trouble::new(format!("the path {shown} is not UTF-8 text"), help)
    })
}

/// Writes the pages of a picture: one at the place that a maker names; several beside it, under
/// names of our choice, where they replace what was made before and nothing else.
pub(crate) fn write_pages(out: &Path, pages: &[Vec<u8>]) -> Result<Vec<PathBuf>, Trouble> {
    if let [page] = pages {
        write_one(out, page, ResultKind::Picture)?;
        return Ok(vec![out.to_owned()]);
    }
    let name = out.with_extension("");
    let name = Path::new(name.file_name().unwrap_or_default());
    let stem = as_text(name, "give the pages another name with --out")?;
    let ending = out.extension().and_then(|ending| ending.to_str());
    let names = pictures::names(stem, ending.unwrap_or("svg"), pages.len());
    let folder = folder_of(out);
    for name in &names {
        may_be_named(&folder.join(name), ResultKind::Picture)?;
    }
    let places = names.iter().map(|name| out.with_file_name(name)).collect();
    let files: Vec<(String, Vec<u8>)> = names.into_iter().zip(pages.iter().cloned()).collect();
    write_all(folder, &files)?;
    Ok(places)
}

/// Writes one file whole, at the place that a maker names.
pub(crate) fn write_one(path: &Path, bytes: &[u8], kind: ResultKind) -> Result<(), Trouble> {
    may_be_named(path, kind)?;
    let folder = folder_of(path);
    let written = std::fs::create_dir_all(folder)
        .and_then(|()| UnfinishedFile::whole(path, bytes)?.into_place());
    written.map_err(|error| one_not_written(path, &error))
}
