//! The exact factor of a front end, reduced to lowest terms.

/// `numerator / denominator` in lowest terms.
///
/// # Range
/// Both at least 1 and below 2^62.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct Factor {
    pub(crate) numerator: u64,
    pub(crate) denominator: u64,
}

impl Factor {
    /// Reduces a fraction.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "both are at least 1, so their greatest common divisor is; the divisions are exact"
    )]
    pub(crate) const fn reduced(numerator: u64, denominator: u64) -> Self {
        let common = greatest_common_divisor(numerator, denominator);
        Self {
            numerator: numerator / common,
            denominator: denominator / common,
        }
    }
}

/// Euclid's algorithm.
#[expect(clippy::arithmetic_side_effects, reason = "b is not 0 inside the loop")]
const fn greatest_common_divisor(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}
