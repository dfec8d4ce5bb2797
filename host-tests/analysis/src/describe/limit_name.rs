//! The four limits of a front-end file, by name.

use serde::Serialize;

/// Which limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// The voltage must not rise above it.
    Over,
    /// The voltage must not fall below it.
    Under,
}

/// One of the limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitName {
    /// The highest voltage.
    OverVoltage,
    /// The lowest voltage.
    UnderVoltage,
    /// The highest temperature.
    OverTemperature,
    /// The lowest temperature.
    UnderTemperature,
}

impl LimitName {
    /// In the order of a file.
    pub const ALL: [Self; 4] = [
        Self::OverVoltage,
        Self::UnderVoltage,
        Self::OverTemperature,
        Self::UnderTemperature,
    ];

    /// In identifiers.
    pub fn identifier(self) -> &'static str {
        match self {
            Self::OverVoltage => "over_voltage",
            Self::UnderVoltage => "under_voltage",
            Self::OverTemperature => "over_temperature",
            Self::UnderTemperature => "under_temperature",
        }
    }

    /// Its key in `[limits]`.
    pub fn key(self) -> &'static str {
        match self {
            Self::OverVoltage => "over_voltage_mv",
            Self::UnderVoltage => "under_voltage_mv",
            Self::OverTemperature => "over_temperature_c",
            Self::UnderTemperature => "under_temperature_c",
        }
    }

    /// The key of its hysteresis.
    pub(crate) fn hysteresis_key(self) -> &'static str {
        if self.is_of_voltage() {
            "hysteresis_mv"
        } else {
            "hysteresis_c"
        }
    }

    /// The key of a stated guard band; empty of a temperature, which has none.
    pub(crate) fn guard_key(self) -> &'static str {
        match self {
            Self::OverVoltage => "over_voltage_guard_mv",
            Self::UnderVoltage => "under_voltage_guard_mv",
            Self::OverTemperature | Self::UnderTemperature => "",
        }
    }

    /// Whether it is one on the cell's voltage, not on the temperature.
    pub fn is_of_voltage(self) -> bool {
        matches!(self, Self::OverVoltage | Self::UnderVoltage)
    }

    /// The unit of its value.
    pub fn unit(self) -> &'static str {
        if self.is_of_voltage() { "mV" } else { "degC" }
    }

    /// Which values are beyond it.
    pub fn direction(self) -> Direction {
        match self {
            Self::OverVoltage | Self::OverTemperature => Direction::Over,
            Self::UnderVoltage | Self::UnderTemperature => Direction::Under,
        }
    }
}

impl Direction {
    /// The voltage limit on this side.
    pub fn of_voltage(self) -> LimitName {
        match self {
            Self::Over => LimitName::OverVoltage,
            Self::Under => LimitName::UnderVoltage,
        }
    }
}
