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
