//! The few rational helpers of the model.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::ToPrimitive;

/// A whole number as a fraction.
#[must_use]
pub fn whole(value: u32) -> BigRational {
    BigRational::from_integer(BigInt::from(value))
}

/// A small fraction.
///
/// # Panics
/// For a denominator of 0, as division does.
#[must_use]
pub fn fraction(numerator: i64, denominator: i64) -> BigRational {
    BigRational::new(BigInt::from(numerator), BigInt::from(denominator))
}

/// The nearest integer; a tie goes upward.
#[must_use]
pub fn nearest_ties_up(value: &BigRational) -> BigInt {
    (value + fraction(1, 2)).floor().to_integer()
}

/// A value as decimal text with `places` decimals, rounded to nearest, ties upward.
#[must_use]
pub fn decimal_text(value: &BigRational, places: u32) -> String {
    let scale = BigInt::from(10).pow(places);
    let scaled = nearest_ties_up(&(value * BigRational::from_integer(scale.clone())));
    let sign = if scaled < BigInt::from(0) { "-" } else { "" };
    let digits = scaled.magnitude();
    let scale = scale.magnitude();
    if places == 0 {
        return format!("{sign}{digits}");
    }
    format!(
        "{sign}{}.{:0>width$}",
        digits / scale,
        (digits % scale).to_string(),
        width = places as usize
    )
}

/// A value for statistics.
#[must_use]
pub fn float(exact: &BigRational) -> f64 {
    exact.to_f64().unwrap_or(f64::NAN)
}

/// Microvolts in millivolts, for statistics.
#[must_use]
pub fn in_millivolts(uv: u32) -> f64 {
    f64::from(uv) / 1000.0
}

/// A value for statistics that may not be stated.
#[must_use]
pub fn float_or_zero(exact: &Option<BigRational>) -> f64 {
    exact.as_ref().map_or(0.0, float)
}

/// Two values, the smaller one first.
#[must_use]
pub fn in_order(one: BigRational, other: BigRational) -> (BigRational, BigRational) {
    if one <= other {
        (one, other)
    } else {
        (other, one)
    }
}

#[cfg(test)]
mod tests {
    use super::{decimal_text, fraction, nearest_ties_up};

    #[test]
    fn ties_go_upward_on_both_sides_of_zero() {
        for (numerator, nearest) in [(-3, -1), (-1, 0), (1, 1), (3, 2), (5, 3)] {
            assert_eq!(nearest_ties_up(&fraction(numerator, 2)), nearest.into());
        }
    }

    #[test]
    fn decimals_are_padded_and_signed() {
        assert_eq!(decimal_text(&fraction(1, 3), 6), "0.333333");
        assert_eq!(decimal_text(&fraction(-1, 200), 2), "0.00");
        assert_eq!(decimal_text(&fraction(-5, 4), 3), "-1.250");
        assert_eq!(decimal_text(&fraction(7, 2), 0), "4");
    }
}
