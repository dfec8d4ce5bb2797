//! What both kernels of sums take.

use crate::units::Sample;

/// The number of samples in fours: none for numbers of samples that are no multiple of 4, above 256, or not that of the places.
#[expect(
    clippy::cast_possible_truncation,
    clippy::arithmetic_side_effects,
    reason = "at most 64 fours"
)]
pub(crate) const fn fours(samples: &[Sample], places: &[u16]) -> Option<u16> {
    let number = samples.len();
    if number < 4 || number > 256 || number % 4 != 0 || number != places.len() {
        return None;
    }
    Some((number / 4) as u16)
}
