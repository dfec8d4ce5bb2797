//! The conversion table of a front end: what firmware answers for each count, beside the exact voltage.

use std::io;

use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::Outcome;
use thiserror::Error;

use crate::describe::firmware::DescribeError;

/// Rows between two reports of progress.
const PROGRESS_ROWS: u32 = 1 << 16;

/// How rows are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// A header line and a row a count.
    Csv,
    /// A JSON object a line, the same keys; `null` where CSV is empty.
    Json,
}

/// Why a table was not written.
#[derive(Debug, Error)]
pub enum TableError {
    /// The firmware crate refuses the front end.
    #[error(transparent)]
    Describe(#[from] DescribeError),
    /// Writing failed.
    #[error("the table cannot be written: {0}")]
    Write(#[from] io::Error),
}

#[derive(Serialize)]
struct Row {
    count: u32,
    mv: Option<String>,
    fault: Option<String>,
    exact_mv: Option<String>,
}

/// Writes `count,mv,fault,exact_mv`, a row for every count from 0 to the largest.
///
/// `mv` has the decimals that the output unit needs and is empty where `fault` is set; `exact_mv` is the model's voltage
/// with 6 decimals, rounded to nearest, ties upward, and empty where the model has none. Numbers are text in JSON too:
/// they are exact decimals.
///
/// # Errors
/// [`TableError`].
pub fn write(
    front_end: &FrontEnd,
    format: Format,
    mut output: impl io::Write,
    progress: &dyn Fn(u64),
) -> Result<(), TableError> {
    let conversion = crate::prove::check::conversion(front_end)?;
    let model = Model::as_drawn(front_end);
    let form = IntegerForm::of(&model);
    let row = |count| {
        let (mv, fault) = match conversion.outcome(count) {
            Outcome::Units(units) => (Some(millivolts(units, front_end.unit_uv)), None),
            Outcome::Fault(fault) => (None, Some(fault.to_string())),
        };
        Row {
            count,
            mv,
            fault,
            exact_mv: form.millivolts_text(count, front_end.unit_uv),
        }
    };
    let rows = (0..=model.largest_count()).map(|count| {
        if count % PROGRESS_ROWS == PROGRESS_ROWS - 1 {
            progress(u64::from(PROGRESS_ROWS));
        }
        row(count)
    });
    match format {
        Format::Csv => {
            let mut table = csv::Writer::from_writer(output);
            for row in rows {
                table.serialize(row).map_err(written)?;
            }
            table.flush()?;
        }
        Format::Json => {
            for row in rows {
                serde_json::to_writer(&mut output, &row).map_err(io::Error::from)?;
                output.write_all(b"\n")?;
            }
            output.flush()?;
        }
    }
    Ok(())
}

/// The `io::Error` inside a CSV error, so that a closed pipe can be told from a full disk.
fn written(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        other => io::Error::other(format!("{other:?}")),
    }
}

/// Output units as millivolts, with the decimals the unit needs: none at 1 mV, one at 100 uV.
pub fn millivolts(units: u32, unit_uv: u32) -> String {
    let uv = u64::from(units) * u64::from(unit_uv);
    if unit_uv.is_multiple_of(1000) {
        (uv / 1000).to_string()
    } else {
        format!("{}.{}", uv / 1000, uv % 1000 / 100)
    }
}
