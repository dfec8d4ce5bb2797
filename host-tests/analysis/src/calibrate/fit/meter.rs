//! The bench meter's accuracy, as its data sheet gives it.
//!
//! `a(V) = ppm of reading * V + ppm of range * range + digits * resolution` is a limit: the error lies anywhere within
//! -a to a, so its standard uncertainty is a / sqrt(3) (GUM 4.3.7). It is the *same* error at every reading of a batch:
//! averaging does not make it smaller, and it is kept apart from noise (GUM H.3.6). The rounding of the display is another:
//! resolution / sqrt(12) (GUM F.2.2.1). A supply that stands still shows one figure, and repeats share its rounding; a supply that
//! moves by more than the last digit has it rounded anew in every row. Which it was is told by the figures themselves.

use serde::Serialize;
use tallyvolt_model::rational::float;

use super::rounding;
use super::transfer::Transfer;

/// Figures of more than this variance, in digits squared, share less than 1e-9 of their rounding.
const MOVED: f64 = 0.7;

/// Data sheet figures; all zero for an ideal meter.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Meter {
    /// Parts per million of the reading.
    pub ppm_reading: f64,
    /// Parts per million of the range.
    pub ppm_range: f64,
    /// The range in millivolts.
    pub range_mv: f64,
    /// Last digits.
    pub digits: f64,
    /// What the last digit stands for, in millivolts.
    pub resolution_mv: f64,
}

impl From<&tallyvolt_model::front_end::Meter> for Meter {
    /// The meter that a front-end file describes.
    fn from(stated: &tallyvolt_model::front_end::Meter) -> Self {
        Self {
            ppm_reading: float(&stated.reading_ppm),
            ppm_range: float(&stated.range_ppm),
            range_mv: float(&stated.range_mv),
            digits: float(&stated.digits),
            resolution_mv: float(&stated.resolution_mv),
        }
    }
}

impl Meter {
    /// Largest error at a reading, in millivolts.
    pub fn limit_mv(&self, reading_mv: f64) -> f64 {
        (self.ppm_reading * reading_mv.abs() + self.ppm_range * self.range_mv) * 1e-6
            + self.digits * self.resolution_mv
    }

    /// Standard uncertainty of the error that all readings share, in millivolts.
    pub fn systematic_mv(&self, reading_mv: f64) -> f64 {
        self.limit_mv(reading_mv) / 3_f64.sqrt()
    }

    /// Standard uncertainty of the display's rounding, in millivolts.
    pub fn display_mv(&self) -> f64 {
        self.resolution_mv / 12_f64.sqrt()
    }

    /// The same in counts, at a nominal position.
    pub(crate) fn display_counts(&self, transfer: &Transfer, position: f64) -> f64 {
        self.display_mv() * transfer.counts_per_mv(transfer.voltage_mv(position)).abs()
    }

    /// The part of the display's rounding variance, 0 to 1, that readings of one voltage share.
    ///
    /// All of it where they show the same figure. Else the figures' variance tells how far the supply moved between them.
    pub(crate) fn display_shared(&self, shown_mv: &[f64]) -> f64 {
        let Some((first, others)) = shown_mv.split_first() else {
            return 1.0;
        };
        if self.resolution_mv <= 0.0 || others.is_empty() {
            return 1.0;
        }
        let digits = |mv: &f64| (mv - first) / self.resolution_mv;
        let number = shown_mv.len() as f64;
        let mean = shown_mv.iter().map(digits).sum::<f64>() / number;
        let squares: f64 = shown_mv.iter().map(|mv| (digits(mv) - mean).powi(2)).sum();
        // Half a digit between any two figures is a different figure.
        if squares < 0.125 {
            return 1.0;
        }
        let variance = squares / (number - 1.0);
        if variance > MOVED {
            return 0.0;
        }
        let moved = rounding::dither(variance);
        rounding::shared(moved) / rounding::VARIANCE
    }

    /// Whether anything was stated.
    pub fn is_ideal(&self) -> bool {
        self.limit_mv(1.0) == 0.0 && self.resolution_mv == 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shared(figures: &[f64]) -> f64 {
        let meter = Meter {
            resolution_mv: 0.1,
            ..Meter::default()
        };
        let shown: Vec<f64> = figures
            .iter()
            .map(|digits| 3200.0 + digits / 10.0)
            .collect();
        meter.display_shared(&shown)
    }

    /// One figure of n lies a digit off: a variance of 1 / n, and the movement of the supply behind it, in digits.
    #[test]
    fn figures_tell_what_they_share() {
        for (number, moved) in [(2, 0.6455), (4, 0.4085), (8, 0.2213)] {
            assert!((rounding::within(moved) * f64::from(number) - 1.0).abs() < 1e-3);
            let figures: Vec<f64> = (0..number)
                .map(|row| if row == 1 { 6.0 } else { 5.0 })
                .collect();
            let ratio = shared(&figures) / (rounding::shared(moved) / rounding::VARIANCE);
            assert!((ratio - 1.0).abs() < 0.02, "{number} {ratio}");
        }
    }

    #[test]
    fn few_figures_share_all_or_nothing() {
        assert_eq!(Meter::default().display_shared(&[1.0, 2.0]), 1.0);
        assert_eq!(shared(&[]), 1.0);
        assert_eq!(shared(&[5.0]), 1.0);
        assert_eq!(shared(&[5.0, 5.0, 5.0]), 1.0);
        // Read back from a decimal, one figure may come out a little beside the other.
        assert_eq!(shared(&[5.0, 5.4]), 1.0);
        assert_eq!(shared(&[5.0, 6.0, 7.0, 8.0]), 0.0);
    }

    /// Half a digit between two figures is a different figure; a variance of more than 0.7 digits squared shares nothing, and 0.7 next to
    /// nothing.
    #[test]
    fn figures_are_told_apart_by_their_variance() {
        let meter = Meter {
            resolution_mv: 1.0,
            ..Meter::default()
        };
        let shared = |figures: &[f64]| meter.display_shared(figures);
        let half = shared(&[100.0, 100.5]);
        assert!(half > 0.0 && half < 1.0, "{half}");
        assert_eq!(shared(&[100.0, 100.0, 101.0, 102.0]), 0.0);
        let limit = shared(&[[99.0; 7], [100.0; 7], [101.0; 7]].concat());
        assert!(limit > 0.0 && limit < 1e-9, "{limit}");
    }

    /// A supply reference of 1.2 V and 12 bits stands at 4096 * 1200 / 3000 counts at 3 V, and falls by a 3000th part of it a millivolt.
    #[test]
    fn a_display_rounds_counts() {
        let transfer = Transfer::new(&super::super::examples::supply()).expect("legal");
        let meter = Meter {
            resolution_mv: 12_f64.sqrt(),
            ..Meter::default()
        };
        let position = 4096.0 * 1200.0 / 3000.0;
        let counts = meter.display_counts(&transfer, position);
        assert!((counts - position / 3000.0).abs() < 1e-12, "{counts}");
    }
}
