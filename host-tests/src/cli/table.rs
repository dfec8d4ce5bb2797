//! `tallyvolt table FILE`

use std::io::{BufWriter, ErrorKind, stdout};
use std::path::Path;

use tallyvolt_model::acquisition::AcquisitionModel;

use super::{Exit, failure};
use crate::cli::progress::Progress;
use crate::describe::front_end_file;
use crate::prove::table::{Format, TableError, write};

pub(super) fn run(file: &Path, json: bool) -> Exit {
    let front_end = match front_end_file::read(file) {
        Ok(front_end) => front_end,
        Err(error) => {
            failure::show(error);
            return Exit::BadInput;
        }
    };
    let counts = AcquisitionModel::new(&front_end.converter).largest_count();
    let progress = Progress::new(u64::from(counts) + 1);
    let format = if json { Format::Json } else { Format::Csv };
    let output = BufWriter::new(stdout().lock());
    match write(&front_end, format, output, |counts| {
        progress.advance(counts)
    }) {
        Ok(()) => Exit::Holds,
        // A reader that closed the pipe early has what it wanted.
        Err(TableError::Write(error)) if error.kind() == ErrorKind::BrokenPipe => Exit::Holds,
        Err(error) => {
            drop(progress);
            failure::say(&error.to_string());
            Exit::BadInput
        }
    }
}
