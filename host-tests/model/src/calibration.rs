//! Per-module gain and offset as fractions.

use num_rational::BigRational;
use num_traits::{One, Zero};

use super::rational::fraction;

/// Gain, a factor on the voltage, and offset, subtracted from every sample first, in single-sample counts.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationModel {
    /// Factor.
    pub gain: BigRational,
    /// Single-sample counts.
    pub offset: BigRational,
}

impl CalibrationModel {
    /// Gain 1, offset 0.
    #[must_use]
    pub fn identity() -> Self {
        Self {
            gain: BigRational::one(),
            offset: BigRational::zero(),
        }
    }

    /// From the stored fixed-point words: gain in steps of 2^-24, offset in steps of 1/256 count.
    #[must_use]
    pub fn from_words(gain: u32, offset: i32) -> Self {
        Self {
            gain: fraction(i64::from(gain), 16_777_216),
            offset: fraction(i64::from(offset), 256),
        }
    }
}
