//! The sum of a rounded-down straight line over a whole range, without walking the range.

use crate::rounding::divide_floor_u128;

/// Sum over k = 0 .. `terms` - 1 of `floor((slope * k + intercept) / denominator)`.
///
/// The sum counts lattice points below a line. Whole multiples of the denominator are summed in closed form; what is
/// left lies in a box `terms` wide and `top` high, and read from the box's far corner with the axes swapped it is a
/// smaller sum of the same kind. As in Euclid's algorithm the steps grow with the logarithm of `terms` only.
///
/// # Range
/// `denominator` at least 1; `(terms + 1) * denominator` below 2^127; every summand below 2^27 and `terms` at most 2^26,
/// so the result is below 2^53 (below 2^42 for an exact line; more for a multiplier tried in vain).
///
/// # Rounding
/// Exact.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "terms >= 1 inside the loop; once reduced, slope and intercept are below denominator, so the reach is below \
              (terms + 1) * denominator; every part added is a part of the result"
)]
pub(crate) const fn floor_sum(
    mut terms: u128,
    mut slope: u128,
    mut intercept: u128,
    mut denominator: u128,
) -> u128 {
    let mut sum = 0;
    while terms > 0 {
        let (whole_slope, slope_rest) = divide_floor_u128(slope, denominator);
        let (whole_intercept, intercept_rest) = divide_floor_u128(intercept, denominator);
        sum += whole_slope * (terms * (terms - 1) / 2) + whole_intercept * terms;
        let (top, reach_rest) = divide_floor_u128(slope_rest * terms + intercept_rest, denominator);
        terms = top;
        slope = denominator;
        intercept = reach_rest;
        denominator = slope_rest;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::floor_sum;

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "the cases below stay under 2^110"
    )]
    fn walked(terms: u128, slope: u128, intercept: u128, denominator: u128) -> u128 {
        (0..terms)
            .map(|k| (slope * k + intercept) / denominator)
            .sum()
    }

    #[test]
    fn equals_the_walked_sum_for_every_small_line() {
        for denominator in 1..12 {
            for slope in 0..30 {
                for intercept in 0..15 {
                    for terms in 0..10 {
                        assert_eq!(
                            floor_sum(terms, slope, intercept, denominator),
                            walked(terms, slope, intercept, denominator),
                            "{terms} {slope} {intercept} {denominator}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn equals_the_walked_sum_at_the_widths_of_a_calibrated_divider() {
        let (slope, intercept, denominator) = (
            (1_u128 << 92) - 12_345_678_901,
            (1_u128 << 91) + 97,
            (1_u128 << 92) - 59,
        );
        assert_eq!(
            floor_sum(70_000, slope, intercept, denominator),
            walked(70_000, slope, intercept, denominator)
        );
    }
}
