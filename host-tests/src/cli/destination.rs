//! Where a command's text goes: a file, whole or not at all, or standard output.

use std::path::{Component, Path, PathBuf};

use clap::Args;

use super::exit::Exit;
use super::failure;
use tallyvolt_analysis::files::output_file::{OutputError, Place, Written};

/// The file of a page, a picture or a source text.
#[derive(Debug, Args)]
pub(super) struct Destination {
    /// File to write, or - for standard output.
    #[arg(long, default_value = "-")]
    pub(super) out: PathBuf,
    /// Replace an existing file of another content.
    #[arg(long)]
    force: bool,
}

impl Destination {
    /// The file's name as typed; none for standard output.
    pub(super) fn file(&self) -> Option<String> {
        (!is_standard_output(&self.out)).then(|| self.out.display().to_string())
    }

    /// Writes the file, which is none of the inputs, and answers as [`put`]; none for standard output, which is the caller's.
    ///
    /// # Errors
    /// As [`put`].
    pub(super) fn put(&self, text: &str, inputs: &[PathBuf]) -> Result<Option<&'static str>, Exit> {
        if is_standard_output(&self.out) {
            return Ok(None);
        }
        put(Place::new(&self.out, self.force, inputs), text).map(Some)
    }
}

/// The page of a command that has one beside its text.
#[derive(Debug, Args)]
pub(super) struct PageOption {
    /// Write a page with pictures as well: one HTML file that needs no other. A file of another content is replaced only with --force.
    #[arg(long, value_name = "X.html", value_parser = page)]
    pub(super) page: Option<PathBuf>,
}

fn page(text: &str) -> Result<PathBuf, String> {
    match text {
        "" | "-" => Err("a page goes to a file, not to standard output".to_owned()),
        path => Ok(PathBuf::from(path)),
    }
}

/// Whether a path means standard output.
fn is_standard_output(path: &Path) -> bool {
    path == Path::new("-")
}

/// Writes a file and answers `written` or `unchanged`.
///
/// # Errors
/// The exit code when it is not written; why was said.
pub(super) fn put(place: Place<'_>, text: &str) -> Result<&'static str, Exit> {
    match place.write(text.as_bytes()) {
        Ok(Written::Written) => Ok("written"),
        Ok(Written::Unchanged) => Ok("unchanged"),
        Err(error) => Err(refused(&error)),
    }
}

/// Says why an output was not written.
pub(super) fn refused(error: &OutputError) -> Exit {
    let fix = error.fix();
    let line = if fix.is_empty() { "" } else { "\n" };
    failure::bad_input(format_args!("{error}{line}{fix}"))
}

/// A path as it is written into a file: relative to that file's folder, so that it is the same wherever the program is run; its
/// last part where the two have no folder in common, and as typed for standard output.
pub(super) fn as_seen_from(out: &Path, path: &Path) -> String {
    let typed = || path.display().to_string();
    if is_standard_output(out) {
        return typed();
    }
    let folder = match out.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    // Links are followed: `..` behind one leads elsewhere than it reads.
    let (Ok(folder), Ok(path)) = (folder.canonicalize(), path.canonicalize()) else {
        return typed();
    };
    let named = |part: &Component<'_>| matches!(part, Component::Normal(_));
    let common = folder
        .components()
        .zip(path.components())
        .take_while(|(one, other)| one == other);
    let relative = if common.map(|(part, _)| part).any(|part| named(&part)) {
        pathdiff::diff_paths(&path, &folder)
    } else {
        // The way through the root tells of a machine and not of a project.
        path.file_name().map(PathBuf::from)
    };
    let relative = relative.unwrap_or(path);
    let parts: Vec<_> = relative
        .components()
        .map(|part| part.as_os_str().to_string_lossy())
        .collect();
    parts.join("/")
}
