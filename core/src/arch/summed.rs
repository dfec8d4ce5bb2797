//! What both kernels of a window's sum leave to the portable function.

use super::portable;
use crate::units::Count;

/// What a kernel found, which is of samples that are not at a rail, or the portable answer: `answers` for none at a rail, and for one.
#[inline]
pub(crate) fn summed_or<F>(
    sum: Option<u32>,
    samples: &[u16],
    below: impl FnOnce() -> u16,
    answers: (F, F),
) -> (Count, F) {
    match sum {
        Some(sum) => (Count(sum), answers.0),
        None => summed_apart(samples, below(), answers),
    }
}

/// Apart, so that the many registers of the portable loop are not saved where the kernel answers.
#[cold]
#[inline(never)]
fn summed_apart<F>(samples: &[u16], below: u16, answers: (F, F)) -> (Count, F) {
    portable::summed(samples, below, || below, answers)
}
