//! The quotient of a supply reference: `floor((K + D / 2) / D)` for an even D, below 2^16.
//!
//! Cores with a divider use it. For the others sixteen steps of shift, compare and subtract give the same number with no
//! product, no table and no library call; those with a multiplier refine a reciprocal where 32 bits hold the sum and 17 D. The narrower
//! quotient of a [`super::supply_module`] is in `arch`.

use crate::arch::portable::{BIT_BY_BIT, MULTIPLIES_ONLY, refined};
use crate::rounding::{divide_floor_u32, divide_floor_u64};

/// `floor(K / D + 1/2)`, K in its lower 32 and upper 16 bits.
///
/// # Range
/// K below 2^46, D even from 2 to below 2^29, the result below 2^16.
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "K + D / 2 is below 2^47; the result is below 2^16 by the window"
)]
pub(crate) const fn divide(numerator: u32, numerator_high: u16, denominator: u32) -> u16 {
    let half = denominator >> 1;
    if MULTIPLIES_ONLY && numerator_high == 0 && half >> 16 == 0 {
        let (sum, carry) = numerator.overflowing_add(half);
        if !carry {
            return refined::<16>(sum >> 1, half);
        }
    }
    if BIT_BY_BIT {
        return sixteen_steps(numerator, numerator_high, denominator);
    }
    let sum = ((numerator_high as u64) << 32 | numerator as u64) + half as u64;
    if sum >> 32 == 0 {
        divide_floor_u32(sum as u32, denominator) as u16
    } else {
        divide_floor_u64(sum, denominator as u64) as u16
    }
}

/// K + D / 2 in its upper 32 and lower 16 bits.
///
/// # Range
/// K below 2^46, D below 2^29, so the upper bits are below 2^31.
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "the lower sum is below 2^16 + 2^28, the upper one below 2^30 + 2^13; the lower half on purpose"
)]
pub(crate) const fn raised(numerator: u32, numerator_high: u16, denominator: u32) -> (u32, u16) {
    let low = (numerator & 0xFFFF) + (denominator >> 1);
    let high = (numerator_high as u32) << 16 | numerator >> 16;
    (high + (low >> 16), low as u16)
}

/// The same bit by bit.
///
/// The upper part of K + D / 2 is a remainder below D from the start, because the result is below 2^16. Twice it and one is
/// below 2^30, so what is left of it when D is taken off has its own sign.
///
/// # Range
/// As [`divide`].
#[inline(never)]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_wrap,
    reason = "the remainder is below D, below 2^29; shifts by 1 and 15"
)]
pub(crate) const fn sixteen_steps(numerator: u32, numerator_high: u16, denominator: u32) -> u16 {
    let (mut rest, mut value) = raised(numerator, numerator_high, denominator);
    let mut steps = 16_u8;
    while steps > 0 {
        rest = rest << 1 | (value >> 15) as u32;
        value <<= 1;
        let less = rest.wrapping_sub(denominator);
        if less as i32 >= 0 {
            rest = less;
            value |= 1;
        }
        steps -= 1;
    }
    value
}
