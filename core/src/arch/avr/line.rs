//! The value of a line at a count.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;
use core::ptr::read_volatile;

use crate::arch::Line;
use crate::arch::portable::position;
use crate::units::Count;

/// `portable::line`.
///
/// M and position have 16 bits: four byte products onto B, the highest first, which carries nothing on. The sum is below 2^32. Its upper 16
/// bits are the value over 2^16; S is 11 to 19, so the position is shifted, as B already is, or the value.
#[inline(always)]
#[expect(clippy::inline_always, reason = "operands in place")]
pub(crate) fn line<const BITS: u32>(line: &Line, count: Count) -> Option<u16> {
    // SAFETY: references. Volatile, so that the compiler loads them by one pointer, and not after the comparison by another.
    let (factor, addend) = unsafe {
        (
            read_volatile(&raw const line.factor),
            read_volatile(&raw const line.addend),
        )
    };
    let position = position(count, line.first, line.counts)? << Line::scale(BITS);
    let sum = upper_half(factor, position, addend);
    Some(sum >> BITS.saturating_sub(13))
}

/// The upper half of `factor * position + addend`, which is below 2^32.
#[inline(always)]
#[expect(
    clippy::inline_always,
    clippy::cast_possible_truncation,
    reason = "operands in place; halves"
)]
fn upper_half(factor: u16, position: u16, addend: u32) -> u16 {
    let units;
    // SAFETY: changes the operands, and r0 and r1, which is zero again at the end.
    unsafe {
        asm!(
            "ldi {z}, 0",
            "mul {p:h}, {m:h}",
            "add {high:l}, r0",
            "adc {high:h}, r1",
            "mul {p:l}, {m:h}",
            "add {low:h}, r0",
            "adc {high:l}, r1",
            "adc {high:h}, {z}",
            "mul {p:h}, {m:l}",
            "add {low:h}, r0",
            "adc {high:l}, r1",
            "adc {high:h}, {z}",
            "mul {p:l}, {m:l}",
            "add {low:l}, r0",
            "adc {low:h}, r1",
            "adc {high:l}, {z}",
            "adc {high:h}, {z}",
            "clr r1",
            p = in(reg_pair) position,
            m = in(reg_pair) factor,
            low = inout(reg_pair) addend as u16 => _,
            high = inout(reg_pair) (addend >> 16) as u16 => units,
            z = out(reg_upper) _,
            options(pure, nomem, nostack),
        );
    }
    units
}
