//! Count to voltage along a straight line: one multiply-add-shift, what a divided input converts with.

use crate::arch::ImmediateLine;
use crate::bounds::{COUNT_BITS, LONG_SHIFT, WIDE_SHIFT};
use crate::convert::constants::{LineConstants, Words, halves, words};
use crate::convert::window::{Summing, Window, fault_outside, told};
use crate::rounding::{product_of_16_bits, shift_floor_u32, shift_floor_u64, upper_of_sum};
use crate::units::{Count, Fault, Voltage};

/// Count to voltage for one module with a divided input. Total and integer-only: the constants' own rational, rounded to
/// nearest, ties upward, at every count.
///
/// `BITS` is the width of its counts: 8 to 16, or 26 for everything wider.
///
/// ```text
/// V = floor((M * (count - first) + B) / 2^S)
/// ```
///
/// B holds the half that makes the floor a rounding to nearest, ties upward. M and B are chosen elsewhere: from the drawing,
/// with a proof, or from a calibration. Here they are only checked, once, so that no count can wrap.
///
/// | form | counts | S | M | B | products |
/// |---|---|---|---|---|---|
/// | short | `BITS` wide, 8 to 16 | `BITS` + 3 | 16 bits | 32 bits | one, below 2^32 |
/// | long | the same | 32 | 48 bits | 48 bits | two, each below 2^32 |
/// | wide | 17 to 26 bits | 64 | 80 bits | 80 bits | two, each below 2^64 |
///
/// The short form is what a module of 1 mV steps converts with: its M resolves 1/8 output step over all counts of its width, and
/// twice that fineness and more over a cell's range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct DividedConversion<const BITS: u32> {
    first: u32,
    /// All counts in the short form, 0 in the others: one comparison decides validity and form.
    short: u32,
    /// Short: M. Long and wide: M's upper 32 bits.
    factor: u32,
    /// Short: B. Long and wide: B's upper 32 bits.
    addend: u32,
    /// Long and wide: the next 16 bits of M and of B.
    factor_low: u16,
    addend_low: u16,
    counts: u32,
    /// Wide: the last 32 bits of M and of B.
    factor_rest: u32,
    addend_rest: u32,
    summing: Summing,
}

told!([const BITS: u32] DividedConversion<BITS>, |of| (of.first, of.counts), of.summing);

impl<const BITS: u32> DividedConversion<BITS> {
    /// Whether counts have more than 16 bits.
    #[expect(clippy::cast_possible_truncation, reason = "8 and 26")]
    const IS_WIDE: bool = {
        assert!(
            BITS >= COUNT_BITS.min as u32 && (BITS <= 16 || BITS == COUNT_BITS.max as u32),
            "DividedConversion<BITS>: BITS is the width of the largest count, 8 to 16, or 26 for every wider count"
        );
        BITS > 16
    };
    /// S of the short form.
    pub(crate) const SHORT_SHIFT: u32 = BITS + 3;
    /// S of the form that is always enough.
    pub(crate) const FULL_SHIFT: u32 = if Self::IS_WIDE {
        WIDE_SHIFT
    } else {
        LONG_SHIFT
    };
    /// Faults before and behind the window: a divided input's count rises with the voltage.
    pub(crate) const FAULTS: [Fault; 2] = [Fault::BelowRange, Fault::AboveRange];
    /// The largest count of this width.
    pub(crate) const COUNT_END: u32 = if Self::IS_WIDE { 1 << 26 } else { 1 << BITS };

    /// A conversion of constants, in the short form where they fit it and else in the full one; none where a count would wrap or
    /// leave the output's range.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "the shift is at most FULL_SHIFT, 64, and M and B are below 2^(shift + 16), so below 2^80 when shifted; parts of them"
    )]
    pub(crate) const fn of(constants: LineConstants, summing: Summing) -> Option<Self> {
        let LineConstants {
            first,
            counts,
            factor,
            addend,
            shift,
        } = constants;
        if !Self::IS_WIDE
            && shift as u32 == Self::SHORT_SHIFT
            && factor <= u16::MAX as u128
            && addend <= u32::MAX as u128
        {
            let words = words(first, counts, [factor as u32, addend as u32], [0, 0]);
            return Self::from_words(shift, &words, summing);
        }
        // Values have 16 bits, so at every shift M and B have 16 bits more than it.
        if shift as u32 > Self::FULL_SHIFT
            || (factor >> 16) >> shift != 0
            || (addend >> 16) >> shift != 0
        {
            return None;
        }
        let places = Self::FULL_SHIFT - shift as u32;
        let (factor, addend) = (factor << places, addend << places);
        let rest = Self::FULL_SHIFT - LONG_SHIFT;
        let (m, b) = ((factor >> rest) as u64, (addend >> rest) as u64);
        let high = [(m >> 16) as u32, (b >> 16) as u32];
        let words = words(first, counts, high, [m as u16, b as u16]);
        match Self::from_words(LONG_SHIFT as u8, &words, summing) {
            Some(mut wide) if Self::IS_WIDE => {
                wide.factor_rest = factor as u32;
                wide.addend_rest = addend as u32;
                wide.sound()
            }
            long => long,
        }
    }

    const fn unchecked(words: &Words, is_short: bool, summing: Summing) -> Self {
        let [first, counts, factor, addend, low] = *words;
        let [factor_low, addend_low] = halves(low);
        Self {
            first,
            short: if is_short { counts } else { 0 },
            factor,
            addend,
            factor_low,
            addend_low,
            counts,
            factor_rest: 0,
            addend_rest: 0,
            summing,
        }
    }

    /// A conversion of the words that a record holds; none unless they are sound: no sum wraps, and every value has 16 bits. The sum grows
    /// with the count, so the last one is looked at.
    #[expect(clippy::cast_possible_truncation, reason = "shifts of at most 32")]
    pub(crate) const fn from_words(shift: u8, words: &Words, summing: Summing) -> Option<Self> {
        let [first, counts, factor, _, low] = *words;
        let is_short = !Self::IS_WIDE && shift == Self::SHORT_SHIFT as u8;
        if !is_short && shift != LONG_SHIFT as u8
            || is_short && (factor >> 16) | low != 0
            || summing.rail >= Self::COUNT_END
            || Window::new(first, counts, summing.rail).is_none()
        {
            return None;
        }
        Self::unchecked(words, is_short, summing).sound()
    }

    /// Itself if the sum at the last count has a value of 16 bits, and in the short form 32 bits.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "M and B are below 2^80, counts at least 1 and below 2^26: their sum is below 2^107"
    )]
    const fn sound(self) -> Option<Self> {
        let constants = self.constants();
        let sum = constants.factor * (self.counts - 1) as u128 + constants.addend;
        if sum >> (constants.shift + 16) == 0 && (self.short == 0 || sum >> 32 == 0) {
            Some(self)
        } else {
            None
        }
    }

    /// Whether it is in the short form.
    pub(crate) const fn is_short(&self) -> bool {
        self.short != 0
    }

    /// Upper 48 bits of M and of B, in a form other than the short one.
    const fn upper(&self) -> (u64, u64) {
        (
            (self.factor as u64) << 16 | self.factor_low as u64,
            (self.addend as u64) << 16 | self.addend_low as u64,
        )
    }

    /// M, B and S, of the wide form its upper 48 bits at S = 32.
    const fn parts(&self) -> (u64, u64, u32) {
        let (factor, addend) = self.upper();
        if self.short != 0 {
            (self.factor as u64, self.addend as u64, Self::SHORT_SHIFT)
        } else {
            (factor, addend, LONG_SHIFT)
        }
    }

    /// M and B at S = 32, rounded down: exact but for the wide form's lower 32 bits.
    pub(crate) const fn at_long_shift(&self) -> (u64, u64) {
        if self.short != 0 {
            let places = LONG_SHIFT.wrapping_sub(Self::SHORT_SHIFT);
            (
                (self.factor as u64) << places,
                (self.addend as u64) << places,
            )
        } else {
            self.upper()
        }
    }

    /// The same line for immediate operands; of counts wider than 16 bits none, which nobody asks for.
    pub(crate) const fn immediate(&self) -> ImmediateLine {
        let (factor, addend, shift) = self.parts();
        ImmediateLine {
            first: self.first,
            counts: self.counts,
            factor,
            addend,
            shift,
        }
    }

    /// M at S = 64 less that at S = 32: the wide form's lower 32 bits.
    pub(crate) const fn factor_rest(&self) -> u32 {
        self.factor_rest
    }

    /// S and the words of a record.
    #[expect(clippy::cast_possible_truncation, reason = "shifts below 64")]
    pub(crate) const fn words(&self) -> (u8, Words) {
        let high = [self.factor, self.addend];
        let low = [self.factor_low, self.addend_low];
        let words = words(self.first, self.counts, high, low);
        (self.parts().2 as u8, words)
    }

    /// The voltage of a count in output units, or why the count is none.
    ///
    /// # Range
    /// Every `u32` is accepted.
    ///
    /// # Rounding
    /// To the nearest output unit, ties upward, of the constants' model; no error on top.
    ///
    /// # Errors
    /// [`Fault::ZeroCount`], [`Fault::Rail`], or, under a calibration or a coarse divider, [`Fault::BelowRange`] and
    /// [`Fault::AboveRange`].
    #[expect(
        clippy::inline_always,
        clippy::cast_possible_truncation,
        reason = "with constants compiled in, only a product is left of it, which a compiler that weighs the other forms too misses; \
                  counts of up to 16 bits, and those of their window"
    )]
    #[inline(always)]
    pub const fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        // Wraps on purpose: a count before the window becomes a position far behind it.
        if cfg!(target_pointer_width = "16") && !Self::IS_WIDE && count.0 >> 16 == 0 {
            let position = (count.0 as u16).wrapping_sub(self.first as u16);
            if position < self.short as u16 {
                return Ok(self.short_at(position as u32));
            } else if position < self.counts as u16 {
                return Ok(self.full_at(position as u32));
            }
            return Err(self.fault(count));
        }
        let position = count.0.wrapping_sub(self.first);
        if position < self.short {
            Ok(self.short_at(position))
        } else if position < self.counts {
            Ok(self.full_at(position))
        } else {
            Err(self.fault(count))
        }
    }

    #[cold]
    pub(crate) const fn fault(&self, count: Count) -> Fault {
        fault_outside(count, self.first, self.summing.rail, Self::FAULTS)
    }

    /// The value at a position of the window.
    pub(crate) const fn at(&self, position: u32) -> Voltage {
        if self.short != 0 {
            self.short_at(position)
        } else {
            self.full_at(position)
        }
    }

    /// The short form: one product of 16-bit numbers.
    #[inline(always)]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::inline_always,
        reason = "the sum at the last position was checked: below 2^32, its value below 2^16"
    )]
    const fn short_at(&self, position: u32) -> Voltage {
        let sum = product_of_16_bits(self.factor, position) + self.addend;
        Voltage(shift_floor_u32(sum, Self::SHORT_SHIFT) as u16)
    }

    /// The long and the wide form.
    #[inline(always)]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::inline_always,
        reason = "constants compiled in stay out of memory; long: low parts and position have 16 bits, so the lower sum is at most (2^16 - 1)^2 + 2^16 - 1; wide: the lower sum is \
                  below 2^32 * 2^26 + 2^32; the whole at the last position was checked, and its upper 16 bits are the value"
    )]
    const fn full_at(&self, position: u32) -> Voltage {
        if Self::IS_WIDE {
            let (factor, addend) = self.upper();
            let rest = self.factor_rest as u64 * position as u64 + self.addend_rest as u64;
            let sum = factor * position as u64 + addend + shift_floor_u64(rest, 32);
            return Voltage(shift_floor_u64(sum, 32) as u16);
        }
        let low = self.factor_low as u32 * position;
        let sum = self.factor * position + self.addend + upper_of_sum(low, self.addend_low);
        Voltage(shift_floor_u32(sum, 16) as u16)
    }

    /// M, B and S: of the long form the least S of 16, 24 and 32 that loses nothing.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "S is at most 64, and at most 16 places are taken off 32"
    )]
    pub const fn constants(&self) -> LineConstants {
        let (factor, addend, shift) = self.parts();
        let (factor, addend, shift) = if Self::IS_WIDE {
            let factor = (factor as u128) << 32 | self.factor_rest as u128;
            let addend = (addend as u128) << 32 | self.addend_rest as u128;
            (factor, addend, WIDE_SHIFT)
        } else {
            let places = match (factor | addend).trailing_zeros() {
                _ if self.short != 0 => 0,
                16.. => 16,
                8.. => 8,
                _ => 0,
            };
            let (factor, addend) = (factor >> places, addend >> places);
            (factor as u128, addend as u128, shift - places)
        };
        LineConstants {
            first: self.first,
            counts: self.counts,
            factor,
            addend,
            shift: shift as u8,
        }
    }
}
