//! The front-end files of this repository.

use std::path::{Path, PathBuf};

use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_model::front_end::FrontEnd;

/// Their folder.
#[must_use]
pub fn folder() -> PathBuf {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../front-ends")).to_path_buf()
}

/// The files, sorted by name.
///
/// # Panics
/// When the directory cannot be read: the tests then have nothing to stand on.
#[must_use]
pub fn files() -> Vec<PathBuf> {
    toml_files(&folder())
}

/// Every shipped front end.
///
/// # Panics
/// When one of them breaks a rule; the message lists which.
#[must_use]
pub fn front_ends() -> Vec<FrontEnd> {
    files()
        .iter()
        .map(|file| match front_end_file::read(file) {
            Ok(front_end) => front_end,
            Err(error) => panic!("{}", error.lines().join("\n")),
        })
        .collect()
}

/// The TOML files of a directory, sorted by name.
///
/// # Panics
/// When the directory cannot be read.
#[must_use]
pub fn toml_files(directory: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(directory)
        .unwrap_or_else(|error| panic!("{}: {error}", directory.display()));
    let mut files: Vec<PathBuf> = entries
        .map(|entry| entry.expect("a directory entry can be read").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "toml")
        })
        .collect();
    files.sort();
    files
}
