//! What both kernels of sums take.

/// The number of samples in fours: none for numbers of samples that are no multiple of 4, above 256, or not that of the places.
#[expect(clippy::cast_possible_truncation, reason = "at most 64 fours")]
pub(crate) const fn fours(samples: &[u16], places: &[u16]) -> Option<u16> {
    let number = samples.len();
    if number < 4 || number > 256 || !number.is_multiple_of(4) || number != places.len() {
        return None;
    }
    Some((number / 4) as u16)
}
