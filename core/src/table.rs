//! Interpolation in a checked table: evenly spaced entries, a power of two apart, so no division.
//!
//! ```text
//! i = position >> step_log2        f = position mod 2^step_log2
//! value = (entry[i] * 2^step_log2 + (entry[i + 1] - entry[i]) * f) / 2^(step_log2 + fraction_bits)
//! ```
//!
//! rounded to nearest, ties upward. The rational is formed whole before it is rounded, so the result is exactly rounded;
//! entries never turn back, the rational does not, and rounding keeps the order: the result is monotonic.
//!
//! Entries may be finer than the result, by `fraction_bits`, so that rounding them does not show. With entries as fine as the
//! result (`fraction_bits` 0) and steps of up to 256, an 8-bit core needs neither a shift nor a 32-bit product.

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
    /// 2^(8 - `step_log2`) for steps of 2 to 256; 0 for others.
    stretch: u8,
    /// 2^(8 - `fraction_bits`), for `fraction_bits` 1 to 6.
    shrink: u8,
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
            stretch: if step_log2 > 0 && step_log2 <= 8 {
                1 << (8 - step_log2)
            } else {
                0
            },
            shrink: if fraction_bits > 0 {
                1 << (8 - fraction_bits)
            } else {
                0
            },
        })
    }

    /// The temperature at a position, exactly rounded.
    ///
    /// # Range
    /// Every `u32` is accepted; a position at the last entry or behind it reads as the last entry.
    #[inline]
    #[must_use]
    pub const fn at(&self, position: u32) -> Temperature {
        // Both are exact at every position; which is shorter depends on what a shift costs.
        if cfg!(target_pointer_width = "16") && self.stretch > 0 {
            self.at_by_bytes(position)
        } else {
            self.at_by_words(position)
        }
    }

    /// The fraction of the way to the next entry in 16 bits: for cores whose shifts cost next to nothing.
    ///
    /// Product and sum may wrap: the sum lies between two entries times 2^16, so it is exact in 32 bits.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        reason = "step_log2 is at most 14; the value lies between two entries and fits 16 bits"
    )]
    pub(crate) const fn at_by_words(&self, position: u32) -> Temperature {
        let Some((from, to)) = self.pair(shift_floor_u32(position, self.step_log2 as u32)) else {
            return self.last();
        };
        let fraction = ((position << (16 - self.step_log2)) & 0xffff) as i32;
        let (from, to) = (from as i32, to as i32);
        let value = (from << 16).wrapping_add((to - from).wrapping_mul(fraction));
        Temperature(shift_nearest_i32(value, 16 + self.fraction_bits as u32) as i16)
    }

    /// The fraction in one byte, and products of bytes in place of shifts: for 8-bit cores. Steps of 2 to 256 only.
    ///
    /// With P = |difference| * fraction = 256 h + l, the exact value in parts of an entry is from + P / 256 or
    /// from - P / 256, and its floor from + h or from - h - (l > 0). Entries as fine as the answer are rounded by l; finer
    /// ones are rounded as they are divided, and a floor of a floor is the floor.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "products of two bytes are below 2^16; position is below 2^14, so the segment is below 2^14 too; h is at most \
                  |difference|, so both results lie between two entries"
    )]
    pub(crate) const fn at_by_bytes(&self, position: u32) -> Temperature {
        if position >> 14 != 0 {
            return self.last();
        }
        let [low, high] = (position as u16).to_le_bytes();
        let stretched = low as u16 * self.stretch as u16;
        let segment = high as u16 * self.stretch as u16 + (stretched >> 8);
        let Some((from, to)) = self.pair(segment as u32) else {
            return self.last();
        };
        let fraction = stretched & 0xff;
        let (from, to) = (from as u16, to as u16);
        let distance = if self.rises {
            to.wrapping_sub(from)
        } else {
            from.wrapping_sub(to)
        };
        let low_product = (distance & 0xff) * fraction;
        let whole = (distance >> 8) * fraction + (low_product >> 8);
        let rest = low_product as u8;
        let value = match (self.rises, self.fraction_bits == 0) {
            (true, false) => from.wrapping_add(whole),
            (true, true) => from.wrapping_add(whole + (rest >= 128) as u16),
            (false, false) => from.wrapping_sub(whole + (rest > 0) as u16),
            (false, true) => from.wrapping_sub(whole + (rest > 128) as u16),
        };
        Temperature(self.tenths(value) as i16)
    }

    /// An entry or what lies between two, rounded to 0.1 degC: raised by 2^15 to be positive, times 2^(8 - `fraction_bits`) /
    /// 2^8. The byte that falls away tells what is half or more.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "a product of two bytes, and the upper byte of another, and 1: shrink is at most 128, so below 2^16"
    )]
    const fn tenths(&self, value: u16) -> u16 {
        if self.fraction_bits == 0 {
            return value;
        }
        let [low, high] = value.to_le_bytes();
        let shrink = self.shrink as u16;
        let low_product = low as u16 * shrink;
        let half = (low_product & 0x80) >> 7;
        ((high ^ 0x80) as u16 * shrink + (low_product >> 8) + half).wrapping_sub(shrink << 7)
    }

    /// Two neighbouring entries; none from the last on. The compiler cannot know how long a table is, and each of the two
    /// comparisons shows it that one of the places is there.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::indexing_slicing,
        reason = "segment is below 64, and the next place below the number of entries"
    )]
    const fn pair(&self, segment: u32) -> Option<(i16, i16)> {
        if segment as i64 >= TABLE_ENTRIES.max {
            return None;
        }
        let (segment, next) = (segment as usize, segment as usize + 1);
        if next >= self.entries.len() {
            return None;
        }
        Some((self.entries[segment], self.entries[next]))
    }

    #[cold]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "a rounded entry fits 16 bits"
    )]
    const fn last(&self) -> Temperature {
        let entry = match self.entries {
            [.., last] => *last as i32,
            [] => 0,
        };
        Temperature(shift_nearest_i32(entry << 16, 16 + self.fraction_bits as u32) as i16)
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
    TABLE_STEP_LOG2.max <= 16
        && TABLE_ENTRIES.min >= 2
        && (TABLE_ENTRIES.max - 1) << 8 < 1 << 14
        && TABLE_FRACTION_BITS.max <= 7
);
