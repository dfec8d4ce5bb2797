//! The conversion that a chip loads for a divided input: one product of 16 bits, an addition, a shift.

use super::constants::{LineConstants, Words, halves, words};
use super::line::DividedConversion;
use super::window::{Summing, fault_outside, is_window, told};
use crate::arch::{Line, kernels, narrow, portable, wide};
use crate::rounding::product_of_16_bits;
use crate::units::{Count, Fault, Voltage};

/// Count to voltage for one calibrated module with a divided input, counts of `BITS` bits, 8 to 16. Total and integer-only: the
/// constants' own rational, rounded to nearest, ties upward, at every count.
///
/// ```text
/// V = floor((M * (count - first) + B) / 2^(BITS + 3))
/// ```
///
/// It is the short form of a [`DividedConversion`] and nothing else, so a chip links no other: 16 bits for `first`, the counts and M, 32 for B.
/// `fit` stores that form for every module whose full scale is below 8.19 V in steps of 1 mV, and lies within 1/20 of a step of its
/// curve then. Whoever needs finer steps or counts of more than 16 bits loads a [`DividedConversion`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct DividedModule<const BITS: u32> {
    line: Line,
    summing: Summing,
}

// Kernels take a pointer to a module for one to its line.
const _: () = assert!(core::mem::offset_of!(DividedModule<12>, line) == 0);

told!([const BITS: u32] DividedModule<BITS>, |of| (wide(of.line.first), wide(of.line.counts)), of.summing);

impl<const BITS: u32> DividedModule<BITS> {
    /// S, and that counts have 16 bits at most.
    const SHIFT: u32 = {
        assert!(
            BITS >= 8 && BITS <= 16,
            "DividedModule<BITS>: BITS is the width of the largest count, 8 to 16"
        );
        DividedConversion::<BITS>::SHORT_SHIFT
    };

    /// The module of a record's words; none unless they are of the short form and sound: no sum wraps, and every value has 16 bits.
    ///
    /// The sum grows with the count, so the last one is looked at. On a chip this is all that loading does.
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        clippy::cast_possible_truncation,
        clippy::arithmetic_side_effects,
        reason = "what is loaded goes to its place without a copy; the words are looked at first; \
                  (2^16 - 1)^2 is below 2^32"
    )]
    pub(crate) const fn from_words(shift: u8, words: &Words, summing: Summing) -> Option<Self> {
        let [first, counts, factor, addend, low] = *words;
        let ([first, f], [counts, c], [factor, m]) =
            (halves(first), halves(counts), halves(factor));
        let ([rail, r], [b0, b1]) = (halves(summing.rail), halves(low));
        if shift != Self::SHIFT as u8
            || f | c | m | r | b0 | b1 != 0
            || !is_window(first, counts, rail)
        {
            return None;
        }
        let last = counts.wrapping_sub(1);
        let Some(sum) = product_of_16_bits(factor as u32, last as u32).checked_add(addend) else {
            return None;
        };
        if BITS < 13 && halves(sum)[1] >> (BITS + 3) != 0 {
            return None;
        }
        Some(Self {
            line: Line {
                first: narrow(first as u32),
                counts: narrow(counts as u32),
                factor: narrow(factor as u32),
                addend: addend << Line::scale(BITS),
            },
            summing,
        })
    }

    const fn addend(&self) -> u32 {
        self.line.addend >> Line::scale(BITS)
    }

    /// S and the words of a record.
    #[expect(clippy::cast_possible_truncation, reason = "S is at most 19")]
    pub(crate) const fn words(&self) -> (u8, Words) {
        let high = [wide(self.line.factor), self.addend()];
        (
            Self::SHIFT as u8,
            words(wide(self.line.first), wide(self.line.counts), high, [0, 0]),
        )
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
    /// [`Fault`], as [`DividedConversion::voltage`].
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        reason = "a few instructions, without a result put together for the caller"
    )]
    #[cfg_attr(
        not(all(feature = "arch", target_arch = "avr", target_feature = "mul")),
        expect(clippy::missing_const_for_fn, reason = "kernels are no constants")
    )]
    pub fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        match kernels::line::<BITS>(&self.line, count) {
            Some(units) => Ok(Voltage(units)),
            None => Err(self.fault(count)),
        }
    }

    /// The output units of a count, or `u32::MAX` where it is none: for callers in other languages, in the C calling convention. On
    /// Cortex-M0+ with the feature `arch` it is a kernel, without the frame that Rust's functions have there.
    ///
    /// # Range
    /// Every `u32` is accepted.
    #[inline]
    #[cfg(not(all(feature = "arch", target_arch = "arm", not(target_has_atomic = "32"))))]
    pub extern "C" fn units(count: u32, module: &Self) -> u32 {
        kernels::line::<BITS>(&module.line, Count(count)).map_or(u32::MAX, u32::from)
    }

    #[cold]
    #[inline(never)]
    const fn fault(&self, count: Count) -> Fault {
        fault_outside(
            count,
            wide(self.line.first),
            self.summing.rail,
            DividedConversion::<BITS>::FAULTS,
        )
    }

    /// The value at a position of the window.
    pub(crate) const fn at(&self, position: u32) -> Voltage {
        Voltage(portable::line_at::<BITS>(&self.line, narrow(position)))
    }

    /// M, B and S.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "S is at most 19")]
    pub const fn constants(&self) -> LineConstants {
        LineConstants {
            first: wide(self.line.first),
            counts: wide(self.line.counts),
            factor: wide(self.line.factor) as u128,
            addend: self.addend() as u128,
            shift: Self::SHIFT as u8,
        }
    }
}

impl<const BITS: u32> DividedConversion<BITS> {
    /// The module that a chip loads of these constants, in the short form; none where they are in another.
    #[must_use]
    pub const fn short(&self) -> Option<DividedModule<BITS>> {
        let (shift, words) = self.words();
        DividedModule::from_words(shift, &words, self.summing())
    }
}
