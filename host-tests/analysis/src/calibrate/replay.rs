//! Logged counts, converted as firmware converts them and compared with the meter, module by module.
//!
//! ```text
//! log       a plain or gzip'd CSV          -> rows, one at a time
//! module    rows of a module               -> bias, spread, worst error; stuck, railed, gaps
//! sensing   the same rows                  -> temperatures, alarms
//! trace     a second reading               -> the log over time, for a page
//! ```
//!
//! Memory grows with the number of modules and not with the number of rows.

pub mod log;
pub mod module;
pub mod sensing;
pub mod trace;

use std::collections::HashMap;
use std::path::Path;

use thiserror::Error;

use crate::calibrate::fit::batch_csv::Known;
use crate::calibrate::fit::transfer::Transfer;
use crate::describe::firmware::DescribeError;
use crate::files::rows::names::{Spellings, module_name};
use crate::files::rows::problem::{Complaint, RowsError};
use log::{End, Entry, Largest};
use module::{ModuleLog, Watch};
use sensing::{Beside, SensingLog};

/// More modules than these are a column that holds something else; so many take less than 64 MB of memory.
pub const MODULES_MAX: usize = 1 << 14;

/// How a log is judged.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Calibrations by module; none to read every module as drawn.
    pub calibrations: Option<HashMap<String, Known>>,
    /// Largest error of any row, in millivolts; none for the fit's own uncertainty.
    pub limit_mv: Option<f64>,
    /// What is looked for.
    pub watch: Watch,
}

/// Where a module's conversion comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Calibrated {
    /// No calibrations were given.
    AsDrawn,
    /// From a module that the fit gave a record: good, or unchecked and accepted as such.
    Recorded,
    /// From a module without one: suspect, or unchecked.
    Suspect,
    /// Calibrations were given, and none for this module.
    Missing,
}

/// A module of a log.
#[derive(Debug, Clone)]
pub struct Module {
    /// Its name.
    pub name: String,
    /// Where its conversion comes from.
    pub calibrated: Calibrated,
    /// Its limit, and whether it holds for every row or for the root mean square.
    pub limit: Option<Limit>,
    /// What its rows say of the voltage.
    pub log: ModuleLog,
    /// And of temperature and alarms.
    pub sensing: SensingLog,
}

/// A limit on errors, in millivolts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// Stated: for every row.
    EveryRow(f64),
    /// The fit's expanded uncertainty (95 %): for the root mean square error.
    RootMeanSquare(f64),
}

impl Limit {
    /// In millivolts.
    pub fn mv(self) -> f64 {
        match self {
            Self::EveryRow(mv) | Self::RootMeanSquare(mv) => mv,
        }
    }
}

/// A replayed log.
#[derive(Debug, Clone)]
pub struct Replay {
    /// Modules, in the order of their first row.
    pub modules: Vec<Module>,
    /// Rows and bad rows.
    pub end: End,
}

/// Why a log was not replayed.
#[derive(Debug, Error)]
pub enum ReplayError {
    /// The firmware crate refuses the front end or a calibration.
    #[error(transparent)]
    Describe(#[from] DescribeError),
    /// The log cannot be used.
    #[error(transparent)]
    Rows(#[from] RowsError),
}

/// Replays a log.
///
/// `progress` is told bytes of the file.
///
/// # Errors
/// [`ReplayError`]; bad rows are in the result.
pub fn replay(
    transfer: &Transfer,
    beside: &Beside<'_>,
    path: &Path,
    settings: &Settings,
    progress: &dyn Fn(u64),
) -> Result<Replay, ReplayError> {
    let as_drawn = transfer.firmware().conversion();
    let mut modules = Modules {
        transfer,
        beside,
        settings,
        as_drawn: as_drawn.map_err(DescribeError::from)?,
        places: HashMap::new(),
        spellings: Spellings::default(),
        modules: Vec::new(),
    };
    let largest = Largest {
        cell: transfer.largest,
        sensor: beside.sensor_largest,
    };
    let end = log::read(path, largest, progress, &mut |entry| modules.push(&entry))?;
    let mut modules = modules.modules;
    for module in &mut modules {
        module.log.finish(transfer, &settings.watch);
    }
    Ok(Replay { modules, end })
}

/// Modules of a log, as rows come in.
struct Modules<'a> {
    transfer: &'a Transfer,
    beside: &'a Beside<'a>,
    settings: &'a Settings,
    as_drawn: crate::describe::firmware::Conversion,
    places: HashMap<Vec<u8>, usize>,
    spellings: Spellings,
    modules: Vec<Module>,
}

impl Modules<'_> {
    fn push(&mut self, entry: &Entry<'_>) -> Result<(), Complaint> {
        let place = match self.places.get(entry.module) {
            Some(place) => *place,
            None => self.begin(entry.module, entry.line)?,
        };
        let module = &mut self.modules[place];
        module.log.push(entry, self.transfer, &self.settings.watch);
        module.sensing.push(entry, self.beside);
        Ok(())
    }

    fn begin(&mut self, name: &[u8], line: u64) -> Result<usize, Complaint> {
        let name = module_name(name)?;
        if self.modules.len() == MODULES_MAX {
            return Err(Complaint::new(
                format!("module `{name}` is one more than {MODULES_MAX}"),
                "check that the module column holds names",
            ));
        }
        self.spellings.take(name, line)?;
        let given = self.settings.calibrations.as_ref();
        let known = given.and_then(|known| known.get(name));
        let calibrated = match known {
            None if given.is_none() => Calibrated::AsDrawn,
            None => Calibrated::Missing,
            Some(known) if known.recorded => Calibrated::Recorded,
            Some(_) => Calibrated::Suspect,
        };
        let conversion = known.map_or(&self.as_drawn, |known| &known.conversion);
        let own_mv = known.and_then(|known| known.uncertainty_mv);
        let stated = self.settings.limit_mv.map(Limit::EveryRow);
        let limit = stated.or(own_mv.map(Limit::RootMeanSquare));
        let place = self.modules.len();
        self.places.insert(name.as_bytes().to_owned(), place);
        self.modules.push(Module {
            name: name.to_owned(),
            calibrated,
            limit,
            log: ModuleLog::new(
                conversion.clone(),
                limit.map(Limit::mv),
                &self.settings.watch,
            ),
            sensing: self.beside.log(conversion),
        });
        Ok(place)
    }
}

impl Module {
    /// Whether the errors are within the limit; none without a meter or a limit.
    pub fn within(&self) -> Option<bool> {
        let errors = &self.log.errors;
        if errors.rows == 0 {
            return None;
        }
        Some(match self.limit? {
            Limit::EveryRow(_) => errors.beyond_limit == 0,
            Limit::RootMeanSquare(mv) => errors.rms_mv() <= mv,
        })
    }

    /// What is wrong with it, in words; empty when nothing was found. Gaps are the logger's and not counted.
    pub fn findings(&self) -> Vec<&'static str> {
        let found = [
            (self.within() == Some(false), "beyond limit"),
            (self.log.stuck.number > 0, "stuck"),
            (self.log.railed.number > 0, "railed"),
            (self.log.faults > self.log.rows / 2, "mostly faults"),
            (self.log.time_back > 0, "time runs back"),
            (
                self.sensing.temperatures.open + self.sensing.temperatures.short > 0,
                "sensor open or short",
            ),
            (self.calibrated == Calibrated::Missing, "no calibration"),
            (
                self.calibrated == Calibrated::Suspect,
                "suspect calibration",
            ),
        ];
        found
            .into_iter()
            .filter(|(found, _)| *found)
            .map(|(_, words)| words)
            .collect()
    }
}
