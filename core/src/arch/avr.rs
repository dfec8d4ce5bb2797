//! Kernels for AVR with a hardware multiplier (8 x 8 bits in two cycles).
//!
//! The compiler calls a 32-bit multiplication for every product and shifts 32-bit numbers one bit a loop; these form only
//! the partial products that matter and pick the value as whole bytes. r0 and r1 hold every product; r1 is zero again at
//! each end, as the calling convention wants.
#![expect(unsafe_code, reason = "assembly")]
#![expect(
    clippy::cast_possible_truncation,
    clippy::arithmetic_side_effects,
    reason = "halves of words taken apart on purpose; shifts by constants"
)]

use core::arch::asm;

use crate::divided_input::DividedConversion;
use crate::straight_line::Multiplier;
use crate::supply_reference::{Quotient, SupplyConversion};
use crate::units::{Count, Fault, Voltage};

/// `DividedConversion::voltage`: counts of 16 bits in the two narrow forms by kernels, everything else as it is.
#[inline]
pub(super) fn divided(conversion: &DividedConversion, count: Count) -> Result<Voltage, Fault> {
    if let Some(position) = conversion.window().narrow_position(count) {
        let multiplier = conversion.multiplier();
        if let Multiplier::U32 { .. } = multiplier {
            return Ok(Voltage(narrow(multiplier, position)));
        }
        if let Multiplier::U32Pair { .. } = multiplier {
            return Ok(Voltage(pair(multiplier, position)));
        }
    }
    divided_as_it_is(conversion, count)
}

/// Out of line, so that the kernels' callers do not save its registers.
#[inline(never)]
fn divided_as_it_is(conversion: &DividedConversion, count: Count) -> Result<Voltage, Fault> {
    conversion.voltage(count)
}

/// `SupplyConversion::voltage`.
#[inline]
pub(super) fn supply(conversion: &SupplyConversion, count: Count) -> Result<Voltage, Fault> {
    match conversion.window().narrow_position(count) {
        Some(position) => Ok(Voltage(quotient(&conversion.divider, position))),
        None => supply_wide(conversion, count),
    }
}

/// Counts of more than 16 bits, and faults.
#[inline(never)]
fn supply_wide(conversion: &SupplyConversion, count: Count) -> Result<Voltage, Fault> {
    let position = conversion.window().position(count)?;
    let quotient = conversion.divider;
    let e = quotient.denominator(position) << 1;
    let raised = quotient.doubled_numerator().wrapping_add(u64::from(e >> 1));
    Ok(Voltage(divide_32(e, raised as u16, (raised >> 16) as u32)))
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

/// `Quotient::at` at a position of 16 bits.
///
/// E = 2 (position * 2^step_log2 + at_first), and N = H + E/2 whose quotient by E, rounded down, is the value. N is below
/// 2^16 E, so its upper part is a remainder below E from the start.
///
/// Layout of `Quotient` by `repr(C)`: doubled_numerator 0 to 7, step_log2 8, at_first 9 to 12. N is below 2^45, so bytes 6
/// and 7 of the numerator are zero.
#[inline]
fn quotient(quotient: &Quotient, position: u16) -> u16 {
    let (e_low, e_high, value, rest_low, rest_high): (u16, u16, u16, u16, u16);
    // SAFETY: reads bytes 0 to 12 of a `Quotient`; changes only the operands and flags.
    unsafe {
        asm!(
            "clr {h:l}",
            "clr {h:h}",
            "ldd {byte}, Z+8",
            "1: cpi {byte}, 8",
            "brlo 3f",
            "mov {h:h}, {h:l}",
            "mov {h:l}, {l:h}",
            "mov {l:h}, {l:l}",
            "clr {l:l}",
            "subi {byte}, 8",
            "rjmp 1b",
            "2: lsl {l:l}",
            "rol {l:h}",
            "rol {h:l}",
            "rol {h:h}",
            "3: dec {byte}",
            "brpl 2b",
            "ldd {byte}, Z+9",
            "add {l:l}, {byte}",
            "ldd {byte}, Z+10",
            "adc {l:h}, {byte}",
            "ldd {byte}, Z+11",
            "adc {h:l}, {byte}",
            "ldd {byte}, Z+12",
            "adc {h:h}, {byte}",
            "ldd {v:l}, Z+0",
            "add {v:l}, {l:l}",
            "ldd {v:h}, Z+1",
            "adc {v:h}, {l:h}",
            "ldd {rl:l}, Z+2",
            "adc {rl:l}, {h:l}",
            "ldd {rl:h}, Z+3",
            "adc {rl:h}, {h:h}",
            "ldd {rh:l}, Z+4",
            "ldd {rh:h}, Z+5",
            "ldi {byte}, 0",
            "adc {rh:l}, {byte}",
            "adc {rh:h}, {byte}",
            "lsl {l:l}",
            "rol {l:h}",
            "rol {h:l}",
            "rol {h:h}",
            in("Z") quotient,
            l = inout(reg_pair) position => e_low,
            h = out(reg_pair) e_high,
            v = out(reg_pair) value,
            rl = out(reg_pair) rest_low,
            rh = out(reg_pair) rest_high,
            byte = out(reg_upper) _,
            options(pure, readonly, nostack),
        );
    }
    if e_high < 1 << 7 {
        divide_24(e_low, e_high as u8, value, rest_low, rest_high as u8)
    } else {
        divide_32(
            (u32::from(e_high) << 16) | u32::from(e_low),
            value,
            (u32::from(rest_high) << 16) | u32::from(rest_low),
        )
    }
}

/// The lower 16 bits of a numerator become the quotient by E, below 2^23, while the remainder takes them in.
///
/// Shift, compare, subtract, sixteen times and without a loop. The comparison's carry is the complement of the quotient's
/// bit, and a subtraction that happens leaves none, so the next shift takes it in as it stands.
#[inline]
fn divide_24(e_low: u16, e_high: u8, value: u16, rest_low: u16, rest_high: u8) -> u16 {
    let quotient: u16;
    // SAFETY: changes only the operands and flags.
    unsafe {
        asm!(
            ".rept 16",
            "rol {v:l}",
            "rol {v:h}",
            "rol {rl:l}",
            "rol {rl:h}",
            "rol {rh}",
            "cp {rl:l}, {el:l}",
            "cpc {rl:h}, {el:h}",
            "cpc {rh}, {eh}",
            "brcs 4f",
            "sub {rl:l}, {el:l}",
            "sbc {rl:h}, {el:h}",
            "sbc {rh}, {eh}",
            "4:",
            ".endr",
            "rol {v:l}",
            "rol {v:h}",
            "com {v:l}",
            "com {v:h}",
            v = inout(reg_pair) value => quotient,
            rl = inout(reg_pair) rest_low => _,
            rh = inout(reg) rest_high => _,
            el = in(reg_pair) e_low,
            eh = in(reg) e_high,
            options(pure, nomem, nostack),
        );
    }
    quotient
}

/// The same for E below 2^31, in a loop: sums of many samples, and 16-bit converters.
#[inline(never)]
fn divide_32(e: u32, value: u16, rest: u32) -> u16 {
    let quotient: u16;
    // SAFETY: changes only the operands and flags.
    unsafe {
        asm!(
            "ldi {n}, 16",
            "5: rol {v:l}",
            "rol {v:h}",
            "rol {rl:l}",
            "rol {rl:h}",
            "rol {rh:l}",
            "rol {rh:h}",
            "cp {rl:l}, {el:l}",
            "cpc {rl:h}, {el:h}",
            "cpc {rh:l}, {eh:l}",
            "cpc {rh:h}, {eh:h}",
            "brcs 4f",
            "sub {rl:l}, {el:l}",
            "sbc {rl:h}, {el:h}",
            "sbc {rh:l}, {eh:l}",
            "sbc {rh:h}, {eh:h}",
            // DEC leaves the carry alone.
            "4: dec {n}",
            "brne 5b",
            "rol {v:l}",
            "rol {v:h}",
            "com {v:l}",
            "com {v:h}",
            n = out(reg_upper) _,
            v = inout(reg_pair) value => quotient,
            rl = inout(reg_pair) rest as u16 => _,
            rh = inout(reg_pair) (rest >> 16) as u16 => _,
            el = in(reg_pair) e as u16,
            eh = in(reg_pair) (e >> 16) as u16,
            options(pure, nomem, nostack),
        );
    }
    quotient
}
