//! How errors reach people: underlined on the terminal, plain when piped.

use std::fmt::Display;
use std::io::{IsTerminal, Write, stderr};
use std::path::{Path, PathBuf};

use miette::{MietteHandlerOpts, Report};
use tallyvolt_model::front_end::FrontEnd;

use super::exit::Exit;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::front_end_file::problem::FileError;
use tallyvolt_analysis::files::rows::problem::{RowProblem, RowsError};

/// Columns of an error report.
const WIDTH: usize = 100;
/// Problems of one file that are shown; the others are counted.
const PROBLEMS_SHOWN: usize = 20;

/// Chooses colour and width once for the whole process.
pub(super) fn install_handler() {
    // Fails only when a handler is set already, and then that one serves.
    let _ = miette::set_hook(Box::new(|_| {
        Box::new(
            MietteHandlerOpts::new()
                .terminal_links(false)
                .color(stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none())
                .unicode(true)
                .width(WIDTH)
                .build(),
        )
    }));
}

/// Shows a bad front-end file on standard error.
fn show(error: FileError) {
    // A closed standard error leaves nobody to tell.
    match error {
        FileError::Problems { problems, .. } => {
            let more = problems.len().saturating_sub(PROBLEMS_SHOWN);
            for problem in problems.into_iter().take(PROBLEMS_SHOWN) {
                let _ = writeln!(stderr(), "{:?}", Report::new(problem));
            }
            if more > 0 {
                say(&format!("and {more} more problems"));
            }
        }
        FileError::Unreadable { .. } => {
            let _ = writeln!(stderr(), "{:?}", Report::new(error));
        }
    }
}

/// Reads a front-end file; what is wrong with it is shown.
pub(super) fn read(file: &Path) -> Result<FrontEnd, Exit> {
    shown(front_end_file::read(file))
}

/// What was read from a front-end file; what is wrong with it is shown.
pub(super) fn shown<T>(read: Result<T, FileError>) -> Result<T, Exit> {
    read.map_err(|error| {
        show(error);
        Exit::BadInput
    })
}

/// Reads several front-end files: the good ones, and what is wrong with the others.
pub(super) fn read_all(
    files: &[PathBuf],
    read: impl Fn(&Path) -> Result<FrontEnd, FileError>,
) -> (Vec<(&PathBuf, FrontEnd)>, Vec<FileError>) {
    let (mut good, mut bad) = (Vec::new(), Vec::new());
    for file in files {
        match read(file) {
            Ok(front_end) => good.push((file, front_end)),
            Err(error) => bad.push(error),
        }
    }
    (good, bad)
}

/// Shows every bad front-end file.
///
/// # Errors
/// The exit code, if there is one.
pub(super) fn show_all(bad: Vec<FileError>) -> Result<(), Exit> {
    let any = !bad.is_empty();
    bad.into_iter().for_each(show);
    if any { Err(Exit::BadInput) } else { Ok(()) }
}

/// A step's result; why it failed is said of the file.
pub(super) fn of_file<T, E: Display>(file: &Path, result: Result<T, E>) -> Result<T, Exit> {
    result.map_err(|error| bad_input(format_args!("{}: {error}", file.display())))
}

/// What was read from a CSV file; why it gives no rows is shown.
pub(super) fn shown_rows<T>(read: Result<T, RowsError>) -> Result<T, Exit> {
    read.map_err(|error| {
        match error {
            RowsError::Header(problem) => show_bad_rows(&[problem], 1),
            RowsError::Unreadable { .. } => say(&error.to_string()),
        }
        Exit::BadInput
    })
}

/// Shows the first of `bad` rows one by one, and how many there are besides.
pub(super) fn show_bad_rows(problems: &[RowProblem], bad: u64) {
    let shown = problems.len().min(PROBLEMS_SHOWN);
    for problem in problems.iter().take(shown) {
        let _ = writeln!(stderr(), "{:?}", Report::new(problem.clone()));
    }
    let more = bad.saturating_sub(shown as u64);
    if more > 0 {
        say(&format!("and {more} more bad rows"));
    }
}

/// Says why an input cannot be used; the exit code of that.
pub(super) fn bad_input(why: impl Display) -> Exit {
    say(&why.to_string());
    Exit::BadInput
}

/// Shows a failure that has no place in a file.
pub(super) fn say(text: &str) {
    let _ = writeln!(stderr(), "tallyvolt: {text}");
}
