//! The value of a quotient at a position.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;

use crate::arch::Quotient;
use crate::arch::portable::position;
use crate::units::Count;

/// `portable::quotient`.
#[inline]
pub(crate) fn quotient(quotient: &Quotient, count: Count) -> Option<u16> {
    let position = position(count, quotient.first, quotient.counts)?;
    Some(divided(quotient, position))
}

/// Moves this many bits of the value out of its register; as many bits of the quotient take their place.
macro_rules! digits {
    ($number:literal, $value:literal) => {
        concat!(
            ".rept ",
            $number,
            "\nrol ",
            $value,
            "\nrol r18\nrol r19\ncp r18, r22\ncpc r19, r23\nbrcs 5f\nsub r18, r22\nsbc r19, r23\n5:\n.endr"
        )
    };
}

/// Sixteen steps of shift, compare and subtract without a loop, or thirteen for a value below 2^13.
///
/// With n = floor((K + h) / 2) the value is floor(n / h), and floor(n / 2^16) is a remainder below h from the start. Where floor(n / 2^13)
/// is one too, three steps have nothing to do. In a step the uppermost bit of the value's register leaves it on the left, and the complement of the
/// quotient's bit comes in from the right: it is the comparison's carry, and a subtraction that happens leaves none, so the next shift
/// takes it in as it stands. The three bits of steps that are left out are ones; what the first shift takes in leaves again. h is below 2^16, so the
/// second product is below 2^8 and r1 is 0 from there.
///
/// Registers: h r23:r22, value r25:r24, remainder r19:r18.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    reason = "halves, and a step of 2^6 at most"
)]
fn divided(quotient: &Quotient, position: u16) -> u16 {
    let Quotient {
        numerator,
        half_at_first,
        half_step,
        ..
    } = *quotient;
    let units;
    // SAFETY: changes the operands, r0, and r1, which is 0 after the second product.
    unsafe {
        asm!(
            "mul {p:l}, {step}",
            "add r22, r0",
            "adc r23, r1",
            "mul {p:h}, {step}",
            "add r23, r0",
            "add r24, r22",
            "adc r25, r23",
            "adc r18, r1",
            "adc r19, r1",
            "lsr r19",
            "ror r18",
            "ror r25",
            "ror r24",
            "cpi r19, 32",
            "brcc 3f",
            ".rept 3",
            "lsl r25",
            "rol r18",
            "rol r19",
            ".endr",
            "ori r25, 7",
            "cp r18, r22",
            "cpc r19, r23",
            "brcs 6f",
            ".rept 3",
            "lsr r19",
            "ror r18",
            "ror r25",
            ".endr",
            "3:",
            digits!(3, "r25"),
            "6:",
            digits!(5, "r25"),
            "rol r25",
            digits!(8, "r24"),
            "rol r24",
            "com r24",
            "com r25",
            p = in(reg_pair) position,
            step = in(reg) half_step.0 as u8,
            inout("r19r18") (numerator >> 16) as u16 => _,
            inout("r25r24") numerator as u16 => units,
            inout("r23r22") half_at_first => _,
            options(pure, nomem, nostack),
        );
    }
    units
}
