//! The bench's readings: `module,meter_mv,count[,temp_c]`, repeats allowed, a bad row never spoiling another module's.

use std::collections::HashMap;
use std::io::Read;
use std::path::Path;

use crate::files::rows::columns::{CELSIUS, MILLIVOLTS, Wanted};
use crate::files::rows::names::Spellings;
use crate::files::rows::problem::{Complaint, RowProblem, RowsError};
use crate::files::rows::table::{Step, Table, open};

/// Rows of a file of readings: some 2000 modules at 20 voltages with 3 repeats each, in less than 64 MB of memory.
pub const ROWS_MAX: u64 = 1 << 17;
/// Modules of a file of readings.
pub const MODULES_MAX: usize = 1 << 12;
/// Bad rows that are kept to be shown; the others are counted.
pub const PROBLEMS_KEPT: usize = 256;

/// Places of the columns below.
const MODULE: usize = 0;
const METER_MV: usize = 1;
const COUNT: usize = 2;
const TEMP_C: usize = 3;
/// A meter reading is above zero, so that 1/V exists, and at most what a cell's description can carry.
const WANTED: [Wanted; 4] = [
    Wanted::plain("module", &["module", "module name"]),
    Wanted::quantity(
        "meter_mv",
        &["meter", "meter reading", "meter voltage", "voltage"],
        MILLIVOLTS,
        (1e-3, 65_535.0),
    ),
    Wanted::plain("count", &["count", "counts", "raw count", "raw counts"]),
    Wanted::quantity("temp_c", &["temp", "temperature"], CELSIUS, (-60.0, 200.0)).optional(),
];

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
    /// Bad ones.
    pub bad_rows: u64,
    /// The first [`PROBLEMS_KEPT`] bad rows.
    pub problems: Vec<RowProblem>,
    /// In one line, what was understood of the file.
    pub understood: String,
}

/// Reads a file of readings for a converter with counts up to `largest`.
///
/// # Errors
/// [`RowsError`] when the file or its header cannot be used, or holds more than [`ROWS_MAX`] rows or [`MODULES_MAX`] modules;
/// bad rows are in the result.
pub fn read(path: &Path, largest: u32) -> Result<Readings, RowsError> {
    let (file, opened) = open(path)?;
    gather(&file, opened, largest, (ROWS_MAX, MODULES_MAX))
}

/// The same from any source, as many rows and modules as it has; `file` serves messages only.
///
/// # Errors
/// [`RowsError`] when the source or its header cannot be used.
pub fn parse(file: &str, source: impl Read, largest: u32) -> Result<Readings, RowsError> {
    gather(file, source, largest, (u64::MAX, usize::MAX))
}

fn gather(
    file: &str,
    source: impl Read,
    largest: u32,
    (rows_max, modules_max): (u64, usize),
) -> Result<Readings, RowsError> {
    let mut table = Table::from_source(file, source, &WANTED)?;
    let mut readings = Readings::default();
    let mut places: HashMap<String, usize> = HashMap::new();
    let mut spellings = Spellings::default();
    loop {
        let step = table
            .step()
            .map_err(|error| RowsError::broken_off(file, readings.rows, &error))?;
        if step == Step::End {
            break;
        }
        readings.rows += 1;
        if readings.rows > rows_max {
            let rule = format!("more than {rows_max} rows");
            let complaint = Complaint::new(rule, "fit a batch in parts");
            return Err(RowsError::Header(table.problem(complaint)));
        }
        let place = match step {
            Step::Bad(complaint) => Err(complaint),
            _ => module_of(&table, &mut places, &mut spellings, &mut readings),
        };
        if readings.modules.len() > modules_max {
            let rule = format!("more than {modules_max} modules");
            let complaint = Complaint::new(rule, "check that the module column holds names");
            return Err(RowsError::Header(table.problem(complaint)));
        }
        let good = place.and_then(|at| {
            let module = &mut readings.modules[at];
            let reading = reading(&mut table, largest);
            let reading = reading.inspect_err(|_| module.bad_lines.push(table.line()))?;
            module.readings.push(reading);
            Ok(())
        });
        if let Err(complaint) = good {
            readings.bad_rows += 1;
            if readings.problems.len() < PROBLEMS_KEPT {
                readings.problems.push(table.problem(complaint));
            }
        }
    }
    readings.understood = table.understood();
    Ok(readings)
}

/// Place of the row's module, which is made where it is new.
fn module_of(
    table: &Table<'_, 4>,
    places: &mut HashMap<String, usize>,
    spellings: &mut Spellings,
    readings: &mut Readings,
) -> Result<usize, Complaint> {
    let name = table.name(MODULE)?;
    if let Some(place) = places.get(name) {
        return Ok(*place);
    }
    spellings
        .take(name, table.line())
        .map_err(|complaint| table.about(MODULE, complaint))?;
    let place = readings.modules.len();
    readings.modules.push(ModuleReadings {
        name: name.to_owned(),
        ..Default::default()
    });
    places.insert(name.to_owned(), place);
    Ok(place)
}

fn reading(table: &mut Table<'_, 4>, largest: u32) -> Result<Reading, Complaint> {
    Ok(Reading {
        line: table.line(),
        meter_mv: table.number(METER_MV)?,
        count: table.count(COUNT, largest)?,
        temp_c: table.optional_number(TEMP_C)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As many rows as a file may have are read, and not one more.
    #[test]
    fn rows_have_a_limit() {
        let read = |rows: usize| {
            let text = format!("module,meter_mv,count\n{}", "m,3200,3065\n".repeat(rows));
            gather("r.csv", text.as_bytes(), 4095, (3, 9)).map(|readings| readings.rows)
        };
        assert_eq!(read(3).map_err(|error| error.to_string()), Ok(3));
        for rows in [4, 5] {
            let said = read(rows).expect_err("too many").to_string();
            assert!(said.contains("more than 3 rows"), "{said}");
        }
    }

    /// The first bad rows are kept, all are counted.
    #[test]
    fn so_many_bad_rows_are_kept() {
        let text = format!("module,meter_mv,count\n{}", "m,3200,many\n".repeat(300));
        let found = parse("r.csv", text.as_bytes(), 4095).expect("a header");
        assert_eq!((found.bad_rows, found.problems.len()), (300, PROBLEMS_KEPT));
    }
}
