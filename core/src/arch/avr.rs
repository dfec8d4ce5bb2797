//! Kernels for AVR with a hardware multiplier (8 x 8 bits in two cycles), whole functions.
//!
//! The compiler calls a routine for every 32-bit product, saves registers for it, and shifts 32-bit numbers one bit a loop.
//! These form only the partial products that matter, pick the value as whole bytes, and stay within the registers that a
//! called function may change (r18 to r27, r30, r31, r0; three are saved for the pair).
//!
//! Both take counts of 16 bits, follow the C calling convention, and return the voltage in output units, or 2^16 for any
//! fault. What they do not cover, wider counts and the wide forms, they hand to the portable code.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::mem::offset_of;

use crate::divided_input::DividedConversion;
use crate::supply_reference::SupplyConversion;
use crate::units::{Count, Fault, Voltage};

// Offsets that the kernels load from: window first 0, counts 4, rail 8; then the constants.
const _: () = assert!(offset_of!(DividedConversion, multiplier) == 14);
const _: () = assert!(offset_of!(SupplyConversion, divider) == 14);

/// `DividedConversion::voltage`.
#[inline]
pub(super) fn divided(conversion: &DividedConversion, count: Count) -> Result<Voltage, Fault> {
    if let Ok(narrow) = u16::try_from(count.0)
        && let Ok(units) = u16::try_from(divided_number(narrow, conversion))
    {
        return Ok(Voltage(units));
    }
    conversion.voltage(count)
}

/// `SupplyConversion::voltage`.
#[inline]
pub(super) fn supply(conversion: &SupplyConversion, count: Count) -> Result<Voltage, Fault> {
    if let Ok(narrow) = u16::try_from(count.0)
        && let Ok(units) = u16::try_from(supply_number(narrow, conversion))
    {
        return Ok(Voltage(units));
    }
    supply_wide(conversion, count)
}

/// Any count and any E: sums of many samples, and 16-bit converters. Faults are told apart here.
#[inline(never)]
#[expect(
    clippy::cast_possible_truncation,
    reason = "E + H is below 2^46: its lower 16 bits and what lies above them"
)]
fn supply_wide(conversion: &SupplyConversion, count: Count) -> Result<Voltage, Fault> {
    let position = conversion.window().position(count)?;
    let quotient = conversion.divider;
    let e = quotient.denominator(position) << 1;
    let raised = quotient.doubled_numerator().wrapping_add(u64::from(e >> 1));
    Ok(Voltage(divide_32(e, raised as u16, (raised >> 16) as u32)))
}

fn number(reading: Result<Voltage, Fault>) -> u32 {
    match reading {
        Ok(Voltage(units)) => u32::from(units),
        Err(_) => 1 << 16,
    }
}

#[inline(never)]
fn divided_portable(count: u16, conversion: &DividedConversion) -> u32 {
    number(conversion.voltage(Count::from(count)))
}

#[inline(never)]
fn supply_portable(count: u16, conversion: &SupplyConversion) -> u32 {
    number(supply_wide(conversion, Count::from(count)))
}

/// In: count r25:r24, conversion r23:r22. Out: the voltage r23:r22 and 0 in r25:r24, or 1 there for a fault.
///
/// The position, with first and counts in 16 bits: neither is above the rail, so a rail below 2^16 tells of both.
///
/// U32, from 14: tag 0, multiplier 1 to 3 (below 2^24), addend 5 to 8, fine shift 9. Six products; the whole is below 2^32.
/// `U32Pair`, from 14: tag 1, `multiplier_high` 1 to 4, `multiplier_low` 5 to 6, `addend_high` 7 to 10, `addend_low` 11 to
/// 12, fine shift 13. Eleven products, since the whole is below 2^48; value in the fifth and sixth byte.
#[inline(never)]
#[unsafe(export_name = "tallyvolt_divided")]
extern "C" fn divided_number(count: u16, conversion: &DividedConversion) -> u32 {
    let (high, low, portable): (u16, u16, u8);
    // SAFETY: reads from a `DividedConversion` only, at the offsets above; changes the operands, what is declared changed, and r0 and
    // r1, which is zero again at the end. Registers that it pushes it pops.
    unsafe {
        asm!(
            "movw r30, r22",
            "ldd r18, Z+10",
            "ldd r19, Z+11",
            "or r18, r19",
            "brne 8f",
            "ld r18, Z",
            "ldd r19, Z+1",
            "sub r24, r18",
            "sbc r25, r19",
            "ldd r18, Z+4",
            "ldd r19, Z+5",
            "cp r24, r18",
            "cpc r25, r19",
            "brcc 9f",
            "ldd r18, Z+14",
            "cpi r18, 1",
            "brcc 0f",
            "rjmp 7f",
            "0:",
            "breq 4f",
            // A wide form: the count again, and the portable code.
            "ld r18, Z",
            "ldd r19, Z+1",
            "add r24, r18",
            "adc r25, r19",
            "8: movw r22, r30",
            "ldi r18, 1",
            "rjmp 99f",
            "9: ldi r24, 1",
            "clr r25",
            "clr r22",
            "clr r23",
            "clr r18",
            "rjmp 99f",
            // U32Pair: bytes 0 to 5 in r18 to r23. Row of the position's low byte, even factor bytes, then odd ones.
            "4: push r15",
            "push r16",
            "push r17",
            "ldd r15, Z+19",
            "mul r24, r15",
            "movw r18, r0",
            "ldd r15, Z+15",
            "mul r24, r15",
            "movw r20, r0",
            "ldd r15, Z+17",
            "mul r24, r15",
            "movw r22, r0",
            "ldd r15, Z+20",
            "mul r24, r15",
            "movw r26, r0",
            "ldd r15, Z+16",
            "mul r24, r15",
            "movw r16, r0",
            "ldd r15, Z+18",
            "mul r24, r15",
            "add r19, r26",
            "adc r20, r27",
            "adc r21, r16",
            "adc r22, r17",
            "adc r23, r0",
            // Row of the high byte, one place up.
            "ldd r15, Z+19",
            "mul r25, r15",
            "movw r26, r0",
            "ldd r15, Z+15",
            "mul r25, r15",
            "movw r16, r0",
            "ldd r15, Z+17",
            "mul r25, r15",
            "add r19, r26",
            "adc r20, r27",
            "adc r21, r16",
            "adc r22, r17",
            "adc r23, r0",
            "ldd r15, Z+20",
            "mul r25, r15",
            "movw r26, r0",
            "ldd r15, Z+16",
            "mul r25, r15",
            "add r20, r26",
            "adc r21, r27",
            "adc r22, r0",
            "adc r23, r1",
            "ldd r15, Z+25",
            "add r18, r15",
            "ldd r15, Z+26",
            "adc r19, r15",
            "ldd r15, Z+21",
            "adc r20, r15",
            "ldd r15, Z+22",
            "adc r21, r15",
            "ldd r15, Z+23",
            "adc r22, r15",
            "ldd r15, Z+24",
            "adc r23, r15",
            "ldd r15, Z+27",
            "rjmp 6f",
            "5: lsr r23",
            "ror r22",
            "6: dec r15",
            "brpl 5b",
            "clr r1",
            "clr r24",
            "clr r25",
            "pop r17",
            "pop r16",
            "pop r15",
            "clr r18",
            "rjmp 99f",    // U32: bytes 0 to 3 in r20 to r23.
            "7: ldd r18, Z+15",
            "mul r24, r18",
            "movw r20, r0",
            "mul r25, r18",
            "movw r26, r0",
            "ldd r18, Z+16",
            "mul r25, r18",
            "movw r22, r0",
            "mul r24, r18",
            "clr r18",
            "add r21, r0",
            "adc r22, r1",
            "adc r23, r18",
            "add r21, r26",
            "adc r22, r27",
            "adc r23, r18",
            "ldd r18, Z+17",
            "mul r24, r18",
            "add r22, r0",
            "adc r23, r1",
            "mul r25, r18",
            "add r23, r0",
            "ldd r18, Z+19",
            "add r20, r18",
            "ldd r18, Z+20",
            "adc r21, r18",
            "ldd r18, Z+21",
            "adc r22, r18",
            "ldd r18, Z+22",
            "adc r23, r18",
            "ldd r18, Z+23",
            "rjmp 3f",
            "2: lsr r23",
            "ror r22",
            "3: dec r18",
            "brpl 2b",
            "clr r1",
            "clr r24",
            "clr r25",
            "clr r18",
            "99:",
            inout("r25r24") count => high,
            inout("r23r22") conversion => low,
            out("r18") portable,
            out("r19") _,
            out("r20") _,
            out("r21") _,
            out("X") _,
            out("Z") _,
            options(readonly),
        );
    }
    if portable == 0 {
        return (u32::from(high) << 16) | u32::from(low);
    }
    // SAFETY: on this way the kernel left the pointer where it was; so neither needs to be saved on the others.
    let conversion = unsafe { &*(low as *const DividedConversion) };
    divided_portable(high, conversion)
}

/// In and out as above.
///
/// E = 2 (position * 2^`step_log2` + `at_first`), and N = H + E/2 whose quotient by E, rounded down, is the value. N is below
/// 2^16 E, so its upper part is a remainder below E from the start, and its lower 16 bits become the quotient while the
/// remainder takes them in: shift, compare, subtract, sixteen times and without a loop. The comparison's carry is the
/// complement of the quotient's bit, and a subtraction that happens leaves none, so the next shift takes it in as it
/// stands. E is below 2^23 here: the remainder's double then fits three bytes.
///
/// Quotient, from 14: `doubled_numerator` 0 to 7, `step_log2` 8, `at_first` 9 to 12. Registers: E r24 to r27, value r23:r22,
/// remainder r18 to r20; the count is kept in r1:r0.
#[inline(never)]
#[unsafe(export_name = "tallyvolt_supply")]
extern "C" fn supply_number(count: u16, conversion: &SupplyConversion) -> u32 {
    let (high, low, portable): (u16, u16, u8);
    // SAFETY: reads from a `SupplyConversion` only, at the offsets above; changes the operands, what is declared changed, and r0 and
    // r1, which is zero again at the end. Registers that it pushes it pops.
    unsafe {
        asm!(
            "movw r30, r22",
            "movw r0, r24",
            "ldd r18, Z+10",
            "ldd r19, Z+11",
            "or r18, r19",
            "brne 8f",
            "ld r18, Z",
            "ldd r19, Z+1",
            "sub r24, r18",
            "sbc r25, r19",
            "ldd r18, Z+4",
            "ldd r19, Z+5",
            "cp r24, r18",
            "cpc r25, r19",
            "brcc 9f",
            "clr r26",
            "clr r27",
            "ldd r21, Z+22",
            "rjmp 2f",
            "1: mov r27, r26",
            "mov r26, r25",
            "mov r25, r24",
            "clr r24",
            "2: subi r21, 8",
            "brcc 1b",
            "subi r21, -8",
            "rjmp 4f",
            "3: lsl r24",
            "rol r25",
            "rol r26",
            "rol r27",
            "4: dec r21",
            "brpl 3b",
            "ldd r21, Z+23",
            "add r24, r21",
            "ldd r21, Z+24",
            "adc r25, r21",
            "ldd r21, Z+25",
            "adc r26, r21",
            "ldd r21, Z+26",
            "adc r27, r21",
            // Half of E below 2^22.
            "brne 8f",
            "cpi r26, 0x40",
            "brcs 6f",
            "8: movw r24, r0",
            "movw r22, r30",
            "clr r1",
            "ldi r18, 1",
            "rjmp 99f",
            "9: ldi r24, 1",
            "clr r25",
            "clr r22",
            "clr r23",
            "clr r1",
            "clr r18",
            "rjmp 99f",
            "6: ldd r22, Z+14",
            "add r22, r24",
            "ldd r23, Z+15",
            "adc r23, r25",
            "ldd r18, Z+16",
            "adc r18, r26",
            "ldd r19, Z+17",
            "adc r19, r27",
            "ldd r20, Z+18",
            "adc r20, r27",
            "lsl r24",
            "rol r25",
            "rol r26",
            ".rept 16",
            "rol r22",
            "rol r23",
            "rol r18",
            "rol r19",
            "rol r20",
            "cp r18, r24",
            "cpc r19, r25",
            "cpc r20, r26",
            "brcs 5f",
            "sub r18, r24",
            "sbc r19, r25",
            "sbc r20, r26",
            "5:",
            ".endr",
            "rol r22",
            "rol r23",
            "com r22",
            "com r23",
            "clr r24",
            "clr r25",
            "clr r1",
            "clr r18",
            "99:",
            inout("r25r24") count => high,
            inout("r23r22") conversion => low,
            out("r18") portable,
            out("r19") _,
            out("r20") _,
            out("r21") _,
            out("X") _,
            out("Z") _,
            options(readonly),
        );
    }
    if portable == 0 {
        return (u32::from(high) << 16) | u32::from(low);
    }
    // SAFETY: on this way the kernel left the pointer where it was; so neither needs to be saved on the others.
    let conversion = unsafe { &*(low as *const SupplyConversion) };
    supply_portable(high, conversion)
}

/// The same division for E below 2^31, in a loop.
#[expect(clippy::cast_possible_truncation, reason = "halves of words")]
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
