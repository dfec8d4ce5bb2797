//! The samples of a whole window, checked and summed where they lie: two in a word.
//!
//! With n bits a sample, n at most 12 for sixteen samples, a word holds two lanes of 16 bits:
//!
//! ```text
//! a = lane + 1               bits n and above are 0 unless the sample is 2^n - 1, the top code, or above
//! b = a + 2^n - 2            bit n is 1 unless the sample is 0
//! ```
//!
//! A lane of 2^16 - 1 becomes an a of 0, whose b has no bit n. A lane that carries into its neighbour is itself seen by its own bits. All a
//! are united and all b intersected, and looked at once.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::naked_asm;

/// What [`window_sum`] takes of the top code less one: itself, or 0 where the kernel does not serve: for fewer than 8 samples, where half of
/// them could overflow a lane, and for no whole width.
///
/// # Range
/// `number` a power of two from 1 to 1024. A sample has 8 bits or more, so of more than 256 samples half could overflow.
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "at most 2^16 + 1, and at most 1024 samples: below 2^32"
)]
pub(crate) const fn edge(below: u16, number: usize) -> u16 {
    let end = below as u32 + 2;
    if number < 8 || !end.is_power_of_two() || end * (number as u32 / 2) >= 1 << 16 {
        return 0;
    }
    below
}

/// The sum of as many samples as the edge was made for; none where that is 0, and where one is at a rail.
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "at most 256 samples"
)]
pub(in crate::arch) fn window_sum(samples: &[u16], edge: u16) -> Option<u32> {
    if edge == 0 {
        return None;
    }
    // SAFETY: there are 1 to 32 eights of samples.
    let sum = unsafe { window_number(samples.as_ptr(), samples.len() as u32 * 2, edge.into()) };
    (sum != u32::MAX).then_some(sum)
}

/// The sum, or all bits where a sample is 0, or less one not below `below`.
///
/// Not aligned to a word, the first and the last sample make up a word of their own.
///
/// # Safety
/// As many `bytes` of samples can be read, 16 to 512 and a multiple of 16. `below` and 2 are a power of two from 4 to 2^15, and half as many
/// samples of it are below 2^16.
#[unsafe(naked)]
pub(crate) unsafe extern "C" fn window_number(samples: *const u16, bytes: u32, below: u32) -> u32 {
    naked_asm!(
        ".macro take lane",
        "adds r1, r1, \\lane",
        "adds \\lane, \\lane, r3",
        "orrs r5, \\lane",
        "adds \\lane, \\lane, r4",
        "ands r6, \\lane",
        ".endm",
        "push {{r4, r5, r6, r7, lr}}",
        "adds r7, r0, r1",
        // In each lane, r3: 1, r4: below.
        "ldr r3, 8f",
        "lsls r4, r2, #16",
        "orrs r4, r2",
        // r1: the sum, r5: all a united, r6: all b intersected.
        "movs r1, #0",
        "movs r5, #0",
        "mvns r6, r1",
        "lsls r2, r0, #30",
        "bpl 1f",
        "subs r7, #2",
        "mov r12, r7",
        "ldrh r7, [r7]",
        "lsls r7, r7, #16",
        "ldrh r2, [r0]",
        "orrs r2, r7",
        "adds r0, #2",
        "ldmia r0!, {{r7}}",
        "b 3f",
        "1: mov r12, r7",
        "2: ldmia r0!, {{r2, r7}}",
        "3:",
        "take r2",
        "take r7",
        "ldmia r0!, {{r2, r7}}",
        "take r2",
        "take r7",
        "cmp r0, r12",
        "bne 2b",
        // In each lane, r4: below and 2, r7: below and 1.
        "adds r7, r4, r3",
        "adds r4, r7, r3",
        "bics r5, r7",
        "bics r4, r6",
        "orrs r5, r4",
        "bne 9f",
        "lsrs r0, r1, #16",
        "uxth r1, r1",
        "adds r0, r0, r1",
        "pop {{r4, r5, r6, r7, pc}}",
        "9: movs r0, #0",
        "mvns r0, r0",
        "pop {{r4, r5, r6, r7, pc}}",
        ".balign 4",
        "8: .word 0x00010001",
        ".purgem take",
    )
}
