//! The batch as CSV: a row a module, written by `fit` and read by `replay`.

use std::collections::HashMap;
use std::path::Path;

use csv::ByteRecord;
use serde::{Deserialize, Serialize};
use tallyvolt::{ConfigError, Fingerprint, LineConstants, QuotientConstants, Record, RecordError};

use super::Batch;
use super::module::ModuleFit;
use super::readings::MODULES_MAX;
use super::records::hex_text;
use super::stored::Words;
use crate::describe::firmware::{Constants, Conversion, Firmware};
use crate::files::rows::columns::Wanted;
use crate::files::rows::names::Spellings;
use crate::files::rows::problem::{Complaint, RowsError};
use crate::files::rows::table::{Step, Table};

/// One row. Numbers that a module does not have are empty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BatchRow {
    /// Its name.
    pub module: String,
    /// `good`, `unchecked` or `suspect`.
    pub verdict: String,
    /// Names of the checks that failed, `;` between them.
    pub reasons: String,
    /// `gain-only` or `gain-and-offset`.
    pub mode: String,
    /// Good rows.
    pub rows: usize,
    /// Different voltages.
    pub voltages: usize,
    /// Factor on the voltage.
    pub gain: Option<f64>,
    /// Its standard uncertainty.
    pub u_gain: Option<f64>,
    /// Single-sample counts.
    pub offset: Option<f64>,
    /// Its standard uncertainty.
    pub u_offset: Option<f64>,
    /// Of gain and offset.
    pub correlation: Option<f64>,
    /// Largest residual in counts.
    pub largest_residual: Option<f64>,
    /// Expanded uncertainty (95 %) of a reading at the emptiest cell.
    pub uncertainty_min_mv: Option<f64>,
    /// At the fullest cell.
    pub uncertainty_max_mv: Option<f64>,
    /// The largest in the cell's range.
    pub uncertainty_worst_mv: Option<f64>,
    /// The first count that is a voltage.
    pub first: Option<u32>,
    /// How many counts are.
    pub counts: Option<u32>,
    /// Divided input: M of `(M * (count - first) + B) >> S`.
    pub factor: Option<u64>,
    /// B.
    pub addend: Option<u64>,
    /// S.
    pub shift: Option<u8>,
    /// Supply reference: K of `K / (2^t * (count - first) + D)`.
    pub numerator: Option<u64>,
    /// D.
    pub at_first: Option<u32>,
    /// t.
    pub step_log2: Option<u8>,
    /// Largest distance between these constants and the fitted curve, over the cell's range.
    pub distance_mv: Option<f64>,
    /// Of the description, hexadecimal.
    pub front_end: String,
    /// The record, hexadecimal; empty for a module that gets none.
    pub record: String,
}

/// A row of a module.
#[must_use]
pub fn row(module: &ModuleFit, front_end: Fingerprint) -> BatchRow {
    let fit = module.fit.as_ref();
    let stored = fit.and_then(|fit| fit.stored.as_ref());
    let words = stored.map(|stored| stored.words);
    let line = match words {
        Some(Words::Line {
            factor,
            addend,
            shift,
        }) => Some((factor, addend, shift)),
        _ => None,
    };
    let quotient = match words {
        Some(Words::Quotient {
            numerator,
            at_first,
            step_log2,
        }) => Some((numerator, at_first, step_log2)),
        _ => None,
    };
    let uncertainty = fit.and_then(|fit| fit.uncertainty);
    let reading = fit.and_then(|fit| fit.reading);
    let names: Vec<&str> = module
        .reasons
        .iter()
        .map(|reason| reason.check.words())
        .collect();
    BatchRow {
        module: module.module.clone(),
        verdict: module.verdict().word().to_owned(),
        reasons: names.join("; "),
        mode: fit.map_or("", |fit| fit.mode.words()).replace(' ', "-"),
        rows: module.rows,
        voltages: module.voltages,
        gain: fit.map(|fit| fit.gain),
        u_gain: uncertainty.map(|of| of.gain.u),
        offset: fit.map(|fit| fit.offset),
        u_offset: uncertainty.map(|of| of.offset.u),
        correlation: uncertainty.map(|of| of.correlation),
        largest_residual: fit.map(|fit| {
            fit.residuals
                .iter()
                .map(|residual| residual.counts.abs())
                .fold(0.0, f64::max)
        }),
        uncertainty_min_mv: reading.map(|of| of.at_min),
        uncertainty_max_mv: reading.map(|of| of.at_max),
        uncertainty_worst_mv: reading.map(|of| of.worst),
        first: stored.map(|stored| stored.first),
        counts: stored.map(|stored| stored.counts),
        factor: line.map(|(factor, ..)| factor),
        addend: line.map(|(_, addend, _)| addend),
        shift: line.map(|(.., shift)| shift),
        numerator: quotient.map(|(numerator, ..)| numerator),
        at_first: quotient.map(|(_, at_first, _)| at_first),
        step_log2: quotient.map(|(.., step_log2)| step_log2),
        distance_mv: stored.map(|stored| stored.distance_mv),
        front_end: format!("{:08x}", front_end.0),
        record: if module.gets_record() {
            module.record().map(hex_text).unwrap_or_default()
        } else {
            String::new()
        },
    }
}

/// The whole batch as CSV text.
///
/// # Errors
/// The writer's, as text.
pub fn text(batch: &Batch) -> Result<Vec<u8>, String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let front_end = batch.transfer.fingerprint();
    for module in &batch.modules {
        writer
            .serialize(row(module, front_end))
            .map_err(|error| error.to_string())?;
    }
    writer.into_inner().map_err(|error| error.to_string())
}

/// A module's calibration as `replay` takes it.
#[derive(Debug, Clone)]
pub struct Known {
    /// The module's own conversion.
    pub conversion: Conversion,
    /// Expanded uncertainty (95 %) of a reading, the largest in the cell's range; none where the fit could give no interval.
    pub uncertainty_mv: Option<f64>,
    /// Whether the module has a record: the fit found no fault, or an unchecked fit was accepted.
    pub recorded: bool,
}

impl BatchRow {
    /// The constants of the row, by topology; none where the module has none.
    fn constants(&self) -> Option<Constants> {
        let (first, counts) = (self.first?, self.counts?);
        match (self.factor, self.addend, self.shift) {
            (Some(factor), Some(addend), Some(shift)) => Some(Constants::Line(LineConstants {
                first,
                counts,
                factor: u128::from(factor),
                addend: u128::from(addend),
                shift,
            })),
            _ => Some(Constants::Quotient(QuotientConstants {
                first,
                counts,
                numerator: self.numerator?,
                at_first: self.at_first?,
                step_log2: self.step_log2?,
            })),
        }
    }
}

/// The column that tells a batch's separator; the others are named by [`BatchRow`].
const MODULE: usize = 0;
const WANTED: [Wanted; 1] = [Wanted::plain("module", &["module"])];

/// Reads a batch made for `firmware`, as `fit` wrote it or as a spreadsheet saved it. Modules without constants are left out.
///
/// # Errors
/// [`RowsError`]; the first row that cannot be used refuses the file, and so does a file without rows.
pub fn read(path: &Path, firmware: &Firmware) -> Result<HashMap<String, Known>, RowsError> {
    let front_end = firmware.fingerprint();
    let mut table = Table::open(path, &WANTED)?;
    let header = header(&table);
    let mut spellings = Spellings::default();
    let mut known = HashMap::new();
    let mut rows = 0;
    loop {
        let step = table.step().map_err(|error| RowsError::Unreadable {
            file: path.display().to_string(),
            reason: error.to_string(),
        })?;
        match step {
            Step::End if rows == 0 => {
                let rule = "a header and no module below it".to_owned();
                let fix = "give a file that `tallyvolt fit --csv` wrote";
                return Err(table.header_problem(Complaint::new(rule, fix)));
            }
            Step::End => return Ok(known),
            Step::Bad(complaint) => return Err(RowsError::Header(table.problem(complaint))),
            Step::Row => rows += 1,
        }
        let refuse =
            |rule: String, fix: &str| RowsError::Header(table.problem(Complaint::new(rule, fix)));
        if rows > MODULES_MAX {
            return Err(refuse(
                format!("more than {MODULES_MAX} modules"),
                "give the calibrations of one batch",
            ));
        }
        let raw = record(&table, header.len());
        let row: BatchRow = raw.deserialize(Some(&header)).map_err(|error| {
            refuse(
                without_place(&error),
                "give a file that `tallyvolt fit --csv` wrote",
            )
        })?;
        spellings
            .take(&row.module, table.line())
            .map_err(|complaint| {
                RowsError::Header(table.problem(table.about(MODULE, complaint)))
            })?;
        if row.front_end != format!("{:08x}", front_end.0) {
            return Err(refuse(
                format!(
                    "made for front end {}, the file given is {:08x}",
                    row.front_end, front_end.0
                ),
                "give the front-end file that the batch was fitted with",
            ));
        }
        let Some(constants) = row.constants() else {
            continue;
        };
        let fix = "fit the batch again";
        let conversion = firmware
            .module(constants)
            .map_err(|error: ConfigError| refuse(error.to_string(), fix))?;
        let good = row.verdict == "good";
        let recorded = good || !row.record.is_empty();
        if recorded {
            let record = from_hex(&row.record, front_end)
                .map_err(|error| refuse(format!("record: {error}"), fix))?;
            let conversion_of_record = firmware
                .recorded(&record)
                .map_err(|error| refuse(format!("record: {error}"), fix))?;
            if conversion_of_record.constants() != conversion.constants() {
                return Err(refuse(
                    "record: not the constants of its row".to_owned(),
                    fix,
                ));
            }
        }
        let module = row.module.clone();
        if known
            .insert(
                module,
                Known {
                    conversion,
                    uncertainty_mv: row.uncertainty_worst_mv,
                    recorded,
                },
            )
            .is_some()
        {
            return Err(refuse(format!("module {} stands twice", row.module), fix));
        }
    }
}

/// The header as [`BatchRow`] names it.
fn header(table: &Table<'_, 1>) -> ByteRecord {
    let headings = table.headings();
    headings
        .iter()
        .map(|heading| heading.trim().to_ascii_lowercase())
        .collect()
}

/// The row's fields. Where commas do not separate, one within a number is a decimal comma: `fit` writes no thousands.
fn record(table: &Table<'_, 1>, fields: usize) -> ByteRecord {
    let number = |field: &[u8]| {
        field.iter().filter(|byte| **byte == b',').count() == 1
            && field
                .iter()
                .all(|byte| byte.is_ascii_digit() || b"+-,eE".contains(byte))
    };
    (0..fields)
        .map(|at| {
            let field = table.any_field(at).to_vec();
            if number(&field) {
                field
                    .into_iter()
                    .map(|byte| if byte == b',' { b'.' } else { byte })
                    .collect()
            } else {
                field
            }
        })
        .collect::<Vec<Vec<u8>>>()
        .into()
}

/// What serde says of a row, without the csv crate's own line number.
fn without_place(error: &csv::Error) -> String {
    match error.kind() {
        csv::ErrorKind::Deserialize { err, .. } => err.to_string(),
        _ => error.to_string(),
    }
}

/// The record behind hexadecimal digits.
fn from_hex(text: &str, front_end: Fingerprint) -> Result<Record, RecordError> {
    let digits: Option<Vec<u8>> = text
        .chars()
        .map(|digit| {
            digit
                .to_digit(16)
                .and_then(|digit| u8::try_from(digit).ok())
        })
        .collect();
    let bytes: Vec<u8> = digits
        .unwrap_or_default()
        .chunks(2)
        .map(|pair| pair.iter().fold(0, |byte, digit| byte << 4 | digit))
        .collect();
    Record::decode(&bytes, front_end)
}
