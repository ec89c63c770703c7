//! Writes files whole or not at all.

use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

pub(crate) use hitchwork_collection::folder::reason;
use tempfile::NamedTempFile;

use crate::trouble::Trouble;

/// Writes all the files into a folder, making it if need be. First everything is written
/// beside its place, then all is moved there, so that a full disk leaves nothing half
/// done and what was there before stays whole until then.
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
    for (name, _) in files {
        let place = folder.join(name);
        if place.is_dir() {
            return Err(Trouble::new(
                format!(
                    "{} is a folder, so no file can be written there",
                    place.display()
                ),
                "move it away, or choose another folder with --out",
            ));
        }
    }
    let outcome = write_beside_then_move(folder, files);
    if outcome.is_err() && new {
        // An empty folder of ours is no use to anybody; one that is not empty stays.
        let _ = std::fs::remove_dir(folder);
    }
    outcome.map_err(|error| refused(&error))
}

fn write_beside_then_move(folder: &Path, files: &[(String, Vec<u8>)]) -> io::Result<Vec<PathBuf>> {
    let mut written = Vec::with_capacity(files.len());
    for (name, bytes) in files {
        written.push((beside(folder, bytes)?, folder.join(name)));
    }
    let moved = |(file, place): (NamedTempFile, PathBuf)| {
        file.persist(&place).map_err(|error| error.error)?;
        Ok(place)
    };
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
    if path.is_dir() {
        return Err(refused(&io::Error::from(ErrorKind::IsADirectory)));
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
