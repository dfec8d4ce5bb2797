//! What a search for resistors is asked, and what it finds.

use serde::Serialize;
use thiserror::Error;

use crate::choose::findings::finding::Finding;

/// What makes a pair better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Objective {
    /// The finest step; then the least drain.
    Step,
    /// The least drain; then the finest step.
    Drain,
    /// The quickest settling, lowest source resistance; then the finest step.
    Settling,
}

/// What every pair must meet.
#[derive(Debug, Clone, Serialize)]
pub struct Constraints {
    /// Highest voltage that must be read, in millivolts: the fullest cell, the upper limit, or the upper calibration voltage.
    pub must_read_mv: f64,
    /// How far above that every board must still read.
    pub headroom_mv: f64,
    /// Most current from the fullest cell in microamperes; none where the file states none.
    pub drain_max_ua: Option<f64>,
    /// Highest source resistance in ohms, by settling and by the data sheet; none where the file says nothing about either.
    pub source_max_ohms: Option<f64>,
}

/// One pair.
#[derive(Debug, Clone, Serialize)]
pub struct Pair {
    /// From the cell to the pin.
    pub top_ohms: u32,
    /// From the pin to ground.
    pub bottom_ohms: u32,
    /// (top + bottom) / bottom in lowest terms.
    pub ratio: String,
    /// Highest voltage that is read with nominal parts.
    pub reads_to_mv: f64,
    /// The same on every board within its limits.
    pub surely_to_mv: f64,
    /// From what must be read up to `surely_to_mv`.
    pub headroom_mv: f64,
    /// Millivolts a count.
    pub step_mv: f64,
    /// Current from the fullest cell.
    pub drain_ua: f64,
    /// Both resistors in parallel.
    pub source_ohms: f64,
    /// Time to settle to half a step; none where the file states no sampling capacitance.
    pub settling_us: Option<f64>,
    /// What else the file asks for and a front end with this pair does not meet.
    pub not_met: Vec<String>,
    /// Why it stands where it stands.
    pub why: String,
}

/// The result of a search.
#[derive(Debug, Clone, Serialize)]
pub struct Found {
    /// The front end's name.
    pub name: String,
    /// The series.
    pub series: String,
    /// What was sought.
    pub objective: Objective,
    /// What had to be met.
    pub constraints: Constraints,
    /// Pairs looked at.
    pub pairs: usize,
    /// Pairs that meet everything.
    pub fitting: usize,
    /// The best of them, one for each ratio.
    pub best: Vec<Pair>,
    /// What the file asks for, with the divider that stands in it.
    pub findings: Vec<Finding>,
}

impl Found {
    /// Whether a front end with the best pair meets everything that the file asks for.
    pub fn meets(&self) -> bool {
        self.best
            .first()
            .is_some_and(|pair| pair.not_met.is_empty())
    }
}

/// Why there is no search.
#[derive(Debug, Error)]
pub enum SearchError {
    /// No divider in the topology.
    #[error("{name} has a supply reference: there is no divider to choose")]
    NoDivider {
        /// The front end.
        name: String,
    },
}
