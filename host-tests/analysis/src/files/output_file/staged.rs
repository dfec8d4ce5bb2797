//! Outputs that wait beside their places, and how they get there.

use std::fs;
use std::path::{Path, PathBuf};

use tempfile::{NamedTempFile, TempDir};

use super::refusal::OutputError;

/// What became of an output.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Written {
    /// It is new, or was replaced.
    Written,
    /// It had this content already and was not touched.
    Unchanged,
}

/// An output that waits beside its place. Dropped before [`Staged::commit`], it leaves nothing behind.
#[derive(Debug)]
pub struct Staged {
    pub(super) path: PathBuf,
    pub(super) waiting: Waiting,
}

#[derive(Debug)]
pub(super) enum Waiting {
    /// The place has the content already.
    Nothing,
    File {
        file: NamedTempFile,
        replaces: bool,
    },
    Folder(TempDir),
}

impl Staged {
    /// Whether both belong into one place, however it is written.
    fn is_beside(&self, other: &Self) -> bool {
        let place = |path: &Path| {
            let folder = folder_of(path).canonicalize().ok()?;
            Some(folder.join(path.file_name()?))
        };
        place(&self.path) == place(&other.path)
    }

    /// Moves it into its place, in one step of the file system.
    ///
    /// # Errors
    /// [`OutputError::System`]; the place is as before. A file that appeared there meanwhile is not replaced.
    pub fn commit(self) -> Result<Written, OutputError> {
        let moved = match self.waiting {
            Waiting::Nothing => return Ok(Written::Unchanged),
            Waiting::File { file, replaces } => {
                let moved = if replaces {
                    file.persist(&self.path)
                } else {
                    file.persist_noclobber(&self.path)
                };
                moved.map(drop).map_err(|error| error.error)
            }
            Waiting::Folder(folder) => fs::rename(folder.path(), &self.path).map(|()| {
                // It is where it belongs: nothing is left to clean up.
                let _ = folder.keep();
            }),
        };
        let path = self.path;
        match moved {
            Ok(()) => Ok(Written::Written),
            Err(error) => Err(OutputError::System { path, error }),
        }
    }
}

/// Moves the outputs of a run into their places.
///
/// # Errors
/// [`OutputError::Twice`] before anything is moved; then as [`Staged::commit`].
pub fn commit_all(outputs: Vec<Staged>) -> Result<(), OutputError> {
    for (at, output) in outputs.iter().enumerate() {
        if outputs[..at].iter().any(|other| other.is_beside(output)) {
            let path = output.path.clone();
            return Err(OutputError::Twice { path });
        }
    }
    outputs
        .into_iter()
        .try_for_each(|output| output.commit().map(drop))
}

/// The folder that a path's file belongs into.
pub(super) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}
