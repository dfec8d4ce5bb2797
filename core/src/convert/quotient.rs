//! Count to voltage by one quotient: what a supply reference converts with.

use crate::bounds::DENOMINATOR_END;
use crate::convert::constants::{QuotientConstants, Words, halves, words};
use crate::convert::division::{divide, raised};
use crate::convert::window::{Summing, Window, fault_outside, told};
use crate::units::{Count, Fault, Voltage};

/// Count to voltage for one module with a supply reference. Total and integer-only: the constants' own rational, rounded to
/// nearest, ties upward, at every count.
///
/// ```text
/// V = floor(K / D + 1/2) = floor((K + D / 2) / D)      D = 2^t * (count - first) + D_first
/// ```
///
/// with K and D whole numbers and D even, so that its half is whole: K / D rounded to nearest, ties upward, exactly. K and D are
/// chosen elsewhere: from the drawing, or from a calibration. Here they are only checked, once, so that no count can wrap.
///
/// K has 46 bits, and D lies below 2^29. Constants with t up to 7, K + D / 2 below 2^32 and D below 2^16 are a
/// [`SupplyModule`](crate::SupplyModule) too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SupplyConversion {
    first: u32,
    counts: u32,
    /// K's lower 32 and upper 16 bits.
    numerator: u32,
    numerator_high: u16,
    step_log2: u8,
    at_first: u32,
    summing: Summing,
}

told!([] SupplyConversion, |of| (of.first, of.counts), of.summing);

impl SupplyConversion {
    /// Faults before and behind the window: a supply reference's count falls as the voltage rises.
    pub(crate) const FAULTS: [Fault; 2] = [Fault::AboveRange, Fault::BelowRange];

    /// A conversion of constants; none where a count would wrap or leave the output's range.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "halves of K, which is below 2^48"
    )]
    pub(crate) const fn of(constants: QuotientConstants, summing: Summing) -> Option<Self> {
        if constants.numerator >> 48 != 0 {
            return None;
        }
        let words = words(
            constants.first,
            constants.counts,
            [constants.numerator as u32, constants.at_first],
            [(constants.numerator >> 32) as u16, 0],
        );
        Self::from_words(constants.step_log2, &words, summing)
    }

    /// A conversion of the words that a record holds; none unless D is even and at least 2, D and K within their limits at every count,
    /// and the voltage at the first count, which is the largest, below 2^16: floor((K + D / 2) / 2^16) is below D there.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "counts is at least 1 and at most 2^26; t is 1 to 28; D below 2^29, as counts - 1 shifted, so below 2^30 in sum"
    )]
    pub(crate) const fn from_words(t: u8, words: &Words, summing: Summing) -> Option<Self> {
        let [first, counts, numerator, at_first, low] = *words;
        let [high, rest] = halves(low);
        let Some(window) = Window::new(first, counts, summing.rail) else {
            return None;
        };
        let last = window.counts - 1;
        if rest != 0
            || high >> 14 != 0
            || t == 0
            || t > 28
            || last >> (29 - t) != 0
            || at_first & 1 != 0
            || at_first >= DENOMINATOR_END
            || (last << t) + at_first >= DENOMINATOR_END
        {
            return None;
        }
        let (upper, _) = raised(numerator, high, at_first);
        if upper >= at_first {
            return None;
        }
        Some(Self {
            first,
            counts,
            numerator,
            numerator_high: high,
            step_log2: t,
            at_first,
            summing,
        })
    }

    /// t and the words of a record.
    pub(crate) const fn words(&self) -> (u8, Words) {
        let high = [self.numerator, self.at_first];
        let low = [self.numerator_high, 0];
        (self.step_log2, words(self.first, self.counts, high, low))
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
    /// [`Fault::ZeroCount`]; [`Fault::Rail`], where the cell is at or below the reference; [`Fault::AboveRange`] for
    /// counts so small that the voltage would not fit.
    #[inline]
    pub const fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        // Wraps on purpose: a count before the window becomes a position far behind it.
        let position = count.0.wrapping_sub(self.first);
        if position < self.counts {
            Ok(self.at(position))
        } else {
            Err(fault_outside(
                count,
                self.first,
                self.summing.rail,
                Self::FAULTS,
            ))
        }
    }

    /// The value at a position of the window.
    #[inline]
    pub(crate) const fn at(&self, position: u32) -> Voltage {
        let denominator = self.denominator(position);
        Voltage(divide(self.numerator, self.numerator_high, denominator))
    }

    /// D at a position.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "D is below 2^29 at every position of the window"
    )]
    pub(crate) const fn denominator(&self, position: u32) -> u32 {
        (position << self.step_log2) + self.at_first
    }

    /// K.
    #[inline]
    pub(crate) const fn numerator(&self) -> u64 {
        (self.numerator_high as u64) << 32 | self.numerator as u64
    }

    /// K, t and D.
    #[must_use]
    pub const fn constants(&self) -> QuotientConstants {
        QuotientConstants {
            first: self.first,
            counts: self.counts,
            numerator: self.numerator(),
            at_first: self.at_first,
            step_log2: self.step_log2,
        }
    }
}
