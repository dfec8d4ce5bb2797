//! Limits, and how modules are calibrated.

use num_rational::BigRational;

/// What the limits of a file are compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LimitMeaning {
    /// `reading`: with what the firmware reads, whatever its error.
    #[default]
    Reading,
    /// `true-value`: they bound the true value, so firmware alarms earlier by a guard band.
    TrueValue,
}

impl LimitMeaning {
    /// The word used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Reading => "reading",
            Self::TrueValue => "true-value",
        }
    }
}

/// Alarm limits. Voltages in microvolts, temperatures in tenths of a degree Celsius.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// What they are compared with.
    pub meaning: LimitMeaning,
    /// Above this the cell is too high.
    pub over_uv: Option<u32>,
    /// Below this it is too low.
    pub under_uv: Option<u32>,
    /// Largest probability, in parts per million, that a cell at a limit on the true value is not noticed.
    pub miss_ppm: BigRational,
    /// Least guard band of the upper voltage limit, in microvolts: what a fitted batch was found to need. 0 where it is left out.
    pub over_guard_uv: u32,
    /// The same of the lower one.
    pub under_guard_uv: u32,
    /// How far a voltage must come back.
    pub hysteresis_uv: u32,
    /// Above this the sensor is too hot.
    pub over_tenths: Option<i32>,
    /// Below this it is too cold.
    pub under_tenths: Option<i32>,
    /// How far a temperature must come back.
    pub hysteresis_tenths: u32,
    /// Consecutive readings that must agree.
    pub debounce_readings: u32,
    /// Whether an alarm stays until it is acknowledged.
    pub latching: bool,
}

/// The meter that modules are calibrated against: limits of error as its data sheet gives them.
#[derive(Debug, Clone, PartialEq)]
pub struct Meter {
    /// Parts per million of the reading.
    pub reading_ppm: BigRational,
    /// Parts per million of the range.
    pub range_ppm: BigRational,
    /// The range in millivolts.
    pub range_mv: BigRational,
    /// Last digits.
    pub digits: BigRational,
    /// What the last digit stands for, in millivolts.
    pub resolution_mv: BigRational,
}

/// How modules are calibrated.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CalibrationPlan {
    /// At how many points modules are calibrated: none, one (gain) or two (gain and offset).
    pub points: u32,
    /// Cell voltage of a one-point calibration in microvolts; nominal where it is left out.
    pub at_uv: Option<u32>,
    /// Lower voltage of a two-point calibration in microvolts; the cell's minimum where it is left out.
    pub low_uv: Option<u32>,
    /// Upper voltage in microvolts; the cell's maximum where it is left out.
    pub high_uv: Option<u32>,
    /// Readings averaged at each point; 1 where it is left out.
    pub readings: Option<u32>,
}
