//! Kernels for Cortex-M0+ with the single-cycle multiplier, in the C calling convention: what the compiler makes of the portable functions
//! leaves the rest nothing to gain.
#![expect(unsafe_code, reason = "assembly")]

mod window;

use core::arch::naked_asm;
use core::mem::offset_of;

use super::Quotient;
pub(crate) use super::portable::{drawn, line, temperature};
use super::samples::fours;
use super::summed::summed_or;
use crate::units::{Count, Sample};

/// `portable::quotient`, by a kernel.
#[inline]
pub(crate) fn quotient(quotient: &Quotient, count: Count) -> Option<u16> {
    // SAFETY: the pointer is a reference's.
    u16::try_from(unsafe { quotient_number(count.0, quotient) }).ok()
}

/// `portable::summed`, by a kernel.
#[inline]
pub(crate) fn summed<F>(samples: &[u16], below: u16, none: F, at_rail: F) -> (Count, F) {
    summed_or(
        window::window_sum(samples, below),
        samples,
        below,
        (none, at_rail),
    )
}

/// Copies samples to as many places and answers their sum; none if one is at a rail, and for numbers that are not for the kernel.
#[inline]
pub(crate) fn copied_sum(samples: &[Sample], places: &mut [u16], top_code: Sample) -> Option<u32> {
    let fours = u32::from(fours(samples, places)?);
    let last = u32::from(top_code.0.saturating_sub(1));
    // SAFETY: there are 1 to 64 fours of samples, and as many places; what is borrowed mutably does not overlap.
    let sum = unsafe { sum_number(samples.as_ptr(), places.as_mut_ptr(), fours, last) };
    (sum >> 24 == 0).then_some(sum)
}

/// `floor(2^22 / (128 (i + 129)))`: never more than 2^22 / D for a D from 2^14 on whose bits from 7 on are i + 128.
static SEEDS: [u8; 384] = seeds();

#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::indexing_slicing,
    reason = "constants: the index runs over the table, and 2^15 / 129 is below 2^8"
)]
const fn seeds() -> [u8; 384] {
    let mut seeds = [0; 384];
    let mut index = 0;
    while index < seeds.len() {
        seeds[index] = ((1 << 15) / (index + 129)) as u8;
        index += 1;
    }
    seeds
}

/// The value at a count, or 2^16 outside the counts. n = K + D / 2 over D, rounded down, D from 2^14 to below 2^16: a smaller one is doubled until it is,
/// and n with it, which stays below 2^16 D. With T a seed, at most 2^22 / D,
///
/// ```text
/// u = floor(floor(n / 2^8) T / 2^14)          at most n / D
/// e = floor(floor((n - u D) / 2^8) T / 2^14)  at most what u lacks
/// v = u + e, and 1 more for each D that is left
/// ```
///
/// Nothing wraps: n is below 2^32 and T below 2^8, and no estimate exceeds the quotient.
///
/// # Safety
/// `quotient` can be read.
#[unsafe(naked)]
pub(crate) unsafe extern "C" fn quotient_number(count: u32, quotient: *const Quotient) -> u32 {
    naked_asm!(
        "ldmia r1!, {{r2, r3}}",
        "subs r0, r0, r2",
        "cmp r0, r3",
        "bhs 9f",
        "ldrb r2, [r1, #{half_step}]",
        "muls r0, r2, r0",
        "ldmia r1!, {{r2, r3}}",
        // r1 = D / 2, r3 = n.
        "adds r1, r0, r3",
        "adds r3, r2, r1",
        "lsls r1, r1, #1",
        "lsrs r0, r1, #7",
        "subs r0, #128",
        "blo 3f",
        "2: ldr r2, 8f",
        "ldrb r0, [r2, r0]",
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
        "1: subs r3, r3, r1",
        "blo 4f",
        "adds r0, #1",
        "b 1b",
        "4: bx lr",
        "3: lsls r3, r3, #1",
        "lsls r1, r1, #1",
        "lsrs r0, r1, #14",
        "beq 3b",
        "lsrs r0, r1, #7",
        "subs r0, #128",
        "b 2b",
        "9: movs r0, #1",
        "lsls r0, r0, #16",
        "bx lr",
        ".balign 4",
        "8: .word {seeds}",
        half_step = const offset_of!(Quotient, half_step) - 8,
        seeds = sym SEEDS,
    )
}

// Words that are loaded in pairs, the second behind the first.
const _: () = assert!(
    offset_of!(Quotient, first) == 0
        && offset_of!(Quotient, counts) == 4
        && offset_of!(Quotient, numerator) == 8
        && offset_of!(Quotient, half_at_first) == 12
);

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
