//! One reading of a channel, and what it takes beside the samples.

use crate::units::{Count, Fault, Temperature, TemperatureFault, Voltage};
use crate::watch::plausibility::Faults;

/// What else a reading takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sensing {
    /// The temperature sensor's count; none leaves temperature and its alarms as they are.
    pub sensor: Option<Count>,
    /// Whether the bleed resistor conducts, or did while the window was sampled.
    pub bleeding: bool,
}

/// Alarms of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Alarms {
    /// The cell's voltage is above its limit.
    pub over_voltage: bool,
    /// The cell's voltage is below its limit.
    pub under_voltage: bool,
    /// The temperature is above its limit.
    pub over_temperature: bool,
    /// The temperature is below its limit.
    pub under_temperature: bool,
}

impl Alarms {
    /// Whether any alarm is active.
    #[must_use]
    pub const fn any(self) -> bool {
        self.over_voltage || self.under_voltage || self.over_temperature || self.under_temperature
    }
}

/// One reading of a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Reading {
    /// The cell's voltage, or why there is none.
    pub voltage: Result<Voltage, Fault>,
    /// The temperature, or why there is none; none without a sensor or without its count.
    pub temperature: Option<Result<Temperature, TemperatureFault>>,
    /// Everything doubtful about the reading.
    pub faults: Faults,
    /// Active alarms.
    pub alarms: Alarms,
    /// Whether the voltage holds a module's own calibration; false is as drawn.
    pub calibrated: bool,
}
