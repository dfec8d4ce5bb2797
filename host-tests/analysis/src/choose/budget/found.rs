//! What a budget finds out about a front end.

use serde::Serialize;

use super::guard_band::GuardBands;
use super::headroom::Headroom;
use super::reading::{CELL_SITES, State, Temperature};
use super::temperature::TemperatureBudget;
use super::yields::Yields;
use crate::choose::findings::finding::Finding;

/// What `tallyvolt budget` finds out about one front end.
#[derive(Debug, Clone, Serialize)]
pub struct Budget {
    /// The front end's name.
    pub name: String,
    /// `divided-input` or `supply-reference`.
    pub topology: &'static str,
    /// The cell's minimum, nominal and maximum in millivolts.
    pub voltages_mv: [f64; CELL_SITES],
    /// Points at which modules are calibrated, as planned.
    pub calibration_points: u32,
    /// Monte Carlo trials.
    pub trials: usize,
    /// Seed of the generator.
    pub seed: u64,
    /// Share of the values inside an interval.
    pub coverage: f64,
    /// Whether the noise dithers enough for samples to count.
    pub dithers: bool,
    /// What was assumed or left out.
    pub notes: Vec<String>,
    /// Every term.
    pub terms: Vec<TermRow>,
    /// Every state of calibration, at calibration temperature and over the range.
    pub states: Vec<StateRow>,
    /// Alarms for the file's limits.
    pub guard_bands: Vec<GuardBands>,
    /// The error of a temperature; none without a thermistor.
    pub temperature: Option<TemperatureBudget>,
    /// Shares of boards within an error.
    pub yields: Yields,
    /// How far every board reads; none where the nominal cell is not read.
    pub headroom: Option<Headroom>,
    /// What the file asks for, and whether it is met.
    pub findings: Vec<Finding>,
    /// Everything is met.
    pub meets: bool,
}

/// A term's value.
#[derive(Debug, Clone, Serialize)]
pub struct TermRow {
    /// In words.
    pub term: String,
    /// Limit or standard deviation, in `unit`.
    pub value: f64,
    /// Unit of the value.
    pub unit: &'static str,
    /// Distribution in words.
    pub distribution: String,
    /// Standard uncertainty, in `unit`.
    pub standard_uncertainty: f64,
    /// Whether it belongs to a reading of the calibration.
    pub on_bench: bool,
}

/// A state of calibration at a temperature.
#[derive(Debug, Clone, Serialize)]
pub struct StateRow {
    /// `uncalibrated`, `one-point` or `two-point`.
    pub calibration: &'static str,
    /// `at calibration temperature` or `over the range`.
    pub temperature: &'static str,
    /// What each term does, in the order of [`Budget::terms`].
    pub contributions: Vec<Contribution>,
    /// At the cell's minimum, nominal and maximum.
    pub totals: Vec<Total>,
}

/// What one term does to a reading.
#[derive(Debug, Clone, Serialize)]
pub struct Contribution {
    /// Millivolts of reading for one unit of the term, at the three voltages.
    pub sensitivity_mv: [f64; CELL_SITES],
    /// Standard uncertainty of the reading from this term alone.
    pub contribution_mv: [f64; CELL_SITES],
    /// Largest error of the reading from this term alone.
    pub worst_mv: [f64; CELL_SITES],
}

/// All terms together at one voltage.
#[derive(Debug, Clone, Serialize)]
pub struct Total {
    /// True voltage.
    pub at_mv: f64,
    /// Lowest and highest error with every term at its worst.
    pub worst_mv: [f64; 2],
    /// Combined standard uncertainty.
    pub combined_mv: f64,
    /// Effective degrees of freedom; none for infinitely many.
    pub effective_dof: Option<f64>,
    /// Coverage factor for 95 %.
    pub coverage_factor: f64,
    /// Expanded uncertainty with that factor.
    pub expanded_mv: f64,
    /// Twice the combined standard uncertainty: k = 2.
    pub twice_combined_mv: f64,
    /// Mean error of the trials.
    pub mean_mv: f64,
    /// Their standard deviation.
    pub sd_mv: f64,
    /// Their shortest 95 % interval.
    pub interval_mv: [f64; 2],
    /// Standard error of the interval's larger end: what chance alone moves it by.
    pub end_error_mv: f64,
    /// Whether interval and k = 2 agree.
    pub agree: bool,
    /// Which to trust, and why.
    pub trust: String,
}

impl Total {
    /// Largest error with every term at its worst.
    pub fn worst(&self) -> f64 {
        largest(self.worst_mv)
    }

    /// Largest error inside the 95 % interval.
    pub fn within_95(&self) -> f64 {
        largest(self.interval_mv)
    }
}

fn largest([low, high]: [f64; 2]) -> f64 {
    low.abs().max(high.abs())
}

impl Budget {
    /// The row of a state.
    pub fn state(&self, state: State, temperature: Temperature) -> Option<&StateRow> {
        self.states
            .get(state as usize * Temperature::ALL.len() + temperature as usize)
    }
}
