//! Count to voltage, divided input.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::mem::offset_of;

use crate::convert::line::DividedConversion;
use crate::units::{Count, Fault, Voltage};

/// [`DividedConversion::voltage`], by a kernel for the short form.
///
/// # Errors
/// The same.
#[inline]
pub fn divided<const BITS: u32>(
    conversion: &DividedConversion<BITS>,
    count: Count,
) -> Result<Voltage, Fault> {
    let Ok(narrow) = u16::try_from(count.0) else {
        return rest(conversion, count);
    };
    // SAFETY: the pointer is a reference's.
    match unsafe { divided_number(narrow, conversion) } {
        u16::MAX => rest(conversion, count),
        units => Ok(Voltage(units)),
    }
}

/// What the kernel leaves.
#[cold]
#[inline(never)]
fn rest<const BITS: u32>(
    conversion: &DividedConversion<BITS>,
    count: Count,
) -> Result<Voltage, Fault> {
    conversion.voltage(count)
}

/// In: count r25:r24, conversion r23:r22. Out: the voltage r25:r24.
///
/// M and position have 16 bits: four byte products onto B in r18 to r21. The sum is below 2^32, so nothing carries out of r21. Its upper
/// 16 bits are the value over 2^16; S is 11 to 19, so a few places more or less.
///
/// # Safety
/// `conversion` can be read.
#[inline(never)]
pub(crate) unsafe extern "C" fn divided_number<const BITS: u32>(
    count: u16,
    conversion: *const DividedConversion<BITS>,
) -> u16 {
    let units;
    // SAFETY: reads from the conversion only, at the offsets below; changes the operands, what is declared changed, and r0 and r1, which is
    // zero again at the end.
    unsafe {
        asm!(
            "movw r30, r22",
            "ldd r18, Z+{first}",
            "ldd r19, Z+{first}+1",
            "sub r24, r18",
            "sbc r25, r19",
            "ldd r18, Z+{short}",
            "ldd r19, Z+{short}+1",
            "cp r24, r18",
            "cpc r25, r19",
            "brcs 7f",
            "ldi r24, 255",
            "ldi r25, 255",
            "rjmp 8f",
            "7:",
            "ldd r26, Z+{factor}",
            "ldd r27, Z+{factor}+1",
            "ldd r18, Z+{addend}",
            "ldd r19, Z+{addend}+1",
            "ldd r20, Z+{addend}+2",
            "ldd r21, Z+{addend}+3",
            "ldi r22, 0",
            "mul r25, r27",
            "add r20, r0",
            "adc r21, r1",
            "mul r24, r26",
            "add r18, r0",
            "adc r19, r1",
            "adc r20, r22",
            "adc r21, r22",
            "mul r24, r27",
            "add r19, r0",
            "adc r20, r1",
            "adc r21, r22",
            "mul r25, r26",
            "add r19, r0",
            "adc r20, r1",
            "adc r21, r22",
            "clr r1",
            ".rept {left}",
            "lsl r19",
            "rol r20",
            "rol r21",
            ".endr",
            ".rept {right}",
            "lsr r21",
            "ror r20",
            ".endr",
            "movw r24, r20",
            "8:",
        first = const offset_of!(DividedConversion<BITS>, first),
        short = const offset_of!(DividedConversion<BITS>, short),
        factor = const offset_of!(DividedConversion<BITS>, factor),
        addend = const offset_of!(DividedConversion<BITS>, addend),
        left = const 16_u32.saturating_sub(DividedConversion::<BITS>::SHORT_SHIFT),
        right = const DividedConversion::<BITS>::SHORT_SHIFT.saturating_sub(16),
            inout("r25r24") count => units,
            inout("r23r22") conversion => _,
            out("r18") _,
            out("r19") _,
            out("r20") _,
            out("r21") _,
            out("X") _,
            out("Z") _,
            options(nostack, readonly),
        );
    }
    units
}
