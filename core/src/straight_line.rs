//! A rounded straight line by one multiply-add-shift that is proven equal at every position.
//!
//! Given `floor((P k + R) / Q)` for k = 0 .. n - 1, the search doubles a scale 2^S, takes
//!
//! ```text
//! M = ceil(2^S P / Q)      B = ceil(2^S R / Q)
//! ```
//!
//! and accepts the first S for which `floor((M k + B) / 2^S)` is equal everywhere. Because M and B are rounded up, no value
//! of the second form lies below its counterpart of the first; so they are equal at every k exactly when their sums over
//! all k are equal, and each sum costs a few dozen divisions (`floor_sum.rs`). The proof holds no assumption about sizes
//! and is the same while compiling and when a calibration is loaded.

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

/// A multiply-add-shift, in the narrowest arithmetic that holds its largest product.
///
/// Each variant computes `floor((multiplier * k + addend) / 2^shift)`, exactly. The shift is never smaller than the width
/// less 16 bits, so the value lies at the top of the product: a small core picks whole bytes or registers, and only the few
/// bits of `fine_shift` are shifted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
// The layout is fixed because the kernels of `arch` load from it.
#[repr(C, u8)]
pub enum Multiplier {
    /// One 32-bit product: every `multiplier * k + addend` is below 2^32.
    U32 {
        /// Factor, below 2^24: three bytes on an 8-bit core.
        multiplier: u32,
        /// Added before the shift.
        addend: u32,
        /// Shift beyond 16, 0 to 15.
        fine_shift: u8,
    },
    /// Two 32-bit products for positions below 2^16: the whole is below 2^48.
    U32Pair {
        /// Factor, bits 16 and up.
        multiplier_high: u32,
        /// Factor, low 16 bits.
        multiplier_low: u16,
        /// Addend, bits 16 and up.
        addend_high: u32,
        /// Addend, low 16 bits.
        addend_low: u16,
        /// Shift beyond 32, 0 to 15.
        fine_shift: u8,
    },
    /// One 64-bit product: the whole is below 2^64.
    U64 {
        /// Factor.
        multiplier: u64,
        /// Added before the shift.
        addend: u64,
        /// Shift beyond 48, 0 to 15.
        fine_shift: u8,
    },
    /// Two 64-bit products: the whole is below 2^96.
    U64Pair {
        /// Factor, bits 32 and up.
        multiplier_high: u64,
        /// Factor, low 32 bits.
        multiplier_low: u32,
        /// Addend, bits 32 and up.
        addend_high: u64,
        /// Addend, low 32 bits.
        addend_low: u32,
        /// Shift beyond 64, 0 to 14.
        fine_shift: u8,
    },
}

impl Multiplier {
    /// The value at a position.
    ///
    /// # Range
    /// `position` below the proven line's `terms`; the result is then at most [`VOLTAGE_MAX`].
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "U32: the product is proven below the width. The pair: low * position + addend_low is below \
                  (2^16 - 1)^2 + 2^16 < 2^32; the high sum is the whole over 2^16, proven below the width"
    )]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the value is at most VOLTAGE_MAX = 2^16 - 1 by the window that produced the position"
    )]
    pub(crate) const fn at(&self, position: u32) -> u16 {
        match *self {
            Self::U32 {
                multiplier,
                addend,
                fine_shift,
            } => {
                let product = multiplier * position + addend;
                shift_floor_u32(shift_floor_u32(product, 16), fine_shift as u32) as u16
            }
            Self::U32Pair {
                multiplier_high,
                multiplier_low,
                addend_high,
                addend_low,
                fine_shift,
            } => {
                let low = multiplier_low as u32 * position + addend_low as u32;
                let high = multiplier_high * position + addend_high + shift_floor_u32(low, 16);
                shift_floor_u32(shift_floor_u32(high, 16), fine_shift as u32) as u16
            }
            Self::U64 { .. } | Self::U64Pair { .. } => self.wide_at(position),
        }
    }

    /// The value at a position of the two wide forms. Out of line on cores without a 64-bit product, where inlining it would
    /// make the narrow forms save its registers at every call.
    #[cfg_attr(target_pointer_width = "64", inline)]
    #[cfg_attr(not(target_pointer_width = "64"), inline(never))]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "U64: the product is proven below the width. The pair: low * position + addend_low is below \
                  (2^32 - 1) * 2^26 + 2^32 < 2^64; the high sum is the whole over 2^32, proven below the width"
    )]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the value is at most VOLTAGE_MAX = 2^16 - 1 by the window that produced the position"
    )]
    const fn wide_at(&self, position: u32) -> u16 {
        match *self {
            // Never called for these: `at` has them.
            Self::U32 { .. } | Self::U32Pair { .. } => 0,
            Self::U64 {
                multiplier,
                addend,
                fine_shift,
            } => {
                let product = multiplier * position as u64 + addend;
                shift_floor_u32(shift_floor_u64(product, 48) as u32, fine_shift as u32) as u16
            }
            Self::U64Pair {
                multiplier_high,
                multiplier_low,
                addend_high,
                addend_low,
                fine_shift,
            } => {
                let position = position as u64;
                let low = multiplier_low as u64 * position + addend_low as u64;
                let high = multiplier_high * position + addend_high + shift_floor_u64(low, 32);
                shift_floor_u32(shift_floor_u64(high, 32) as u32, fine_shift as u32) as u16
            }
        }
    }

    /// The whole factor M.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "a u32 times 2^16, or a u64 times 2^32, plus the low part, is below 2^96"
    )]
    pub const fn multiplier(&self) -> u128 {
        match *self {
            Self::U32 { multiplier, .. } => multiplier as u128,
            Self::U32Pair {
                multiplier_high,
                multiplier_low,
                ..
            } => ((multiplier_high as u128) << 16) + multiplier_low as u128,
            Self::U64 { multiplier, .. } => multiplier as u128,
            Self::U64Pair {
                multiplier_high,
                multiplier_low,
                ..
            } => ((multiplier_high as u128) << 32) + multiplier_low as u128,
        }
    }

    /// The whole addend B, which holds the intercept and the half that makes the shift a rounding to nearest.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "a u32 times 2^16, or a u64 times 2^32, plus the low part, is below 2^96"
    )]
    pub const fn addend(&self) -> u128 {
        match *self {
            Self::U32 { addend, .. } => addend as u128,
            Self::U32Pair {
                addend_high,
                addend_low,
                ..
            } => ((addend_high as u128) << 16) + addend_low as u128,
            Self::U64 { addend, .. } => addend as u128,
            Self::U64Pair {
                addend_high,
                addend_low,
                ..
            } => ((addend_high as u128) << 32) + addend_low as u128,
        }
    }

    /// The whole right shift S, 16 to 78.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "64 + 14 is the most, below 2^8"
    )]
    pub const fn shift(&self) -> u8 {
        match *self {
            Self::U32 { fine_shift, .. } => 16 + fine_shift,
            Self::U32Pair { fine_shift, .. } => 32 + fine_shift,
            Self::U64 { fine_shift, .. } => 48 + fine_shift,
            Self::U64Pair { fine_shift, .. } => 64 + fine_shift,
        }
    }

    /// Packs a proven M, B, S whose largest product is `largest`.
    ///
    /// A shift below the width's least is raised to it by doubling M and B as often, which changes no value. Since every
    /// value is below 2^16, `largest` is below 2^(S + 16) and the doubled product still fits the width.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "each cast keeps the bits its guard proves to be all of them, or the low half on purpose"
    )]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "shift is at most SHIFT_MAX = 78, and a doubled product stays below 2^80"
    )]
    const fn pack(multiplier: u128, addend: u128, shift: u32, terms: u32, largest: u128) -> Self {
        let raised = multiplier << 16_u32.saturating_sub(shift);
        // A factor of 2^24 or more with such a product has at most 256 positions, so the pair takes it.
        let least = if largest < 1 << 32 && shift < 32 && raised < 1 << 24 {
            16
        } else if largest < 1 << 48 && shift < 48 && terms <= 1 << 16 {
            32
        } else if largest < 1 << 64 && shift < 64 {
            48
        } else {
            64
        };
        let (doublings, fine_shift) = if shift < least {
            (least - shift, 0)
        } else {
            (0, (shift - least) as u8)
        };
        let (multiplier, addend) = (multiplier << doublings, addend << doublings);
        match least {
            16 => Self::U32 {
                multiplier: multiplier as u32,
                addend: addend as u32,
                fine_shift,
            },
            32 => Self::U32Pair {
                multiplier_high: (multiplier >> 16) as u32,
                multiplier_low: multiplier as u16,
                addend_high: (addend >> 16) as u32,
                addend_low: addend as u16,
                fine_shift,
            },
            48 => Self::U64 {
                multiplier: multiplier as u64,
                addend: addend as u64,
                fine_shift,
            },
            _ => Self::U64Pair {
                multiplier_high: (multiplier >> 32) as u64,
                multiplier_low: multiplier as u32,
                addend_high: (addend >> 32) as u64,
                addend_low: addend as u32,
                fine_shift,
            },
        }
    }
}

/// The wide forms' value in the C calling convention, for a kernel of `arch`.
#[cfg(all(feature = "arch", target_arch = "arm", not(target_has_atomic = "32")))]
pub(crate) extern "C" fn wide_value(multiplier: &Multiplier, position: u32) -> u16 {
    multiplier.wide_at(position)
}

/// `floor(numerator * 2^S / denominator)` and its remainder, advanced one bit at a time.
///
/// Holds the scaled quotient without a product wider than the quotient itself.
#[derive(Clone, Copy)]
struct Scaled {
    floor: u128,
    rest: u128,
}

impl Scaled {
    const fn new(numerator: u128, denominator: u128) -> Self {
        let (floor, rest) = divide_floor_u128(numerator, denominator);
        Self { floor, rest }
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "rest is below denominator, below 2^100; floor is below (VOLTAGE_MAX + 1) * 2^(SHIFT_MAX + 1) = 2^95"
    )]
    const fn doubled(self, denominator: u128) -> Self {
        let (floor, rest) = (self.floor * 2, self.rest * 2);
        if rest >= denominator {
            Self {
                floor: floor + 1,
                rest: rest - denominator,
            }
        } else {
            Self { floor, rest }
        }
    }

    #[expect(clippy::arithmetic_side_effects, reason = "floor is below 2^95")]
    const fn ceil(self) -> u128 {
        self.floor + (self.rest != 0) as u128
    }
}

impl ExactLine {
    /// Finds the multiplier with the smallest shift that is equal to the line at every position, and so proves it.
    ///
    /// # Errors
    /// [`ConfigError::Unproven`] when no shift up to [`SHIFT_MAX`] is exact.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "terms >= 1 here; multiplier and addend are at most (VOLTAGE_MAX + 1) * 2^SHIFT_MAX = 2^94, so their \
                  products with terms are below 2^121 and (terms + 1) << shift is below 2^105; shift stops at SHIFT_MAX"
    )]
    pub(crate) const fn prove(self) -> Result<Multiplier, ConfigError> {
        if self.terms <= 1 {
            // One position, or none: the value is a constant. No slope, so no bound on the slope is needed.
            let (value, _) = divide_floor_u128(self.intercept, self.denominator);
            return Ok(Multiplier::pack(0, value, 0, self.terms, value));
        }
        let terms = self.terms as u128;
        let wanted = floor_sum(terms, self.slope, self.intercept, self.denominator);
        let mut slope = Scaled::new(self.slope, self.denominator);
        let mut intercept = Scaled::new(self.intercept, self.denominator);
        let mut shift = 0;
        while shift <= SHIFT_MAX {
            let (multiplier, addend) = (slope.ceil(), intercept.ceil());
            if floor_sum(terms, multiplier, addend, 1 << shift) == wanted {
                let largest = multiplier * (terms - 1) + addend;
                return Ok(Multiplier::pack(
                    multiplier, addend, shift, self.terms, largest,
                ));
            }
            slope = slope.doubled(self.denominator);
            intercept = intercept.doubled(self.denominator);
            shift += 1;
        }
        Err(ConfigError::Unproven { shift: SHIFT_MAX })
    }
}

// The bounds that the range proofs of this file rest on.
const _: () = assert!(VOLTAGE_MAX < 1 << 16 && SHIFT_MAX + 16 <= 94);

#[cfg(test)]
mod tests {
    use super::*;

    /// The value stands 1/Q below a rounding boundary at every position: rounding the intercept up crosses it at every
    /// shift, and the search says so instead of accepting a wrong multiplier.
    #[test]
    fn a_line_too_close_below_a_boundary_is_refused() {
        let denominator = (1 << 93) - 1;
        let line = ExactLine {
            terms: 2,
            slope: 0,
            intercept: denominator - 1,
            denominator,
        };
        assert_eq!(
            line.prove(),
            Err(ConfigError::Unproven { shift: SHIFT_MAX })
        );
    }

    #[test]
    fn one_position_needs_no_slope() {
        let line = ExactLine {
            terms: 1,
            slope: 1 << 90,
            intercept: 7,
            denominator: 2,
        };
        assert_eq!(line.prove().map(|multiplier| multiplier.at(0)), Ok(3));
    }
}
