//! The one way to standard output.

use std::io::{self, BufWriter, ErrorKind, Write, stdout};

use serde::Serialize;

use super::exit::Exit;
use super::failure;
use crate::words::cautions::{CAUTION, caution};

/// What every JSON output is: the program's version, the result's own fields, the caution.
#[derive(Serialize)]
struct Envelope<T> {
    tallyvolt: &'static str,
    #[serde(flatten)]
    body: T,
    caution: &'static str,
}

/// Prints a command's result: as JSON in its envelope, or as text with the caution behind it.
///
/// # Errors
/// The exit code when the result has no JSON, or standard output cannot be written; a reader that closed the pipe early has what it
/// wanted.
pub(super) fn result(
    as_json: bool,
    body: impl Serialize,
    words: impl FnOnce() -> String,
) -> Result<(), Exit> {
    let text = if as_json {
        String::new()
    } else {
        format!("{}\n{}\n", words(), caution())
    };
    document(as_json, body, &text)
}

/// Prints what is a document of its own: as JSON in its envelope, or as it is.
///
/// # Errors
/// As [`result`].
pub(super) fn document(as_json: bool, body: impl Serialize, text: &str) -> Result<(), Exit> {
    let written = if as_json {
        json(body)
    } else {
        stdout().write_all(text.as_bytes())
    };
    match written {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(failure::bad_input(format_args!("standard output: {error}")))
        }
        _ => Ok(()),
    }
}

/// Written as it is made: of a large batch the text would take more memory than the batch.
fn json(body: impl Serialize) -> io::Result<()> {
    let mut out = BufWriter::new(stdout().lock());
    let envelope = Envelope {
        tallyvolt: env!("CARGO_PKG_VERSION"),
        body,
        caution: CAUTION,
    };
    serde_json::to_writer_pretty(&mut out, &envelope)?;
    out.write_all(b"\n")?;
    out.flush()
}
