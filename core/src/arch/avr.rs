//! Kernels for AVR with a hardware multiplier (8 x 8 bits in two cycles), whole functions.
//!
//! The compiler calls a routine for every 32-bit product, saves registers for it, and shifts 32-bit numbers one bit a loop.
//! These form only the partial products that matter, pick the value as whole bytes, and stay within the registers that a
//! called function may change: r18 to r27, r30, r31 and r0. r1 is 0 again at the end.
//!
//! They take counts of 16 bits, follow the C calling convention, and return the voltage in output units or the temperature's 16
//! bits, or 2^16 for any fault. A count that is not among the quick ones they hand to a function that answers all.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::mem::offset_of;

use crate::divided_input::DividedConversion;
use crate::supply_reference::SupplyConversion;
use crate::table::Table;
use crate::thermistor::{Thermistor, ThermistorDescription};
use crate::units::{Count, Fault, Sample, Temperature, TemperatureFault, Voltage};

// Offsets that the kernels load from: the window's first two words, then the constants.
const _: () = assert!(offset_of!(DividedConversion, multiplier) == 18);
const _: () = assert!(offset_of!(SupplyConversion, divider) == 18);
// And those of the temperature: the quick counts, the first one, then the table.
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

/// `Thermistor::temperature`.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    reason = "the 16 bits of a temperature"
)]
pub(super) fn temperature(
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

/// Faults, and multipliers that are not narrow.
extern "C" fn divided_slow(count: u16, conversion: &DividedConversion) -> u32 {
    number(conversion.voltage(Count::from(count)))
}

/// Faults, and denominators that are not short.
extern "C" fn supply_slow(count: u16, conversion: &SupplyConversion) -> u32 {
    number(supply_wide(conversion, Count::from(count)))
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

/// In and out as above.
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

/// Copies a multiple of 4 samples, 4 to 256, to as many places, and answers their sum; none if one is at a rail.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::arithmetic_side_effects,
    reason = "at most 64 fours"
)]
pub(super) fn copied_sum(samples: &[Sample], places: &mut [u16], top_code: Sample) -> Option<u32> {
    let fours = (samples.len() / 4) as u16;
    let last = top_code.0.saturating_sub(1);
    let sum = sum_number(samples.as_ptr(), fours, places.as_mut_ptr(), last);
    (sum >> 24 == 0).then_some(sum)
}

/// In: samples r25:r24, their number in fours r23:r22, places r21:r20, the top code less one r19:r18. Out: the sum r25 to r22, or 255 in
/// r25 where a sample less one, which is the largest number for 0, is the top code less one or more.
///
/// The sum of at most 256 samples of 16 bits takes three bytes, r20 to r22.
#[inline(never)]
#[unsafe(export_name = "tallyvolt_copied_sum")]
extern "C" fn sum_number(samples: *const Sample, fours: u16, places: *mut u16, last: u16) -> u32 {
    let (high, low): (u16, u16);
    // SAFETY: reads four times as many samples as there are fours, and writes as many places, which the caller has; a sample is 16
    // bits. Changes the operands, what is declared changed, and no other register.
    unsafe {
        asm!(
            "movw r26, r24",
            "movw r30, r20",
            "mov r23, r22",
            "ldi r20, 0",
            "ldi r21, 0",
            "ldi r22, 0",
            "1:",
            ".rept 4",
            "ld r24, X+",
            "ld r25, X+",
            "st Z+, r24",
            "st Z+, r25",
            "add r20, r24",
            "adc r21, r25",
            "adc r22, r1",
            "sbiw r24, 1",
            "cp r24, r18",
            "cpc r25, r19",
            "brcc 2f",
            ".endr",
            "dec r23",
            "brne 1b",
            "mov r24, r22",
            "movw r22, r20",
            "ldi r25, 0",
            "rjmp 3f",
            "2: ldi r25, 255",
            "3:",
            inout("r25r24") samples => high,
            inout("r23r22") fours => low,
            inout("r21r20") places => _,
            in("r19r18") last,
            out("X") _,
            out("Z") _,
        );
    }
    (u32::from(high) << 16) | u32::from(low)
}
