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
#[non_exhaustive]
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

    /// One bit an alarm, for a frame or a log: 1 over voltage, 2 under voltage, 4 over temperature, 8 under temperature.
    #[must_use]
    pub const fn bits(self) -> u8 {
        self.over_voltage as u8
            | (self.under_voltage as u8) << 1
            | (self.over_temperature as u8) << 2
            | (self.under_temperature as u8) << 3
    }

    /// The alarms of such a number; none where it has a bit that is no alarm known here. What newer firmware raised is not dropped
    /// unseen: the frame or log needs a newer version of this crate.
    ///
    /// ```
    /// use tallyvolt::Alarms;
    ///
    /// let alarms = Alarms::from_bits(0b1001).expect("both are known");
    /// assert!(alarms.over_voltage && alarms.under_temperature && alarms.bits() == 0b1001);
    /// assert_eq!(Alarms::from_bits(0b1_0000), None);
    /// ```
    #[must_use]
    pub const fn from_bits(bits: u8) -> Option<Self> {
        if bits >> 4 != 0 {
            return None;
        }
        Some(Self {
            over_voltage: bits & 1 != 0,
            under_voltage: bits & 1 << 1 != 0,
            over_temperature: bits & 1 << 2 != 0,
            under_temperature: bits & 1 << 3 != 0,
        })
    }
}

/// One reading of a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
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
