//! Calibration without a PC: a conversion whose voltages are scaled by a gain, after an offset is taken off its samples.
//!
//! ```text
//! V' (count) = gain * V (count - offset)      offset in counts of one sample, V before its rounding
//! ```
//!
//! The result is again a conversion with module constants: the nearest to that product that its form can hold. It is in the short form,
//! which a [`crate::DividedModule`] or [`crate::SupplyModule`] loads, where that one lies within 1/20 of an output step of the full one and
//! leaves it every count, up to one in 256 at an end. A controller that sends each module one constant needs no more. Its record is made
//! like any other ([`crate::Record`]).
//!
//! Everything is done in 64 bits and without a proof: a gain is measured, so there is nothing exact behind its 24 bits.

use fixed::types::{I24F8, U8F24};

use super::constants::{LineConstants, QuotientConstants};
use super::line::DividedConversion;
use super::quotient::SupplyConversion;
use super::window::{Summing, Window};
use crate::bounds::{DENOMINATOR_END, GAIN_BITS, LONG_SHIFT, OFFSET_BITS, VOLTAGE_MAX};
use crate::error::{ConfigError, tried};
use crate::rounding::{divide_floor_u64, shift_floor_u64};

/// Bits of an offset behind the point.
const OFFSET_FRACTION: u32 = 8;

/// Gain as its bits, and the offset in 2^-8 of a count: both within their limits.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "the offset is at most 2^20 and the samples 1024: below 2^31"
)]
const fn checked(
    gain: U8F24,
    offset: I24F8,
    samples: u16,
    right_shift: u8,
) -> Result<(u64, i64), ConfigError> {
    tried!(GAIN_BITS.check(gain.to_bits() as i64));
    tried!(OFFSET_BITS.check(offset.to_bits() as i64));
    let counts = (offset.to_bits() as i64 * samples as i64) >> right_shift;
    Ok((gain.to_bits() as u64, counts))
}

/// `(value + rest / 2^32) * gain`, rounded to nearest.
///
/// # Range
/// `value` below 2^61, the gain at most 2^25 bits, so the result is below 2^62.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "the upper part below 2^37, the lower below 2^24 and the rest below 2^32, each times 2^25 at most"
)]
const fn gained(value: u64, rest: u32, gain: u64) -> u64 {
    let below = shift_floor_u64(rest as u64 * gain, 32);
    (value >> 24) * gain + (((value & 0xFF_FFFF) * gain + below + (1 << 23)) >> 24)
}

/// `value / 2^places`, rounded to nearest, ties upward.
///
/// # Range
/// `value` below 2^63, `places` 1 to 27.
#[expect(clippy::arithmetic_side_effects, reason = "2^63 + 2^26 is below 2^64")]
const fn nearest(value: u64, places: u32) -> u64 {
    shift_floor_u64(value + (1 << (places - 1)), places)
}

impl<const BITS: u32> DividedConversion<BITS> {
    /// The conversion of a module whose voltage is `gain` times what this one gives at `offset` counts of a sample less.
    ///
    /// Both are fixed-point numbers, exact in a constant: `scaled(U8F24::lit("1.004"), I24F8::lit("1.25"))`. A float does not compile.
    ///
    /// # Range
    /// Gain 0.5 to 2, offset -4096 to 4096 counts of one sample.
    ///
    /// # Rounding
    /// Short: within 1/31 of an output step. Else M and B to the nearest at S = 32: within 2^-16 of an output step for counts of up to 16
    /// bits, and 2^-6 for wider ones. Beside that, what the offset's 1/256 count and the gain's 2^-24 leave.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] for gain or offset; [`ConfigError::Constants`] when no count is left that is a voltage.
    #[rustfmt::skip] // A compiler that refuses a float shows the next line, and so what to write.
    pub const fn scaled(&self, gain: U8F24, offset: I24F8) -> Result<Self, ConfigError> { // U8F24::lit("1.004"), I24F8::lit("1.25")
        let full = tried!(self.times(gain, offset));
        Ok(match full.nearest_short() {
            Some(short) => short,
            None => full,
        })
    }

    /// The same line in the short form: M to the nearest, and B so that both cross in the middle of the window.
    ///
    /// M is off by at most half a 2^-(`BITS` + 3), and no count lies farther than 2^(`BITS` - 1) from the middle: 1/32 of an output step,
    /// and the rounding of B, 2^-12 at most.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_wrap,
        reason = "M and B below 2^48 at S = 32, and the sum at a position too; at most 24 places; a count below 2^16"
    )]
    const fn nearest_short(&self) -> Option<Self> {
        if Self::FULL_SHIFT != LONG_SHIFT {
            return None;
        }
        let places = LONG_SHIFT - Self::SHORT_SHIFT;
        let (factor, addend) = self.at_long_shift();
        let window = self.window();
        let middle = ((window.counts - 1) / 2) as u64;
        let crossed = nearest(addend + factor * middle, places);
        let factor = nearest(factor, places);
        let at_zero = crossed as i64 - (factor * (window.first as u64 + middle)) as i64;
        match Self::windowed(factor, at_zero, Self::SHORT_SHIFT, self.summing()) {
            Some(short) if short.is_short() && short.window().leaves(&window) => Some(short),
            _ => None,
        }
    }

    /// The conversion of a line by M and its value at count 0, with all counts that are voltages; none where there is none.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "M below 2^49, S at most 32; ends are clipped to the rail, below 2^26, and the last is found by a division"
    )]
    const fn windowed(factor: u64, at_zero: i64, shift: u32, summing: Summing) -> Option<Self> {
        // Values have 16 bits, and sums of the short form 32.
        let bits = if shift == LONG_SHIFT || shift < 16 {
            shift + 16
        } else {
            32
        };
        let end = 1_i64 << bits;
        if factor == 0 || at_zero >= end {
            return None;
        }
        let first = if at_zero >= 0 {
            1
        } else {
            divide_floor_u64(at_zero.unsigned_abs() + factor - 1, factor)
        };
        let last = divide_floor_u64((end - 1 - at_zero) as u64, factor);
        let Some(window) = Window::between(first as i128, last as i128, summing.rail) else {
            return None;
        };
        let addend = at_zero + window.first as i64 * factor as i64;
        let constants = LineConstants {
            first: window.first,
            counts: window.counts,
            factor: factor as u128,
            addend: addend as u128,
            shift: shift as u8,
        };
        Self::of(constants, summing)
    }

    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "M below 2^48 at S = 32, gained below 2^49; B below 2^48; a shift of 2^31 / 2^8 counts times M is bounded by \
                  checked_mul"
    )]
    pub(crate) const fn times(&self, gain: U8F24, offset: I24F8) -> Result<Self, ConfigError> {
        let summing = self.summing();
        let (gain, offset) = tried!(checked(gain, offset, summing.samples, summing.right_shift));
        let first = self.window().first;
        let (factor, addend) = self.at_long_shift();
        let factor = gained(factor, self.factor_rest(), gain);
        // The line at count 0, without the half that rounds: B - 1/2 - M * first, then the offset's counts times M off.
        let half = 1_i64 << (LONG_SHIFT - 1);
        let at_first = addend as i64 - half;
        let at_first = if at_first < 0 {
            -(gained(at_first.unsigned_abs(), 0, gain) as i64)
        } else {
            gained(at_first as u64, 0, gain) as i64
        };
        let Some(back) = (factor as i64).checked_mul(((first as i64) << OFFSET_FRACTION) + offset)
        else {
            return Err(ConfigError::Constants);
        };
        let at_zero = at_first - (back >> OFFSET_FRACTION) + half;
        match Self::windowed(factor, at_zero, LONG_SHIFT, summing) {
            Some(conversion) => Ok(conversion),
            None => Err(ConfigError::Constants),
        }
    }
}

impl SupplyConversion {
    /// The conversion of a module whose voltage is `gain` times what this one gives at `offset` counts of a sample less.
    ///
    /// Both are fixed-point numbers, exact in a constant: `scaled(U8F24::lit("1.004"), I24F8::lit("1.25"))`. A float does not compile.
    ///
    /// # Range
    /// Gain 0.5 to 2, offset -4096 to 4096 counts of one sample.
    ///
    /// # Rounding
    /// Short: within 1/20 of an output step from 2 V to 4.3 V, where lithium cells are (common practice, no source). Else K to the nearest,
    /// D to the nearest even number, after both were doubled as far as D stays below 2^28: within 2^-25 of the voltage at the fullest
    /// counts. Beside that, what the offset's 1/256 count and the gain's 2^-24 leave.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] for gain or offset; [`ConfigError::Constants`] when no count is left that is a voltage.
    #[rustfmt::skip] // A compiler that refuses a float shows the next line, and so what to write.
    pub const fn scaled(&self, gain: U8F24, offset: I24F8) -> Result<Self, ConfigError> { // U8F24::lit("1.004"), I24F8::lit("1.25")
        let full = tried!(self.times(gain, offset));
        Ok(match full.nearest_short() {
            Some(short) => short,
            None => full,
        })
    }

    /// The same quotient in the short form: t as large as D below 2^16 leaves it, D even and to the nearest, and K so that both cross at
    /// 3.57 V.
    ///
    /// With d what D is off by, the distance at V is d V (3.57 V - V) / K then; from 2 V to 4.3 V it is largest at either end.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "D and what it is off by below 2^29, K below 2^47; voltages below 2^16, their products with 20 below 2^38; at most 27 places"
    )]
    const fn nearest_short(&self) -> Option<Self> {
        let QuotientConstants {
            first,
            numerator,
            at_first,
            step_log2,
            ..
        } = self.constants();
        let (summing, window) = (self.summing(), self.window());
        let bits = summing.rail.ilog2();
        let short_step = if bits < 8 { 7 } else { 15 - bits as i64 };
        let places = step_log2 as i64 - short_step;
        if short_step < 1 || places < 1 {
            return None;
        }
        let places = places as u32;
        let units = 1_000 / (summing.unit.step_uv() as i64);
        let at_zero = at_first as i64 - ((first as i64) << step_log2);
        let short = ((at_zero + (1 << places)) >> (places + 1)) << 1;
        let off = (short << places) - at_zero;
        // A little more than 730, for the rounding of K.
        if off.unsigned_abs() * (20 * 4_300 * 735 * (units * units) as u64) > numerator {
            return None;
        }
        let numerator = nearest((numerator as i64 + off * 3_570 * units) as u64, places);
        match Self::windowed(numerator, short, short_step as u32, 16, summing) {
            Some(short) if short.short().is_some() && short.window().leaves(&window) => Some(short),
            _ => None,
        }
    }

    /// The conversion by K, D at count 0 and t, with all counts that are voltages and whose D has so many bits; none where there is none.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "K below 2^47; the first and the last count are clipped to the rail, and D is from 1 to below 2^32 at the first: the \
                  largest offset is 16 times the rail, where D is below 2^28"
    )]
    const fn windowed(
        numerator: u64,
        at_zero: i64,
        step_log2: u32,
        bits: u32,
        summing: Summing,
    ) -> Option<Self> {
        // The first count whose voltage fits: K + D / 2 below 2^16 D, so D above K / (2^16 - 1/2).
        let least = divide_floor_u64(2 * numerator, 2 * VOLTAGE_MAX as u64 + 1) + 1;
        let above = if least as i64 > at_zero {
            least as i64 - at_zero
        } else {
            0
        };
        let first = divide_floor_u64((above + (1 << step_log2) - 1) as u64, 1 << step_log2);
        let last = ((1_i64 << bits) - 2 - at_zero) >> step_log2;
        let Some(window) = Window::between(first as i128, last as i128, summing.rail) else {
            return None;
        };
        let at_first = ((window.first as i64) << step_log2) + at_zero;
        let constants = QuotientConstants {
            first: window.first,
            counts: window.counts,
            numerator,
            at_first: at_first as u32,
            step_log2: step_log2 as u8,
        };
        Self::of(constants, summing)
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "D below 2^28 at the rail and K below 2^16 times it, so gained below 2^46; the offset's part of D below 2^28 * 2^13; \
                  the rail is at least 2; the first count is clipped to the rail"
    )]
    pub(crate) const fn times(&self, gain: U8F24, offset: I24F8) -> Result<Self, ConfigError> {
        let summing = self.summing();
        let (gain, offset) = tried!(checked(gain, offset, summing.samples, summing.right_shift));
        let QuotientConstants {
            first,
            mut numerator,
            at_first,
            step_log2,
            ..
        } = self.constants();
        let mut step_log2 = step_log2 as u32;
        let mut at_zero = at_first as i64 - ((first as i64) << step_log2);
        // D at the rail, whatever the offset does to it: at most 4096 samples' worth, once more.
        while ((summing.rail as i64) << step_log2) + at_zero < (DENOMINATOR_END >> 2) as i64
            && numerator >> 43 == 0
        {
            numerator <<= 1;
            at_zero <<= 1;
            step_log2 += 1;
        }
        let numerator = gained(numerator, 0, gain);
        let moved = at_zero - ((offset << step_log2) >> OFFSET_FRACTION);
        let at_zero = moved & !1;
        match Self::windowed(
            numerator,
            at_zero,
            step_log2,
            DENOMINATOR_END.ilog2(),
            summing,
        ) {
            Some(conversion) => Ok(conversion),
            None => Err(ConfigError::Constants),
        }
    }
}
