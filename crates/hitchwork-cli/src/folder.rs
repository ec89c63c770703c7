//! Writes files whole or not at all, and never over what others have made.

use std::collections::BTreeMap;
use std::io::{self, ErrorKind, Read as _, Write};
use std::path::{Path, PathBuf};

pub(crate) use hitchwork_rules::load::reason;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use tempfile::NamedTempFile;

use crate::trouble::Trouble;

/// What a folder remembers of the files that the command has written into it.
const MADE: &str = ".hitchwork-made";

/// The most bytes that are read of it: more than ten thousand files have.
const MOST_MADE_BYTES: u64 = 16 << 20;

/// The files that were written into a folder, by their names, with the SHA-256 of what was in
/// them. A file that is one of these may be replaced, and no other one.
#[derive(Default, Serialize, Deserialize)]
struct Made {
    files: BTreeMap<String, Vec<String>>,
}

impl Made {
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

    /// Says so where a file lies at this place that was not written by us, or not these bytes.
    fn of_others(&self, name: &str, place: &Path, bytes: &[u8]) -> Option<Trouble> {
        let found = match std::fs::symlink_metadata(place) {
            Err(error) if error.kind() == ErrorKind::NotFound => return None,
            found => found.ok(),
        };
        if found.as_ref().is_some_and(std::fs::Metadata::is_dir) {
            return Some(Trouble::new(
                format!(
                    "{} is a folder, so no file can be written there",
                    place.display()
                ),
                "move it away, or choose another folder with --out",
            ));
        }
        let ours = found
            .filter(std::fs::Metadata::is_file)
            .is_some_and(|found| {
                // With an empty file nothing is lost.
                let there = || digest_of_file(place).unwrap_or_default();
                found.len() == 0 || self.knows(name, &there()) || digest(bytes) == there()
            });
        (!ours).then(|| {
            Trouble::new(
                format!(
                    "{} is there already, and hitchwork does not know it as its own: it comes from elsewhere, or was changed since",
                    place.display()
                ),
                "rename it if you want to keep it, or delete it, and it is made anew; or choose another folder with --out. Nothing was written",
            )
        })
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
            let mut digests = vec![digest(bytes)];
            digests.extend(now.filter(|now| *now != digests[0]));
            self.files.insert(name.clone(), digests);
        }
    }
}

fn digest(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

fn digest_of_file(path: &Path) -> io::Result<String> {
    let mut digest = Sha256::new();
    let mut file = std::fs::File::open(path)?;
    let mut buffer = vec![0; 1 << 16];
    loop {
        match file.read(&mut buffer)? {
            0 => return Ok(format!("{:x}", digest.finalize())),
            count => digest.update(&buffer[..count]),
        }
    }
}

/// Writes all the files into a folder, making it if need be. First everything is written
/// beside its place, then all is moved there, so that a full disk leaves nothing half
/// done and what was there before stays whole until then. Where a file of somebody else
/// lies, or one of ours that somebody has changed, nothing is written at all.
pub(crate) fn write_all(
    folder: &Path,
    files: &[(String, Vec<u8>)],
) -> Result<Vec<PathBuf>, Trouble> {
    let refused = |error: &io::Error| {
        Trouble::new(
            format!(
                "nothing was written into {}: {}",
                folder.display(),
                reason(error)
            ),
            "choose another folder with --out, or make room in this one; what was there before is still whole",
        )
    };
    let new = !folder.exists();
    std::fs::create_dir_all(folder).map_err(|error| {
        let error = if folder.is_file() {
            io::Error::from(ErrorKind::NotADirectory)
        } else {
            error
        };
        refused(&error)
    })?;
    let mut made = Made::of(folder);
    for (name, bytes) in files {
        if let Some(trouble) = made.of_others(name, &folder.join(name), bytes) {
            return Err(trouble);
        }
    }
    made.about_to_write(folder, files);
    let outcome = write_beside_then_move(folder, files, &made);
    if outcome.is_err() && new {
        // An empty folder of ours is no use to anybody; one that is not empty stays.
        let _ = std::fs::remove_dir(folder);
    }
    outcome.map_err(|error| refused(&error))
}

fn write_beside_then_move(
    folder: &Path,
    files: &[(String, Vec<u8>)],
    made: &Made,
) -> io::Result<Vec<PathBuf>> {
    let remembered = serde_json::to_vec(made).map_err(io::Error::from)?;
    let remembered = beside(folder, &remembered)?;
    let mut written = Vec::with_capacity(files.len());
    for (name, bytes) in files {
        written.push((beside(folder, bytes)?, folder.join(name)));
    }
    let moved = |(file, place): (NamedTempFile, PathBuf)| {
        file.persist(&place).map_err(|error| error.error)?;
        Ok(place)
    };
    moved((remembered, folder.join(MADE)))?;
    written.into_iter().map(moved).collect()
}

/// Writes one file whole.
pub(crate) fn write_one(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    let refused = |error: &io::Error| {
        let help = "choose another place with --out; what was there before is still whole";
        Trouble::new(
            format!("{} was not written: {}", path.display(), reason(error)),
            help,
        )
    };
    match std::fs::symlink_metadata(path) {
        Ok(found) if found.is_dir() => {
            return Err(refused(&io::Error::from(ErrorKind::IsADirectory)));
        }
        // What it leads to would stay as it is, and the link would be gone.
        Ok(found) if !found.is_file() => {
            return Err(refused(&io::Error::other(
                "a link or a device is there, and no plain file",
            )));
        }
        _ => {}
    }
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let file = std::fs::create_dir_all(folder).and_then(|()| beside(folder, bytes));
    let file = file.map_err(|error| refused(&error))?;
    file.persist(path).map_err(|error| refused(&error.error))?;
    Ok(())
}

fn beside(folder: &Path, bytes: &[u8]) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".hitchwork-");
    // Temporary files are private by default; what we make is to be shared like any other.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    Ok(file)
}
