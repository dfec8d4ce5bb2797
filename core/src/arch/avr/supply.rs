//! Count to voltage, supply reference.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::mem::offset_of;

use super::number;
use crate::supply_reference::SupplyConversion;
use crate::units::{Count, Fault, Voltage};

// Offsets that the kernel loads from: the window's first two words, then the constants.
const _: () = assert!(offset_of!(SupplyConversion, divider) == 18);

/// `SupplyConversion::voltage`.
#[inline]
pub(in crate::arch) fn supply(
    conversion: &SupplyConversion,
    count: Count,
) -> Result<Voltage, Fault> {
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

/// Faults, and denominators that are not short.
extern "C" fn supply_slow(count: u16, conversion: &SupplyConversion) -> u32 {
    number(supply_wide(conversion, Count::from(count)))
}

/// In: count r25:r24, conversion r23:r22. Out: the voltage r23:r22 and 0 in r25:r24, or 1 there for a fault.
///
/// E = 2 D with D = position * `step` + `at_first`, and N = H + D whose quotient by E, rounded down, is the value. N is below
/// 2^16 E, so its upper part is a remainder below E from the start, and its lower two bytes become the quotient while the
/// remainder takes them in, the upper one first: shift, compare, subtract, sixteen times and without a loop. The
/// comparison's carry is the complement of the quotient's bit, and a subtraction that happens leaves none, so the next shift
/// takes it in as it stands; the bit that a byte's first shift takes in, whatever it is, has left it after nine. E is below
/// 2^23 here: the remainder's double then fits three bytes.
///
/// Loads: first 0, quick 4, `doubled_numerator` 18 to 22, `at_first` 26 to 28, `step` 31 and 32. Registers: D, then E, in r20,
/// r21, r26; value r23:r22; remainder r18, r19, r27.
#[inline(never)]
#[unsafe(export_name = "tallyvolt_supply")]
extern "C" fn supply_number(count: u16, conversion: &SupplyConversion) -> u32 {
    let (high, low): (u16, u16);
    // SAFETY: reads from the conversion only, at the offsets above; changes the operands, what is declared changed, and r0 and r1,
    // which is zero again at the end. The function it calls follows the C convention, whose other registers stay.
    unsafe {
        asm!(
            "movw r30, r22",
            "ld r18, Z",
            "ldd r19, Z+1",
            "sub r24, r18",
            "sbc r25, r19",
            "ldd r20, Z+4",
            "ldd r21, Z+5",
            "cp r24, r20",
            "cpc r25, r21",
            "brcs 1f",
            // The count as it came; the pointer is where it was.
            "add r24, r18",
            "adc r25, r19",
            "call {slow}",
            "rjmp 9f",
            "1:",
            "ldd r18, Z+31",
            "mul r24, r18",
            "movw r20, r0",
            "ldi r26, 0",
            "mul r25, r18",
            "add r21, r0",
            "adc r26, r1",
            "ldd r18, Z+32",
            "mul r24, r18",
            "add r21, r0",
            "adc r26, r1",
            "mul r25, r18",
            "add r26, r0",
            "clr r1",
            "ldd r18, Z+26",
            "add r20, r18",
            "ldd r18, Z+27",
            "adc r21, r18",
            "ldd r18, Z+28",
            "adc r26, r18",
            "ldd r22, Z+18",
            "add r22, r20",
            "ldd r23, Z+19",
            "adc r23, r21",
            "ldd r18, Z+20",
            "adc r18, r26",
            "ldd r19, Z+21",
            "adc r19, r1",
            "ldd r27, Z+22",
            "adc r27, r1",
            "lsl r20",
            "rol r21",
            "rol r26",
            ".rept 8",
            "rol r23",
            "rol r18",
            "rol r19",
            "rol r27",
            "cp r18, r20",
            "cpc r19, r21",
            "cpc r27, r26",
            "brcs 5f",
            "sub r18, r20",
            "sbc r19, r21",
            "sbc r27, r26",
            "5:",
            ".endr",
            "rol r23",
            ".rept 8",
            "rol r22",
            "rol r18",
            "rol r19",
            "rol r27",
            "cp r18, r20",
            "cpc r19, r21",
            "cpc r27, r26",
            "brcs 5f",
            "sub r18, r20",
            "sbc r19, r21",
            "sbc r27, r26",
            "5:",
            ".endr",
            "rol r22",
            "com r22",
            "com r23",
            "clr r24",
            "clr r25",
            "9:",
            slow = sym supply_slow,
            inout("r25r24") count => high,
            inout("r23r22") conversion => low,
            out("r18") _,
            out("r19") _,
            out("r20") _,
            out("r21") _,
            out("X") _,
            out("Z") _,
        );
    }
    (u32::from(high) << 16) | u32::from(low)
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
