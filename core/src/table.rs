//! Interpolation in a checked table: evenly spaced entries, a power of two apart, so no division.
//!
//! ```text
//! i = position >> step_log2        f = position mod 2^step_log2
//! value = (entry[i] * 2^step_log2 + (entry[i + 1] - entry[i]) * f) / 2^(step_log2 + fraction_bits)
//! ```
//!
//! rounded to nearest, ties upward. The rational is formed whole in 32 bits before the one shift, so the result is exactly
//! rounded; entries never turn back, the rational does not, and rounding keeps the order: the result is monotonic.
//!
//! Entries may be finer than the result, by `fraction_bits`, so that rounding them does not show. With `step_log2` +
//! `fraction_bits` equal to 8 or 16 the shift costs an 8-bit core nothing.

use crate::bounds::{TABLE_ENTRIES, TABLE_FRACTION_BITS, TABLE_STEP_LOG2};
use crate::error::ConfigError;
use crate::rounding::{shift_floor_u32, shift_nearest_i32};
use crate::units::Temperature;

/// A checked table of temperatures over positions from 0 on.
///
/// # Range
/// 16 to 64 entries, each in steps of 0.1 degC / 2^`fraction_bits`; `fraction_bits` 0 to 6; entries 2^`step_log2`
/// positions apart, `step_log2` 0 to 14.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Table<'a> {
    entries: &'a [i16],
    step_log2: u8,
    fraction_bits: u8,
    rises: bool,
}

impl<'a> Table<'a> {
    /// Checks a table.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] for the number of entries, the step or the fraction;
    /// [`ConfigError::TableTurnsBack`] for entries that do not keep one direction, or are all equal.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::indexing_slicing,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        reason = "a slice is shorter than 2^63; once checked there are 16 to 64 entries, and index runs from 1 below their \
                  number"
    )]
    pub const fn new(
        entries: &'a [i16],
        step_log2: u8,
        fraction_bits: u8,
    ) -> Result<Self, ConfigError> {
        if let Err(error) = TABLE_ENTRIES.check(entries.len() as i64) {
            return Err(error);
        }
        if let Err(error) = TABLE_STEP_LOG2.check(step_log2 as i64) {
            return Err(error);
        }
        if let Err(error) = TABLE_FRACTION_BITS.check(fraction_bits as i64) {
            return Err(error);
        }
        let rises = entries[0] < entries[entries.len() - 1];
        let mut index = 1;
        while index < entries.len() {
            let turns_back = if rises {
                entries[index] < entries[index - 1]
            } else {
                entries[index] > entries[index - 1]
            };
            if turns_back {
                return Err(ConfigError::TableTurnsBack {
                    index: index as u32,
                });
            }
            index += 1;
        }
        if entries[0] == entries[entries.len() - 1] {
            return Err(ConfigError::TableTurnsBack { index: 0 });
        }
        Ok(Self {
            entries,
            step_log2,
            fraction_bits,
            rises,
        })
    }

    /// The temperature at a position, exactly rounded.
    ///
    /// # Range
    /// Every `u32` is accepted; a position at the last entry or behind it reads as the last entry.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::indexing_slicing,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        reason = "last is 15 to 63; past the comparison segment is below it, so both indices exist; fraction < 2^14, |entry| <= 2^15 and \
                  |difference| < 2^16, so both terms are below 2^30 and their sum, which lies between two entries * 2^14, \
                  within 2^29; the value lies between two entries and fits 16 bits"
    )]
    pub const fn at(&self, position: u32) -> Temperature {
        let last = self.entries.len() - 1;
        let segment = shift_floor_u32(position, self.step_log2 as u32);
        if segment >= last as u32 {
            let entry = self.entries[last] as i32;
            return Temperature(shift_nearest_i32(entry, self.fraction_bits as u32) as i16);
        }
        let segment = segment as usize;
        let fraction = (position & ((1 << self.step_log2) - 1)) as i32;
        let (from, to) = (
            self.entries[segment] as i32,
            self.entries[segment + 1] as i32,
        );
        let value = (from << self.step_log2) + (to - from) * fraction;
        let shift = self.step_log2 as u32 + self.fraction_bits as u32;
        Temperature(shift_nearest_i32(value, shift) as i16)
    }

    /// Whether temperatures rise with the position.
    #[must_use]
    pub const fn rises(&self) -> bool {
        self.rises
    }

    /// Positions from the first entry to the last.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "63 << 14 is below 2^20, and there are at least 16 entries"
    )]
    pub const fn positions(&self) -> u32 {
        ((self.entries.len() - 1) as u32) << self.step_log2
    }

    /// The entries, in steps of 0.1 degC / 2^`fraction_bits`.
    #[must_use]
    pub const fn entries(&self) -> &'a [i16] {
        self.entries
    }

    /// Base-2 logarithm of the positions between two entries.
    #[must_use]
    pub const fn step_log2(&self) -> u8 {
        self.step_log2
    }

    /// How many bits finer than 0.1 degC the entries are.
    #[must_use]
    pub const fn fraction_bits(&self) -> u8 {
        self.fraction_bits
    }
}

// The bounds that the range proofs of this file rest on.
const _: () = assert!(
    TABLE_STEP_LOG2.max + 16 <= 30
        && TABLE_ENTRIES.min >= 2
        && TABLE_STEP_LOG2.max + TABLE_FRACTION_BITS.max < 30
);
