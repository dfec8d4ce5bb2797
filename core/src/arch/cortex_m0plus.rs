//! Kernels for Cortex-M0+ with the single-cycle multiplier: whole functions in the C calling convention, without stack but that of the sum.
//!
//! A kernel answers the voltage in output units, or the 16 bits of the temperature, or 2^16 for what it leaves to the portable method.
#![expect(unsafe_code, reason = "assembly")]

mod window;

use core::arch::naked_asm;
use core::mem::offset_of;

use crate::arch::samples::fours;
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::thermistor::Thermistor;
use crate::units::{Count, Fault, Sample, Temperature, TemperatureFault, Voltage};

pub(super) use window::window_sum;

// Words that are loaded in pairs, the second behind the first.
const _: () = assert!(
    offset_of!(DividedConversion<16>, first) == 0
        && offset_of!(DividedConversion<16>, short) == 4
        && offset_of!(DividedConversion<16>, factor) == 8
        && offset_of!(DividedConversion<16>, addend) == 12
        && offset_of!(SupplyConversion, first) == 0
        && offset_of!(SupplyConversion, short) == 4
        && offset_of!(SupplyConversion, at_first) == 8
        && offset_of!(SupplyConversion, numerator) == 12
        && offset_of!(Thermistor<'static>, quick) == 0
        && offset_of!(Thermistor<'static>, description.first) == 4
        && offset_of!(Thermistor<'static>, description.table.drop) == 8
        && offset_of!(Thermistor<'static>, description.table.stretch) == 12
        && offset_of!(Thermistor<'static>, description.table.entries) == 16
);

/// [`DividedConversion::voltage`], by a kernel for the short form.
///
/// # Errors
/// The same.
#[inline]
pub fn divided<const BITS: u32>(
    conversion: &DividedConversion<BITS>,
    count: Count,
) -> Result<Voltage, Fault> {
    // SAFETY: the pointer is a reference's.
    let number = unsafe { divided_number(count.0, conversion) };
    match u16::try_from(number) {
        Ok(units) => Ok(Voltage(units)),
        Err(_) => conversion.voltage(count),
    }
}

/// [`SupplyConversion::voltage`], by a kernel for the short form.
///
/// # Errors
/// The same.
#[inline]
pub fn supply(conversion: &SupplyConversion, count: Count) -> Result<Voltage, Fault> {
    // SAFETY: the pointer is a reference's.
    let number = unsafe { supply_number(count.0, conversion) };
    match u16::try_from(number) {
        Ok(units) => Ok(Voltage(units)),
        Err(_) => conversion.voltage(count),
    }
}

/// [`Thermistor::temperature`], by a kernel for tables whose neighbours differ by 16 bits.
///
/// # Errors
/// The same.
#[inline]
#[expect(clippy::cast_possible_wrap, reason = "the 16 bits of a temperature")]
pub fn temperature(
    thermistor: &Thermistor<'_>,
    count: Count,
) -> Result<Temperature, TemperatureFault> {
    // SAFETY: the pointer is a reference's.
    let number = unsafe { temperature_number(count.0, thermistor) };
    match u16::try_from(number) {
        Ok(tenths) => Ok(Temperature(tenths as i16)),
        Err(_) => thermistor.temperature(count),
    }
}

/// Copies samples to as many places and answers their sum; none if one is at a rail, and for numbers that are not for the kernel.
#[inline]
pub(super) fn copied_sum(samples: &[Sample], places: &mut [u16], top_code: Sample) -> Option<u32> {
    let fours = u32::from(fours(samples, places)?);
    let last = u32::from(top_code.0.saturating_sub(1));
    // SAFETY: there are 1 to 64 fours of samples, and as many places; what is borrowed mutably does not overlap.
    let sum = unsafe { sum_number(samples.as_ptr(), places.as_mut_ptr(), fours, last) };
    (sum >> 24 == 0).then_some(sum)
}

/// M * position + B is below 2^32 and its value below 2^16, by the check of whoever made the conversion.
///
/// # Safety
/// `conversion` can be read.
#[unsafe(naked)]
pub(crate) unsafe extern "C" fn divided_number<const BITS: u32>(
    count: u32,
    conversion: *const DividedConversion<BITS>,
) -> u32 {
    naked_asm!(
        "ldmia r1!, {{r2, r3}}",
        "subs r0, r0, r2",
        "cmp r0, r3",
        "bhs 9f",
        "ldmia r1!, {{r2, r3}}",
        "muls r0, r2, r0",
        "adds r0, r0, r3",
        "lsrs r0, r0, #{shift}",
        "bx lr",
        "9: movs r0, #1",
        "lsls r0, r0, #16",
        "bx lr",
        shift = const DividedConversion::<BITS>::SHORT_SHIFT,
    )
}

/// Places of D that one seed stands for.
const SEED_SHIFT: u32 = 7;
/// Seeds are over 2^22.
const SEED_LOG2: u32 = 22;

/// `floor(2^22 / ((i + 1) 2^7))`, at most 255: never more than 2^22 / D for a D whose bits from 7 on are i.
static SEEDS: [u8; 512] = seeds();

#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::indexing_slicing,
    reason = "constants: the index runs over the table, and what is cut off at 255 fits"
)]
const fn seeds() -> [u8; 512] {
    let mut seeds = [0; 512];
    let mut index = 0;
    while index < seeds.len() {
        let seed = (1 << (SEED_LOG2 - SEED_SHIFT)) / (index as u32 + 1);
        seeds[index] = if seed > 255 { 255 } else { seed as u8 };
        index += 1;
    }
    seeds
}

/// n = K + D / 2 over D, rounded down. With T a seed, at most 2^22 / D,
///
/// ```text
/// u = floor(floor(n / 2^8) T / 2^14)          at most n / D
/// e = floor(floor((n - u D) / 2^8) T / 2^14)  at most what u lacks
/// v = u + e, and 1 more where D is left       n - v D is at least 0, and less than D, or the portable method is asked
/// ```
///
/// Nothing wraps: n is below 2^32 and T below 2^8, no estimate exceeds the quotient, and what is left tells whether the answer is right.
/// It was at every count from 2.0 to 4.2 V of the
/// constants tried, whose D is about 2^14 and more there; that is measured and not proven, and only speed depends on it.
///
/// # Safety
/// `conversion` can be read.
#[unsafe(naked)]
pub(crate) unsafe extern "C" fn supply_number(
    count: u32,
    conversion: *const SupplyConversion,
) -> u32 {
    naked_asm!(
        "ldmia r1!, {{r2, r3}}",
        "subs r0, r0, r2",
        "cmp r0, r3",
        "bhs 9f",
        "ldrb r2, [r1, #{step_log2}]",
        "lsls r0, r2",
        "ldmia r1!, {{r2, r3}}",
        "adds r1, r0, r2",
        "lsrs r0, r1, #{seed_shift}",
        "ldr r2, 8f",
        "ldrb r0, [r2, r0]",
        "lsrs r2, r1, #1",
        "adds r3, r3, r2",
        "lsrs r2, r3, #8",
        "muls r2, r0, r2",
        "lsrs r2, r2, #14",
        "mov r12, r2",
        "muls r2, r1, r2",
        "subs r3, r3, r2",
        "lsrs r2, r3, #8",
        "muls r0, r2, r0",
        "lsrs r0, r0, #14",
        "movs r2, r0",
        "muls r2, r1, r2",
        "subs r3, r3, r2",
        "add r0, r12",
        "subs r3, r3, r1",
        "bcc 1f",
        "cmp r3, r1",
        "bhs 9f",
        "adds r0, #1",
        "1: bx lr",
        "9: movs r0, #1",
        "lsls r0, r0, #16",
        "bx lr",
        ".balign 4",
        "8: .word {seeds}",
        step_log2 = const offset_of!(SupplyConversion, step_log2) - 8,
        seed_shift = const SEED_SHIFT,
        seeds = sym SEEDS,
    )
}

/// `Table::at_by_words`. The first word of the table is loaded whole: a shift by a register takes its lowest byte, `drop`. Position and
/// entries lie in the table because only quick counts come there, and the difference of two entries fits 16 bits.
///
/// # Safety
/// `thermistor` can be read.
#[unsafe(naked)]
pub(crate) unsafe extern "C" fn temperature_number(
    count: u32,
    thermistor: *const Thermistor<'_>,
) -> u32 {
    naked_asm!(
        "ldmia r1!, {{r2, r3}}",
        "subs r0, r0, r3",
        "cmp r0, r2",
        "bhs 9f",
        "ldmia r1, {{r1, r2, r3}}",
        "muls r0, r2, r0",
        "lsrs r2, r0, #16",
        "lsls r2, r2, #1",
        "adds r3, r3, r2",
        "ldrh r2, [r3]",
        "ldrh r3, [r3, #2]",
        "subs r3, r3, r2",
        "sxth r3, r3",
        "uxth r0, r0",
        "muls r0, r3, r0",
        "lsls r2, r2, #16",
        "adds r0, r0, r2",
        "asrs r0, r1",
        "adds r0, r0, #1",
        "lsls r0, r0, #15",
        "lsrs r0, r0, #16",
        "bx lr",
        "9: movs r0, #1",
        "lsls r0, r0, #16",
        "bx lr",
    )
}

/// The sum of four times `fours` samples, below 2^24, which are copied to as many places; or all bits where a sample less one, which
/// is the largest number for 0, is `last` or more, and some places are written then. A sample's layout is that of its 16 bits.
///
/// # Safety
/// Four times `fours`, which is 1 to 64, samples can be read and as many places written, and they do not overlap.
#[unsafe(naked)]
pub(crate) unsafe extern "C" fn sum_number(
    samples: *const Sample,
    places: *mut u16,
    fours: u32,
    last: u32,
) -> u32 {
    naked_asm!(
        "push {{r4, r5, lr}}",
        "movs r5, #0",
        "1:",
        ".irp at, 0, 2, 4, 6",
        "ldrh r4, [r0, #\\at]",
        "strh r4, [r1, #\\at]",
        "adds r5, r5, r4",
        "subs r4, #1",
        "cmp r4, r3",
        "bhs 2f",
        ".endr",
        "adds r0, #8",
        "adds r1, #8",
        "subs r2, #1",
        "bne 1b",
        "movs r0, r5",
        "pop {{r4, r5, pc}}",
        "2: movs r0, #0",
        "mvns r0, r0",
        "pop {{r4, r5, pc}}",
    )
}
