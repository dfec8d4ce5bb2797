//! Count to temperature: a resistive sensor against a fixed resistor, through a checked table.

use super::table::Table;
use crate::arch::kernels;
use crate::bounds::{COUNT_MAX, TABLE_COUNT};
use crate::error::{ConfigError, tried};
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
#[repr(C)]
pub struct ThermistorDescription<'a> {
    /// The count of the table's first entry.
    pub first: Count,
    /// Temperatures over counts from `first` on.
    pub table: Table<'a>,
    /// Counts from `first` on that are temperatures; at most up to the table's last entry.
    pub counts: u32,
    /// Largest count that means a broken or shorted wire at the low end, below `first`.
    pub low_wire: Count,
    /// Smallest count that means one at the high end, behind the table's counts.
    pub high_wire: Count,
    /// Where the sensor sits.
    pub side: SensorSide,
}

/// Count to temperature in steps of 0.1 degC. Total, integer-only, exactly rounded against its table, monotonic.
///
/// ```text
/// low side    x / F = excitation / Vref * R / (R + Rfixed)          sensor to ground
/// high side   x / F = excitation / Vref * Rfixed / (R + Rfixed)     sensor to the excitation
/// ```
///
/// The bench program works the sensor's law (B equation, Steinhart-Hart, a maker's table, IEC 60751) into a [`Table`] and
/// certifies its error; firmware interpolates. Everything outside the table is a fault with a name:
///
/// | count | low side | high side |
/// |---|---|---|
/// | at or below `low_wire` | short circuit | open circuit |
/// | from there to `first` | outside the table | outside the table |
/// | `counts` from `first` on | temperature | temperature |
/// | from there to `high_wire` | outside the table | outside the table |
/// | at or above `high_wire` | open circuit | short circuit |
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct Thermistor<'a> {
    /// How many counts the quick arithmetic takes: all that are temperatures, or none. On 16-bit targets that is the arithmetic
    /// of bytes, for counts of 16 bits, and elsewhere that of words.
    pub(crate) quick: u32,
    pub(crate) description: ThermistorDescription<'a>,
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
        tried!(TABLE_COUNT.check(description.first.0 as i64));
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
        let table = description.table;
        let takes = if cfg!(target_pointer_width = "16") {
            table.interpolation.suits_bytes(counts) && first + counts <= 1 << 16
        } else {
            table.interpolation.gentle
        };
        Ok(Self {
            quick: if takes { counts } else { 0 },
            description,
        })
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
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call of one of two ways")]
    #[cfg_attr(
        not(all(feature = "arch", target_arch = "avr", target_feature = "mul")),
        expect(clippy::missing_const_for_fn, reason = "kernels are no constants")
    )]
    pub fn temperature(&self, count: Count) -> Result<Temperature, TemperatureFault> {
        kernels::temperature(self, count)
    }

    /// [`Thermistor::temperature`] in Rust.
    #[cfg_attr(target_pointer_width = "16", inline(always))]
    #[cfg_attr(not(target_pointer_width = "16"), inline)]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "first and all quick counts are of 16 bits where those are asked for"
    )]
    pub(crate) const fn portable(&self, count: Count) -> Result<Temperature, TemperatureFault> {
        if cfg!(target_pointer_width = "16") && count.0 >> 16 == 0 {
            // Wraps on purpose, as below.
            let position = (count.0 as u16).wrapping_sub(self.description.first.0 as u16);
            if position < self.quick as u16 {
                return Ok(self.description.table.at_by_bytes(position));
            }
        }
        // Wraps on purpose: a count before the table becomes a position far behind it.
        let position = count.0.wrapping_sub(self.description.first.0);
        if position < self.description.counts {
            Ok(self.at_by_words(position))
        } else {
            Err(self.fault(count))
        }
    }

    /// Never inlined where words are long: their many registers would have to be saved for quick counts too.
    #[cfg_attr(not(target_pointer_width = "16"), inline)]
    #[cfg_attr(target_pointer_width = "16", inline(never))]
    const fn at_by_words(&self, position: u32) -> Temperature {
        self.description.table.at_by_words(position)
    }

    #[cold]
    #[cfg_attr(target_pointer_width = "16", inline(never))]
    pub(crate) const fn fault(&self, count: Count) -> TemperatureFault {
        self.ends().fault(count)
    }

    /// Where the table ends, and the wires.
    pub(crate) const fn ends(&self) -> SensorEnds {
        SensorEnds {
            first: self.description.first,
            low_wire: self.description.low_wire,
            high_wire: self.description.high_wire,
            low_side: matches!(self.description.side, SensorSide::Low),
            rises: self.description.table.rises(),
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

/// What tells a sensor's faults apart.
#[derive(Clone, Copy)]
pub(crate) struct SensorEnds {
    first: Count,
    low_wire: Count,
    pub(crate) high_wire: Count,
    low_side: bool,
    rises: bool,
}

impl SensorEnds {
    /// Why a count outside the table is no temperature.
    #[inline]
    pub(crate) const fn fault(self, count: Count) -> TemperatureFault {
        if count.0 <= self.low_wire.0 {
            return wire_fault(self.low_side);
        }
        if count.0 >= self.high_wire.0 {
            return wire_fault(!self.low_side);
        }
        if (count.0 < self.first.0) == self.rises {
            TemperatureFault::BelowTable
        } else {
            TemperatureFault::AboveTable
        }
    }
}

const fn wire_fault(short: bool) -> TemperatureFault {
    if short {
        TemperatureFault::ShortCircuit
    } else {
        TemperatureFault::OpenCircuit
    }
}
