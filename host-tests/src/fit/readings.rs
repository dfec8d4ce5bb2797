//! The bench's readings: `module,meter_mv,count[,temp_c]`, repeats allowed, a bad row never spoiling another module's.

use std::collections::HashMap;
use std::path::Path;

use csv::{ByteRecord, ReaderBuilder, Trim};

use crate::rows::{self, RowProblem, RowsError};

/// Largest meter reading in millivolts: what a cell's description can carry.
const METER_MV_MAX: f64 = 65_535.0;
/// Smallest, so that 1/V exists.
const METER_MV_MIN: f64 = 1e-3;

/// One row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Line in the file, from 1.
    pub line: u64,
    /// The bench meter's reading.
    pub meter_mv: f64,
    /// The module's count.
    pub count: u32,
    /// Temperature of the module, where it was taken.
    pub temp_c: Option<f64>,
}

/// All rows of one module.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ModuleReadings {
    /// Its name.
    pub name: String,
    /// Its good rows, in the file's order.
    pub readings: Vec<Reading>,
    /// Lines of its bad rows.
    pub bad_lines: Vec<u64>,
}

/// A file of readings.
#[derive(Debug, Clone, Default)]
pub struct Readings {
    /// Modules, in the order of their first row.
    pub modules: Vec<ModuleReadings>,
    /// Rows that were read, good or bad.
    pub rows: u64,
    /// The bad rows.
    pub problems: Vec<RowProblem>,
}

/// Reads a file of readings for a converter with counts up to `largest`.
///
/// # Errors
/// [`RowsError`] when the file or its header cannot be used; bad rows are in the result.
pub fn read(path: &Path, largest: u32) -> Result<Readings, RowsError> {
    let file = path.display().to_string();
    let opened = std::fs::File::open(path).map_err(|error| RowsError::Unreadable {
        file: file.clone(),
        reason: error.to_string(),
    })?;
    parse(&file, opened, largest)
}

/// The same from any source; `file` serves messages only.
///
/// # Errors
/// As [`read`].
pub fn parse(file: &str, source: impl std::io::Read, largest: u32) -> Result<Readings, RowsError> {
    let unreadable = |error: csv::Error| RowsError::Unreadable {
        file: file.to_owned(),
        reason: error.to_string(),
    };
    let mut reader = ReaderBuilder::new()
        .flexible(true)
        .comment(Some(b'#'))
        .trim(Trim::All)
        .from_reader(source);
    let header = reader.headers().map_err(unreadable)?.clone();
    let ([module, meter_mv, count], [temp_c]) =
        rows::columns(file, &header, ["module", "meter_mv", "count"], ["temp_c"])?;
    let mut readings = Readings::default();
    let mut places: HashMap<String, usize> = HashMap::new();
    let mut row = ByteRecord::new();
    while reader.read_byte_record(&mut row).map_err(unreadable)? {
        readings.rows += 1;
        let line = row.position().map_or(0, csv::Position::line);
        let field = |at: usize| row.get(at).unwrap_or(b"");
        let name = match rows::module_name(field(module)) {
            Ok(name) => name,
            Err(complaint) => {
                readings
                    .problems
                    .push(RowProblem::new(file, line, &row, complaint));
                continue;
            }
        };
        let place = *places.entry(name.to_owned()).or_insert_with(|| {
            readings.modules.push(ModuleReadings {
                name: name.to_owned(),
                ..Default::default()
            });
            readings.modules.len() - 1
        });
        let reading = || {
            if row.len() > header.len() {
                return Err((
                    format!("{} fields, the header has {}", row.len(), header.len()),
                    "take the surplus fields out".to_owned(),
                ));
            }
            Ok(Reading {
                line,
                meter_mv: rows::number("meter_mv", field(meter_mv), METER_MV_MIN..=METER_MV_MAX)?,
                count: rows::count(field(count), largest)?,
                temp_c: match temp_c.map(field) {
                    None | Some(b"") => None,
                    Some(field) => Some(rows::number("temp_c", field, -60.0..=200.0)?),
                },
            })
        };
        // The place was just looked up or made.
        let Some(module) = readings.modules.get_mut(place) else {
            continue;
        };
        match reading() {
            Ok(reading) => module.readings.push(reading),
            Err(complaint) => {
                module.bad_lines.push(line);
                readings
                    .problems
                    .push(RowProblem::new(file, line, &row, complaint));
            }
        }
    }
    Ok(readings)
}
