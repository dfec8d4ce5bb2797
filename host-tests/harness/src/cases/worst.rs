//! Counts whose exact value is nearest to a rounding boundary: where a wrong digit shows first.
//!
//! The distance of a count is that of twice its exact value from the nearest odd number; at 0 the value is a tie.

use num_integer::Integer;
use num_rational::BigRational;
use num_traits::Signed;
use rayon::prelude::*;
use tallyvolt_model::Model;
use tallyvolt_model::rational::fraction;

/// A count beside a boundary.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Worst {
    /// Distance of the exact value from the boundary, in output units; negative below it.
    pub distance: BigRational,
    /// The count.
    pub count: u32,
}

/// The `number` counts with a voltage nearest to a boundary from below, where rounding up would be wrong, and as many at
/// or above it, where rounding down would be; nearest first, each kind by itself.
#[must_use]
pub fn counts(model: &Model, number: usize) -> (Vec<Worst>, Vec<Worst>) {
    let (below, above): (Vec<_>, Vec<_>) = (1..model.largest_count())
        .into_par_iter()
        .filter_map(|count| {
            let units = model.units(count)?;
            let distance = distance(&units);
            is_voltage(&units).then_some(Worst { distance, count })
        })
        .partition(|worst| worst.distance.is_negative());
    (nearest(below, number), nearest(above, number))
}

/// The `number` nearest to their boundary, in order. Only these are sorted: comparing two fractions takes long.
fn nearest(mut found: Vec<Worst>, number: usize) -> Vec<Worst> {
    let order = |one: &Worst, other: &Worst| {
        let nearer = one.distance.abs().cmp(&other.distance.abs());
        nearer.then(one.count.cmp(&other.count))
    };
    if number < found.len() {
        found.select_nth_unstable_by(number, order);
        found.truncate(number);
    }
    found.sort_by(order);
    found
}

/// Whether a value rounds to 0 to 65 535.
fn is_voltage(units: &BigRational) -> bool {
    *units >= fraction(-1, 2) && *units < fraction(131_071, 2)
}

/// Distance of a value from the nearest boundary `k + 1/2`, negative below it; -1/2 to below 1/2.
#[must_use]
pub fn distance(units: &BigRational) -> BigRational {
    // With the value n / d: twice the distance above a boundary is (2n - d) / d, modulo 2.
    let (n, d) = (units.numer(), units.denom());
    let above = (n + n - d).mod_floor(&(d + d));
    let distance = if above < *d { above } else { above - d - d };
    BigRational::new_raw(distance, d + d)
}

#[cfg(test)]
mod tests {
    use super::distance;
    use tallyvolt_model::rational::fraction;

    #[test]
    fn distances_by_hand() {
        for (value, expected) in [
            ((1, 2), (0, 1)),
            ((3, 4), (1, 4)),
            ((1, 4), (-1, 4)),
            ((2, 1), (-1, 2)),
            ((-3, 4), (-1, 4)),
        ] {
            assert_eq!(
                distance(&fraction(value.0, value.1)),
                fraction(expected.0, expected.1),
                "{value:?}"
            );
        }
    }
}
