//! The converter's noise: one figure for the batch, because its converters are of one kind.
//!
//! Taken from the first of these that has something to say:
//!
//! 1. *repeats*: rows at the same voltage about their mean, pooled over the modules;
//! 2. *residuals*: these and what is left about each module's line, pooled, where repeats are too few;
//! 3. *data sheet*: `noise_rms_lsb` of the front-end file;
//! 4. *unknown*, where none is there. No noise known is not no noise: then no interval is stated.
//!
//! What rows scatter is more than noise: rounding is in it as far as `rounding` has it new in every row, and what the
//! meter's display rounds ([`super::meter`]). Both are known for a given noise, so the noise is the one at which the scatter that
//! is expected of these very rows is the scatter found.
//!
//! Repeats that all show one figure on the meter may come from a supply that stood still, or from one that moved by less than
//! the last digit; the second scatter by what the display hides. So where a batch has voltages whose figures move, and the
//! display is coarse enough to matter, those alone tell the noise.
//!
//! Pooling is robust: modules whose scatter is beyond what chance gives one in a million, judged from the median module, are
//! left out (they will be found suspect for it).

use serde::Serialize;
use tallyvolt_model::front_end::Accuracy;
use tallyvolt_model::rational::float;

use super::error::Error;
use super::evidence::{ADJACENT, Evidence, Pool, about_line, display_matters, pooled, within};
use super::levels::Level;
use super::meter::Meter;
use super::rounding::{self, HARMONICS};
use super::sampling::Sampling;
use super::transfer::Transfer;

/// What is not known is taken for so much of the cell's range where a gross mistake is looked for.
const UNKNOWN_OF_RANGE: f64 = 0.02;

/// Where the noise figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoiseSource {
    /// Pooled repeats.
    Repeats,
    /// Pooled residuals, and what repeats there are.
    Residuals,
    /// The front-end file.
    DataSheet,
    /// Nothing is known but rounding.
    Unknown,
}

impl NoiseSource {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Repeats => "repeats at the same voltage, pooled",
            Self::Residuals => "residuals about the lines, pooled",
            Self::DataSheet => "the front-end file's noise_rms_lsb, and rounding",
            Self::Unknown => {
                "rounding alone, noise is not known: too few repeats or residuals, and no noise_rms_lsb in the file"
            }
        }
    }
}

/// The noise of a batch, and what follows from it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Noise {
    /// Standard deviation of one count that is new in every row, in counts.
    pub per_count: f64,
    /// Standard deviation of what the repeats of a steady voltage share, in counts.
    pub per_level: f64,
    /// Degrees of freedom; none where it was not measured.
    pub degrees: Option<f64>,
    /// Where it comes from.
    pub source: NoiseSource,
    /// Noise of one sample in steps, rms.
    pub steps: f64,
    /// Sum of squares behind it, in counts squared; 0 where it was not measured.
    #[serde(skip)]
    pub squares: f64,
    #[serde(skip)]
    sampling: Sampling,
    #[serde(skip)]
    harmonics: [f64; HARMONICS],
}

impl Noise {
    fn new(steps: f64, source: NoiseSource, pool: Option<Pool>, sampling: Sampling) -> Self {
        let harmonics = rounding::harmonics(steps);
        let shared = harmonics.iter().sum::<f64>() * sampling.per_sample.powi(2);
        Self {
            per_count: sampling.independent(steps).sqrt(),
            per_level: (shared + sampling.nonlinearity).sqrt(),
            degrees: pool.map(|pool| pool.degrees),
            source,
            steps,
            squares: pool.map_or(0.0, |pool| pool.squares),
            sampling,
            harmonics,
        }
    }

    /// Whether an interval can be built on it.
    pub(crate) fn is_known(&self) -> bool {
        self.source != NoiseSource::Unknown
    }

    /// The same, or where it is not known what is surely more, for finding gross mistakes.
    pub(crate) fn or_gross(&self, transfer: &Transfer) -> Self {
        if self.is_known() {
            return *self;
        }
        let steps = gross(transfer) / transfer.per_sample * transfer.samples.sqrt();
        Self::new(steps, NoiseSource::Unknown, None, self.sampling)
    }

    /// Error of the mean of a voltage's rows, in counts.
    pub fn mean(&self, repeats: f64, alike: &[f64; HARMONICS]) -> Error {
        let measured = match self.degrees {
            Some(degrees) if self.steps > 0.0 => self.squares / degrees / repeats,
            _ => 0.0,
        };
        self.sampling
            .mean(self.steps, &self.harmonics, repeats, alike)
            .with_measured(measured)
    }

    /// Error of one count.
    pub fn one(&self) -> Error {
        self.mean(1.0, &[1.0; HARMONICS])
    }

    /// Squares that are expected within the voltages of a module, in counts squared, and at least what adjacent counts make.
    ///
    /// The supply may have moved by the meter's last digit, whether the figures show it or not.
    pub fn expected(&self, levels: &[Level], transfer: &Transfer, meter: &Meter) -> f64 {
        let mut evidence = within(levels.iter(), transfer, meter);
        evidence.fixed = levels
            .iter()
            .map(|level| {
                let display = meter.display_counts(transfer, level.position).powi(2);
                (level.repeats() - 1.0) * display
            })
            .sum();
        evidence
            .expected(self.steps, &self.sampling)
            .max(ADJACENT * evidence.found.degrees)
    }
}

/// A standard deviation that what is not known surely does not have, in counts.
pub(crate) fn gross(transfer: &Transfer) -> f64 {
    let (low, high) = transfer.span();
    UNKNOWN_OF_RANGE * (high - low)
}

/// The noise of a batch.
pub fn noise(
    batch: &[Vec<Level>],
    transfer: &Transfer,
    meter: &Meter,
    accuracy: &Accuracy,
) -> Noise {
    let sampling = Sampling::new(transfer, accuracy);
    let of = |wanted: &dyn Fn(&Level) -> bool| -> Vec<Evidence> {
        let within = |levels: &Vec<Level>| {
            within(levels.iter().filter(|level| wanted(level)), transfer, meter)
        };
        batch.iter().map(within).collect()
    };
    let repeats = of(&|_| true);
    let moving = display_matters(batch, transfer, meter)
        .then(|| pooled(&of(&Level::moves)))
        .flatten();
    let measured = moving
        .or_else(|| pooled(&repeats))
        .map(|pool| (pool, NoiseSource::Repeats))
        .or_else(|| {
            let all: Vec<Evidence> = batch
                .iter()
                .zip(&repeats)
                .map(|(levels, repeats)| {
                    let mut both = about_line(levels, transfer, meter, &sampling);
                    both.add(repeats);
                    both
                })
                .collect();
            pooled(&all).map(|pool| (pool, NoiseSource::Residuals))
        });
    match (measured, accuracy.noise_rms_lsb.as_ref().map(float)) {
        (Some((evidence, source)), _) => Noise::new(
            evidence.steps(&sampling),
            source,
            Some(evidence.found),
            sampling,
        ),
        (None, Some(steps)) => Noise::new(steps, NoiseSource::DataSheet, None, sampling),
        (None, None) => Noise::new(0.0, NoiseSource::Unknown, None, sampling),
    }
}

#[cfg(test)]
mod tests {
    use super::super::examples::{divided, level, stated_noise};
    use super::*;

    /// Four samples whose sum is halved: the cell's 1650 mV are 3300 counts, a fiftieth is 66.
    #[test]
    fn noise_that_is_not_known_is_a_fiftieth_of_the_cells_range() {
        let mut front_end = divided();
        front_end.converter.samples = 4;
        front_end.converter.right_shift = 1;
        let transfer = Transfer::new(&front_end).expect("legal");
        assert!((gross(&transfer) - 66.0).abs() < 1e-9);
        let accuracy = &front_end.converter.accuracy;
        let unknown = noise(&[], &transfer, &Meter::default(), accuracy);
        assert!(!unknown.is_known());
        // Beside it, rounding is below one count squared.
        let one = unknown.or_gross(&transfer).one().variance;
        assert!((one - 66.0 * 66.0).abs() < 1.0, "{one}");
        let known = stated_noise(&front_end, 2);
        assert_eq!(known.or_gross(&transfer), known);
    }

    /// Ten counts squared with five degrees of freedom: 2 a row, and half of that in the mean of four.
    #[test]
    fn noise_that_was_measured_says_so() {
        let mut found = stated_noise(&divided(), 2);
        let alike = [1.0; HARMONICS];
        assert_eq!(found.mean(4.0, &alike).measured, 0.0);
        (found.degrees, found.squares) = (Some(5.0), 10.0);
        assert!((found.mean(4.0, &alike).measured - 0.5).abs() < 1e-12);
        // Rounding alone explains the squares: none of the error was measured.
        found.steps = 0.0;
        assert_eq!(found.mean(4.0, &alike).measured, 0.0);
    }

    /// Noise of 20 steps, its rounding, and a display of 2 mV rms; without any of them, a quarter of a count squared.
    #[test]
    fn squares_that_are_expected_by_hand() {
        let front_end = divided();
        let transfer = Transfer::new(&front_end).expect("legal");
        let meter = Meter {
            resolution_mv: 2.0 * 12_f64.sqrt(),
            ..Meter::default()
        };
        let levels = [
            level(2000.0, &[-1.0, 0.0, 1.0], 1.0, 1.0),
            level(3000.0, &[-1.0, 1.0], 1.0, 1.0),
            level(3500.0, &[0.0], 1.0, 1.0),
        ];
        let found = stated_noise(&front_end, 20).expected(&levels, &transfer, &meter);
        let by_hand = 3.0 * (400.0 + 1.0 / 12.0) + 2.0 * 4.0 + 4.0;
        assert!((found - by_hand).abs() < 1e-9, "{found}");
        let none = stated_noise(&front_end, 0).expected(&levels, &transfer, &Meter::default());
        assert_eq!(none, 0.75);
    }

    /// Each source has its own words, and one that is in the file names its key.
    #[test]
    fn every_source_is_named() {
        let starts = |source: NoiseSource, words: &str| source.words().starts_with(words);
        assert!(starts(NoiseSource::Repeats, "repeats"));
        assert!(starts(NoiseSource::Residuals, "residuals"));
        assert!(starts(
            NoiseSource::DataSheet,
            "the front-end file's noise_rms_lsb"
        ));
        assert!(starts(NoiseSource::Unknown, "rounding alone"));
    }
}
