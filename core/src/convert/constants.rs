//! The constants of conversions: as a person reads them, and as a record stores them.

use crate::rounding::shift_floor_u32;

/// M, B and S of a line, and the counts it is for: what a person reads and a record stores.
///
/// # Range
/// Any numbers; a conversion made of them checks that all counts from `first` on give a voltage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LineConstants {
    /// The first count that is a voltage.
    pub first: u32,
    /// How many counts are.
    pub counts: u32,
    /// M, in output units a count times 2^S.
    pub factor: u128,
    /// B, in output units times 2^S, the half that rounds included.
    pub addend: u128,
    /// S.
    pub shift: u8,
}

/// K, t and D of a quotient, and the counts it is for: what a person reads and a record stores.
///
/// # Range
/// Any numbers; a conversion made of them checks that all counts from `first` on give a voltage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct QuotientConstants {
    /// The first count that is a voltage.
    pub first: u32,
    /// How many counts are.
    pub counts: u32,
    /// K, in output units times the unit of D.
    pub numerator: u64,
    /// D at the first count; even.
    pub at_first: u32,
    /// t: D grows by 2^t from one count to the next; at least 1.
    pub step_log2: u8,
}

/// Constants as a record stores them: first, counts, two words, and two halves of 16 bits, the lower one first.
///
/// A line's: M and B of the short form, or their upper 32 and lower 16 bits at S = 32. A quotient's: K's lower 32 bits and D at the first
/// count, then K's upper 16 bits and 0.
pub(crate) type Words = [u32; 5];

/// The lower and the upper 16 bits of a word.
#[expect(
    clippy::cast_possible_truncation,
    reason = "halves on purpose: each is below 2^16"
)]
pub(crate) const fn halves(word: u32) -> [u16; 2] {
    [word as u16, shift_floor_u32(word, 16) as u16]
}

/// Words of their numbers.
pub(crate) const fn words(
    first: u32,
    counts: u32,
    [factor, addend]: [u32; 2],
    [factor_low, addend_low]: [u16; 2],
) -> Words {
    let low = (addend_low as u32) << 16 | factor_low as u32;
    [first, counts, factor, addend, low]
}
