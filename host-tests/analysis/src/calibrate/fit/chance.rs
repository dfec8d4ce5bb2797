//! How rare a finding must be before it is one: false alarms are shared out among all tests that are made.
//!
//! A sound module is accused less than once in 100,000, and a sound batch less than once in a hundred. Each of a module's tests
//! gets its part of both (Bonferroni), and its statistic is judged by its own distribution with its own degrees of freedom:
//! Student's for a value over its standard uncertainty, Fisher's for a ratio of variances.

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// False alarms of a sound module.
pub const OF_MODULE: f64 = 1e-5;
/// False alarms of a whole sound batch.
pub const OF_BATCH: f64 = 1e-2;
/// Degrees of freedom beyond which a measured variance is as good as known.
const DEGREES_MANY: f64 = 1e5;
/// A value within so many standard uncertainties is never a finding: saves most of the work.
const NEVER: f64 = 3.0;

/// The probability that one test may spend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    one_test: f64,
}

impl Chance {
    /// Of a module with so many tests, in a batch with so many.
    pub fn new(of_module: f64, of_batch: f64) -> Self {
        Self {
            one_test: (OF_MODULE / of_module.max(1.0)).min(OF_BATCH / of_batch.max(1.0)),
        }
    }

    /// Whether a value is further from 0 than chance has it, either way; `ratio` counts in standard uncertainties.
    pub fn is_beyond(self, ratio: f64, degrees: Option<f64>) -> bool {
        self.is_above(ratio.abs(), degrees, self.one_test / 2.0)
    }

    /// Whether a value is further above 0 than chance has it.
    pub fn is_over(self, ratio: f64, degrees: Option<f64>) -> bool {
        self.is_above(ratio, degrees, self.one_test)
    }

    fn is_above(self, ratio: f64, degrees: Option<f64>, limit: f64) -> bool {
        if ratio.is_nan() || ratio < NEVER {
            return false;
        }
        let above = match degrees.filter(|degrees| *degrees < DEGREES_MANY) {
            Some(degrees) => StudentsT::new(0.0, 1.0, degrees).map(|student| student.sf(ratio)),
            None => return Normal::standard().sf(ratio) < limit,
        };
        above.is_ok_and(|above| above < limit)
    }

    /// Whether a variance, over the one expected, is larger than chance has it; `against` are the expected one's degrees of freedom.
    pub fn is_wide(self, ratio: f64, degrees: f64, against: Option<f64>) -> bool {
        if ratio.is_nan() || ratio < 1.0 {
            return false;
        }
        match against.filter(|against| *against < DEGREES_MANY) {
            Some(against) => FisherSnedecor::new(degrees, against)
                .is_ok_and(|fisher| fisher.sf(ratio) < self.one_test),
            None => {
                ChiSquared::new(degrees).is_ok_and(|chi| chi.sf(ratio * degrees) < self.one_test)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published quantiles: normal 4.891638 two-sided for 1e-6 and Student's t 2.570582 (5, 95 %), F 4.26 (2, 9, 5 %).
    #[test]
    fn limits_are_the_published_quantiles() {
        let chance = |one_test| Chance { one_test };
        assert!(chance(1e-6).is_beyond(4.8917, None) && !chance(1e-6).is_beyond(-4.8916, None));
        assert!(chance(1e-6).is_beyond(4.8917, Some(1e9)));
        // Student's with 5 degrees of freedom, two-sided 1 %: 4.032.
        assert!(
            chance(0.01).is_beyond(-4.033, Some(5.0)) && !chance(0.01).is_beyond(4.031, Some(5.0))
        );
        assert!(chance(0.005).is_over(4.033, Some(5.0)) && !chance(0.005).is_over(-9.0, Some(5.0)));
        // Fisher's with 2 and 9, 5 %: 4.256; chi-squared with 10, 5 %: 18.307.
        assert!(
            chance(0.05).is_wide(4.257, 2.0, Some(9.0))
                && !chance(0.05).is_wide(4.255, 2.0, Some(9.0))
        );
        assert!(
            chance(0.05).is_wide(1.8308, 10.0, None) && !chance(0.05).is_wide(1.8306, 10.0, None)
        );
    }

    #[test]
    fn more_tests_leave_less_for_each() {
        assert_eq!(Chance::new(10.0, 10.0).one_test, OF_MODULE / 10.0);
        assert_eq!(Chance::new(10.0, 1e6).one_test, OF_BATCH / 1e6);
    }
}
