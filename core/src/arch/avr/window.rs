//! The samples of a whole window, checked and summed where they lie.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;

/// The sum of 4 to 256 samples; none if one less one is not below `below`, and for numbers of samples that are no multiple of 4.
///
/// At most 256 samples of 16 bits sum to three bytes: r19, r23 and r22.
#[inline]
#[expect(clippy::cast_possible_truncation, reason = "at most 64 fours")]
pub(in crate::arch) fn window_sum(samples: &[u16], below: u16) -> Option<u32> {
    let number = samples.len();
    if !(4..=256).contains(&number) || !number.is_multiple_of(4) {
        return None;
    }
    let (mut low, mut high): (u16, u8) = (0, 0);
    let mut fours = (number / 4) as u8;
    // SAFETY: reads the samples, as many as there are, and changes no other register than is declared changed.
    unsafe {
        asm!(
            "1:",
            ".rept 4",
            "ld r24, X+",
            "ld r25, X+",
            "add {low:l}, r24",
            "adc {low:h}, r25",
            "adc {high}, r1",
            "sbiw r24, 1",
            "cp r24, {below:l}",
            "cpc r25, {below:h}",
            "brcc 2f",
            ".endr",
            "dec {fours}",
            "brne 1b",
            // 0 fours are left where no sample is at a rail.
            "2:",
            low = inout(reg_pair) low,
            high = inout(reg) high,
            below = in(reg_pair) below,
            fours = inout(reg) fours,
            inout("X") samples.as_ptr() => _,
            out("r24") _,
            out("r25") _,
            options(nostack, readonly),
        );
    }
    (fours == 0).then_some(u32::from(high) << 16 | u32::from(low))
}
