//! Kernels for AVR with a hardware multiplier (8 x 8 bits in two cycles).
//!
//! The compiler calls a routine for every 32-bit product, saves registers for it, and shifts 32-bit numbers one bit a loop. These form the
//! partial products in place; r1 is 0 again at the end. They call nothing, so they run on chips without `call` and `jmp`.

mod drawn;
mod line;
mod quotient;
mod samples;
#[cfg(not(target_feature = "elpm"))]
mod tabled;
mod temperature;
mod window;

pub(crate) use super::portable::edge;
use super::summed::summed_or;
use crate::units::Count;

pub(crate) use drawn::drawn;
pub(crate) use line::line;
pub(crate) use quotient::quotient;
pub(crate) use samples::copied_sum;
#[cfg(not(target_feature = "elpm"))]
pub(crate) use tabled::{Reciprocal, tabled_units};
pub(crate) use temperature::temperature;

/// `portable::summed`, by a kernel.
#[inline]
pub(crate) fn summed<F>(
    samples: &[u16],
    edge: u16,
    _below: impl FnOnce() -> u16,
    answers: (F, F),
) -> (Count, F) {
    let sum = window::window_sum(samples, edge);
    summed_or(sum, samples, || edge, answers)
}
