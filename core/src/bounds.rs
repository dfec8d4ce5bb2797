//! Every limit of a description, each in one place; derived limits are computed from the others.
//!
//! Range proofs elsewhere in the crate cite these names. Changing a number here means walking those proofs again;
//! `docs/numerics.md` has the table of widths that follows from them.

use crate::error::ConfigError;
use crate::field::Field;

/// A closed range of one described quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub struct Bound {
    /// Which quantity.
    pub field: Field,
    /// Smallest value allowed.
    pub min: i64,
    /// Largest value allowed.
    pub max: i64,
}

impl Bound {
    const fn new(field: Field, min: i64, max: i64) -> Self {
        Self { field, min, max }
    }

    /// Checks a value.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] with the field, the value and both limits.
    pub const fn check(self, value: i64) -> Result<(), ConfigError> {
        if value < self.min || value > self.max {
            return Err(ConfigError::OutOfBounds {
                field: self.field,
                value,
                min: self.min,
                max: self.max,
            });
        }
        Ok(())
    }
}

/// Width of a sample in bits: the converters found on small microcontrollers.
pub const BITS: Bound = Bound::new(Field::Bits, 8, 16);
/// Samples in a count; a power of two as well. 1024 = 4^5 gives five extra bits.
pub const SAMPLES: Bound = Bound::new(Field::Samples, 1, SAMPLES_MAX as i64);
/// Extra bits of a decimator: 4^n samples, so 5 is where [`SAMPLES`] ends.
pub const EXTRA_BITS: Bound = Bound::new(Field::ExtraBits, 0, 5);
/// Right shift of the sum, as accumulating converters offer it.
pub const RIGHT_SHIFT: Bound = Bound::new(Field::RightShift, 0, 8);
/// Reference voltage in microvolts: 0.1 V to 8 V (below 2^23).
pub const REFERENCE_UV: Bound = Bound::new(Field::ReferenceUv, 100_000, 8_000_000);
/// Either resistance of a divider (below 2^24).
pub const RESISTANCE: Bound = Bound::new(Field::Resistance, 1, 10_000_000);
/// Cell voltage in microvolts: from 0.1 V, so that a range given in millivolts is refused, to what [`crate::Voltage`] can carry
/// in millivolts.
pub const CELL_UV: Bound = Bound::new(Field::CellUv, 100_000, 65_535_000);
/// Width of the counts that a divided input's conversion takes: up to 16 bits exactly as wide, and one width for all above.
pub const COUNT_BITS: Bound = Bound::new(Field::CountBits, 8, 26);
/// Gain of a self-calibration as the bits of a `U8F24`: 0.5 to 2.
pub const GAIN_BITS: Bound = Bound::new(Field::Gain, 1 << 23, 1 << 25);
/// Offset of a self-calibration as the bits of an `I24F8`, single-sample counts: -4096 to 4096.
pub const OFFSET_BITS: Bound = Bound::new(Field::Offset, -(1 << 20), 1 << 20);
/// Entries of a temperature table.
pub const TABLE_ENTRIES: Bound = Bound::new(Field::TableEntries, 16, 64);
/// Base-2 logarithm of the counts between two entries of a table.
pub const TABLE_STEP_LOG2: Bound = Bound::new(Field::TableStep, 0, 14);
/// Bits by which a table's entries are finer than 0.1 degC.
pub const TABLE_FRACTION_BITS: Bound = Bound::new(Field::TableFraction, 0, 6);
/// Count of a table's first entry: above zero, which is always a fault.
pub const TABLE_COUNT: Bound = Bound::new(Field::TableCount, 1, COUNT_MAX as i64);
/// Consecutive readings of a debounce.
pub const DEBOUNCE_READINGS: Bound = Bound::new(Field::DebounceReadings, 1, 127);
/// Base-2 logarithm of a low-pass filter's time constant in readings.
pub const LOW_PASS_LOG2: Bound = Bound::new(Field::LowPass, 1, 6);

/// Most samples in a count, as a number of samples.
pub const SAMPLES_MAX: u32 = 1024;
/// Largest single sample: 2^16 - 1.
pub const SAMPLE_MAX: u32 = (1 << BITS.max) - 1;
/// Largest count that any described acquisition can give: 65 535 * 1024, below 2^26.
pub const COUNT_MAX: u32 = SAMPLE_MAX * SAMPLES_MAX;
/// Largest voltage in output units: what a `u16` holds.
pub const VOLTAGE_MAX: u32 = u16::MAX as u32;
/// Shift of a line's long form, for counts of up to 16 bits: products below 2^(16 + 32).
pub const LONG_SHIFT: u32 = 32;
/// Shift of a line's wide form, for counts of more than 16 bits: products below 2^(16 + 64).
pub const WIDE_SHIFT: u32 = 64;
/// Denominators of a quotient lie below this.
pub const DENOMINATOR_END: u32 = 1 << 29;

const _: () = assert!(COUNT_MAX < 1 << 26);
const _: () = assert!(1_i64 << (2 * EXTRA_BITS.max) == SAMPLES.max);
