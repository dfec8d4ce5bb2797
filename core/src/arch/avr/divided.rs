//! Count to voltage, divided input.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::mem::offset_of;

use super::number;
use crate::divided_input::DividedConversion;
use crate::units::{Count, Fault, Voltage};

// Offsets that the kernel loads from: the window's first two words, then the constants.
const _: () = assert!(offset_of!(DividedConversion, multiplier) == 18);

/// `DividedConversion::voltage`.
#[inline]
pub(in crate::arch) fn divided(
    conversion: &DividedConversion,
    count: Count,
) -> Result<Voltage, Fault> {
    if let Ok(narrow) = u16::try_from(count.0)
        && let Ok(units) = u16::try_from(divided_number(narrow, conversion))
    {
        return Ok(Voltage(units));
    }
    conversion.voltage(count)
}

/// Faults, and multipliers that are not narrow.
extern "C" fn divided_slow(count: u16, conversion: &DividedConversion) -> u32 {
    number(conversion.voltage(Count::from(count)))
}

/// In: count r25:r24, conversion r23:r22. Out: the voltage r23:r22 and 0 in r25:r24, or 1 there for a fault.
///
/// The whole is below 2^48 and the factor below 2^40: ten byte products, bytes 1 to 5 of the whole in r19 to r23. Nothing can
/// carry out of byte 0 when the factor's byte there is 0, so then its two products are left out.
///
/// Loads: first 0, quick 4, factor's bytes 0 to 4 at 26, 27, 18, 19, 20, addend's 0 to 5 at 28, 29, 22 to 25.
#[inline(never)]
#[unsafe(export_name = "tallyvolt_divided")]
extern "C" fn divided_number(count: u16, conversion: &DividedConversion) -> u32 {
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
            "ldi r19, 0",
            "ldi r20, 0",
            "ldd r18, Z+26",
            "tst r18",
            "breq 2f",
            "mul r24, r18",
            "ldd r21, Z+28",
            "add r21, r0",
            "adc r19, r1",
            "mul r25, r18",
            "add r19, r0",
            "adc r20, r1",
            "2: ldd r18, Z+27",
            "mul r24, r18",
            "add r19, r0",
            "adc r20, r1",
            "ldi r21, 0",
            "adc r21, r21",
            "mul r25, r18",
            "add r20, r0",
            "adc r21, r1",
            "ldd r18, Z+18",
            "mul r24, r18",
            "add r20, r0",
            "adc r21, r1",
            "ldi r22, 0",
            "adc r22, r22",
            "mul r25, r18",
            "add r21, r0",
            "adc r22, r1",
            "ldd r18, Z+19",
            "mul r24, r18",
            "add r21, r0",
            "adc r22, r1",
            "ldi r23, 0",
            "adc r23, r23",
            "mul r25, r18",
            "add r22, r0",
            "adc r23, r1",
            "ldd r18, Z+20",
            "mul r24, r18",
            "add r22, r0",
            "adc r23, r1",
            "mul r25, r18",
            "add r23, r0",
            "ldd r18, Z+29",
            "add r19, r18",
            "ldd r18, Z+22",
            "adc r20, r18",
            "ldd r18, Z+23",
            "adc r21, r18",
            "ldd r18, Z+24",
            "adc r22, r18",
            "ldd r18, Z+25",
            "adc r23, r18",
            "clr r1",
            "clr r24",
            "clr r25",
            "9:",
            slow = sym divided_slow,
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
