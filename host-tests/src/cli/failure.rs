//! How errors reach people: underlined on the terminal, plain when piped.

use std::io::{self, BufWriter, ErrorKind, IsTerminal, Write, stderr, stdout};

use miette::{MietteHandlerOpts, Report};

use super::Exit;
use crate::describe::front_end_file::problem::FileError;
use crate::files::rows::{RowProblem, RowsError};

/// Columns of an error report.
const WIDTH: usize = 100;
/// Problems of one file that are shown.
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
pub(super) fn show(error: FileError) {
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

/// Shows why a CSV file gives no rows.
pub(super) fn show_rows(error: RowsError) {
    match error {
        RowsError::Header(problem) => show_bad_rows(&[problem], 1, 1),
        RowsError::Unreadable { .. } => say(&error.to_string()),
    }
}

/// Shows the first `shown` of `bad` rows one by one, and how many there are besides.
pub(super) fn show_bad_rows(problems: &[RowProblem], shown: usize, bad: u64) {
    let shown = shown.min(problems.len());
    for problem in problems.iter().take(shown) {
        let _ = writeln!(stderr(), "{:?}", Report::new(problem.clone()));
    }
    let more = bad.saturating_sub(shown as u64);
    if more > 0 {
        say(&format!("and {more} more bad rows"));
    }
}

/// Shows a failure that has no place in a file.
pub(super) fn say(text: &str) {
    let _ = writeln!(stderr(), "tallyvolt: {text}");
}

/// Prints a command's result as JSON.
///
/// # Errors
/// As [`print`], and for a result that has no JSON.
pub(super) fn print_json(output: &impl serde::Serialize) -> Result<(), Exit> {
    // Written as it is made: of a large batch the text would take more memory than the batch.
    let mut out = BufWriter::new(stdout().lock());
    let written = serde_json::to_writer_pretty(&mut out, output)
        .map_err(io::Error::from)
        .and_then(|()| out.write_all(b"\n"))
        .and_then(|()| out.flush());
    printed(written)
}

/// Prints a command's result.
///
/// # Errors
/// The exit code when standard output cannot be written; a reader that closed the pipe early has what it wanted.
pub(super) fn print(text: &str) -> Result<(), Exit> {
    printed(stdout().write_all(text.as_bytes()))
}

/// What became of output; a reader that closed the pipe early has what it wanted.
fn printed(written: io::Result<()>) -> Result<(), Exit> {
    match written {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            say(&format!("standard output: {error}"));
            Err(Exit::BadInput)
        }
        _ => Ok(()),
    }
}
