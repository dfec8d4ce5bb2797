//! Count to temperature.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::mem::offset_of;

use crate::table::Table;
use crate::thermistor::{Thermistor, ThermistorDescription};
use crate::units::{Count, Temperature, TemperatureFault};

// Offsets that the kernel loads from: the quick counts, the first one, then the table.
const _: () = assert!(
    offset_of!(Thermistor<'_>, quick) == 0
        && offset_of!(Thermistor<'_>, description) == 4
        && offset_of!(ThermistorDescription<'_>, first) == 0
        && offset_of!(ThermistorDescription<'_>, table) == 4
        && offset_of!(Table<'_>, fraction_bits) == 1
        && offset_of!(Table<'_>, shrink) == 2
        && offset_of!(Table<'_>, stretch) == 4
        && offset_of!(Table<'_>, entries) == 8
);

/// `Thermistor::temperature`.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    reason = "the 16 bits of a temperature"
)]
pub(in crate::arch) fn temperature(
    thermistor: &Thermistor<'_>,
    count: Count,
) -> Result<Temperature, TemperatureFault> {
    let number = match u16::try_from(count.0) {
        Ok(narrow) => temperature_number(narrow, thermistor),
        Err(_) => temperature_wide(count, thermistor),
    };
    if number >> 16 == 0 {
        Ok(Temperature(number as u16 as i16))
    } else {
        Err(thermistor.fault(count))
    }
}

/// Faults, and tables that are not for bytes.
extern "C" fn temperature_slow(count: u16, thermistor: &Thermistor<'_>) -> u32 {
    tenths(thermistor.temperature(Count::from(count)))
}

/// Any count.
#[inline(never)]
fn temperature_wide(count: Count, thermistor: &Thermistor<'_>) -> u32 {
    tenths(thermistor.temperature(count))
}

#[inline]
fn tenths(result: Result<Temperature, TemperatureFault>) -> u32 {
    match result {
        Ok(Temperature(tenths)) => u32::from(tenths as u16),
        Err(_) => 1 << 16,
    }
}

/// In: count r25:r24, thermistor r23:r22. Out: the temperature r23:r22 and 0 in r25:r24, or 1 there for a fault.
///
/// `Table::at_by_bytes`: the position times the stretch of one byte has the fraction in its lowest byte and the segment, below 63,
/// in the next. The difference of two entries fits 16 bits, so its product with the fraction takes an unsigned and a signed
/// multiplication; half a divisor is the unsigned product's own bit 7, shifted into the carry of the sum. Entries finer than the
/// answer skip that, and are rounded by the same two multiplications with the shrink.
///
/// Loads: quick 0, first 4, fraction bits 9, shrink 10, stretch 13, entries 16. Position and entries lie in the table because only
/// quick counts come here.
#[inline(never)]
#[unsafe(export_name = "tallyvolt_temperature")]
extern "C" fn temperature_number(count: u16, thermistor: &Thermistor<'_>) -> u32 {
    let (high, low): (u16, u16);
    // SAFETY: reads from the thermistor at the offsets above, and two neighbours among its entries: the segment is below their number
    // less one; changes the operands, what is declared changed, and r0 and r1, which is zero again at the end. The function it
    // calls follows the C convention, whose other registers stay.
    unsafe {
        asm!(
            "movw r30, r22",
            "ldd r20, Z+4",
            "ldd r21, Z+5",
            "sub r24, r20",
            "sbc r25, r21",
            "ld r18, Z",
            "ldd r19, Z+1",
            "cp r24, r18",
            "cpc r25, r19",
            "brcs 1f",
            // The count as it came; the pointer is where it was.
            "add r24, r20",
            "adc r25, r21",
            "call {slow}",
            "rjmp 9f",
            "1:",
            "ldd r18, Z+13",
            "mul r25, r18",
            "mov r19, r0",
            "mul r24, r18",
            "mov r18, r0",
            "add r19, r1",
            "clr r1",
            "lsl r19",
            "ldd r26, Z+16",
            "ldd r27, Z+17",
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
            "ldd r19, Z+9",
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
            "ldd r18, Z+10",
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
            slow = sym temperature_slow,
            inout("r25r24") count => high,
            inout("r23r22") thermistor => low,
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
