//! What a check finds out about a front end.

use serde::Serialize;

use super::limits::LimitsCheck;
use super::thermistor::ThermistorCheck;
use crate::choose::findings::finding::Finding;

/// What `tallyvolt check` finds out about one front end.
#[derive(Debug, Clone, Serialize)]
pub struct Check {
    /// The front end's name.
    pub name: String,
    /// `divided-input` or `supply-reference`.
    pub topology: &'static str,
    /// Counts compared: all of them, and three beyond the largest.
    pub counts_swept: u64,
    /// Counts whose value or fault differed from the model.
    pub wrong_counts: u64,
    /// The first few of them.
    pub wrong_examples: Vec<WrongCount>,
    /// Largest rounding error in output units; half a unit is the least possible bound.
    pub largest_rounding_error_units: f64,
    /// The firmware's constants.
    pub arithmetic: Arithmetic,
    /// Why they are exact, in a sentence.
    pub proof: String,
    /// Output unit in microvolts.
    pub unit_uv: u32,
    /// First and last count that are voltages.
    pub valid_counts: Option<(u32, u32)>,
    /// Lowest and highest exact voltage that can be read, in millivolts.
    pub range_mv: Option<(f64, f64)>,
    /// Millivolts for one count at the cell's minimum, nominal and maximum voltage.
    pub step_mv: Steps,
    /// Output values within the cell's range that no count gives.
    pub unreachable_values: u64,
    /// Output values within the cell's range that more than one count gives.
    pub doubled_values: u64,
    /// Output values within the cell's range.
    pub cell_values: u64,
    /// Whether voltages never turn back along the counts.
    pub monotonic: bool,
    /// Whether the cell's whole range can be read.
    pub fit: Fit,
    /// Largest distance between the formula in double precision and the exact model, in output units.
    pub float_distance_units: f64,
    /// Over how many counts that was measured.
    pub float_counts: u32,
    /// The thermistor, if one is described.
    pub thermistor: Option<ThermistorCheck>,
    /// The limits, if any are described.
    pub limits: Option<LimitsCheck>,
    /// The arithmetic is exact: no wrong count, monotonic, thermistor and limits equal to their models.
    pub exact: bool,
    /// What the file asks for.
    pub findings: Vec<Finding>,
    /// The front end meets what its file asks for.
    pub meets: bool,
    /// Exact, and met.
    pub holds: bool,
}

/// One wrong count.
#[derive(Debug, Clone, Serialize)]
pub struct WrongCount {
    /// The count.
    pub count: u32,
    /// What firmware answered: output units or a fault.
    pub answered: String,
    /// What the model says.
    pub exact: String,
}

/// The firmware's constants.
#[derive(Debug, Clone, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Arithmetic {
    /// `(multiplier * (count - first_count) + addend) >> shift`.
    Multiplier {
        /// Factor, decimal.
        multiplier: String,
        /// Addend, decimal.
        addend: String,
        /// Right shift.
        shift: u8,
        /// The count at which the position is 0.
        first_count: u32,
        /// Products that are formed.
        products: &'static str,
    },
    /// `(numerator + denominator / 2) / denominator` with `denominator = ((count - first_count) << step_log2) + at_first`.
    Numerator {
        /// K.
        numerator: u64,
        /// Base-2 logarithm of the denominator's step.
        step_log2: u8,
        /// Denominator at the first count, even.
        at_first: u32,
        /// The count at which the position is 0.
        first_count: u32,
        /// Width of the division.
        division: &'static str,
    },
}

/// Millivolts for one count at three voltages.
#[derive(Debug, Clone, Serialize)]
pub struct Steps {
    /// At the cell's minimum.
    pub at_min: f64,
    /// At its nominal voltage.
    pub at_nominal: f64,
    /// At its maximum.
    pub at_max: f64,
}

/// Whether the cell's range can be read.
#[derive(Debug, Clone, Serialize)]
pub struct Fit {
    /// The emptiest cell gives a count that is a voltage.
    pub emptiest: bool,
    /// The fullest cell gives a count that is a voltage.
    pub fullest: bool,
    /// The fullest cell's voltage fits the output type.
    pub output: bool,
}

impl Check {
    /// Whether the cell's whole range is read with nominal parts.
    pub fn reads_the_cell(&self) -> bool {
        self.fit.emptiest && self.fit.fullest && self.fit.output
    }
}
