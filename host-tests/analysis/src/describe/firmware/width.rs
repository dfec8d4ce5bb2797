//! The width of a front end's counts, from a number to the type that the crate wants.

use tallyvolt::bounds;

/// Something to do with the conversion of one width.
pub trait AtWidth {
    /// What comes of it.
    type Answer;

    /// Does it for counts of `BITS` bits.
    fn at<const BITS: u32>(self) -> Self::Answer;
}

/// Bits of the narrowest conversion that takes counts up to `largest_count`: 8 to 16, or 26.
pub fn count_bits(largest_count: u32) -> u32 {
    match u32::BITS - largest_count.leading_zeros() {
        0..=8 => 8,
        bits @ 9..=16 => bits,
        _ => u32::try_from(bounds::COUNT_BITS.max).unwrap_or(u32::BITS),
    }
}

/// Does it for the narrowest conversion that takes counts up to `largest_count`.
pub fn at_width<J: AtWidth>(largest_count: u32, job: J) -> J::Answer {
    match count_bits(largest_count) {
        8 => job.at::<8>(),
        9 => job.at::<9>(),
        10 => job.at::<10>(),
        11 => job.at::<11>(),
        12 => job.at::<12>(),
        13 => job.at::<13>(),
        14 => job.at::<14>(),
        15 => job.at::<15>(),
        16 => job.at::<16>(),
        _ => job.at::<26>(),
    }
}
