//! Where a command's text goes: a file, whole or not at all, or standard output.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{Exit, failure};
use crate::emit::write::{WriteError, Written, write};

/// The file of a page or a picture.
#[derive(Debug, Args)]
pub(super) struct Destination {
    /// File to write, or - for standard output.
    #[arg(long, default_value = "-")]
    out: PathBuf,
    /// Replace an existing file of another content.
    #[arg(long)]
    force: bool,
}

impl Destination {
    /// The file's name as typed; none for standard output.
    pub(super) fn file(&self) -> Option<String> {
        (!is_standard_output(&self.out)).then(|| self.out.display().to_string())
    }

    /// Writes the file; says nothing of it. Standard output is the caller's.
    ///
    /// # Errors
    /// As [`put`].
    pub(super) fn put(&self, text: &str) -> Result<&'static str, Exit> {
        put(&self.out, text, self.force)
    }
}

/// Whether a path means standard output.
pub(super) fn is_standard_output(path: &Path) -> bool {
    path == Path::new("-")
}

/// Writes a file and answers `written` or `unchanged`.
///
/// # Errors
/// The exit code, when another content stands there and `force` is not given, or when it cannot be written; that was said.
pub(super) fn put(path: &Path, text: &str, force: bool) -> Result<&'static str, Exit> {
    match write(path, text, force) {
        Ok(Written::Written) => Ok("written"),
        Ok(Written::Unchanged) => Ok("unchanged"),
        Err(error) => {
            let mend = match error {
                WriteError::Different { .. } => {
                    "\nthe file was left as it is: give --force to replace it"
                }
                WriteError::System { .. } => "",
            };
            failure::say(&format!("{error}{mend}"));
            Err(Exit::BadInput)
        }
    }
}
