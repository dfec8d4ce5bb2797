//! Count to voltage, supply reference.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::mem::offset_of;

use crate::convert::quotient::SupplyConversion;
use crate::units::{Count, Fault, Voltage};

/// [`SupplyConversion::voltage`], by a kernel for the short form and a value below 2^13.
///
/// # Errors
/// The same.
#[inline]
pub fn supply(conversion: &SupplyConversion, count: Count) -> Result<Voltage, Fault> {
    let Ok(narrow) = u16::try_from(count.0) else {
        return conversion.voltage(count);
    };
    // SAFETY: the pointer is a reference's.
    match unsafe { supply_number(narrow, conversion) } {
        u16::MAX => conversion.voltage(count),
        units => Ok(Voltage(units)),
    }
}

/// In: count r25:r24, conversion r23:r22. Out: the voltage r25:r24.
///
/// With n = K + D / 2, D even: floor(n / D) = floor(floor(n / 2) / (D / 2)), because D / 2 is whole. It is below 2^15, so a remainder's
/// double fits 16 bits. floor(n / 2) over 2^13 is a remainder below D / 2 exactly when the value is below 2^13, which is checked; then its
/// lower 13 bits leave the value's register on the left, one a step, while the quotient comes in from the right: shift, compare, subtract,
/// without a loop. The comparison's carry is the complement of the quotient's bit, and a subtraction that happens leaves none, so the
/// next shift takes it in as it stands.
///
/// Registers: D / 2 r25:r24, value r23:r22, remainder r19:r18.
///
/// # Safety
/// `conversion` can be read.
#[inline(never)]
pub(crate) unsafe extern "C" fn supply_number(
    count: u16,
    conversion: *const SupplyConversion,
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
            "brcc 9f",
            "ldd r18, Z+{step}",
            "mul r24, r18",
            "movw r20, r0",
            "mul r25, r18",
            "add r21, r0",
            "clr r1",
            "ldd r24, Z+{at_first}",
            "ldd r25, Z+{at_first}+1",
            "add r24, r20",
            "adc r25, r21",
            "lsr r25",
            "ror r24",
            "ldd r22, Z+{numerator}",
            "add r22, r24",
            "ldd r23, Z+{numerator}+1",
            "adc r23, r25",
            "ldd r18, Z+{numerator}+2",
            "adc r18, r1",
            "ldd r19, Z+{numerator}+3",
            "adc r19, r1",
            "lsr r19",
            "ror r18",
            "ror r23",
            "ror r22",
            "cpi r19, 32",
            "brcc 9f",
            ".rept 3",
            "lsl r23",
            "rol r18",
            "rol r19",
            ".endr",
            "cp r18, r24",
            "cpc r19, r25",
            "brcs 6f",
            // Near enough for every branch.
            "9: ldi r24, 255",
            "ldi r25, 255",
            "rjmp 8f",
            "6:",
            ".rept 5",
            "rol r23",
            "rol r18",
            "rol r19",
            "cp r18, r24",
            "cpc r19, r25",
            "brcs 5f",
            "sub r18, r24",
            "sbc r19, r25",
            "5:",
            ".endr",
            "rol r23",
            ".rept 8",
            "rol r22",
            "rol r18",
            "rol r19",
            "cp r18, r24",
            "cpc r19, r25",
            "brcs 5f",
            "sub r18, r24",
            "sbc r19, r25",
            "5:",
            ".endr",
            "rol r22",
            "movw r24, r22",
            "com r24",
            "com r25",
            "andi r25, 31",
            "8:",
        first = const offset_of!(SupplyConversion, first),
        short = const offset_of!(SupplyConversion, short),
        step = const offset_of!(SupplyConversion, step),
        at_first = const offset_of!(SupplyConversion, at_first),
        numerator = const offset_of!(SupplyConversion, numerator),
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
