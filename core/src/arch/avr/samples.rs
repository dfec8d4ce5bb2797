//! The samples of a whole window, copied, checked and summed in one loop.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;

use crate::arch::samples::fours;
use crate::units::Sample;

/// Copies samples to as many places and answers their sum; none if one is at a rail, and for numbers that are not for the kernel.
#[inline]
pub(crate) fn copied_sum(samples: &[u16], places: &mut [u16], top_code: Sample) -> Option<u32> {
    let fours = fours(samples, places)?;
    let last = top_code.0.saturating_sub(1);
    // SAFETY: there are 1 to 64 fours of samples, and as many places; what is borrowed mutably does not overlap.
    let sum = unsafe { sum_number(samples.as_ptr(), fours, places.as_mut_ptr(), last) };
    (sum >> 24 == 0).then_some(sum)
}

/// In: samples r25:r24, their number in fours r23:r22, places r21:r20, the top code less one r19:r18. Out: the sum r25 to r22, or 255 in
/// r25 where a sample less one, which is the largest number for 0, is the top code less one or more; some places are written then.
///
/// The sum of at most 256 samples of 16 bits takes three bytes, r20 to r22.
///
/// # Safety
/// Four times `fours`, which is 1 to 64, samples can be read and as many places written, and they do not overlap.
#[inline(never)]
pub(crate) unsafe extern "C" fn sum_number(
    samples: *const u16,
    fours: u16,
    places: *mut u16,
    last: u16,
) -> u32 {
    let (high, low): (u16, u16);
    // SAFETY: reads and writes what the caller promises; changes the operands, what is declared changed, and no other register.
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
            options(nostack),
        );
    }
    (u32::from(high) << 16) | u32::from(low)
}
