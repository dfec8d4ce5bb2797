//! A rounded straight line by one multiply-add-shift that is proven equal at every position.
//!
//! Given `floor((P k + R) / Q)` for k = 0 .. n - 1, take a scale 2^S and
//!
//! ```text
//! M = ceil(2^S P / Q)      B = ceil(2^S R / Q)      g(k) = floor((M k + B) / 2^S)
//! ```
//!
//! Because M and B are rounded up, no g(k) lies below its counterpart; so both are equal at every k exactly when their sums
//! over all k are equal, and each sum costs a few dozen divisions (`floor_sum.rs`).
//!
//! A larger S is never worse: ceil(2 y) is at most 2 ceil(y), so M / 2^S and B / 2^S only fall as S rises, and what is exact at S is
//! exact at S + 1. So one look at the largest S that a product width allows decides whether that width will do, and halving finds
//! the smallest S in it. The proof is the same while compiling and when a calibration is loaded.

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

    /// Packs a proven candidate of a width.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the product was shown to fit the width, so its factors do; or the low part is wanted"
    )]
    const fn pack(width: Width, candidate: Candidate, fine_shift: u8) -> Self {
        let Candidate { multiplier, addend } = candidate;
        match width {
            Width::U32 => Self::U32 {
                multiplier: multiplier as u32,
                addend: addend as u32,
                fine_shift,
            },
            Width::U32Pair => Self::U32Pair {
                multiplier_high: (multiplier >> 16) as u32,
                multiplier_low: multiplier as u16,
                addend_high: (addend >> 16) as u32,
                addend_low: addend as u16,
                fine_shift,
            },
            Width::U64 => Self::U64 {
                multiplier: multiplier as u64,
                addend: addend as u64,
                fine_shift,
            },
            Width::U64Pair => Self::U64Pair {
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

/// The product widths, narrowest first.
#[derive(Clone, Copy)]
enum Width {
    U32,
    U32Pair,
    U64,
    U64Pair,
}

impl Width {
    const ALL: [Self; 4] = [Self::U32, Self::U32Pair, Self::U64, Self::U64Pair];

    /// The least shift: it leaves the value in the top 16 bits of the product.
    const fn least_shift(self) -> u32 {
        match self {
            Self::U32 => 16,
            Self::U32Pair => 32,
            Self::U64 => 48,
            Self::U64Pair => 64,
        }
    }

    /// Whether positions 0 .. `terms` - 1 with this factor and a largest product of `largest` fit.
    ///
    /// `U32` takes factors below 2^24, so that an 8-bit core multiplies 3 bytes; a larger one has such a product only over at
    /// most 256 positions, and the pair takes it.
    const fn fits(self, terms: u32, multiplier: u128, largest: u128) -> bool {
        match self {
            Self::U32 => largest < 1 << 32 && multiplier < 1 << 24,
            Self::U32Pair => largest < 1 << 48 && terms <= 1 << 16,
            Self::U64 => largest < 1 << 64,
            Self::U64Pair => largest < 1 << 96,
        }
    }
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
    reason = "rest is below denominator, so its double is below 2^101; floor is below 2^(16 + SHIFT_MAX) = 2^94"
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

impl ExactLine {
    /// Finds the multiplier of the narrowest product that is equal to the line at every position, and so proves it.
    ///
    /// # Errors
    /// [`ConfigError::Unproven`] when no shift up to [`SHIFT_MAX`] is exact.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::indexing_slicing,
        reason = "index runs over ALL; low and high are fine shifts, 0 to 15; width's shift plus them is at most SHIFT_MAX"
    )]
    pub(crate) const fn prove(self) -> Result<Multiplier, ConfigError> {
        if self.terms <= 1 {
            // One position, or none: the value is a constant. No slope, so no bound on the slope is needed.
            let (value, _) = divide_floor_u128(self.intercept, self.denominator);
            let constant = Candidate {
                multiplier: 0,
                addend: value << Width::U32.least_shift(),
            };
            return Ok(Multiplier::pack(Width::U32, constant, 0));
        }
        let terms = self.terms as u128;
        let wanted = floor_sum(terms, self.slope, self.intercept, self.denominator);
        let mut index = 0;
        while index < Width::ALL.len() {
            let width = Width::ALL[index];
            index += 1;
            let least = width.least_shift();
            let Some(widest) = self.largest_fine_shift(width) else {
                continue;
            };
            if !self.is_exact(least + widest, wanted) {
                continue;
            }
            // Exact at `high` throughout; below `low` nothing is.
            let (mut low, mut high) = (0, widest);
            while low < high {
                let middle = (low + high) / 2;
                if self.is_exact(least + middle, wanted) {
                    high = middle;
                } else {
                    low = middle + 1;
                }
            }
            let candidate = self.candidate(least + high);
            return Ok(Multiplier::pack(width, candidate, high as u8));
        }
        Err(ConfigError::Unproven { shift: SHIFT_MAX })
    }

    /// M and B at a shift.
    const fn candidate(&self, shift: u32) -> Candidate {
        Candidate {
            multiplier: scaled_ceil(self.slope, self.denominator, shift),
            addend: scaled_ceil(self.intercept, self.denominator, shift),
        }
    }

    /// Whether the candidate at a shift (at most [`SHIFT_MAX`]) equals the line everywhere: `wanted` is the line's own sum.
    const fn is_exact(&self, shift: u32, wanted: u128) -> bool {
        let Candidate { multiplier, addend } = self.candidate(shift);
        floor_sum(self.terms as u128, multiplier, addend, 1 << shift) == wanted
    }

    /// The largest shift beyond a width's least whose products still fit; `None` where not even the least does.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "terms >= 1; multiplier and addend are at most 2^(16 + SHIFT_MAX) = 2^94 and terms at most 2^26, so the \
                  product is below 2^121; fine is at most 15"
    )]
    const fn largest_fine_shift(&self, width: Width) -> Option<u32> {
        let mut found = None;
        let mut fine = 0;
        while fine < 16 && width.least_shift() + fine <= SHIFT_MAX {
            let Candidate { multiplier, addend } = self.candidate(width.least_shift() + fine);
            let largest = multiplier * (self.terms as u128 - 1) + addend;
            if !width.fits(self.terms, multiplier, largest) {
                break;
            }
            found = Some(fine);
            fine += 1;
        }
        found
    }
}

// The bounds that the range proofs of this file rest on.
const _: () = assert!(VOLTAGE_MAX < 1 << 16 && SHIFT_MAX + 16 <= 94);
