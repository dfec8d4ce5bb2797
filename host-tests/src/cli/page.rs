//! `--page X.html` of the commands that have a page beside their text.

use std::path::{Path, PathBuf};

use clap::Args;

use super::destination::put;
use super::exit::Exit;
use super::failure;
use tallyvolt_analysis::files::output_file::Place;

/// Where the page goes.
#[derive(Debug, Args)]
pub(super) struct PageOption {
    /// Write a page with pictures as well: one HTML file that needs no other. A file of another content is replaced only with --force.
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
    /// The file, if a page was asked for.
    pub(super) fn file(&self) -> Option<&Path> {
        self.page.as_deref()
    }

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
        force: bool,
        inputs: &[PathBuf],
        page: impl FnOnce() -> Result<String, E>,
    ) -> Result<(), Exit> {
        let Some(path) = &self.page else {
            return Ok(());
        };
        let place = Place::new(path, force, inputs);
        let made = page().map_err(failure::bad_input);
        let made = made.and_then(|text| put(place, &text).map(drop));
        made.inspect_err(|_| failure::say("no page was written"))
    }
}
