//! Count to temperature.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::mem::offset_of;

use crate::convert::thermistor::Thermistor;
use crate::units::{Count, Temperature, TemperatureFault};

/// [`Thermistor::temperature`], by a kernel for what the arithmetic of bytes takes.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    reason = "the 16 bits of a temperature"
)]
pub(crate) fn temperature(
    thermistor: &Thermistor<'_>,
    count: Count,
) -> Result<Temperature, TemperatureFault> {
    let Ok(narrow) = u16::try_from(count.0) else {
        return rest(thermistor, count);
    };
    // SAFETY: the pointer is a reference's.
    let number = unsafe { temperature_number(narrow, thermistor) };
    if number >> 16 == 0 {
        Ok(Temperature(number as u16 as i16))
    } else {
        rest(thermistor, count)
    }
}

/// What the kernel leaves.
#[cold]
#[inline(never)]
const fn rest(thermistor: &Thermistor<'_>, count: Count) -> Result<Temperature, TemperatureFault> {
    thermistor.portable(count)
}

/// In: count r25:r24, thermistor r23:r22. Out: the temperature r23:r22 and 0 in r25:r24, or more there for what is left to the portable
/// method: faults, and tables that are not for bytes.
///
/// `Table::at_by_bytes`: the position times the stretch of one byte has the fraction in its lowest byte and the segment, below 63,
/// in the next. The difference of two entries fits 16 bits, so its product with the fraction takes an unsigned and a signed
/// multiplication; half a divisor is the unsigned product's own bit 7, shifted into the carry of the sum. Entries finer than the
/// answer skip that, and are rounded by the same two multiplications with the shrink.
///
/// # Safety
/// `thermistor` can be read.
#[inline(never)]
pub(crate) unsafe extern "C" fn temperature_number(
    count: u16,
    thermistor: *const Thermistor<'_>,
) -> u32 {
    let (high, low): (u16, u16);
    // SAFETY: reads from the thermistor at the offsets below, and two neighbours among its entries: position and entries lie in the table
    // because only quick counts come there, so the segment is below their number less one. Changes the operands, what is declared
    // changed, and r0 and r1, which is zero again at the end.
    unsafe {
        asm!(
            "movw r30, r22",
            "ldd r18, Z+{first}",
            "ldd r19, Z+{first}+1",
            "sub r24, r18",
            "sbc r25, r19",
            "ldd r18, Z+{quick}",
            "ldd r19, Z+{quick}+1",
            "cp r24, r18",
            "cpc r25, r19",
            "brcs 1f",
            "ldi r24, 1",
            "rjmp 9f",
            "1:",
            "ldd r18, Z+{stretch}+1",
            "mul r25, r18",
            "mov r19, r0",
            "mul r24, r18",
            "mov r18, r0",
            "add r19, r1",
            "clr r1",
            "lsl r19",
            "ldd r26, Z+{entries}",
            "ldd r27, Z+{entries}+1",
            "add r26, r19",
            "adc r27, r1",
            "ld r24, X+",
            "ld r25, X+",
            "ld r20, X+",
            "ld r21, X",
            "sub r20, r24",
            "sbc r21, r25",
            "mul r20, r18",
            "movw r26, r0",
            "mulsu r21, r18",
            "ldi r21, 0",
            "ldd r19, Z+{fraction_bits}",
            "cpse r19, r21",
            "rjmp 2f",
            "lsl r26",
            "adc r0, r27",
            "adc r1, r21",
            "add r24, r0",
            "adc r25, r1",
            "movw r22, r24",
            "rjmp 3f",
            "2:",
            "add r0, r27",
            "adc r1, r21",
            "add r24, r0",
            "adc r25, r1",
            "ldd r18, Z+{shrink}",
            "mul r24, r18",
            "movw r26, r0",
            "mov r19, r25",
            "mulsu r19, r18",
            "lsl r26",
            "adc r0, r27",
            "adc r1, r21",
            "movw r22, r0",
            "3:",
            "clr r1",
            "clr r24",
            "clr r25",
            "9:",
        first = const offset_of!(Thermistor<'static>, description.first.0),
        quick = const offset_of!(Thermistor<'static>, quick),
        stretch = const offset_of!(Thermistor<'static>, description.table.interpolation.stretch),
        entries = const offset_of!(Thermistor<'static>, description.table.entries),
        fraction_bits = const offset_of!(Thermistor<'static>, description.table.interpolation.fraction_bits),
        shrink = const offset_of!(Thermistor<'static>, description.table.interpolation.shrink),
            inout("r25r24") count => high,
            inout("r23r22") thermistor => low,
            out("r18") _,
            out("r19") _,
            out("r20") _,
            out("r21") _,
            out("X") _,
            out("Z") _,
            options(nostack, readonly),
        );
    }
    (u32::from(high) << 16) | u32::from(low)
}
