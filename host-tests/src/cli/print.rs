//! The one way to standard output.

use std::io::{self, BufWriter, ErrorKind, Write, stdout};

use serde::Serialize;

use super::exit::Exit;
use super::failure;
use crate::words::cautions::caution;
use crate::words::envelope::Envelope;

/// Prints a command's result: as JSON in its envelope, or as text with the caution behind it.
///
/// # Errors
/// As [`text`], and for a result that has no JSON.
pub(super) fn result(
    as_json: bool,
    body: impl Serialize,
    words: impl FnOnce() -> String,
) -> Result<(), Exit> {
    if as_json {
        json(body)
    } else {
        text(&format!("{}\n{}\n", words(), caution()))
    }
}

/// Prints a result as JSON.
///
/// # Errors
/// As [`result`].
pub(super) fn json(body: impl Serialize) -> Result<(), Exit> {
    // Written as it is made: of a large batch the text would take more memory than the batch.
    let mut out = BufWriter::new(stdout().lock());
    let written = serde_json::to_writer_pretty(&mut out, &Envelope::of(body))
        .map_err(io::Error::from)
        .and_then(|()| out.write_all(b"\n"))
        .and_then(|()| out.flush());
    printed(written)
}

/// Prints text as it is.
///
/// # Errors
/// The exit code when standard output cannot be written; a reader that closed the pipe early has what it wanted.
pub(super) fn text(text: &str) -> Result<(), Exit> {
    printed(stdout().write_all(text.as_bytes()))
}

/// What became of output.
fn printed(written: io::Result<()>) -> Result<(), Exit> {
    match written {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(failure::bad_input(format_args!("standard output: {error}")))
        }
        _ => Ok(()),
    }
}
