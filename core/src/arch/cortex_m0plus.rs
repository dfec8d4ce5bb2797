//! Kernel for Cortex-M0+ with the single-cycle multiplier: the refinement of `reciprocal.rs` in the registers it needs.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::asm;

use crate::reciprocal::{E_END, E_MIN, Reciprocal, SEEDS};

/// `Reciprocal::at`.
#[inline]
pub(super) fn quotient(reciprocal: &Reciprocal, position: u32) -> u16 {
    let e = reciprocal.e(position);
    if e.wrapping_sub(E_MIN) >= E_END - E_MIN {
        return reciprocal.rare(e);
    }
    let (low, top) = reciprocal.numerator();
    let value: u32;
    // SAFETY: E is in 2^24 .. 2^27, so the one load reads SEEDS[(E >> 20) - 16], within the table; changes only the operands
    // and flags.
    unsafe {
        asm!(
            "lsrs {a}, {e}, #20",
            "subs {a}, #16",
            "ldrb {t}, [{t}, {a}]",
            "lsrs {a}, {e}, #1",
            "muls {a}, {t}, {a}",
            "rsbs {a}, {a}, #0",
            "lsrs {a}, {a}, #15",
            "muls {t}, {a}, {t}",
            "lsrs {t}, {t}, #8",
            "muls {top}, {t}, {top}",
            "lsrs {top}, {top}, #16",
            "movs {a}, {top}",
            "muls {a}, {e}, {a}",
            "subs {low}, {low}, {a}",
            "lsrs {a}, {low}, #16",
            "muls {a}, {t}, {a}",
            "lsrs {a}, {a}, #24",
            "adds {top}, {top}, {a}",
            "muls {a}, {e}, {a}",
            "subs {low}, {low}, {a}",
            "movs {a}, #0",
            "lsrs {e}, {e}, #1",
            "cmp {low}, {e}",
            "adcs {top}, {a}",
            e = inout(reg) e => _,
            t = inout(reg) SEEDS.as_ptr() => _,
            low = inout(reg) low => _,
            top = inout(reg) top => value,
            a = out(reg) _,
            options(pure, readonly, nostack),
        );
    }
    value as u16
}
