//! The same two jobs as they are often done, with the best case for each: constants known while compiling.
//!
//! Divided: 12 bits, 1.225 V, 24.9 kOhm over 10 kOhm. Supply reference: 12 bits, 1.2 V. Codes at their middle. None of these is
//! exact at every count by construction; `tallyvolt cost` counts where they are wrong. The C forms are in `c/usual.c`.

use tallyvolt::fixed::types::{U16F16, U20F12};

/// 4275.25 mV / 4096.
const SLOPE_F32: f32 = 4275.25 / 4096.0;
/// 1200 mV * 4096.
const NUMERATOR: u32 = 1200 * 4096;

#[unsafe(no_mangle)]
pub extern "C" fn divided_f32(count: u16) -> u16 {
    ((f32::from(count) + 0.5) * SLOPE_F32 + 0.5) as u16
}

/// 4275.25 / 4096 = 427 525 / 409 600, and both doubled for the half step: 8191 * 427 525 is below 2^32.
#[unsafe(no_mangle)]
pub extern "C" fn divided_u32_division(count: u16) -> u16 {
    ((2 * u32::from(count) + 1)
        .wrapping_mul(427_525)
        .wrapping_add(409_600)
        / 819_200) as u16
}

/// 68 404 = 4275.25 / 4096 * 2^16.
#[unsafe(no_mangle)]
pub extern "C" fn divided_u32_shift(count: u16) -> u16 {
    (u32::from(count)
        .wrapping_mul(68_404)
        .wrapping_add(34_202 + 32_768)
        >> 16) as u16
}

#[unsafe(no_mangle)]
pub extern "C" fn divided_u64_division(count: u16) -> u16 {
    ((2 * u64::from(count) + 1)
        .wrapping_mul(4_275_250)
        .wrapping_add(4_096_000)
        / 8_192_000) as u16
}

#[unsafe(no_mangle)]
pub extern "C" fn divided_fixed(count: u16) -> u16 {
    const SLOPE: U16F16 = U16F16::from_bits(68_404);
    let middle = U16F16::from_bits((u32::from(count) << 16) | (1 << 15));
    (middle.wrapping_mul(SLOPE).to_bits().wrapping_add(1 << 15) >> 16) as u16
}

#[unsafe(no_mangle)]
pub extern "C" fn supply_f32(count: u16) -> u16 {
    (1200.0 * 4096.0 / (f32::from(count) + 0.5) + 0.5) as u16
}

/// `round(2 N / (2 count + 1))`.
#[unsafe(no_mangle)]
pub extern "C" fn supply_u32_division(count: u16) -> u16 {
    let doubled = 2 * u32::from(count) + 1;
    ((2 * NUMERATOR + u32::from(count)) / doubled) as u16
}

#[unsafe(no_mangle)]
pub extern "C" fn supply_u64_division(count: u16) -> u16 {
    let doubled = 2 * u64::from(count) + 1;
    ((2 * u64::from(NUMERATOR) + u64::from(count)) / doubled) as u16
}

/// N in twelve bits of fraction does not fit 32 bits, so 1200 * 256 is divided by the count over 16.
#[unsafe(no_mangle)]
pub extern "C" fn supply_fixed(count: u16) -> u16 {
    const SCALED: U20F12 = U20F12::from_bits((1200 * 256) << 12);
    let divisor = U20F12::from_bits((u32::from(count) << 8) | (1 << 7));
    let half = U20F12::from_bits(1 << 11);
    match SCALED.checked_div(divisor) {
        Some(quotient) => (quotient.wrapping_add(half).to_bits() >> 12) as u16,
        None => u16::MAX,
    }
}
