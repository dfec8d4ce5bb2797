//! The conversion that a chip loads for a supply reference: one quotient whose divisor has 15 bits.

use super::constants::{QuotientConstants, Words, halves, words};
use super::quotient::SupplyConversion;
use super::window::{Summing, fault_outside, is_window, told};
use crate::arch::{HalfStep, Quotient, narrow, portable, wide};
use crate::units::{Count, Fault, Voltage};

/// Count to voltage for one calibrated module with a supply reference. Total and integer-only: the constants' own rational, rounded to
/// nearest, ties upward, at every count.
///
/// ```text
/// V = floor((K + h) / (2 h))      h = 2^(t - 1) * (count - first) + h_first, below 2^15
/// ```
///
/// It is the short form of a [`SupplyConversion`] with D = 2 h and nothing else, so a chip links no other. `fit` stores that form for
/// counts of up to 14 bits. Whoever has wider ones loads a [`SupplyConversion`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct SupplyModule {
    quotient: Quotient,
    summing: Summing,
}

// Kernels take a pointer to a module for one to its quotient.
const _: () = assert!(core::mem::offset_of!(SupplyModule, quotient) == 0);

told!([] SupplyModule, |of| (wide(of.quotient.first), wide(of.quotient.counts)), of.summing);

impl SupplyModule {
    /// The module of a record's words; none unless they are of the short form and sound: D even and from 2 to below 2^16, and the voltage
    /// at the first count, which is the largest, below 2^16.
    ///
    /// On a chip this is all that loading does, without a division: floor((K + D / 2) / 2^16) is below D there.
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        clippy::arithmetic_side_effects,
        reason = "what is loaded goes to its place without a copy; the words are looked at first: counts - 1 below 2^16, shifted by at \
                  most 7, and D at the first below 2^16"
    )]
    pub(crate) const fn from_words(t: u8, words: &Words, summing: Summing) -> Option<Self> {
        let [first, counts, numerator, at_first, high] = *words;
        let ([first, f], [counts, c], [at_first, d]) =
            (halves(first), halves(counts), halves(at_first));
        let ([rail, r], [k2, k3]) = (halves(summing.rail), halves(high));
        if t == 0
            || t > 7
            || f | c | d | r | k2 | k3 | at_first & 1 != 0
            || !is_window(first, counts, rail)
            || (u16::MAX - at_first) >> t < counts - 1
        {
            return None;
        }
        // K is below 2^16 D at the first count then, at most 65 534 * 2^16, so K + D / 2 below 2^32 at the last one too.
        let half_at_first = at_first >> 1;
        let [k0, k1] = halves(numerator);
        let (_, carry) = k0.overflowing_add(half_at_first);
        match k1.checked_add(carry as u16) {
            Some(upper) if upper < at_first => {}
            _ => return None,
        }
        Some(Self {
            quotient: Quotient {
                first: narrow(first as u32),
                counts: narrow(counts as u32),
                half_step: HalfStep::of(t - 1),
                half_at_first: narrow(half_at_first as u32),
                numerator,
            },
            summing,
        })
    }

    /// t and the words of a record.
    pub(crate) const fn words(&self) -> (u8, Words) {
        let QuotientConstants {
            first,
            counts,
            at_first,
            step_log2,
            ..
        } = self.constants();
        let high = [self.quotient.numerator, at_first];
        (step_log2, words(first, counts, high, [0, 0]))
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
    /// [`Fault`], as [`SupplyConversion::voltage`].
    #[inline]
    pub fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        self.told(count, Self::units(count.0, self))
    }

    /// The voltage of a count whose units are found, or its fault where they are `u32::MAX`.
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the units of a quotient have 16 bits"
    )]
    pub(crate) const fn told(&self, count: Count, units: u32) -> Result<Voltage, Fault> {
        match units {
            u32::MAX => Err(self.fault(count)),
            units => Ok(Voltage(units as u16)),
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
        crate::arch::kernels::quotient(&module.quotient, Count(count)).map_or(u32::MAX, u32::from)
    }

    #[cold]
    #[inline(never)]
    const fn fault(&self, count: Count) -> Fault {
        fault_outside(
            count,
            wide(self.quotient.first),
            self.summing.rail,
            SupplyConversion::FAULTS,
        )
    }

    /// The value at a position of the window.
    pub(crate) const fn at(&self, position: u32) -> Voltage {
        Voltage(portable::quotient_at(&self.quotient, narrow(position)))
    }

    /// What a kernel divides.
    pub(crate) const fn quotient(&self) -> &Quotient {
        &self.quotient
    }

    /// K, t and D.
    #[must_use]
    #[expect(clippy::arithmetic_side_effects, reason = "h below 2^15; t at most 7")]
    pub const fn constants(&self) -> QuotientConstants {
        QuotientConstants {
            first: wide(self.quotient.first),
            counts: wide(self.quotient.counts),
            numerator: self.quotient.numerator as u64,
            at_first: wide(self.quotient.half_at_first) << 1,
            step_log2: self.quotient.half_step.log2() + 1,
        }
    }
}

impl SupplyConversion {
    /// The module that a chip loads of these constants, in the short form; none where they are not of it.
    #[must_use]
    pub const fn short(&self) -> Option<SupplyModule> {
        let (t, words) = self.words();
        SupplyModule::from_words(t, &words, self.summing())
    }
}
