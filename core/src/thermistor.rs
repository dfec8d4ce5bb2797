//! Count to temperature: a resistive sensor against a fixed resistor, through a checked table.
//!
//! ```text
//! low side    x / F = excitation / Vref * R / (R + Rfixed)          sensor to ground
//! high side   x / F = excitation / Vref * Rfixed / (R + Rfixed)     sensor to the excitation
//! ```
//!
//! The bench program works the sensor's law (B equation, Steinhart-Hart, a maker's table, IEC 60751) into a [`Table`] and
//! certifies its error; firmware interpolates. Everything outside the table is a fault with a name:
//!
//! | count | low side | high side |
//! |---|---|---|
//! | at or below `low_wire` | short circuit | open circuit |
//! | from there to `first` | outside the table | outside the table |
//! | `counts` from `first` on | temperature | temperature |
//! | from there to `high_wire` | outside the table | outside the table |
//! | at or above `high_wire` | open circuit | short circuit |

use crate::bounds::{COUNT_MAX, TABLE_COUNT};
use crate::error::ConfigError;
use crate::table::Table;
use crate::units::{Count, Temperature, TemperatureFault};

/// Where the sensor sits in its divider.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SensorSide {
    /// Between the converter's pin and ground.
    Low,
    /// Between the excitation and the converter's pin.
    High,
}

/// A table and the counts around it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ThermistorDescription<'a> {
    /// Where the sensor sits.
    pub side: SensorSide,
    /// Temperatures over counts from `first` on.
    pub table: Table<'a>,
    /// The count of the table's first entry.
    pub first: Count,
    /// Counts from `first` on that are temperatures; at most up to the table's last entry.
    pub counts: u32,
    /// Largest count that means a broken or shorted wire at the low end, below `first`.
    pub low_wire: Count,
    /// Smallest count that means one at the high end, behind the table's counts.
    pub high_wire: Count,
}

/// Count to temperature in steps of 0.1 degC. Total, integer-only, exactly rounded against its table, monotonic.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Thermistor<'a> {
    description: ThermistorDescription<'a>,
}

impl<'a> Thermistor<'a> {
    /// Checks a description.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] for the first count and [`ConfigError::TableCounts`] when the counts are none, or pass
    /// the table's last entry or the wire limits.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "first is at most COUNT_MAX, below 2^26, and counts below 2^20"
    )]
    pub const fn new(description: ThermistorDescription<'a>) -> Result<Self, ConfigError> {
        if let Err(error) = TABLE_COUNT.check(description.first.0 as i64) {
            return Err(error);
        }
        let (first, counts) = (description.first.0, description.counts);
        if counts == 0
            || counts > description.table.positions()
            || description.low_wire.0 >= first
            || description.high_wire.0 < first + counts
            || description.high_wire.0 > COUNT_MAX
        {
            return Err(ConfigError::TableCounts {
                first,
                counts,
                positions: description.table.positions(),
            });
        }
        Ok(Self { description })
    }

    /// The temperature of a count, or why the count is none.
    ///
    /// # Range
    /// Every `u32` is accepted.
    ///
    /// # Rounding
    /// To the nearest 0.1 degC, ties upward, of the table's exact interpolation. How far that is from the sensor's law is
    /// the table's certified error.
    ///
    /// # Errors
    /// [`TemperatureFault`] for counts outside the table.
    #[inline]
    pub const fn temperature(&self, count: Count) -> Result<Temperature, TemperatureFault> {
        // Wraps on purpose: a count before the table becomes a position far behind it.
        let position = count.0.wrapping_sub(self.description.first.0);
        if position < self.description.counts {
            Ok(self.description.table.at(position))
        } else {
            Err(self.fault(count))
        }
    }

    #[cold]
    const fn fault(&self, count: Count) -> TemperatureFault {
        let low_side = matches!(self.description.side, SensorSide::Low);
        if count.0 <= self.description.low_wire.0 {
            return wire_fault(low_side);
        }
        if count.0 >= self.description.high_wire.0 {
            return wire_fault(!low_side);
        }
        let before = count.0 < self.description.first.0;
        if before == self.description.table.rises() {
            TemperatureFault::BelowTable
        } else {
            TemperatureFault::AboveTable
        }
    }

    /// The table.
    #[must_use]
    pub const fn table(&self) -> &Table<'a> {
        &self.description.table
    }

    /// The first count that is a temperature.
    #[must_use]
    pub const fn first(&self) -> Count {
        self.description.first
    }

    /// How many counts are temperatures.
    #[must_use]
    pub const fn counts(&self) -> u32 {
        self.description.counts
    }

    /// The description.
    #[must_use]
    pub const fn description(&self) -> &ThermistorDescription<'a> {
        &self.description
    }
}

const fn wire_fault(short: bool) -> TemperatureFault {
    if short {
        TemperatureFault::ShortCircuit
    } else {
        TemperatureFault::OpenCircuit
    }
}
