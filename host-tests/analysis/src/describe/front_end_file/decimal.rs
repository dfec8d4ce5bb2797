//! Decimal numbers as written, as exact fractions: nothing passes through a float.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Num, Zero};

/// Most digits and the largest exponent that are read; enough for any part, and small enough to stay quick.
const DIGITS_MAX: usize = 40;
const EXPONENT_MAX: i32 = 30;

/// Reads an integer or decimal, with optional sign, digit separators `_` and exponent.
///
/// # Errors
/// A sentence that says what is wrong: not a number, infinite, or longer than 40 digits or an exponent beyond 30.
pub fn exact(text: &str) -> Result<BigRational, String> {
    let plain: String = text.chars().filter(|c| *c != '_').collect();
    let (mantissa, exponent) = match plain.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => {
            let exponent = exponent
                .parse::<i32>()
                .ok()
                .filter(|e| e.abs() <= EXPONENT_MAX)
                .ok_or_else(|| format!("the exponent must be -{EXPONENT_MAX} to {EXPONENT_MAX}"))?;
            (mantissa, exponent)
        }
        None => (plain.as_str(), 0),
    };
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    if whole.len() + fraction.len() > DIGITS_MAX {
        return Err(format!("more than {DIGITS_MAX} digits"));
    }
    let digits = BigInt::from_str_radix(&format!("{whole}{fraction}"), 10)
        .map_err(|_| "not a decimal number".to_owned())?;
    let places = i32::try_from(fraction.len()).unwrap_or(EXPONENT_MAX) - exponent;
    let power = BigInt::from(10).pow(places.unsigned_abs());
    Ok(if digits.is_zero() {
        BigRational::zero()
    } else if places >= 0 {
        BigRational::new(digits, power)
    } else {
        BigRational::from_integer(digits * power)
    })
}

#[cfg(test)]
mod tests {
    use super::exact;
    use num_bigint::BigInt;
    use num_rational::BigRational;

    fn ratio(numerator: i64, denominator: i64) -> BigRational {
        BigRational::new(BigInt::from(numerator), BigInt::from(denominator))
    }

    #[test]
    fn reads_what_binary_floats_cannot_hold() {
        assert_eq!(exact("0.1"), Ok(ratio(1, 10)));
        assert_eq!(exact("24_897.3"), Ok(ratio(248_973, 10)));
        assert_eq!(exact("-1.5e3"), Ok(ratio(-1500, 1)));
        assert_eq!(exact("+12E-2"), Ok(ratio(12, 100)));
        assert_eq!(exact("0.0"), Ok(ratio(0, 1)));
    }

    #[test]
    fn refuses_what_is_no_number_or_too_long() {
        for text in [
            "inf",
            "nan",
            "-inf",
            "",
            "1e99",
            "1e-31",
            "1e",
            &"9".repeat(41),
        ] {
            assert!(exact(text).is_err(), "{text}");
        }
    }
}
