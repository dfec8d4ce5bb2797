//! Kernels for Cortex-M0+ with the single-cycle multiplier, in the C calling convention: what the compiler makes of the portable functions
//! leaves the rest nothing to gain.
#![expect(unsafe_code, reason = "assembly")]

mod module;
mod window;

use core::arch::naked_asm;

pub(crate) use self::window::edge;
pub(crate) use super::portable::{drawn, line, temperature};
use super::samples::fours;
use super::summed::summed_or;
use crate::units::{Count, Sample};

/// `portable::summed`, by a kernel.
#[inline]
pub(crate) fn summed<F>(
    samples: &[u16],
    edge: u16,
    below: impl FnOnce() -> u16,
    answers: (F, F),
) -> (Count, F) {
    let sum = window::window_sum(samples, edge);
    summed_or(sum, samples, below, answers)
}

/// Copies samples to as many places and answers their sum; none if one is at a rail, and for numbers that are not for the kernel.
#[inline]
pub(crate) fn copied_sum(samples: &[u16], places: &mut [u16], top_code: Sample) -> Option<u32> {
    let fours = u32::from(fours(samples, places)?);
    let last = u32::from(top_code.0.saturating_sub(1));
    // SAFETY: there are 1 to 64 fours of samples, and as many places; what is borrowed mutably does not overlap.
    let sum = unsafe { sum_number(samples.as_ptr(), places.as_mut_ptr(), fours, last) };
    (sum >> 24 == 0).then_some(sum)
}

/// The sum of four times `fours` samples, below 2^24, which are copied to as many places; or all bits where a sample less one, which
/// is the largest number for 0, is `last` or more, and some places are written then.
///
/// # Safety
/// Four times `fours`, which is 1 to 64, samples can be read and as many places written, and they do not overlap.
#[unsafe(naked)]
pub(crate) unsafe extern "C" fn sum_number(
    samples: *const u16,
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
