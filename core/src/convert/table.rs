//! A checked table of temperatures: entries evenly spaced, a power of two apart, with the arithmetic of
//! [`super::interpolation`] between them.

use super::interpolation::Interpolation;
use crate::bounds::{TABLE_ENTRIES, TABLE_FRACTION_BITS, TABLE_STEP_LOG2};
use crate::error::{ConfigError, tried};
use crate::units::Temperature;

/// A checked table of temperatures over positions from 0 on.
///
/// ```text
/// i = position >> step_log2        f = position mod 2^step_log2
/// value = (entry[i] * 2^step_log2 + (entry[i + 1] - entry[i]) * f) / 2^(step_log2 + fraction_bits)
/// ```
///
/// rounded to nearest, ties upward. The rational is formed whole before it is rounded, so the result is exactly rounded;
/// entries never turn back, the rational does not, and rounding keeps the order: the result is monotonic.
///
/// Entries may be finer than the result, by `fraction_bits`, so that rounding them does not show. With entries as fine as the
/// result (`fraction_bits` 0) and steps of up to 256, an 8-bit core needs neither a shift nor a 32-bit product.
///
/// # Range
/// 16 to 64 entries, each in steps of 0.1 degC / 2^`fraction_bits`; `fraction_bits` 0 to 6; entries 2^`step_log2`
/// positions apart, `step_log2` 0 to 14.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct Table<'a> {
    pub(crate) interpolation: Interpolation,
    pub(crate) entries: &'a [i16],
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
        tried!(TABLE_ENTRIES.check(entries.len() as i64));
        tried!(TABLE_STEP_LOG2.check(step_log2 as i64));
        tried!(TABLE_FRACTION_BITS.check(fraction_bits as i64));
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
            interpolation: Interpolation::new(step_log2, fraction_bits, rises, gentle),
            entries,
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

    /// The arithmetic of words.
    ///
    /// # Range
    /// Positions before the last entry; from there on the last entry.
    #[inline]
    pub(crate) const fn at_by_words(&self, position: u32) -> Temperature {
        let (segment, fraction) = self.interpolation.place_by_words(position);
        match self.pair(segment) {
            Some(pair) => self.interpolation.between_by_words(pair, fraction),
            None => Temperature(0),
        }
    }

    /// The arithmetic of bytes.
    ///
    /// # Range
    /// Where [`Interpolation::suits_bytes`], positions before the last entry.
    #[cfg_attr(target_pointer_width = "16", inline(always))]
    pub(crate) const fn at_by_bytes(&self, position: u16) -> Temperature {
        let (segment, fraction) = self.interpolation.place_by_bytes(position);
        match self.pair(segment) {
            Some(pair) => self.interpolation.between_by_bytes(pair, fraction),
            None => Temperature(0),
        }
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
    const fn last(&self) -> Temperature {
        match self.entries {
            [.., last] => self.interpolation.at_entry(*last),
            [] => Temperature(0),
        }
    }

    /// Whether temperatures rise with the position.
    #[must_use]
    pub const fn rises(&self) -> bool {
        self.interpolation.rises
    }

    /// Positions from the first entry to the last.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "63 << 14 is below 2^20, and there are at least 16 entries"
    )]
    pub const fn positions(&self) -> u32 {
        ((self.entries.len() - 1) as u32) << self.interpolation.step_log2
    }

    /// The entries, in steps of 0.1 degC / 2^`fraction_bits`.
    #[must_use]
    pub const fn entries(&self) -> &'a [i16] {
        self.entries
    }

    /// Base-2 logarithm of the positions between two entries.
    #[must_use]
    pub const fn step_log2(&self) -> u8 {
        self.interpolation.step_log2
    }

    /// How many bits finer than 0.1 degC the entries are.
    #[must_use]
    pub const fn fraction_bits(&self) -> u8 {
        self.interpolation.fraction_bits
    }
}

// What the proofs of this file rest on.
const _: () = assert!(TABLE_ENTRIES.min >= 2);
