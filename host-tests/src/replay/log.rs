//! A log as a stream: `time,module,count[,meter_mv][,sensor_count][,meter_c]`, plain or gzip'd, one row in memory at a time.

use std::cell::Cell;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::Path;

use csv::{ByteRecord, ReaderBuilder};
use flate2::bufread::MultiGzDecoder;

use crate::rows::{self, Complaint, RowProblem, RowsError};

/// Bad rows that are kept to be shown; the others are counted.
const PROBLEMS_KEPT: usize = 20;
/// Bytes read at once.
const BUFFER: usize = 1 << 17;
/// First bytes of a gzip stream (RFC 1952).
const GZIP: [u8; 2] = [0x1F, 0x8B];
/// Rows between two reports of progress.
const PROGRESS_ROWS: u64 = 1 << 14;
/// Largest time in seconds: some 3 million years, exact to a millisecond of a century in an f64.
const TIME_MAX: f64 = 1e14;

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
    progress: impl Fn(u64),
    each: impl FnMut(Entry<'_>) -> Result<(), Complaint>,
) -> Result<End, RowsError> {
    let file = path.display().to_string();
    let unreadable = |error: io::Error| RowsError::Unreadable {
        file: file.clone(),
        reason: error.to_string(),
    };
    let opened = File::open(path).map_err(unreadable)?;
    let used = Cell::new(0);
    let counted = Counted {
        file: opened,
        used: &used,
    };
    let mut buffered = BufReader::with_capacity(BUFFER, counted);
    let packed = buffered.fill_buf().map_err(unreadable)?.starts_with(&GZIP);
    let told = Cell::new(0);
    let tell = || {
        progress(used.get() - told.get());
        told.set(used.get());
    };
    if packed {
        rows(&file, MultiGzDecoder::new(buffered), largest, tell, each)
    } else {
        rows(&file, buffered, largest, tell, each)
    }
}

/// The same from any source of plain text; `file` serves messages only.
///
/// # Errors
/// As [`read`].
pub fn rows(
    file: &str,
    source: impl Read,
    largest: Largest,
    tell: impl Fn(),
    mut each: impl FnMut(Entry<'_>) -> Result<(), Complaint>,
) -> Result<End, RowsError> {
    let mut reader = ReaderBuilder::new()
        .flexible(true)
        .comment(Some(b'#'))
        .buffer_capacity(BUFFER)
        .from_reader(source);
    let header = reader
        .headers()
        .map_err(|error| RowsError::Unreadable {
            file: file.to_owned(),
            reason: error.to_string(),
        })?
        .clone();
    let ([time, module, count], [meter_mv, sensor_count, meter_c]) = rows::columns(
        file,
        &header,
        ["time", "module", "count"],
        ["meter_mv", "sensor_count", "meter_c"],
    )?;
    if largest.sensor.is_none() && (sensor_count.is_some() || meter_c.is_some()) {
        return Err(RowsError::Header(RowProblem::new(
            file,
            1,
            header.as_byte_record(),
            (
                "temperatures, and the front end has no [thermistor]".to_owned(),
                "describe the sensor in the front-end file, or leave the columns out".to_owned(),
            ),
        )));
    }
    let mut end = End::default();
    let mut row = ByteRecord::new();
    loop {
        match reader.read_byte_record(&mut row) {
            Ok(true) => {}
            Ok(false) => return Ok(end),
            Err(error) => {
                end.broken = Some(format!(
                    "{file}: breaks off after {} rows: {error}",
                    end.rows
                ));
                return Ok(end);
            }
        }
        end.rows += 1;
        if end.rows.is_multiple_of(PROGRESS_ROWS) {
            tell();
        }
        let line = row.position().map_or(0, csv::Position::line);
        let field = |at: usize| row.get(at).unwrap_or(b"");
        let outcome = (|| {
            each(Entry {
                line,
                time_s: rows::number("time", field(time), -TIME_MAX..=TIME_MAX)?,
                module: field(module).trim_ascii(),
                count: rows::count(field(count), largest.cell)?,
                meter_mv: match meter_mv.map(field) {
                    None | Some(b"") => None,
                    Some(field) => Some(rows::number("meter_mv", field, 0.0..=65_535.0)?),
                },
                sensor_count: match (sensor_count.map(field), largest.sensor) {
                    (None | Some(b""), _) | (_, None) => None,
                    (Some(field), Some(largest)) => Some(rows::count(field, largest)?),
                },
                meter_c: match meter_c.map(field) {
                    None | Some(b"") => None,
                    Some(field) => Some(rows::number("meter_c", field, -273.15..=1000.0)?),
                },
            })
        })();
        if let Err(complaint) = outcome {
            end.bad_rows += 1;
            if end.problems.len() < PROBLEMS_KEPT {
                end.problems
                    .push(RowProblem::new(file, line, &row, complaint));
            }
        }
    }
}

/// A file that counts the bytes taken from it.
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
