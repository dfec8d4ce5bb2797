//! Sample to count: full scale, code centre and the largest count, from the meaning of each setting.

use num_rational::BigRational;
use num_traits::Zero;

use super::rational::{fraction, whole};
use crate::front_end::{CodeCentre, Converter, FullScale, ShiftRounding};

/// The acquisition of a front end.
#[derive(Debug, Clone)]
pub struct AcquisitionModel {
    converter: Converter,
}

impl AcquisitionModel {
    /// The model of a converter's settings.
    #[must_use]
    pub fn new(converter: &Converter) -> Self {
        Self {
            converter: converter.clone(),
        }
    }

    /// The count for an input that reads the top code in every sample.
    #[must_use]
    pub fn largest_count(&self) -> u32 {
        let converter = &self.converter;
        let sum = converter.samples * (2_u32.pow(converter.bits) - 1);
        let divisor = 2_u32.pow(converter.right_shift);
        let half = match converter.shift_rounding {
            ShiftRounding::Truncate => 0,
            ShiftRounding::Nearest => divisor / 2,
        };
        (sum + half) / divisor
    }

    /// F: the count that would mean ratio 1.
    #[must_use]
    pub fn full_scale(&self) -> BigRational {
        let one = match self.converter.full_scale {
            FullScale::PowerOfTwo => 2_u32.pow(self.converter.bits),
            FullScale::TopCode => 2_u32.pow(self.converter.bits) - 1,
        };
        self.in_count_units(&whole(one))
    }

    /// How far above its number a count stands, on average, in count units.
    ///
    /// At `half` every summed sample stands half a step above its code. A shift by s drops s bits of the sum: truncation
    /// leaves the sum (2^s - 1)/2 steps higher than the count says, on average; rounding to nearest with ties upward
    /// leaves it half a step lower (the mean of -2^(s-1) .. 2^(s-1) - 1).
    #[must_use]
    pub fn centre(&self) -> BigRational {
        let converter = &self.converter;
        if converter.code_centre == CodeCentre::Edge {
            return BigRational::zero();
        }
        let per_count = 2_i64.pow(converter.right_shift);
        let from_samples = fraction(i64::from(converter.samples), 2);
        let from_shift = match converter.shift_rounding {
            ShiftRounding::Truncate => fraction(per_count - 1, 2),
            ShiftRounding::Nearest if per_count == 1 => BigRational::zero(),
            ShiftRounding::Nearest => fraction(-1, 2),
        };
        (from_samples + from_shift) / whole(2_u32.pow(converter.right_shift))
    }

    /// A number of single-sample steps in count units.
    #[must_use]
    pub fn in_count_units(&self, single: &BigRational) -> BigRational {
        single * whole(self.converter.samples) / whole(2_u32.pow(self.converter.right_shift))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn converter(samples: u32, right_shift: u32, shift_rounding: ShiftRounding) -> Converter {
        Converter {
            samples,
            right_shift,
            shift_rounding,
            ..Converter::single(8)
        }
    }

    /// The centre is the mean distance between what was sampled and what the count says: walked over every sum of an
    /// ideal truncating converter, each sample anywhere in its step.
    #[test]
    fn centre_is_the_walked_mean_of_what_summing_and_shifting_drop() {
        for rounding in [ShiftRounding::Truncate, ShiftRounding::Nearest] {
            for shift in 0..=4 {
                let samples = 16;
                let divisor = 1_i64 << shift;
                let half = match rounding {
                    ShiftRounding::Truncate => 0,
                    ShiftRounding::Nearest => divisor / 2,
                };
                let sums = 0..divisor * 64;
                let terms = sums.end;
                let dropped: BigRational = sums
                    .map(|sum| {
                        let truth = fraction(sum, 1) + fraction(samples, 2);
                        truth / fraction(divisor, 1) - fraction((sum + half) / divisor, 1)
                    })
                    .sum();
                let model = AcquisitionModel::new(&converter(16, shift, rounding));
                let mean = dropped / fraction(terms, 1);
                // Rounding to nearest gains or loses half an interval at the ends of the walk.
                let ends = fraction(half, terms);
                assert!(
                    mean.clone() - model.centre() <= ends,
                    "{rounding:?} {shift}"
                );
                assert!(model.centre() - mean <= ends, "{rounding:?} {shift}");
            }
        }
    }

    #[test]
    fn sums_of_sixteen_8_bit_samples() {
        let model = AcquisitionModel::new(&converter(16, 2, ShiftRounding::Truncate));
        assert_eq!(model.largest_count(), 1020);
        assert_eq!(model.full_scale(), fraction(1024, 1));
        // 16 half steps of samples and 3/2 of the shift, in quarters of the sum.
        assert_eq!(model.centre(), fraction(19, 8));
    }
}
