//! Why an output is not written, and what helps.

use std::io;
use std::path::PathBuf;

use thiserror::Error;

use super::difference::Difference;

/// Why an output is not written; what stands in its place is as before.
#[derive(Debug, Error)]
pub enum OutputError {
    /// Another content stands there.
    #[error("{}: {difference}", path.display())]
    Different {
        /// The place.
        path: PathBuf,
        /// The first line that differs.
        difference: Difference,
    },
    /// It is an input.
    #[error("{}: is read by this run as {}", path.display(), input.display())]
    Input {
        /// The place.
        path: PathBuf,
        /// The input.
        input: PathBuf,
    },
    /// It is a link, a device, a pipe; or a folder where a file is to be.
    #[error("{}: is {what}", path.display())]
    NotRegular {
        /// The place.
        path: PathBuf,
        /// What it is.
        what: &'static str,
    },
    /// A folder is to be written and its place is taken.
    #[error("{}: exists already", path.display())]
    Taken {
        /// The place.
        path: PathBuf,
    },
    /// Its folder is not there.
    #[error("{}: the folder {} is not there", path.display(), folder.display())]
    NoFolder {
        /// The place.
        path: PathBuf,
        /// What is missing.
        folder: PathBuf,
    },
    /// Two outputs of a run belong there.
    #[error("{}: two outputs of this run belong there", path.display())]
    Twice {
        /// The place.
        path: PathBuf,
    },
    /// Standard output, for an output that is a file.
    #[error("-: this output goes to a file")]
    StandardOutput,
    /// The system refuses.
    #[error("{}: {error}", path.display())]
    System {
        /// The place.
        path: PathBuf,
        /// Its reason.
        error: io::Error,
    },
}

impl OutputError {
    /// What helps; empty where the error says it.
    pub fn fix(&self) -> &'static str {
        match self {
            Self::Different { .. } => "the file was left as it is: give --force to replace it",
            Self::Input { .. } => "an input is never overwritten: give another path",
            Self::NotRegular { .. } => {
                "only regular files are written: give another path, or - for standard output where the command has one"
            }
            Self::Taken { .. } => {
                "records of two runs are not mixed, --force or not: name a folder that is not there"
            }
            Self::NoFolder { .. } => "make the folder, or give another path",
            Self::Twice { .. } => "give each a path of its own",
            Self::StandardOutput => "give a path; ./- if a file of that name is meant",
            Self::System { .. } => "",
        }
    }
}
