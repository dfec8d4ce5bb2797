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
