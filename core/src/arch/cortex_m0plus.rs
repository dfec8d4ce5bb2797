//! Kernels for Cortex-M0+ with the single-cycle multiplier, whole functions: the compiler keeps a frame pointer on this core
//! and takes the result apart and together again, which costs more than the arithmetic.
//!
//! They follow the C calling convention, return the voltage in output units or the temperature's 16 bits, or 2^16 for any fault,
//! and need no stack on their common ways.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::naked_asm;
use core::mem::offset_of;

use crate::divided_input::DividedConversion;
use crate::reciprocal::{Reciprocal, SEEDS};
use crate::supply_reference::SupplyConversion;
use crate::table::Table;
use crate::thermistor::{Thermistor, ThermistorDescription};
use crate::units::{Count, Sample, Temperature, Voltage};

// Offsets that the kernels load from: the window's first two words, then the constants.
const _: () = assert!(offset_of!(DividedConversion, multiplier) == 20);
const _: () = assert!(offset_of!(SupplyConversion, divider) == 20);
// And those of the temperature: the quick counts, the first one, then the table.
const _: () = assert!(
    offset_of!(Thermistor<'_>, quick) == 0
        && offset_of!(Thermistor<'_>, description) == 4
        && offset_of!(ThermistorDescription<'_>, first) == 0
        && offset_of!(ThermistorDescription<'_>, table) == 4
        && offset_of!(Table<'_>, drop) == 0
        && offset_of!(Table<'_>, stretch) == 4
        && offset_of!(Table<'_>, entries) == 8
);

/// `DividedConversion::voltage` as a number; 65 536 where it is none.
///
/// Loads: first 0, quick 4, high 20, `addend_high` 24, low 28, `addend_low` 30. Two products, the low one's upper half added to
/// the high one.
#[unsafe(naked)]
#[unsafe(export_name = "tallyvolt_divided")]
pub(super) extern "C" fn divided(count: u32, conversion: &DividedConversion) -> u32 {
    naked_asm!(
        "ldmia r1!, {{r2, r3}}",
        "subs r0, r0, r2",
        "cmp r0, r3",
        "bhs 9f",
        "adds r1, #12",
        "ldmia r1, {{r1, r2, r3}}",
        "muls r1, r0, r1",
        "adds r1, r1, r2",
        "uxth r2, r3",
        "muls r0, r2, r0",
        "lsrs r3, r3, #16",
        "adds r0, r0, r3",
        "lsrs r0, r0, #16",
        "adds r0, r0, r1",
        "lsrs r0, r0, #16",
        "bx lr",
        // The count and the pointer as they came.
        "9: adds r0, r0, r2",
        "subs r1, #8",
        "ldr r2, 8f",
        "bx r2",
        ".balign 4",
        "8: .word {slow}",
        slow = sym divided_slow,
    )
}

/// Faults, and multipliers that are not narrow.
extern "C" fn divided_slow(count: u32, conversion: &DividedConversion) -> u32 {
    match conversion.voltage(Count(count)) {
        Ok(Voltage(units)) => u32::from(units),
        Err(_) => 1 << 16,
    }
}

/// `SupplyConversion::voltage` as a number; 65 536 where it is none: the refinement of `reciprocal.rs`.
///
/// Loads: first 0, quick 4 (always all counts here), step_log2 20, at_first 24, low 28, top 32.
#[unsafe(naked)]
#[unsafe(export_name = "tallyvolt_supply")]
pub(super) extern "C" fn supply(count: u32, conversion: &SupplyConversion) -> u32 {
    naked_asm!(
        "ldmia r1!, {{r2, r3}}",
        "subs r0, r0, r2",
        "cmp r0, r3",
        "bhs 9f",
        "adds r1, #12",
        "ldmia r1!, {{r2, r3}}",
        "lsls r0, r2",
        "adds r0, r0, r3",
        "lsrs r2, r0, #20",
        "subs r2, #16",
        "cmp r2, #112",
        "bhs 2f",
        "ldr r3, 8f",
        "ldrb r3, [r3, r2]",
        "lsrs r2, r0, #1",
        "muls r2, r3, r2",
        "rsbs r2, r2, #0",
        "lsrs r2, r2, #15",
        "muls r3, r2, r3",
        "lsrs r3, r3, #8",
        "ldmia r1, {{r1, r2}}",
        "muls r2, r3, r2",
        "lsrs r2, r2, #16",
        "mov r12, r2",
        "muls r2, r0, r2",
        "subs r1, r1, r2",
        "lsrs r2, r1, #16",
        "muls r2, r3, r2",
        "lsrs r2, r2, #24",
        "movs r3, r2",
        "muls r3, r0, r3",
        "subs r1, r1, r3",
        "lsrs r0, r0, #1",
        "cmp r1, r0",
        // A move to or from a high register leaves the carry.
        "mov r0, r12",
        "adcs r0, r2",
        "bx lr",
        // E outside the table: r0 = E, r1 = conversion + 28.
        "2: push {{r4, lr}}",
        "mov r2, r0",
        "movs r0, r1",
        "subs r0, #8",
        "mov r1, r2",
        "bl {rare}",
        "uxth r0, r0",
        "pop {{r4, pc}}",
        "9: movs r0, #1",
        "lsls r0, r0, #16",
        "bx lr",
        ".balign 4",
        "8: .word {seeds}",
        seeds = sym SEEDS,
        rare = sym rare,
    )
}

/// `Reciprocal::rare` in the C calling convention.
extern "C" fn rare(reciprocal: &Reciprocal, e: u32) -> u16 {
    reciprocal.rare(e)
}

/// `Thermistor::temperature` as the 16 bits of a number; 65 536 where it is none: `Table::at_by_words`.
///
/// Loads: quick 0, first 4, drop 8 (a shift by a register takes its lowest byte), stretch 12, entries 16. Position and entries lie
/// in the table because only quick counts come here, and the difference of two entries fits 16 bits.
#[unsafe(naked)]
#[unsafe(export_name = "tallyvolt_temperature")]
pub(super) extern "C" fn temperature(count: u32, thermistor: &Thermistor<'_>) -> u32 {
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
        // The count and the pointer as they came.
        "9: adds r0, r0, r3",
        "subs r1, #8",
        "ldr r2, 8f",
        "bx r2",
        ".balign 4",
        "8: .word {slow}",
        slow = sym temperature_slow,
    )
}

/// Faults, and tables with steeper steps.
#[expect(clippy::cast_sign_loss, reason = "the 16 bits of a temperature")]
extern "C" fn temperature_slow(count: u32, thermistor: &Thermistor<'_>) -> u32 {
    match thermistor.temperature(Count(count)) {
        Ok(Temperature(tenths)) => u32::from(tenths as u16),
        Err(_) => 1 << 16,
    }
}

/// Copies a multiple of 4 samples, 4 to 256, to as many places, and answers their sum; none if one is at a rail.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::arithmetic_side_effects,
    reason = "at most 64 fours"
)]
pub(super) fn copied_sum(samples: &[Sample], places: &mut [u16], top_code: Sample) -> Option<u32> {
    let fours = (samples.len() / 4) as u32;
    let last = u32::from(top_code.0.saturating_sub(1));
    // SAFETY: four times as many samples and places as that are there.
    let sum = unsafe { sum_number(samples.as_ptr(), places.as_mut_ptr(), fours, last) };
    (sum >> 24 == 0).then_some(sum)
}

/// The sum of four times `fours` samples, below 2^24, which are copied to as many places; or all bits where a sample less one, which
/// is the largest number for 0, is `last` or more.
///
/// # Safety
/// So many samples and places must be there.
#[unsafe(naked)]
#[unsafe(export_name = "tallyvolt_copied_sum")]
unsafe extern "C" fn sum_number(
    samples: *const Sample,
    places: *mut u16,
    fours: u32,
    last: u32,
) -> u32 {
    naked_asm!(
        "push {{r4, r5, lr}}",
        "movs r5, #0",
        "1:",
        "ldrh r4, [r0]",
        "strh r4, [r1]",
        "adds r5, r5, r4",
        "subs r4, #1",
        "cmp r4, r3",
        "bhs 2f",
        "ldrh r4, [r0, #2]",
        "strh r4, [r1, #2]",
        "adds r5, r5, r4",
        "subs r4, #1",
        "cmp r4, r3",
        "bhs 2f",
        "ldrh r4, [r0, #4]",
        "strh r4, [r1, #4]",
        "adds r5, r5, r4",
        "subs r4, #1",
        "cmp r4, r3",
        "bhs 2f",
        "ldrh r4, [r0, #6]",
        "strh r4, [r1, #6]",
        "adds r5, r5, r4",
        "subs r4, #1",
        "cmp r4, r3",
        "bhs 2f",
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
