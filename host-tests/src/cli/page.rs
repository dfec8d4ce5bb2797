//! `--page X.html` of the commands that have a page beside their text.

use std::path::PathBuf;

use clap::Args;

use super::{Exit, failure};
use crate::emit::write::{WriteError, write};

/// Where the page goes.
#[derive(Debug, Args)]
pub(super) struct PageOption {
    /// Write a page with pictures as well: one HTML file that needs no other. A file of another content is left as it is.
    #[arg(long, value_name = "X.html", value_parser = file)]
    page: Option<PathBuf>,
}

fn file(text: &str) -> Result<PathBuf, String> {
    match text {
        "" | "-" => Err("a page goes to a file, not to standard output".to_owned()),
        path => Ok(PathBuf::from(path)),
    }
}

impl PageOption {
    /// Whether a page was asked for.
    pub(super) fn is_wanted(&self) -> bool {
        self.page.is_some()
    }

    /// Makes and writes the page, if one was asked for.
    ///
    /// # Errors
    /// The exit code, when the page cannot be made or written; that was said.
    pub(super) fn put<E: std::fmt::Display>(
        &self,
        page: impl FnOnce() -> Result<String, E>,
    ) -> Result<(), Exit> {
        let Some(path) = &self.page else {
            return Ok(());
        };
        let said = match page() {
            Err(error) => error.to_string(),
            Ok(text) => match write(path, &text, false) {
                Ok(_) => return Ok(()),
                Err(WriteError::Different { file, .. }) => format!(
                    "{}: another content stands there and was left as it is: remove it, or name another file",
                    file.display()
                ),
                Err(error) => error.to_string(),
            },
        };
        failure::say(&format!("no page was written: {said}"));
        Err(Exit::BadInput)
    }
}
