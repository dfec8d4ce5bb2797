//! How counts come about, apart from noise: samples summed, what a right shift drops, nonlinearity.

use tallyvolt_model::front_end::Accuracy;
use tallyvolt_model::rational::float_or_zero;

use super::error::Error;
use super::rounding::{self, HARMONICS, VARIANCE};
use super::transfer::Transfer;

/// How counts come about, apart from noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// Counts of one single-sample step.
    pub per_sample: f64,
    /// Samples in a count.
    pub samples: f64,
    /// Variance of what a right shift in hardware drops, in counts squared.
    dropped: f64,
    /// Variance of the nonlinearity, as stated (a limit, so / 3), in counts squared.
    pub nonlinearity: f64,
}

impl Sampling {
    /// Of a front end.
    pub fn new(transfer: &Transfer, accuracy: &Accuracy) -> Self {
        let nonlinearity = float_or_zero(&accuracy.inl_lsb) * transfer.per_sample;
        let shift = transfer.samples / transfer.per_sample;
        Self {
            per_sample: transfer.per_sample,
            samples: transfer.samples,
            dropped: VARIANCE * (1.0 - shift.powi(-2)).max(0.0),
            nonlinearity: nonlinearity.powi(2) / 3.0,
        }
    }

    /// Variance that is new in every row of a steady voltage, in counts squared.
    pub fn independent(&self, steps: f64) -> f64 {
        rounding::within(steps) / self.samples * self.per_sample.powi(2) + self.dropped
    }

    /// The mean of a voltage's rows; `harmonics` are those of the noise.
    pub fn mean(
        &self,
        steps: f64,
        harmonics: &[f64; HARMONICS],
        repeats: f64,
        alike: &[f64; HARMONICS],
    ) -> Error {
        let all: f64 = harmonics.iter().sum();
        let shared: f64 = harmonics
            .iter()
            .zip(alike)
            .map(|(variance, alike)| variance * alike)
            .sum();
        let number = repeats * self.samples;
        let rounding = if number > 1.0 {
            Error::rectangular(shared).and(Error::mean_of_rectangular(VARIANCE - all, number))
        } else {
            Error::rectangular(VARIANCE)
        };
        Error::normal(steps * steps / number)
            .and(rounding)
            .times(self.per_sample)
            .and(Error::mean_of_rectangular(self.dropped, repeats))
            .and(Error::rectangular(self.nonlinearity))
    }
}

#[cfg(test)]
mod tests {
    use tallyvolt_model::rational::whole;

    use super::super::examples::divided;
    use super::*;

    /// Of 16 samples whose sum is shifted by 2: a step is 4 counts, and the shift drops 1/12 less 1/16 of that.
    fn shifted() -> Sampling {
        let mut front_end = divided();
        front_end.converter.samples = 16;
        front_end.converter.right_shift = 2;
        front_end.converter.accuracy.inl_lsb = Some(whole(3));
        let transfer = Transfer::new(&front_end).expect("legal");
        Sampling::new(&transfer, &front_end.converter.accuracy)
    }

    const DROPPED: f64 = 15.0 / 16.0 / 12.0;

    /// Two steps of noise and their rounding, over 16 samples, in counts of a quarter step; and what the shift drops.
    #[test]
    fn a_row_by_hand() {
        let independent = (4.0 + 1.0 / 12.0) / 16.0 * 16.0 + DROPPED;
        assert!((shifted().independent(2.0) - independent).abs() < 1e-12);
    }

    /// Five rows, of whose rounding in harmonics a quarter is alike; a twentieth of a step squared is in those, the rest is new in each
    /// sample.
    #[test]
    fn a_mean_of_rows_by_hand() {
        let harmonics = [0.05 / HARMONICS as f64; HARMONICS];
        let mean = shifted().mean(0.5, &harmonics, 5.0, &[0.25; HARMONICS]);
        let steps = 0.25 / 80.0 + 0.05 * 0.25 + (VARIANCE - 0.05) / 80.0;
        let variance = steps * 16.0 + DROPPED / 5.0 + 144.0 / 3.0;
        assert!((mean.variance - variance).abs() < 1e-12);
    }

    /// One sample is rounded once: a rectangle, however much of it noise turns into noise.
    #[test]
    fn one_sample_alone_is_rounded_once() {
        let front_end = divided();
        let transfer = Transfer::new(&front_end).expect("legal");
        let sampling = Sampling::new(&transfer, &front_end.converter.accuracy);
        let harmonics = rounding::harmonics(0.3);
        let one = sampling.mean(0.3, &harmonics, 1.0, &[1.0; HARMONICS]);
        let (more, once) = (Error::rectangular(0.0), Error::rectangular(VARIANCE));
        assert_eq!(one, Error::normal(0.3 * 0.3).and(once).and(more).and(more));
    }
}
