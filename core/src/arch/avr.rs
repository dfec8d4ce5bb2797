//! Kernels for AVR with a hardware multiplier (8 x 8 bits in two cycles).
//!
//! The compiler calls a 32-bit multiplication for every product and shifts 32-bit numbers one bit a loop; these form only
//! the partial products that matter and pick the value as whole bytes. r0 and r1 hold every product; r1 is zero again at
//! each end, as the calling convention wants.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;

use crate::straight_line::Multiplier;
use crate::supply_reference::Quotient;

/// `Multiplier::at`.
#[inline]
pub(super) fn straight_line(multiplier: &Multiplier, position: u32) -> u16 {
    match (multiplier, u16::try_from(position)) {
        (Multiplier::U32 { .. }, Ok(position)) => narrow(multiplier, position),
        (Multiplier::U32Pair { .. }, Ok(position)) => pair(multiplier, position),
        _ => multiplier.at(position),
    }
}

/// `(multiplier * position + addend) >> 16 >> fine_shift`: six products of bytes, since the factor is below 2^24.
///
/// Layout of `Multiplier::U32` by `repr(C, u8)`: tag 0, multiplier 1 to 4, addend 5 to 8, fine shift 9.
#[inline]
fn narrow(multiplier: &Multiplier, position: u16) -> u16 {
    let value: u16;
    // SAFETY: reads bytes 1 to 9 of a `Multiplier`; changes only the operands, r0, r1 (zeroed at the end) and flags.
    unsafe {
        asm!(
            "ldd {byte}, Z+1",
            "mul {p:l}, {byte}",
            "movw {low:l}, r0",
            "mul {p:h}, {byte}",
            "movw {middle:l}, r0",
            "ldd {byte}, Z+2",
            "mul {p:h}, {byte}",
            "movw {high:l}, r0",
            "mul {p:l}, {byte}",
            "clr {byte}",
            "add {low:h}, r0",
            "adc {high:l}, r1",
            "adc {high:h}, {byte}",
            "add {low:h}, {middle:l}",
            "adc {high:l}, {middle:h}",
            "adc {high:h}, {byte}",
            "ldd {byte}, Z+3",
            "mul {p:l}, {byte}",
            "add {high:l}, r0",
            "adc {high:h}, r1",
            "mul {p:h}, {byte}",
            "add {high:h}, r0",
            "clr r1",
            "ldd {byte}, Z+5",
            "add {low:l}, {byte}",
            "ldd {byte}, Z+6",
            "adc {low:h}, {byte}",
            "ldd {byte}, Z+7",
            "adc {high:l}, {byte}",
            "ldd {byte}, Z+8",
            "adc {high:h}, {byte}",
            "ldd {byte}, Z+9",
            "rjmp 3f",
            "2: lsr {high:h}",
            "ror {high:l}",
            "3: dec {byte}",
            "brpl 2b",
            p = in(reg_pair) position,
            in("Z") multiplier,
            low = out(reg_pair) _,
            middle = out(reg_pair) _,
            high = out(reg_pair) value,
            byte = out(reg) _,
            options(pure, readonly, nostack),
        );
    }
    value
}

/// `(multiplier * position + addend) >> 32 >> fine_shift` of a pair: eleven products of bytes.
///
/// Layout of `Multiplier::U32Pair` by `repr(C, u8)`: tag 0, multiplier_high 1 to 4, multiplier_low 5 to 6, addend_high 7 to
/// 10, addend_low 11 to 12, fine shift 13. The whole is below 2^48, so what would stand above its sixth byte is zero.
#[inline]
fn pair(multiplier: &Multiplier, position: u16) -> u16 {
    let value: u16;
    // SAFETY: reads bytes 1 to 13 of a `Multiplier`; changes only the operands, r0, r1 (zeroed at the end) and flags.
    unsafe {
        asm!(
            // Row of the position's low byte, even factor bytes, then the odd ones.
            "ldd {byte}, Z+5",
            "mul {p:l}, {byte}",
            "movw {t01:l}, r0",
            "ldd {byte}, Z+1",
            "mul {p:l}, {byte}",
            "movw {t23:l}, r0",
            "ldd {byte}, Z+3",
            "mul {p:l}, {byte}",
            "movw {t45:l}, r0",
            "ldd {byte}, Z+6",
            "mul {p:l}, {byte}",
            "movw {a12:l}, r0",
            "ldd {byte}, Z+2",
            "mul {p:l}, {byte}",
            "movw {a34:l}, r0",
            "ldd {byte}, Z+4",
            "mul {p:l}, {byte}",
            "add {t01:h}, {a12:l}",
            "adc {t23:l}, {a12:h}",
            "adc {t23:h}, {a34:l}",
            "adc {t45:l}, {a34:h}",
            "adc {t45:h}, r0",
            // Row of the high byte, one place up.
            "ldd {byte}, Z+5",
            "mul {p:h}, {byte}",
            "movw {a12:l}, r0",
            "ldd {byte}, Z+1",
            "mul {p:h}, {byte}",
            "movw {a34:l}, r0",
            "ldd {byte}, Z+3",
            "mul {p:h}, {byte}",
            "add {t01:h}, {a12:l}",
            "adc {t23:l}, {a12:h}",
            "adc {t23:h}, {a34:l}",
            "adc {t45:l}, {a34:h}",
            "adc {t45:h}, r0",
            "ldd {byte}, Z+6",
            "mul {p:h}, {byte}",
            "movw {a12:l}, r0",
            "ldd {byte}, Z+2",
            "mul {p:h}, {byte}",
            "add {t23:l}, {a12:l}",
            "adc {t23:h}, {a12:h}",
            "adc {t45:l}, r0",
            "adc {t45:h}, r1",
            "clr r1",
            "ldd {byte}, Z+11",
            "add {t01:l}, {byte}",
            "ldd {byte}, Z+12",
            "adc {t01:h}, {byte}",
            "ldd {byte}, Z+7",
            "adc {t23:l}, {byte}",
            "ldd {byte}, Z+8",
            "adc {t23:h}, {byte}",
            "ldd {byte}, Z+9",
            "adc {t45:l}, {byte}",
            "ldd {byte}, Z+10",
            "adc {t45:h}, {byte}",
            "ldd {byte}, Z+13",
            "rjmp 3f",
            "2: lsr {t45:h}",
            "ror {t45:l}",
            "3: dec {byte}",
            "brpl 2b",
            p = in(reg_pair) position,
            in("Z") multiplier,
            t01 = out(reg_pair) _,
            t23 = out(reg_pair) _,
            t45 = out(reg_pair) value,
            a12 = out(reg_pair) _,
            a34 = out(reg_pair) _,
            byte = out(reg) _,
            options(pure, readonly, nostack),
        );
    }
    value
}

/// `Quotient::at`.
#[inline]
pub(super) fn quotient(quotient: &Quotient, position: u32) -> u16 {
    quotient.bit_by_bit(position)
}
