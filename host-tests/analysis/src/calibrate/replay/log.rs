//! A log as a stream: `time,module,count[,meter_mv][,sensor_count][,meter_c]`, plain or gzip'd, one row in memory at a time.

use std::cell::Cell;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use crate::files::rows::columns::{CELSIUS, MILLIVOLTS, SECONDS, Wanted};
use crate::files::rows::problem::{Complaint, RowProblem, RowsError};
use crate::files::rows::table::{Step, Table, open};
use crate::files::rows::times::TIME_MAX;

/// Bad rows that are kept to be shown; the others are counted.
pub const PROBLEMS_KEPT: usize = 20;
/// Rows between two reports of progress.
const PROGRESS_ROWS: u64 = 1 << 14;

/// Places of the columns below.
const TIME: usize = 0;
const MODULE: usize = 1;
const COUNT: usize = 2;
const METER_MV: usize = 3;
const SENSOR_COUNT: usize = 4;
const METER_C: usize = 5;
const WANTED: [Wanted; 6] = [
    Wanted::quantity(
        "time",
        &["time", "timestamp", "date time", "datetime"],
        SECONDS,
        (-TIME_MAX, TIME_MAX),
    )
    .unit_may_lack(),
    Wanted::plain("module", &["module", "module name"]),
    Wanted::plain("count", &["count", "counts", "raw count", "raw counts"]),
    Wanted::quantity(
        "meter_mv",
        &["meter", "meter reading", "meter voltage", "voltage"],
        MILLIVOLTS,
        (0.0, 65_535.0),
    )
    .optional(),
    Wanted::plain("sensor_count", &["sensor count", "sensor counts"]).optional(),
    Wanted::quantity(
        "meter_c",
        &["meter", "thermometer"],
        CELSIUS,
        (-273.15, 1000.0),
    )
    .optional(),
];

/// One row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry<'a> {
    /// Line in the unpacked file, from 1.
    pub line: u64,
    /// Seconds from any zero.
    pub time_s: f64,
    /// Name of the module, unchecked.
    pub module: &'a [u8],
    /// Its count.
    pub count: u32,
    /// The meter's reading, where it was taken.
    pub meter_mv: Option<f64>,
    /// The temperature sensor's count, where it was sampled.
    pub sensor_count: Option<u32>,
    /// A thermometer's reading beside the sensor, where it was taken.
    pub meter_c: Option<f64>,
}

/// What is said of a log after its last row.
#[derive(Debug, Clone, Default)]
pub struct End {
    /// Rows read, good or bad.
    pub rows: u64,
    /// Bad ones.
    pub bad_rows: u64,
    /// The first bad ones.
    pub problems: Vec<RowProblem>,
    /// Why reading ended before the file did.
    pub broken: Option<String>,
    /// In one line, what was understood of the file.
    pub understood: String,
}

/// The largest counts that a log may hold: of the cell, and of the sensor, where there is one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Largest {
    /// Of the cell.
    pub cell: u32,
    /// Of the temperature sensor; none refuses its columns.
    pub sensor: Option<u32>,
}

/// Hands every row of a log to `each`, which may refuse it.
///
/// `progress` is told how many bytes of the file were used since it was last told.
///
/// # Errors
/// [`RowsError`] when the file or its header cannot be used. A file that breaks off gives [`End::broken`].
pub fn read(
    path: &Path,
    largest: Largest,
    progress: &dyn Fn(u64),
    each: &mut dyn FnMut(Entry<'_>) -> Result<(), Complaint>,
) -> Result<End, RowsError> {
    let (file, opened) = open(path)?;
    let used = Cell::new(0);
    let counted = Counted {
        file: opened,
        used: &used,
    };
    rows(&file, counted, largest, &|| progress(used.take()), each)
}

/// The same from any source, plain or gzip'd; `file` serves messages only.
///
/// # Errors
/// As [`read`].
pub fn rows(
    file: &str,
    source: impl Read,
    largest: Largest,
    tell: &dyn Fn(),
    each: &mut dyn FnMut(Entry<'_>) -> Result<(), Complaint>,
) -> Result<End, RowsError> {
    let mut table = Table::from_source(file, source, &WANTED)?;
    if largest.sensor.is_none() && (table.has(SENSOR_COUNT) || table.has(METER_C)) {
        let rule = "temperatures, and the front end has no [thermistor]".to_owned();
        let fix = "describe the sensor in the front-end file, or leave the columns out";
        return Err(table.header_problem(Complaint::new(rule, fix)));
    }
    let mut end = End::default();
    loop {
        let step = match table.step() {
            Ok(step) => step,
            Err(error) => {
                end.broken = Some(RowsError::broken_off(file, end.rows, &error).to_string());
                break;
            }
        };
        let outcome = match step {
            Step::End => break,
            Step::Row => entry(&mut table, largest, each),
            Step::Bad(complaint) => Err(complaint),
        };
        end.rows += 1;
        if end.rows.is_multiple_of(PROGRESS_ROWS) {
            tell();
        }
        if let Err(complaint) = outcome {
            end.bad_rows += 1;
            if end.problems.len() < PROBLEMS_KEPT {
                end.problems.push(table.problem(complaint));
            }
        }
    }
    if end.rows == 0 && end.broken.is_none() {
        let rule = "a header and no row below it: there is nothing to replay".to_owned();
        return Err(table.header_problem(Complaint::new(rule, "give a log with rows")));
    }
    end.understood = table.understood();
    Ok(end)
}

/// Hands the table's row to `each`.
fn entry(
    table: &mut Table<'_, 6>,
    largest: Largest,
    each: &mut dyn FnMut(Entry<'_>) -> Result<(), Complaint>,
) -> Result<(), Complaint> {
    let time_s = table.time(TIME)?;
    let count = table.count(COUNT, largest.cell)?;
    let meter_mv = table.optional_number(METER_MV)?;
    let meter_c = table.optional_number(METER_C)?;
    let sensor_count = match largest.sensor {
        Some(largest) if !table.field(SENSOR_COUNT).is_empty() => {
            Some(table.count(SENSOR_COUNT, largest)?)
        }
        _ => None,
    };
    each(Entry {
        line: table.line(),
        time_s,
        module: table.field(MODULE),
        count,
        meter_mv,
        sensor_count,
        meter_c,
    })
    .map_err(|complaint| table.about(MODULE, complaint))
}

/// A file that counts the bytes taken from it since it was last asked.
struct Counted<'a> {
    file: File,
    used: &'a Cell<u64>,
}

impl Read for Counted<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let bytes = self.file.read(buffer)?;
        self.used.set(self.used.get() + bytes as u64);
        Ok(bytes)
    }
}
