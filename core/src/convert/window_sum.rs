//! The sum of a whole window of samples where they lie, and whether one of them stands at a rail.

use crate::units::Count;

/// The sum of at most 1024 samples, and `at_rail` where one is 0, or less one is not below `below`, the top code less one; else `none`.
///
/// What is to be answered is handed in, so that a kernel's answer need not be looked at again.
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    reason = "at most 1024 samples of 65 535 are summed, below 2^26"
)]
pub(crate) fn summed<F>(samples: &[u16], below: u16, none: F, at_rail: F) -> (Count, F) {
    let (mut sum, mut railed) = (0, false);
    for sample in samples {
        sum += u32::from(*sample);
        // Less one, 0 is the largest number, so one comparison tells.
        railed |= usize::from(*sample).wrapping_sub(1) >= usize::from(below);
    }
    (Count(sum), if railed { at_rail } else { none })
}
