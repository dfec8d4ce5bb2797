//! Count to voltage, divided input, constants in the code.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;

use crate::convert::as_drawn::Drawn;
use crate::units::{Count, Fault, Voltage};

/// M and B of at least 2^16, and the places that are left then: for the short form, and the long one at S = 16.
struct Scaled {
    factor: u32,
    addend: u32,
    places: u32,
}

/// None where M is wider than 24 bits, or the sum may be wider than 32.
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "at S below 16 the value's 16 bits leave room for the shift; the long form at S = 16 has sums below 2^32"
)]
const fn scaled<const BITS: u32, D: Drawn<BITS>>() -> Option<Scaled> {
    let constants = D::CONVERSION.constants();
    let shift = constants.shift as u32;
    let (up, places) = if shift < 16 {
        (16 - shift, 0)
    } else {
        (0, shift - 16)
    };
    let is_short = D::CONVERSION.short != 0;
    if BITS > 16 || (constants.factor << up) >> 24 != 0 || !(is_short || shift == 16) {
        return None;
    }
    Some(Scaled {
        factor: (constants.factor << up) as u32,
        addend: (constants.addend << up) as u32,
        places,
    })
}

/// One byte of M or B, and 0 where the kernel is not for them.
const fn part<const BITS: u32, D: Drawn<BITS>>(of_factor: bool, byte: u32) -> u32 {
    match scaled::<BITS, D>() {
        Some(scaled) => {
            let whole = if of_factor {
                scaled.factor
            } else {
                scaled.addend
            };
            (whole >> (8 * byte)) & 0xFF
        }
        None => 0,
    }
}

const fn places<const BITS: u32, D: Drawn<BITS>>() -> u32 {
    match scaled::<BITS, D>() {
        Some(scaled) => scaled.places,
        None => 0,
    }
}

/// Whether B and the first so many products may pass 24 bits: a carry into byte 3.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "bytes' products, and B of 32 bits: below 2^34"
)]
const fn carries<const BITS: u32, D: Drawn<BITS>>(products: u8) -> u32 {
    let Some(scaled) = scaled::<BITS, D>() else {
        return 0;
    };
    let last = D::CONVERSION.window().counts.saturating_sub(1);
    let (low, high) = if last > 255 {
        (255, last >> 8)
    } else {
        (last, 0)
    };
    let (low, high) = (low as u64, high as u64);
    let (m0, m1) = (
        (scaled.factor & 0xFF) as u64,
        ((scaled.factor >> 8) & 0xFF) as u64,
    );
    let mut sum = scaled.addend as u64 + low * m0;
    if products > 1 {
        sum += (high * m0) << 8;
    }
    if products > 2 {
        sum += (low * m1) << 8;
    }
    (sum >> 24 != 0) as u32
}

/// `Drawn::CONVERSION.voltage(count)`.
///
/// # Errors
/// The same.
#[inline(always)]
#[expect(
    clippy::inline_always,
    clippy::cast_possible_truncation,
    reason = "an associated constant decides; counts of 16 bits"
)]
pub(crate) fn drawn<const BITS: u32, D: Drawn<BITS>>(count: Count) -> Result<Voltage, Fault> {
    let (first, counts) = const { (D::CONVERSION.first, D::CONVERSION.window().counts) };
    if count.0 >> 16 == 0 && BITS <= 16 {
        let position = (count.0 as u16).wrapping_sub(first as u16);
        if position < counts as u16 {
            if const { scaled::<BITS, D>().is_some() } {
                return Ok(Voltage(upper_half::<BITS, D>(position)));
            }
        }
    }
    D::CONVERSION.voltage(count)
}

/// The sum's bits from 16 on, over 2^places: M of 24 bits and position of 16, six byte products onto B; the value has 16 bits, so nothing beyond byte 3
/// is formed.
#[inline(always)]
#[expect(clippy::inline_always, reason = "operands in place")]
fn upper_half<const BITS: u32, D: Drawn<BITS>>(position: u16) -> u16 {
    let units;
    // SAFETY: changes the operands, and r0 and r1, which is zero again at the end.
    unsafe {
        asm!(
            "ldi {b0}, {a0}",
            "ldi {b1}, {a1}",
            "ldi r24, {a2}",
            "ldi r25, {a3}",
            "ldi {z}, 0",
            "ldi {m}, {m0}",
            "mul {p:l}, {m}",
            "add {b0}, r0",
            "adc {b1}, r1",
            "adc r24, {z}",
            ".if {carry1}",
            "adc r25, {z}",
            ".endif",
            "mul {p:h}, {m}",
            "add {b1}, r0",
            "adc r24, r1",
            ".if {carry2}",
            "adc r25, {z}",
            ".endif",
            "ldi {m}, {m1}",
            "mul {p:l}, {m}",
            "add {b1}, r0",
            "adc r24, r1",
            ".if {carry3}",
            "adc r25, {z}",
            ".endif",
            "mul {p:h}, {m}",
            "add r24, r0",
            "adc r25, r1",
            ".if {m2} == 1",
            "add r24, {p:l}",
            "adc r25, {p:h}",
            ".elseif {m2}",
            "ldi {m}, {m2}",
            "mul {p:l}, {m}",
            "add r24, r0",
            "adc r25, r1",
            "mul {p:h}, {m}",
            "add r25, r0",
            ".endif",
            "clr r1",
            ".rept {places}",
            "lsr r25",
            "ror r24",
            ".endr",
            p = in(reg_pair) position,
            b0 = out(reg_upper) _,
            b1 = out(reg_upper) _,
            z = out(reg_upper) _,
            m = out(reg_upper) _,
            a0 = const part::<BITS, D>(false, 0),
            a1 = const part::<BITS, D>(false, 1),
            a2 = const part::<BITS, D>(false, 2),
            a3 = const part::<BITS, D>(false, 3),
            m0 = const part::<BITS, D>(true, 0),
            m1 = const part::<BITS, D>(true, 1),
            m2 = const part::<BITS, D>(true, 2),
            carry1 = const carries::<BITS, D>(1),
            carry2 = const carries::<BITS, D>(2),
            carry3 = const carries::<BITS, D>(3),
            places = const places::<BITS, D>(),
            out("r25r24") units,
            options(pure, nomem, nostack),
        );
    }
    units
}
