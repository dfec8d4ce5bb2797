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
use crate::rounding::shift_nearest_i32;
use crate::units::Temperature;

/// A checked table of temperatures over positions from 0 on.
///
/// # Range
/// 16 to 64 entries, each in steps of 0.1 degC / 2^`fraction_bits`; `fraction_bits` 0 to 6; entries 2^`step_log2`
/// positions apart, `step_log2` 0 to 14.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct Table<'a> {
    /// 15 + `fraction_bits`: places that fall away before the last one is rounded.
    pub(crate) drop: u8,
    pub(crate) fraction_bits: u8,
    /// 2^(8 - `fraction_bits`), for `fraction_bits` 1 to 6.
    pub(crate) shrink: u8,
    step_log2: u8,
    /// 2^(16 - `step_log2`). Its second byte is 2^(8 - `step_log2`) for steps of 2 to 256, and 0 for others.
    pub(crate) stretch: u32,
    pub(crate) entries: &'a [i16],
    rises: bool,
    /// Added to a product before its lowest byte falls away, in [`Table::at_by_bytes`]: 128 or 0, or in a falling table 255 less
    /// that.
    rounding: u8,
    /// Whether every difference of neighbours fits 16 bits.
    gentle: bool,
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
        let (mut index, mut gentle) = (1, true);
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
            gentle &= entries[index].checked_sub(entries[index - 1]).is_some();
            index += 1;
        }
        if entries[0] == entries[entries.len() - 1] {
            return Err(ConfigError::TableTurnsBack { index: 0 });
        }
        Ok(Self {
            drop: 15 + fraction_bits,
            fraction_bits,
            shrink: if fraction_bits > 0 {
                1 << (8 - fraction_bits)
            } else {
                0
            },
            step_log2,
            stretch: 1 << (16 - step_log2),
            entries,
            rises,
            rounding: match (rises, fraction_bits) {
                (true, 0) => 128,
                (true, _) => 0,
                (false, 0) => 127,
                (false, _) => 255,
            },
            gentle,
        })
    }

    /// The temperature at a position, exactly rounded.
    ///
    /// # Range
    /// Every `u32` is accepted; a position at the last entry or behind it reads as the last entry.
    #[inline]
    #[must_use]
    pub const fn at(&self, position: u32) -> Temperature {
        if position < self.positions() {
            self.at_by_words(position)
        } else {
            self.last()
        }
    }

    /// Whether the positions below `counts`, a number within the table, are what [`Table::at_by_bytes`] takes.
    pub(crate) const fn suits_bytes(&self, counts: u32) -> bool {
        self.gentle && self.stretch_byte() > 0 && counts <= 1 << 14
    }

    /// Whether differences of neighbours fit 16 bits.
    pub(crate) const fn is_gentle(&self) -> bool {
        self.gentle
    }

    #[expect(clippy::cast_possible_truncation, reason = "the second byte")]
    const fn stretch_byte(&self) -> u8 {
        (self.stretch >> 8) as u8
    }

    /// The fraction of the way to the next entry in 16 bits: one product gives it and the segment above it.
    ///
    /// # Range
    /// Positions before the last entry; from there on the last entry.
    ///
    /// That product is below 63 * 2^16. The second product and the sum may wrap: the sum lies between two entries times 2^16,
    /// so it is exact in 32 bits.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        reason = "drop is 15 to 21; the value lies between two entries and fits 16 bits"
    )]
    pub(crate) const fn at_by_words(&self, position: u32) -> Temperature {
        let place = position.wrapping_mul(self.stretch);
        let Some((from, to)) = self.pair((place >> 16) as u16) else {
            return Temperature(0);
        };
        let fraction = (place & 0xffff) as i32;
        let (from, to) = (from as i32, to as i32);
        let value = (from << 16).wrapping_add((to - from).wrapping_mul(fraction));
        Temperature(shift_nearest_i32(value, self.drop as u32 + 1) as i16)
    }

    /// The fraction in one byte, and products of bytes in place of shifts: for 8-bit cores.
    ///
    /// # Range
    /// Where [`Table::suits_bytes`], positions before the last entry; from there on the last entry.
    ///
    /// With P = |difference| * fraction and h = 128 where entries are as fine as the answer, else 0, the value in parts of an entry
    /// is floor((256 from + P + h) / 256) = from + floor((P + h) / 256) in a rising table, and in a falling one
    /// floor((256 from - P + h) / 256) = from - floor((P + 255 - h) / 256). Finer entries are rounded as they are divided, and a
    /// floor of a floor is the floor.
    #[cfg_attr(target_pointer_width = "16", inline(always))]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "a product of two bytes is at most 65 025, and 255 more below 2^16; position is below 2^14 and lies in the table, so \
                  the segment is below 63; what is added to an entry or taken off leads to a value between two"
    )]
    pub(crate) const fn at_by_bytes(&self, position: u16) -> Temperature {
        let [low, high] = position.to_le_bytes();
        let stretch = self.stretch_byte() as u16;
        let [fraction, carry] = (low as u16 * stretch).to_le_bytes();
        let [segment, _] = (high as u16 * stretch).to_le_bytes();
        let Some((from, to)) = self.pair(segment.wrapping_add(carry) as u16) else {
            return Temperature(0);
        };
        let fraction = fraction as u16;
        let (from, to) = (from as u16, to as u16);
        let distance = if self.rises {
            to.wrapping_sub(from)
        } else {
            from.wrapping_sub(to)
        };
        let [low, high] = distance.to_le_bytes();
        let part = (low as u16 * fraction + self.rounding as u16) >> 8;
        let whole = (high as u16 * fraction).wrapping_add(part);
        let value = if self.rises {
            from.wrapping_add(whole)
        } else {
            from.wrapping_sub(whole)
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

    /// Two neighbouring entries; none from the last on. Of a segment of 16 bits one comparison shows the compiler, which cannot
    /// know how long a table is, that both places are there.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::indexing_slicing,
        reason = "segment is below 2^16, and the next place below the number of entries"
    )]
    const fn pair(&self, segment: u16) -> Option<(i16, i16)> {
        // Where an index is no wider, one more could be 0.
        if cfg!(target_pointer_width = "16") && segment as i64 >= TABLE_ENTRIES.max {
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
        Temperature(shift_nearest_i32(entry << 16, self.drop as u32 + 1) as i16)
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
