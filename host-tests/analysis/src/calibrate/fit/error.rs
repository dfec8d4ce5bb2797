//! A sum of independent errors, and the 95 % half-width that belongs to it.
//!
//! A sum in which one rectangular error is most of it (rounding, a limit from a data sheet) is no normal distribution: its 95 %
//! are 1.645 standard uncertainties, not 1.960. How far it is from normal is told by its excess kurtosis, which adds up through
//! fourth cumulants: 0 of a normal error, -1.2 times the squared variance of a rectangular one. The factor is
//!
//! ```text
//! 1.960 + 0.1 e + 0.1126 e^3        e = excess kurtosis, -1.2 to 0
//! ```
//!
//! exact for one normal and for one rectangular error, and within 0.027 for a rectangular error with a normal or with another
//! rectangular one (tested below). A part that was measured with few degrees of freedom widens it again by Student's factor,
//! with effective degrees of freedom by Welch and Satterthwaite (GUM G.4.1). All of it is made 1 % wider, so that what these
//! approximations miss is on the safe side: the simulation in `tests/analysis/fit/coverage.rs` then counts 95.3 % as a rule.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::choose::budget::combine::one_sided_factor;

/// Two-sided 95 %.
const UPPER_QUANTILE: f64 = 0.975;
/// The same of the normal distribution: 1.959964.
const NORMAL_FACTOR: f64 = 1.959_963_984_540_054;
/// Beyond these degrees of freedom Student's factor is the normal one to 4 digits.
const DEGREES_NORMAL: f64 = 1e5;
/// By how much intervals are made wider than computed.
const SAFE_SIDE: f64 = 1.01;
/// Excess kurtosis of a rectangular distribution.
const RECTANGULAR: f64 = -1.2;

/// Independent errors, added.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Error {
    /// Variance of the sum.
    pub variance: f64,
    /// The part of it that was measured, with the noise's degrees of freedom.
    pub measured: f64,
    /// Fourth cumulant of the sum.
    fourth: f64,
    /// The part of it that is normal.
    normal: f64,
    /// What the other parts are off together at most: the sum of their half-widths.
    bound: f64,
}

impl Error {
    /// A normal error.
    pub fn normal(variance: f64) -> Self {
        Self {
            variance,
            normal: variance,
            ..Self::default()
        }
    }

    /// A rectangular error.
    pub fn rectangular(variance: f64) -> Self {
        Self::mean_of_rectangular(variance, 1.0)
    }

    /// An error of which its variance and a bound are known, taken as normal where its shape matters.
    pub fn bounded(variance: f64, bound: f64) -> Self {
        Self {
            variance,
            bound,
            ..Self::default()
        }
    }

    /// The mean of `number` rectangular errors of a variance.
    pub(crate) fn mean_of_rectangular(variance: f64, number: f64) -> Self {
        Self {
            variance: variance / number,
            measured: 0.0,
            fourth: RECTANGULAR * variance.powi(2) / number.powi(3),
            normal: 0.0,
            bound: (3.0 * variance).sqrt(),
        }
    }

    /// The same, with a part of its variance measured.
    pub(crate) fn with_measured(self, measured: f64) -> Self {
        Self { measured, ..self }
    }

    /// Both.
    pub fn and(self, other: Self) -> Self {
        Self {
            variance: self.variance + other.variance,
            measured: self.measured + other.measured,
            fourth: self.fourth + other.fourth,
            normal: self.normal + other.normal,
            bound: self.bound + other.bound,
        }
    }

    /// Multiplied by a number.
    pub fn times(self, by: f64) -> Self {
        let square = by * by;
        Self {
            variance: self.variance * square,
            measured: self.measured * square,
            fourth: self.fourth * square * square,
            normal: self.normal * square,
            bound: self.bound * by.abs(),
        }
    }

    /// The value that the sum exceeds with a probability of at most `miss`: the quantile of its standard uncertainty, or all
    /// bounded parts at their ends and the quantile of the normal ones, whichever is less. `degrees` as for [`Error::standard`].
    ///
    /// # Range
    /// `miss` above 0, at most 0.5.
    pub fn exceeded(self, miss: f64, degrees: Option<f64>) -> f64 {
        let of = |variance: f64| {
            let dof = self.effective(degrees, variance).unwrap_or(f64::INFINITY);
            one_sided_factor(1.0 - miss, dof) * variance.max(0.0).sqrt()
        };
        of(self.variance).min(self.bound + of(self.normal))
    }

    /// Effective degrees of freedom of a variance, by Welch and Satterthwaite with one measured part: nu * (u / u_measured)^4.
    fn effective(self, degrees: Option<f64>, variance: f64) -> Option<f64> {
        let degrees = degrees.filter(|_| self.measured > 0.0)?;
        Some(degrees * (variance / self.measured).powi(2))
    }

    /// As a standard uncertainty; `degrees` are those of the measured parts.
    pub fn standard(self, degrees: Option<f64>) -> Standard {
        let variance = self.variance.max(0.0);
        let kurtosis = if variance > 0.0 {
            (self.fourth / variance.powi(2)).clamp(RECTANGULAR, 0.0)
        } else {
            0.0
        };
        let degrees = self.effective(degrees, variance);
        let u = variance.sqrt();
        Standard {
            u,
            degrees,
            expanded: SAFE_SIDE * u * factor(degrees) * bounded(kurtosis) / NORMAL_FACTOR,
        }
    }
}

/// A value's standard uncertainty, its effective degrees of freedom and its 95 % half-width.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Standard {
    /// Standard uncertainty.
    pub u: f64,
    /// Effective degrees of freedom; none is infinite.
    pub degrees: Option<f64>,
    /// The 95 % half-width.
    pub expanded: f64,
}

/// Student's two-sided 95 % factor.
pub fn factor(degrees: Option<f64>) -> f64 {
    match degrees {
        Some(degrees) if degrees < DEGREES_NORMAL => {
            // Truncated downward, as GUM G.4.1 advises; below 1 there is no table.
            StudentsT::new(0.0, 1.0, degrees.floor().max(1.0))
                .map_or(f64::INFINITY, |student| student.inverse_cdf(UPPER_QUANTILE))
        }
        _ => NORMAL_FACTOR,
    }
}

/// The 95 % factor of a distribution between rectangular and normal.
fn bounded(kurtosis: f64) -> f64 {
    NORMAL_FACTOR + 0.1 * kurtosis + 0.1126 * kurtosis.powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::choose::halving::halved;
    use statrs::distribution::{Continuous, Normal};

    /// Where 95 % lie.
    fn quantile(inside: impl Fn(f64) -> f64) -> f64 {
        halved((0.0, 3.0), 60, |value| inside(value) < 0.95)
    }

    fn assert_close(kurtosis: f64, exact: f64) {
        let ours = bounded(kurtosis);
        assert!(
            (ours - exact).abs() < 0.027,
            "{kurtosis}: {ours} for {exact}"
        );
    }

    #[test]
    fn the_factor_is_close_for_a_rectangle_with_a_normal_error() {
        let normal = Normal::standard();
        for part in (1..=20).map(|part| f64::from(part) / 20.0) {
            let (half, noise) = ((3.0 * part).sqrt(), (1.0 - part).max(1e-9).sqrt());
            // The integral of the normal distribution function, over the rectangle.
            let area = |x: f64| {
                let z = x / noise;
                noise * (z * normal.cdf(z) + normal.pdf(z))
            };
            let below = |x: f64| (area(x + half) - area(x - half)) / (2.0 * half);
            assert_close(-1.2 * part * part, quantile(|x| 2.0 * below(x) - 1.0));
        }
    }

    #[test]
    fn the_factor_is_close_for_two_rectangles() {
        for part in (10..20).map(|part| f64::from(part) / 20.0) {
            let (wide, narrow) = ((3.0 * part).sqrt(), (3.0 * (1.0 - part)).sqrt());
            // A trapezoid: 5 % lie beyond its corners or on its slopes.
            let on_slope = wide + narrow - (0.2 * wide * narrow).sqrt();
            let within = if 0.95 * wide < wide - narrow {
                0.95 * wide
            } else {
                0.0
            };
            let exact = on_slope.max(within);
            let kurtosis = -1.2 * (part * part + (1.0 - part).powi(2));
            assert_close(kurtosis, exact);
        }
    }

    /// Negative control: the normal factor is not within the same bound of one rectangle.
    #[test]
    fn errors_add_and_one_rectangle_is_no_normal_error() {
        let one = Error::rectangular(4.0);
        let of = |error: Error| error.standard(None).expanded / SAFE_SIDE;
        assert!((of(one) - 0.95 * 12_f64.sqrt()).abs() < 0.01);
        assert!((of(Error::normal(4.0)) - 2.0 * NORMAL_FACTOR).abs() < 1e-12);
        let many = (0..50).fold(Error::default(), |sum, _| sum.and(one));
        assert!((of(many) / 200_f64.sqrt() - NORMAL_FACTOR).abs() < 0.01);
        let mean = Error::mean_of_rectangular(4.0, 9.0);
        let sum = (0..9).fold(Error::default(), |sum, _| sum.and(one.times(1.0 / 9.0)));
        assert!((mean.fourth / sum.fourth - 1.0).abs() < 1e-12);
    }

    /// Variances, cumulants and bounds of a normal error, one of any shape and a rectangle of half-width 3, worked out by hand.
    #[test]
    fn sums_and_multiples_by_hand() {
        let parts = [
            Error::normal(4.0).with_measured(1.0),
            Error::bounded(9.0, 6.0),
            Error::rectangular(3.0),
        ];
        let sum = parts.into_iter().fold(Error::default(), Error::and);
        let by_hand = |variance, measured, fourth, normal, bound| Error {
            variance,
            measured,
            fourth,
            normal,
            bound,
        };
        assert_eq!(sum, by_hand(16.0, 1.0, -1.2 * 9.0, 4.0, 9.0));
        assert_eq!(
            sum.times(-2.0),
            by_hand(64.0, 4.0, -1.2 * 144.0, 16.0, 18.0)
        );
        assert_eq!(
            Error::mean_of_rectangular(3.0, 4.0),
            by_hand(0.75, 0.0, -1.2 * 9.0 / 64.0, 0.0, 3.0)
        );
        // Quantiles of the normal distribution: 2.326348 for 1 %, 4.753424 for one in a million (from memory). The bounded parts
        // cannot be off by more than 9 together.
        let of = |miss| sum.exceeded(miss, None);
        assert!((of(0.01) - 4.0 * 2.326_348).abs() < 1e-4);
        assert!((of(1e-6) - (9.0 + 2.0 * 4.753_424)).abs() < 1e-4);
        assert!(sum.exceeded(0.01, Some(5.0)) > of(0.01));
        // One sixteenth was measured: 5 * 16^2.
        assert_eq!(sum.standard(Some(5.0)).degrees, Some(1280.0));
        assert_eq!(Error::normal(4.0).standard(Some(5.0)).degrees, None);
        assert_eq!(Error::default().standard(None).expanded, 0.0);
    }

    #[test]
    fn few_degrees_of_freedom_widen() {
        // GUM table G.2: 2.57 with 5 degrees of freedom, 12.71 with 1.
        let one = Error::normal(1.0).with_measured(1.0);
        let of = |degrees| one.standard(Some(degrees)).expanded / SAFE_SIDE;
        assert!((of(5.0) - 2.57).abs() < 0.005 && (of(1.0) - 12.71).abs() < 0.005);
    }
}
