//! The batch as CSV: a row a module, written by `fit` and read by `replay`.

use std::collections::HashMap;
use std::io::Read;
use std::path::Path;

use csv::ByteRecord;
use serde::{Deserialize, Serialize};
use tallyvolt::{Fingerprint, LineConstants, QuotientConstants, Record};

use super::Batch;
use super::module::ModuleFit;
use super::readings::MODULES_MAX;
use super::records::hex_text;
use super::stored::Words;
use crate::describe::firmware::{Constants, Conversion, Firmware};
use crate::files::rows::columns::Wanted;
use crate::files::rows::names::Spellings;
use crate::files::rows::problem::{Complaint, RowsError};
use crate::files::rows::table::{Step, Table, open};

/// One row. Numbers that a module does not have are empty.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
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
pub fn row(module: &ModuleFit, front_end: Fingerprint) -> BatchRow {
    let fit = module.fit.as_ref();
    let stored = fit.and_then(|fit| fit.stored.as_ref());
    let uncertainty = fit.and_then(|fit| fit.uncertainty);
    let reading = fit.and_then(|fit| fit.reading);
    let names = module.reasons.iter().map(|reason| reason.check.words());
    let names: Vec<&str> = names.collect();
    let mut row = BatchRow {
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
            let residuals = fit.residuals.iter();
            let sizes = residuals.map(|residual| residual.counts.abs());
            sizes.fold(0.0, f64::max)
        }),
        uncertainty_min_mv: reading.map(|of| of.at_min),
        uncertainty_max_mv: reading.map(|of| of.at_max),
        uncertainty_worst_mv: reading.map(|of| of.worst),
        first: stored.map(|stored| stored.first),
        counts: stored.map(|stored| stored.counts),
        distance_mv: stored.map(|stored| stored.distance_mv),
        front_end: format!("{:08x}", front_end.0),
        ..BatchRow::default()
    };
    match stored.map(|stored| stored.words) {
        Some(Words::Line {
            factor,
            addend,
            shift,
        }) => {
            (row.factor, row.addend, row.shift) = (Some(factor), Some(addend), Some(shift));
        }
        Some(Words::Quotient {
            numerator,
            at_first,
            step_log2,
        }) => {
            (row.numerator, row.at_first) = (Some(numerator), Some(at_first));
            row.step_log2 = Some(step_log2);
        }
        None => {}
    }
    if let Some(record) = module.record().filter(|_| module.gets_record()) {
        row.record = hex_text(record);
    }
    row
}

/// The whole batch as CSV text.
///
/// # Errors
/// The writer's, as text.
pub fn text(batch: &Batch) -> Result<Vec<u8>, String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let front_end = batch.transfer.fingerprint();
    for module in &batch.modules {
        let written = writer.serialize(row(module, front_end));
        written.map_err(|error| error.to_string())?;
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
/// How to fix a file of another kind.
const WRITTEN: &str = "give a file that `tallyvolt fit --csv` wrote";

/// Reads a batch made for `firmware`, as `fit` wrote it or as a spreadsheet saved it. Modules without constants are left out.
///
/// # Errors
/// [`RowsError`]; the first row that cannot be used refuses the file, and so does a file without rows.
pub fn read(path: &Path, firmware: &Firmware) -> Result<HashMap<String, Known>, RowsError> {
    let (file, opened) = open(path)?;
    parse(&file, opened, firmware)
}

/// The same from any source; `file` serves messages only.
///
/// # Errors
/// As [`read`].
pub fn parse(
    file: &str,
    source: impl Read,
    firmware: &Firmware,
) -> Result<HashMap<String, Known>, RowsError> {
    let mut table = Table::from_source(file, source, &WANTED)?;
    let front_end = firmware.fingerprint();
    let header = header(&table)?;
    let mut spellings = Spellings::default();
    let mut known = HashMap::new();
    let mut rows = 0;
    loop {
        match table
            .step()
            .map_err(|error| RowsError::broken_off(file, rows as u64, &error))?
        {
            Step::End if rows == 0 => {
                let rule = "a header and no module below it".to_owned();
                return Err(table.header_problem(Complaint::new(rule, WRITTEN)));
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
        let row: BatchRow = raw
            .deserialize(Some(&header))
            .map_err(|error| refuse(without_place(&error), WRITTEN))?;
        let spelled = spellings.take(&row.module, table.line());
        spelled.map_err(|complaint| {
            RowsError::Header(table.problem(table.about(MODULE, complaint)))
        })?;
        let given = format!("{:08x}", front_end.0);
        if row.front_end != given {
            let made = &row.front_end;
            return Err(refuse(
                format!("made for front end {made}, the file given is {given}"),
                "give the front-end file that the batch was fitted with",
            ));
        }
        let Some(constants) = row.constants() else {
            continue;
        };
        let fix = "fit the batch again";
        let conversion = firmware.module(constants);
        let conversion = conversion.map_err(|error| refuse(error.to_string(), fix))?;
        let recorded = row.verdict == "good" || !row.record.is_empty();
        if recorded {
            // What is not hexadecimal has no bytes.
            let bytes = hex::decode(&row.record).unwrap_or_default();
            let of_record = Record::decode(&bytes, front_end)
                .and_then(|record| firmware.recorded(&record))
                .map_err(|error| refuse(format!("record: {error}"), fix))?;
            if of_record.constants() != conversion.constants() {
                let rule = "record: not the constants of its row".to_owned();
                return Err(refuse(rule, fix));
            }
        }
        let found = Known {
            conversion,
            uncertainty_mv: row.uncertainty_worst_mv,
            recorded,
        };
        if known.insert(row.module.clone(), found).is_some() {
            return Err(refuse(format!("module {} stands twice", row.module), fix));
        }
    }
}

/// The header as [`BatchRow`] names it.
fn header(table: &Table<'_, 1>) -> Result<ByteRecord, RowsError> {
    let headings = table.headings();
    let headings: Vec<String> = headings
        .iter()
        .map(|heading| heading.trim().to_ascii_lowercase())
        .collect();
    let known = columns();
    let foreign = headings.iter().find(|heading| !known.contains(heading));
    if let Some(heading) = foreign {
        let rule = format!("`{heading}` is no column of a batch");
        return Err(table.header_problem(Complaint::new(rule, WRITTEN)));
    }
    Ok(ByteRecord::from(headings))
}

/// The columns, as [`text`] writes them.
fn columns() -> Vec<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Into memory, which takes every row.
    let _ = writer.serialize(BatchRow::default());
    let bytes = writer.into_inner().unwrap_or_default();
    let header = csv::Reader::from_reader(&bytes[..]).headers().cloned();
    header
        .unwrap_or_default()
        .iter()
        .map(str::to_owned)
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
    let fields = (0..fields).map(|at| {
        let mut field = table.any_field(at).to_vec();
        if let (true, Some(comma)) = (number(&field), field.iter_mut().find(|byte| **byte == b','))
        {
            *comma = b'.';
        }
        field
    });
    fields.collect::<Vec<Vec<u8>>>().into()
}

/// What serde says of a row, without the csv crate's own line number.
fn without_place(error: &csv::Error) -> String {
    match error.kind() {
        csv::ErrorKind::Deserialize { err, .. } => err.to_string(),
        _ => error.to_string(),
    }
}
