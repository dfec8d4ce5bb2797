//! Files that are there whole or not at all: written beside their place, then moved into it.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// A file or folder that waits beside its place. Dropped before [`Staged::commit`], it leaves nothing behind.
#[derive(Debug)]
pub struct Staged {
    waiting: PathBuf,
    place: PathBuf,
    committed: bool,
}

impl Staged {
    /// Writes a file beside its place; an older file there stays until the commit.
    ///
    /// # Errors
    /// The system's, with nothing left behind.
    pub fn file(place: &Path, bytes: &[u8]) -> io::Result<Self> {
        let staged = Self::beside(place)?;
        let mut file = fs::OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&staged.waiting)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        Ok(staged)
    }

    /// Writes a folder of files beside its place, which must not exist.
    ///
    /// # Errors
    /// The system's, with nothing left behind.
    pub fn folder<'a>(
        place: &Path,
        files: impl Iterator<Item = (String, &'a [u8])>,
    ) -> io::Result<Self> {
        if place.exists() {
            return Err(io::Error::new(
                io::ErrorKind::AlreadyExists,
                "it exists already; records of two fits are not mixed",
            ));
        }
        let staged = Self::beside(place)?;
        fs::create_dir(&staged.waiting)?;
        for (name, bytes) in files {
            fs::write(staged.waiting.join(name), bytes)?;
        }
        Ok(staged)
    }

    /// Moves it into its place, in one step of the file system.
    ///
    /// # Errors
    /// The system's; the place is as before.
    pub fn commit(mut self) -> io::Result<()> {
        fs::rename(&self.waiting, &self.place)?;
        self.committed = true;
        Ok(())
    }

    fn beside(place: &Path) -> io::Result<Self> {
        let name = place
            .file_name()
            .ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "the path names no file"))?;
        let mut waiting = name.to_owned();
        waiting.push(format!(".part-{}", std::process::id()));
        Ok(Self {
            waiting: place.with_file_name(waiting),
            place: place.to_owned(),
            committed: false,
        })
    }
}

impl Drop for Staged {
    fn drop(&mut self) {
        if !self.committed {
            // What was never begun cannot be removed, and that is well.
            let _ = fs::remove_file(&self.waiting).or_else(|_| fs::remove_dir_all(&self.waiting));
        }
    }
}
