//! The arithmetic between two entries of a table, apart from the entries: where those lie is another's business.
//!
//! [`Table`](super::table::Table) has its formula.

use crate::bounds::{TABLE_ENTRIES, TABLE_FRACTION_BITS, TABLE_STEP_LOG2};
use crate::rounding::shift_nearest_i32;
use crate::units::Temperature;

/// What a table's numbers are worth, without the numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub(crate) struct Interpolation {
    /// 15 + `fraction_bits`: places that fall away before the last one is rounded.
    drop: u8,
    pub(crate) fraction_bits: u8,
    /// 2^(8 - `fraction_bits`), for `fraction_bits` 1 to 6.
    pub(crate) shrink: u8,
    pub(crate) step_log2: u8,
    /// 2^(16 - `step_log2`). Its second byte is 2^(8 - `step_log2`) for steps of 2 to 256, and 0 for others.
    pub(crate) stretch: u32,
    pub(crate) rises: bool,
    /// Added to a product before its lowest byte falls away, in [`Interpolation::between_by_bytes`]: 128 or 0, or in a falling table 255
    /// less that.
    rounding: u8,
    /// Whether every difference of neighbours fits 16 bits.
    pub(crate) gentle: bool,
}

impl Interpolation {
    /// Of a checked table.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "step_log2 is 0 to 14 and fraction_bits 0 to 6"
    )]
    pub(crate) const fn new(step_log2: u8, fraction_bits: u8, rises: bool, gentle: bool) -> Self {
        Self {
            drop: 15 + fraction_bits,
            fraction_bits,
            shrink: if fraction_bits > 0 {
                1 << (8 - fraction_bits)
            } else {
                0
            },
            step_log2,
            stretch: 1 << (16 - step_log2),
            rises,
            rounding: match (rises, fraction_bits) {
                (true, 0) => 128,
                (true, _) => 0,
                (false, 0) => 127,
                (false, _) => 255,
            },
            gentle,
        }
    }

    /// Whether the positions below `counts`, a number within the table, are for the arithmetic of bytes.
    pub(crate) const fn suits_bytes(&self, counts: u32) -> bool {
        self.gentle && self.stretch_byte() > 0 && counts <= 1 << 14
    }

    #[expect(clippy::cast_possible_truncation, reason = "the second byte")]
    const fn stretch_byte(&self) -> u8 {
        (self.stretch >> 8) as u8
    }

    /// Where a position lies: the segment, and the fraction of the way to its end in 16 bits. One product gives both.
    ///
    /// # Range
    /// Positions within the table: the product is below 63 * 2^16.
    #[inline]
    #[expect(clippy::cast_possible_truncation, reason = "halves")]
    pub(crate) const fn place_by_words(&self, position: u32) -> (u16, u16) {
        let place = position.wrapping_mul(self.stretch);
        ((place >> 16) as u16, place as u16)
    }

    /// The temperature so far between two entries.
    ///
    /// Product and sum may wrap: the sum lies between two entries times 2^16, so it is exact in 32 bits.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "drop is 15 to 21; the value lies between two entries and fits 16 bits"
    )]
    pub(crate) const fn between_by_words(
        &self,
        (from, to): (i16, i16),
        fraction: u16,
    ) -> Temperature {
        let (from, to) = (from as i32, to as i32);
        let value = (from << 16).wrapping_add((to - from).wrapping_mul(fraction as i32));
        Temperature(shift_nearest_i32(value, self.drop as u32 + 1) as i16)
    }

    /// An entry as it is.
    pub(crate) const fn at_entry(&self, entry: i16) -> Temperature {
        self.between_by_words((entry, entry), 0)
    }

    /// Where a position lies: the segment, and the fraction of the way to its end in 8 bits. Products of bytes in place of shifts, for 8-bit
    /// cores.
    ///
    /// # Range
    /// Where [`Interpolation::suits_bytes`], positions within the table.
    #[cfg_attr(target_pointer_width = "16", inline(always))]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "a product of two bytes is at most 65 025"
    )]
    pub(crate) const fn place_by_bytes(&self, position: u16) -> (u16, u8) {
        let [low, high] = position.to_le_bytes();
        let stretch = self.stretch_byte() as u16;
        let [fraction, carry] = (low as u16 * stretch).to_le_bytes();
        let [segment, _] = (high as u16 * stretch).to_le_bytes();
        (segment.wrapping_add(carry) as u16, fraction)
    }

    /// The temperature so far between two entries, by products of bytes.
    ///
    /// # Range
    /// Where [`Interpolation::suits_bytes`].
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
        reason = "a product of two bytes is at most 65 025, and 255 more below 2^16; what is added to an entry or taken off leads to a \
                  value between two"
    )]
    pub(crate) const fn between_by_bytes(
        &self,
        (from, to): (i16, i16),
        fraction: u8,
    ) -> Temperature {
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
}

// The bounds that the range proofs of this file rest on.
const _: () = assert!(
    TABLE_STEP_LOG2.max <= 16
        && (TABLE_ENTRIES.max - 1) << 8 < 1 << 14
        && TABLE_FRACTION_BITS.max <= 7
);
