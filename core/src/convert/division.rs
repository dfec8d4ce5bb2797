//! The quotient of a supply reference: `floor((K + D / 2) / D)` for an even D, below 2^16.
//!
//! Cores with a divider use it. For the others sixteen steps of shift, compare and subtract give the same number with no
//! product, no table and no library call.

use crate::rounding::{divide_floor_u32, divide_floor_u64};

/// Whether the target divides in software: there the sixteen steps are shorter than the compiler's own division.
const BIT_BY_BIT: bool = cfg!(any(
    target_arch = "avr",
    all(target_arch = "arm", not(target_has_atomic = "32")),
    all(target_arch = "riscv32", not(target_feature = "m"))
));

/// `floor(K / D + 1/2)`.
///
/// # Range
/// K below 2^32, D even from 2 to below 2^18, the result below 2^16.
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "K + D / 2 is below 2^16 D, at most 2^34: summed in 64 bits where it does not fit 32; the result is below 2^16 by the window"
)]
pub(crate) const fn divide_short(numerator: u32, denominator: u32) -> u16 {
    if BIT_BY_BIT {
        return sixteen_steps(numerator as u64, denominator);
    }
    match numerator.checked_add(denominator >> 1) {
        Some(raised) => divide_floor_u32(raised, denominator) as u16,
        None => divide(numerator as u64, denominator),
    }
}

/// `floor(K / D + 1/2)`.
///
/// # Range
/// K below 2^46, D even from 2 to below 2^29, the result below 2^16.
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "K + D / 2 is below 2^47; the result is below 2^16 by the window"
)]
pub(crate) const fn divide(numerator: u64, denominator: u32) -> u16 {
    if BIT_BY_BIT {
        return sixteen_steps(numerator, denominator);
    }
    divide_floor_u64(numerator + (denominator >> 1) as u64, denominator as u64) as u16
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
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    reason = "K + D / 2 is below 2^47, so its upper part below 2^31; the remainder is below D, below 2^29; shifts by 1 and 15"
)]
pub(crate) const fn sixteen_steps(numerator: u64, denominator: u32) -> u16 {
    let raised = numerator + (denominator >> 1) as u64;
    let mut rest = (raised >> 16) as u32;
    let mut value = raised as u16;
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
