//! The only divisions and right shifts in the crate that round.
//!
//! One rule everywhere: to the nearest output unit, ties upward, that is `floor(x + 1/2)`. Conversions carry the half
//! in their constants, so what is left for the hot path is a floor.

/// `a * b`. Cores that multiply bytes form it of byte products in line, where the compiler would call a product of 32 bits.
///
/// # Range
/// Both below 2^16.
#[inline(always)]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::inline_always,
    reason = "the range; parts of the product: each sum is below 2^32 because the whole is"
)]
pub(crate) const fn product_of_16_bits(a: u32, b: u32) -> u32 {
    if cfg!(all(target_arch = "avr", target_feature = "mul")) {
        let ([a0, a1], [b0, b1]) = ((a as u16).to_le_bytes(), (b as u16).to_le_bytes());
        let outer = (a1 as u16 * b1 as u16) as u32 * 0x1_0000 + (a0 as u16 * b0 as u16) as u32;
        let (one, other) = (a0 as u16 * b1 as u16, a1 as u16 * b0 as u16);
        return outer + one as u32 * 0x100 + other as u32 * 0x100;
    }
    a * b
}

/// `floor((product + addend) / 2^16)`.
///
/// On AVR a comparison stands for the carry. LLVM 22 adds a constant there by subtracting its complement; where the upper half is a sum itself, it
/// then takes the borrow for the carry.
///
/// # Range
/// `product` up to (2^16 - 1)^2.
#[inline(always)]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::inline_always,
    reason = "the range; parts of the product"
)]
pub(crate) const fn upper_of_sum(product: u32, addend: u16) -> u32 {
    if cfg!(target_arch = "avr") {
        return (product >> 16) + (product as u16 > u16::MAX - addend) as u32;
    }
    (product + addend as u32) >> 16
}

/// `floor(value / 2^shift)`.
///
/// # Range
/// `shift` 0 to 31: every caller's is below the width by `Multiplier`'s variants and `RIGHT_SHIFT`.
pub(crate) const fn shift_floor_u32(value: u32, shift: u32) -> u32 {
    value >> shift
}

/// `floor(value / 2^shift)`.
///
/// # Range
/// `shift` 0 to 63, by `Multiplier`'s variants.
pub(crate) const fn shift_floor_u64(value: u64, shift: u32) -> u64 {
    value >> shift
}

/// `floor(value / 2^shift + 1/2)`: nearest, ties upward.
///
/// # Range
/// `value` up to 2^32 - 2^16 (a sum of samples, or the state of a low-pass), `shift` 0 to 8.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "2^32 - 2^16 + 2^7 is below 2^32, and the shift is below the width"
)]
pub(crate) const fn shift_nearest_u32(value: u32, shift: u32) -> u32 {
    (value + ((1 << shift) >> 1)) >> shift
}

/// `floor(value / 2^shift + 1/2)` of a signed value: nearest, ties upward.
///
/// Half is added after all bits but one are gone: a floor of a floor is the floor, and nothing can overflow.
///
/// # Range
/// Any `value`, `shift` 2 to 31.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "the shift is below the width, and what is left of a value after one place or more is below 2^30"
)]
pub(crate) const fn shift_nearest_i32(value: i32, shift: u32) -> i32 {
    ((value >> (shift - 1)) + 1) >> 1
}

/// `floor(numerator / denominator)`, without the panic that a compiler links where it cannot see that a denominator is not 0.
///
/// # Range
/// `denominator` at least 1; of 0 the answer is the largest number.
pub(crate) const fn divide_floor_u32(numerator: u32, denominator: u32) -> u32 {
    match numerator.checked_div(denominator) {
        Some(quotient) => quotient,
        None => u32::MAX,
    }
}

/// `floor(numerator / denominator)`, without the panic that a compiler links where it cannot see that a denominator is not 0.
///
/// # Range
/// `denominator` at least 1; of 0 the answer is the largest number.
pub(crate) const fn divide_floor_u64(numerator: u64, denominator: u64) -> u64 {
    match numerator.checked_div(denominator) {
        Some(quotient) => quotient,
        None => u64::MAX,
    }
}

/// `floor(numerator / denominator)` and the remainder, for constants.
///
/// # Range
/// `denominator` at least 1.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "a denominator is never 0: products of non-zero descriptions, or a slope that is then checked"
)]
pub(crate) const fn divide_floor_u128(numerator: u128, denominator: u128) -> (u128, u128) {
    (numerator / denominator, numerator % denominator)
}

/// `floor(numerator / denominator)` of a signed numerator, for the ends of a window.
///
/// # Range
/// `denominator` at least 1, magnitudes below 2^120.
pub(crate) const fn divide_floor_i128(numerator: i128, denominator: i128) -> i128 {
    numerator.div_euclid(denominator)
}

/// `ceil(numerator / denominator)` of a signed numerator, for the ends of a window.
///
/// # Range
/// `denominator` at least 1, magnitudes below 2^120.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "numerator + denominator - 1 is below 2^121"
)]
pub(crate) const fn divide_ceil_i128(numerator: i128, denominator: i128) -> i128 {
    divide_floor_i128(numerator + denominator - 1, denominator)
}
