//! `tallyvolt table FILE`

use std::io::{BufWriter, ErrorKind, stdout};
use std::path::Path;

use tallyvolt_model::acquisition::AcquisitionModel;

use super::exit::Exit;
use super::failure;
use super::progress::Progress;
use tallyvolt_analysis::prove::table::{Format, TableError, write};

pub(super) fn run(file: &Path, json: bool) -> Result<Exit, Exit> {
    let front_end = failure::read(file)?;
    let counts = AcquisitionModel::new(&front_end.converter).largest_count();
    let progress = Progress::of(u64::from(counts) + 1, "counts");
    let format = if json { Format::Json } else { Format::Csv };
    let output = BufWriter::new(stdout().lock());
    match progress.during(|told| write(&front_end, format, output, told)) {
        Ok(()) => Ok(Exit::Holds),
        // A reader that closed the pipe early has what it wanted.
        Err(TableError::Write(error)) if error.kind() == ErrorKind::BrokenPipe => Ok(Exit::Holds),
        Err(error) => Err(failure::bad_input(error)),
    }
}
