//! Kernel for Cortex-M0+ with the single-cycle multiplier.
#![expect(unsafe_code, reason = "assembly")]

use crate::reciprocal::Reciprocal;

/// `Reciprocal::at`.
#[inline]
pub(super) fn quotient(reciprocal: &Reciprocal, position: u32) -> u16 {
    reciprocal.at(position)
}
