//! Count to voltage, divided input, constants in the code.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;

use crate::arch::portable::position;
use crate::arch::{Immediate, ImmediateLine, narrow};
use crate::units::Count;

/// `portable::drawn`.
#[inline(always)]
#[expect(clippy::inline_always, reason = "operands in place")]
pub(crate) fn drawn<L: Immediate>(count: Count) -> Option<u16> {
    let ImmediateLine { first, counts, .. } = const { L::LINE };
    let position = position(count, narrow(first), narrow(counts))?;
    Some(if const { L::LINE.shift < 32 } {
        short::<L>(position)
    } else {
        long::<L>(position)
    })
}

/// M and B over 2^16 at least, and the places that are left then.
///
/// At S below 16 the value's 16 bits leave room for the shift.
const fn scaled<L: Immediate>() -> ImmediateLine {
    let ImmediateLine {
        factor,
        addend,
        shift,
        ..
    } = L::LINE;
    let up = 16_u32.saturating_sub(shift);
    ImmediateLine {
        factor: factor << up,
        addend: addend << up,
        shift: shift.saturating_sub(16),
        ..L::LINE
    }
}

/// One byte of a number.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "constants: one of eight bytes"
)]
const fn byte(number: u64, index: u32) -> u64 {
    (number >> (8 * index)) & 0xFF
}

/// Whether B and the first so many products may pass 24 bits: a carry into byte 3.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "bytes' products, and B of 32 bits: below 2^34"
)]
const fn carries<L: Immediate>(products: u8) -> u32 {
    let ImmediateLine {
        factor,
        addend,
        counts,
        ..
    } = scaled::<L>();
    let last = counts.saturating_sub(1) as u64;
    let (low, high) = if last > 255 {
        (255, last >> 8)
    } else {
        (last, 0)
    };
    let (m0, m1) = (byte(factor, 0), byte(factor, 1));
    let mut sum = addend + low * m0;
    if products > 1 {
        sum += (high * m0) << 8;
    }
    if products > 2 {
        sum += (low * m1) << 8;
    }
    (sum >> 24 != 0) as u32
}

/// The sum's bits from 16 on, over 2^places: M of 24 bits and position of 16, six byte products onto B; the value has 16 bits, so nothing beyond byte 3
/// is formed.
#[inline(always)]
#[expect(clippy::inline_always, reason = "operands in place")]
fn short<L: Immediate>(position: u16) -> u16 {
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
            a0 = const byte(scaled::<L>().addend, 0),
            a1 = const byte(scaled::<L>().addend, 1),
            a2 = const byte(scaled::<L>().addend, 2),
            a3 = const byte(scaled::<L>().addend, 3),
            m0 = const byte(scaled::<L>().factor, 0),
            m1 = const byte(scaled::<L>().factor, 1),
            m2 = const byte(scaled::<L>().factor, 2),
            carry1 = const carries::<L>(1),
            carry2 = const carries::<L>(2),
            carry3 = const carries::<L>(3),
            places = const scaled::<L>().shift,
            out("r25r24") units,
            options(pure, nomem, nostack),
        );
    }
    units
}

/// The sum's bits from 32 on: M of 48 bits and position of 16, byte products onto B, the highest first; the value has 16 bits, so nothing beyond
/// byte 5 is formed.
#[inline(always)]
#[expect(clippy::inline_always, reason = "operands in place")]
fn long<L: Immediate>(position: u16) -> u16 {
    let units;
    // SAFETY: changes the operands, and r0 and r1, which is zero again at the end.
    unsafe {
        asm!(
            "ldi {b0}, {a0}",
            "ldi {b1}, {a1}",
            "ldi {b2}, {a2}",
            "ldi {b3}, {a3}",
            "ldi r24, {a4}",
            "ldi r25, {a5}",
            "ldi {z}, 0",
            ".if {m5}",
            "ldi {m}, {m5}",
            "mul {p:l}, {m}",
            "add r25, r0",
            ".endif",
            ".if {m4}",
            "ldi {m}, {m4}",
            "mul {p:h}, {m}",
            "add r25, r0",
            "mul {p:l}, {m}",
            "add r24, r0",
            "adc r25, r1",
            ".endif",
            ".if {m3}",
            "ldi {m}, {m3}",
            "mul {p:h}, {m}",
            "add r24, r0",
            "adc r25, r1",
            "mul {p:l}, {m}",
            "add {b3}, r0",
            "adc r24, r1",
            "adc r25, {z}",
            ".endif",
            ".if {m2}",
            "ldi {m}, {m2}",
            "mul {p:h}, {m}",
            "add {b3}, r0",
            "adc r24, r1",
            "adc r25, {z}",
            "mul {p:l}, {m}",
            "add {b2}, r0",
            "adc {b3}, r1",
            "adc r24, {z}",
            "adc r25, {z}",
            ".endif",
            ".if {m1}",
            "ldi {m}, {m1}",
            "mul {p:h}, {m}",
            "add {b2}, r0",
            "adc {b3}, r1",
            "adc r24, {z}",
            "adc r25, {z}",
            "mul {p:l}, {m}",
            "add {b1}, r0",
            "adc {b2}, r1",
            "adc {b3}, {z}",
            "adc r24, {z}",
            "adc r25, {z}",
            ".endif",
            ".if {m0}",
            "ldi {m}, {m0}",
            "mul {p:h}, {m}",
            "add {b1}, r0",
            "adc {b2}, r1",
            "adc {b3}, {z}",
            "adc r24, {z}",
            "adc r25, {z}",
            "mul {p:l}, {m}",
            "add {b0}, r0",
            "adc {b1}, r1",
            "adc {b2}, {z}",
            "adc {b3}, {z}",
            "adc r24, {z}",
            "adc r25, {z}",
            ".endif",
            "clr r1",
            p = in(reg_pair) position,
            b0 = out(reg_upper) _,
            b1 = out(reg_upper) _,
            b2 = out(reg_upper) _,
            b3 = out(reg_upper) _,
            z = out(reg_upper) _,
            m = out(reg_upper) _,
            a0 = const byte(L::LINE.addend, 0),
            a1 = const byte(L::LINE.addend, 1),
            a2 = const byte(L::LINE.addend, 2),
            a3 = const byte(L::LINE.addend, 3),
            a4 = const byte(L::LINE.addend, 4),
            a5 = const byte(L::LINE.addend, 5),
            m0 = const byte(L::LINE.factor, 0),
            m1 = const byte(L::LINE.factor, 1),
            m2 = const byte(L::LINE.factor, 2),
            m3 = const byte(L::LINE.factor, 3),
            m4 = const byte(L::LINE.factor, 4),
            m5 = const byte(L::LINE.factor, 5),
            out("r25r24") units,
            options(pure, nomem, nostack),
        );
    }
    units
}
