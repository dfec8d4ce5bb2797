//! Calibration of a batch: a bench's readings to gain, offset, their uncertainty, a verdict and a record for every module.
//!
//! ```text
//! readings      CSV rows                        -> modules, and bad rows beside them
//! transfer      front end                       -> a straight line in both topologies
//! levels        rows of a module                -> repeats of each voltage
//! rounding, sampling, error                     -> what rounding leaves, and 95 % of a sum of errors
//! evidence, noise   all modules                 -> the converter's noise
//! line          levels                          -> gain and offset
//! meter, uncertainty                            -> what is not known after that
//! guards        limits on the true value        -> whether the firmware's guard bands are wide enough for a module
//! robust, allowed, chance, judge, verdict       -> good, unchecked, or suspect and why
//! bench         what all modules share
//! mode, mode_choice, module                     -> the fit of one module
//! constants     gain and offset                 -> the cheapest constants close enough to that curve
//! stored        constants                       -> swept, and their record
//! batch_csv, records                            -> what people and programmers get
//! ```

mod allowed;
pub mod batch_csv;
mod bench;
mod chance;
pub mod constants;
mod curve;
pub mod error;
mod evidence;
#[cfg(test)]
mod examples;
pub mod guards;
mod judge;
mod levels;
pub mod line;
pub mod meter;
pub mod mode;
mod mode_choice;
pub mod module;
pub mod noise;
pub mod readings;
pub mod records;
mod robust;
mod rounding;
mod sampling;
pub mod stored;
pub mod transfer;
pub mod uncertainty;
pub mod verdict;

use rayon::prelude::*;
use tallyvolt_model::front_end::FrontEnd;

use crate::describe::firmware::DescribeError;
use bench::Bench;
pub use bench::Settings;
use guards::{Guard, Guards};
use levels::{Level, levels, settle};
use module::ModuleFit;
use noise::{Noise, noise};
use readings::Readings;
use transfer::Transfer;

/// A fitted batch.
#[derive(Debug, Clone)]
pub struct Batch {
    /// The nominal transfer.
    pub transfer: Transfer,
    /// The converter's noise.
    pub noise: Noise,
    /// Every module, in the order of the readings.
    pub modules: Vec<ModuleFit>,
}

impl Batch {
    /// The widest guard band of each limit on the true value among the modules that get a record, and which needs it.
    pub fn widest_guards(&self) -> Vec<(&ModuleFit, Guard)> {
        let mut widest: Vec<(&ModuleFit, Guard)> = Vec::new();
        for module in self.modules.iter().filter(|module| module.gets_record()) {
            for guard in module.fit.iter().flat_map(|fit| &fit.guards) {
                match widest
                    .iter_mut()
                    .find(|(_, found)| found.limit == guard.limit)
                {
                    Some(found) if found.1.needs_mv < guard.needs_mv => *found = (module, *guard),
                    Some(_) => {}
                    None => widest.push((module, *guard)),
                }
            }
        }
        widest
    }

    /// Whether every module is good, and firmware's guard bands are wide enough for all of them.
    pub fn holds(&self) -> bool {
        self.modules.iter().all(ModuleFit::is_good)
            && self.widest_guards().iter().all(|(_, guard)| guard.holds())
    }
}

/// Fits every module of a batch.
///
/// `progress` is told how many modules were done, from any thread.
///
/// # Errors
/// [`DescribeError`] when the firmware crate refuses the front end.
pub fn fit(
    front_end: &FrontEnd,
    readings: &Readings,
    settings: &Settings,
    progress: &(dyn Fn(u64) + Sync),
) -> Result<Batch, DescribeError> {
    let transfer = Transfer::new(front_end)?;
    let mut gathered: Vec<Vec<Level>> = readings
        .modules
        .par_iter()
        .map(|module| levels(&module.readings, &transfer, &settings.meter))
        .collect();
    settle(&mut gathered);
    let noise = noise(
        &gathered,
        &transfer,
        &settings.meter,
        &front_end.converter.accuracy,
    );
    let tests = readings
        .modules
        .iter()
        .zip(&gathered)
        .map(|(module, levels)| verdict::tests(module.readings.len(), levels.len()))
        .sum();
    let bench = Bench {
        front_end,
        transfer: &transfer,
        settings,
        noise: &noise,
        tests,
        guards: &Guards::of(front_end),
    };
    // The levels of a module go with its fit: all of them are half of the memory.
    let modules = readings
        .modules
        .par_iter()
        .zip(gathered)
        .map(|(module, levels)| {
            let fitted = module::fit(&bench, module, &levels);
            progress(1);
            fitted
        })
        .collect();
    Ok(Batch {
        transfer,
        noise,
        modules,
    })
}
