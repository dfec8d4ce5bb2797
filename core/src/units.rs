//! The vocabulary of values: samples, counts, voltages, temperatures, the output unit and faults.

use core::fmt;

/// One conversion result, `bits` wide (8 to 16).
///
/// # Range
/// Any `u16` is accepted; one above the converter's top code makes a count that reads as
/// [`Fault::Rail`], never a wrapped number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(transparent)]
pub struct Sample(pub u16);

/// What is converted: one sample, or the sum of `samples` of them, after an optional right shift.
///
/// There is no `From<u16>` and no `From<Sample>`: where a sum is described, a raw sample is not a count.
///
/// # Range
/// 0 to [`crate::bounds::COUNT_MAX`] for counts that a described converter can give. Larger values are accepted
/// everywhere and read as [`Fault::Rail`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Count(pub u32);

/// A cell voltage as a conversion gives it, in steps of that conversion's [`OutputUnit`].
///
/// # Range
/// 0 to 65 535 steps: 65.535 V in millivolts, 6.5535 V in steps of 100 uV.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Voltage(pub u16);

/// A voltage that a person sets, such as a limit. It has a unit of its own, so it means the same for every [`OutputUnit`].
///
/// # Range
/// 0 to 65 535 000 uV can be compared with readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Microvolts(pub u32);

impl Microvolts {
    /// Whole millivolts.
    ///
    /// # Range
    /// Every `u16`: up to 65.535 V.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "65 535 * 1000 is below 2^32"
    )]
    pub const fn from_mv(millivolts: u16) -> Self {
        Self(millivolts as u32 * 1000)
    }
}

/// The step of a [`Voltage`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum OutputUnit {
    /// 1 mV a step, the usual choice.
    Millivolt,
    /// 100 uV a step, for front ends that resolve it.
    TenthMillivolt,
}

impl OutputUnit {
    /// The step in microvolts: 1000 or 100.
    #[must_use]
    pub const fn step_uv(self) -> u32 {
        match self {
            Self::Millivolt => 1000,
            Self::TenthMillivolt => 100,
        }
    }

    /// A voltage of this unit in microvolts, exact.
    ///
    /// # Range
    /// 0 to 65 535 000 uV.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "65 535 * 1000 = 65 535 000 is below 2^32"
    )]
    pub const fn microvolts(self, voltage: Voltage) -> Microvolts {
        Microvolts(voltage.0 as u32 * self.step_uv())
    }
}

/// A count that cannot be a voltage. A value to be handled, not an error of the program.
///
/// The order of the rules is the order of the variants: a count of zero is always `ZeroCount`, a count at or above the
/// converter's largest is always `Rail`, and only then is the output range looked at.
///
/// These are all there are, for either topology: a `match` that names each needs no arm for others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
// As wide as a voltage: a result of both then stays in two registers.
#[repr(u16)]
pub enum Fault {
    /// Count 0: an open input, a lost reference, or a voltage below the first step.
    ZeroCount,
    /// The largest count or more: the input stands at the reference or above it; how far above is unknown.
    Rail,
    /// The voltage would round to less than zero (an offset larger than the reading).
    BelowRange,
    /// The voltage would round to more than 65 535 output units.
    AboveRange,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::ZeroCount => "count zero",
            Self::Rail => "count at the rail",
            Self::BelowRange => "voltage below the output range",
            Self::AboveRange => "voltage above the output range",
        })
    }
}

impl core::error::Error for Fault {}

/// A temperature in steps of 0.1 degC.
///
/// # Range
/// -3276.8 to 3276.7 degC; a table's own range is far smaller.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Temperature(pub i16);

/// A count that cannot be a temperature. A value to be handled, not an error of the program. As with [`Fault`], these are all there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
// As wide as a temperature: a result of both then stays in two registers.
#[repr(i16)]
pub enum TemperatureFault {
    /// The sensor's circuit is open.
    OpenCircuit,
    /// The sensor's circuit is shorted.
    ShortCircuit,
    /// Colder than the table's range.
    BelowTable,
    /// Hotter than the table's range.
    AboveTable,
}

impl fmt::Display for TemperatureFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::OpenCircuit => "sensor open",
            Self::ShortCircuit => "sensor shorted",
            Self::BelowTable => "colder than the table",
            Self::AboveTable => "hotter than the table",
        })
    }
}

impl core::error::Error for TemperatureFault {}
