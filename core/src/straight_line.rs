//! A rounded straight line by one multiply-add-shift that is proven equal at every position.
//!
//! Given `floor((P k + R) / Q)` for k = 0 .. n - 1, take a scale 2^S and
//!
//! ```text
//! M = ceil(2^S P / Q)      B = ceil(2^S R / Q)      g(k) = floor((M k + B) / 2^S)
//! ```
//!
//! Because M and B are rounded up, no g(k) lies below its counterpart; so both are equal at every k exactly when their sums
//! over all k are equal, and each sum costs a few dozen divisions (`floor_sum.rs`). The same holds for a second candidate, with M
//! one less and B so that the last position's value is rounded up; often one of the two is exact where the other is not.
//!
//! A larger S is never worse: ceil(2 y) is at most 2 ceil(y), so M / 2^S and B / 2^S only fall as S rises, and what is exact at S is
//! exact at S + 1. Four values of S are tried, and no others: each lets a small core take the value as whole bytes from the top of
//! its products. The proof is the same while compiling and when a calibration is loaded.

use crate::bounds::{SHIFT_MAX, VOLTAGE_MAX};
use crate::error::ConfigError;
use crate::floor_sum::floor_sum;
use crate::rounding::{divide_floor_u128, shift_floor_u32, shift_floor_u64};

/// An exact line: `floor((slope * k + intercept) / denominator)` for k = 0 .. `terms` - 1.
///
/// # Range
/// `terms` at most 2^26, `denominator` from 1 to below 2^100, every value at most [`VOLTAGE_MAX`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct ExactLine {
    pub(crate) terms: u32,
    pub(crate) slope: u128,
    pub(crate) intercept: u128,
    pub(crate) denominator: u128,
}

/// A multiply-add-shift: `floor((M * k + B) / 2^80)`, exactly.
///
/// M and B are below 2^96. Where a shift S of 32 or less is exact, M and B are the factor and the addend of that shift times
/// 2^(80 - S): the upper 48 bits of either are then the whole of it, and two 32-bit products give the value.
///
/// | S | upper 48 bits of M and B | who gains |
/// |---|---|---|
/// | 16 | the lower 16 of them are 0 | constants: the compiler drops the product with it |
/// | 24 | the lowest 8 of them are 0 | an 8-bit core leaves out two of ten products |
/// | 32 | any | |
/// | 80 | not enough: the lower 48 bits count, too | |
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
// The layout is fixed because the kernels of `arch` load from it.
#[repr(C)]
pub struct Multiplier {
    /// Factor, bits 64 to 95.
    high: u32,
    /// Addend, bits 64 to 95.
    addend_high: u32,
    /// Factor, bits 48 to 63.
    low: u16,
    /// Addend, bits 48 to 63.
    addend_low: u16,
    /// Factor, bits 0 to 47, lowest first.
    rest: [u16; 3],
    /// Addend, bits 0 to 47, lowest first.
    addend_rest: [u16; 3],
}

/// Positions below this are of 16 bits: only these are short enough for 32-bit products.
const SHORT: u32 = 1 << 16;

impl Multiplier {
    /// Whether the upper 48 bits are the whole multiplier, and its factor fits the five bytes that kernels multiply.
    pub(crate) const fn is_narrow(&self) -> bool {
        matches!((self.rest, self.addend_rest), ([0, 0, 0], [0, 0, 0])) && self.high < 1 << 24
    }

    /// The value at a position, for a narrow multiplier.
    ///
    /// # Range
    /// `position` below 2^16 and the proven line's `terms`; the result is then at most [`VOLTAGE_MAX`].
    #[inline]
    pub(crate) const fn narrow_at(&self, position: u32) -> u16 {
        self.upper(position, 0)
    }

    /// The value at a position.
    ///
    /// Out of line: inlined, it would make the narrow way save its registers at every call.
    ///
    /// # Range
    /// `position` below the proven line's `terms`; the result is then at most [`VOLTAGE_MAX`].
    #[inline(never)]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::indexing_slicing,
        reason = "short: limb * position + addend + carry is at most (2^16 - 1)^2 + 2 (2^16 - 1) = 2^32 - 1; limb is below 3"
    )]
    pub(crate) const fn at(&self, position: u32) -> u16 {
        if position >= SHORT {
            return self.long_at(position);
        }
        let mut carry = 0;
        let mut limb = 0;
        while limb < 3 {
            let column = self.rest[limb] as u32 * position + self.addend_rest[limb] as u32 + carry;
            carry = shift_floor_u32(column, 16);
            limb += 1;
        }
        self.upper(position, carry)
    }

    /// The upper two of the columns, with what those below carry.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "low * position + addend_low + carry is at most (2^16 - 1)^2 + 2 (2^16 - 1) = 2^32 - 1; the high sum is the \
                  whole over 2^64, and the whole below 2^96 because the value is below 2^16"
    )]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the value is at most VOLTAGE_MAX = 2^16 - 1 by the window that produced the position"
    )]
    const fn upper(&self, position: u32, carry: u32) -> u16 {
        let low = self.low as u32 * position + self.addend_low as u32 + carry;
        let high = self.high * position + self.addend_high + shift_floor_u32(low, 16);
        shift_floor_u32(high, 16) as u16
    }

    /// The value at a position of more than 16 bits, by two 64-bit products.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "lower * position + lower addend is below (2^32 - 1) * 2^26 + 2^32 < 2^64; the upper sum is the whole over \
                  2^32, and the whole below 2^96 because the value is below 2^16"
    )]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "lower and upper are halves on purpose; the value is at most VOLTAGE_MAX"
    )]
    const fn long_at(&self, position: u32) -> u16 {
        let position = position as u64;
        let (factor, addend) = (self.factor_96(), self.addend_96());
        let lower = (factor as u32) as u64 * position + (addend as u32) as u64;
        let upper =
            (factor >> 32) as u64 * position + (addend >> 32) as u64 + shift_floor_u64(lower, 32);
        shift_floor_u64(upper, 48) as u16
    }

    /// The factor M of the shift that [`Self::shift`] tells.
    #[must_use]
    pub const fn multiplier(&self) -> u128 {
        self.factor_96() >> self.zeros()
    }

    /// The addend B of that shift, which holds the intercept and the half that makes the shift a rounding to nearest.
    #[must_use]
    pub const fn addend(&self) -> u128 {
        self.addend_96() >> self.zeros()
    }

    /// The shift S: 16, 24, 32 or 80, the least of these that loses nothing of M and B.
    #[must_use]
    #[expect(clippy::arithmetic_side_effects, reason = "zeros is at most 64")]
    pub const fn shift(&self) -> u8 {
        80 - self.zeros()
    }

    /// 80 - S: so many of the lowest bits of M and B are 0.
    const fn zeros(&self) -> u8 {
        match (self.factor_96() | self.addend_96()).trailing_zeros() {
            64.. => 64,
            56.. => 56,
            48.. => 48,
            _ => 0,
        }
    }

    const fn factor_96(&self) -> u128 {
        joined(self.high, self.low, self.rest)
    }

    const fn addend_96(&self) -> u128 {
        joined(self.addend_high, self.addend_low, self.addend_rest)
    }

    /// Takes M and B of a shift of 80 apart.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "M and B are below 2^96, and each part is wanted alone"
    )]
    const fn packed(multiplier: u128, addend: u128) -> Self {
        Self {
            high: (multiplier >> 64) as u32,
            addend_high: (addend >> 64) as u32,
            low: (multiplier >> 48) as u16,
            addend_low: (addend >> 48) as u16,
            rest: [
                multiplier as u16,
                (multiplier >> 16) as u16,
                (multiplier >> 32) as u16,
            ],
            addend_rest: [addend as u16, (addend >> 16) as u16, (addend >> 32) as u16],
        }
    }
}

/// A number of 96 bits from its parts.
const fn joined(high: u32, low: u16, [first, second, third]: [u16; 3]) -> u128 {
    (high as u128) << 64
        | (low as u128) << 48
        | (third as u128) << 32
        | (second as u128) << 16
        | first as u128
}

/// M and B at some shift.
#[derive(Clone, Copy)]
struct Candidate {
    multiplier: u128,
    addend: u128,
}

/// `ceil(numerator * 2^shift / denominator)`, one bit at a time, so that no number grows beyond the quotient.
///
/// # Range
/// `denominator` below 2^100, the quotient at shift 0 below 2^16, `shift` at most [`SHIFT_MAX`].
#[expect(
    clippy::arithmetic_side_effects,
    reason = "rest is below denominator, so its double is below 2^101; floor is below 2^(16 + SHIFT_MAX) = 2^96"
)]
const fn scaled_ceil(numerator: u128, denominator: u128, shift: u32) -> u128 {
    let (mut floor, mut rest) = divide_floor_u128(numerator, denominator);
    let mut doublings = 0;
    while doublings < shift {
        floor *= 2;
        rest *= 2;
        if rest >= denominator {
            floor += 1;
            rest -= denominator;
        }
        doublings += 1;
    }
    floor + (rest != 0) as u128
}

/// The shifts that are tried, in this order.
const SHIFTS: [u32; 4] = [16, 24, 32, SHIFT_MAX];

impl ExactLine {
    /// Finds the least shift of [`SHIFTS`] whose multiplier is equal to the line at every position, and so proves it.
    ///
    /// # Errors
    /// [`ConfigError::Unproven`] when not even [`SHIFT_MAX`] is exact.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::indexing_slicing,
        reason = "index runs over SHIFTS, none above SHIFT_MAX; an exact M and B are below 2^(16 + shift), as the value is below \
                  2^16 at every position, and there are two"
    )]
    pub(crate) const fn prove(self) -> Result<Multiplier, ConfigError> {
        if self.terms <= 1 {
            // One position, or none: the value is a constant. No slope, so no bound on the slope is needed.
            let (value, _) = divide_floor_u128(self.intercept, self.denominator);
            return Ok(Multiplier::packed(0, value << SHIFT_MAX));
        }
        let wanted = floor_sum(
            self.terms as u128,
            self.slope,
            self.intercept,
            self.denominator,
        );
        // The three short shifts are for 32-bit products.
        let mut index = if self.terms <= SHORT {
            0
        } else {
            SHIFTS.len() - 1
        };
        while index < SHIFTS.len() {
            let shift = SHIFTS[index];
            let mut found = self.rounded_up(shift);
            if !self.is_exact(found, shift, wanted) {
                found = self.through_last(shift);
            }
            if self.is_exact(found, shift, wanted) {
                let places = SHIFT_MAX - shift;
                let Candidate { multiplier, addend } = found;
                return Ok(Multiplier::packed(multiplier << places, addend << places));
            }
            index += 1;
        }
        Err(ConfigError::Unproven { shift: SHIFT_MAX })
    }

    /// Both rounded up: the excess is nearly 0 at the first position and grows.
    const fn rounded_up(&self, shift: u32) -> Candidate {
        Candidate {
            multiplier: scaled_ceil(self.slope, self.denominator, shift),
            addend: scaled_ceil(self.intercept, self.denominator, shift),
        }
    }

    /// M one less, so not above the slope, through the rounded-up value of the last position: the excess grows towards the first.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "terms >= 2; the value at the last position is below 2^16 and the denominator below 2^100; M is at most the \
                  scaled slope, so its product is at most the scaled value, which is at most 2^96"
    )]
    const fn through_last(&self, shift: u32) -> Candidate {
        let last = self.terms as u128 - 1;
        let multiplier = scaled_ceil(self.slope, self.denominator, shift).saturating_sub(1);
        let value = scaled_ceil(self.slope * last + self.intercept, self.denominator, shift);
        Candidate {
            multiplier,
            addend: value - multiplier * last,
        }
    }

    /// Whether a candidate of a shift equals the line everywhere: `wanted` is the line's own sum.
    const fn is_exact(&self, candidate: Candidate, shift: u32, wanted: u128) -> bool {
        let Candidate { multiplier, addend } = candidate;
        floor_sum(self.terms as u128, multiplier, addend, 1 << shift) == wanted
    }
}

// The bounds that the range proofs of this file rest on.
const _: () = assert!(VOLTAGE_MAX < 1 << 16 && SHIFT_MAX == 80);
