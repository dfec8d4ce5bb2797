//! The converter's noise: one figure for the batch, because its converters are of one kind.
//!
//! Taken from the first of these that has something to say:
//!
//! 1. *repeats*: rows at the same voltage about their mean, pooled over the modules;
//! 2. *residuals*: these and what is left about each module's line, pooled, where repeats are too few;
//! 3. *data sheet*: `noise_rms_lsb` of the front-end file;
//! 4. *unknown*, where none is there. No noise known is not no noise: then no interval is stated.
//!
//! What rows scatter is more than noise: rounding is in it as far as [`super::rounding`] has it new in every row, and what the
//! meter's display rounds ([`super::meter`]). Both are known for a given noise, so the noise is the one at which the scatter that
//! is expected of these very rows is the scatter found.
//!
//! Repeats that all show one figure on the meter may come from a supply that stood still, or from one that moved by less than
//! the last digit; the second scatter by what the display hides. So where a batch has voltages whose figures move, and the
//! display is coarse enough to matter, those alone tell the noise.
//!
//! Pooling is robust: modules whose scatter is beyond what chance gives one in a million, judged from the median module, are
//! left out (they will be found suspect for it).

use std::collections::BTreeMap;

use num_traits::ToPrimitive;
use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::error::Error;
use super::levels::Level;
use super::line::{Design, Line, Point};
use super::meter::Meter;
use super::rounding::{self, HARMONICS, VARIANCE};
use super::transfer::Transfer;
use crate::front_end::Accuracy;

/// With fewer degrees of freedom a noise is not known: Student's factor would be 2.8 and more, and whole counts are too coarse a scale.
pub const DEGREES_MIN: f64 = 5.0;
/// A module's scatter beyond this probability is left out of the pool.
const BEYOND_CHANCE: f64 = 1.0 - 1e-6;
/// Rows of two adjacent counts have at most this variance, whatever the noise, in counts squared.
pub const ADJACENT: f64 = 0.25;
/// A display's variance below this part of the scatter found does not matter.
const DISPLAY_MATTERS: f64 = 0.2;
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
    #[must_use]
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

/// How counts come about, apart from noise.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sampling {
    /// Counts of one single-sample step.
    per_sample: f64,
    /// Samples in a count.
    samples: f64,
    /// Variance of what a right shift in hardware drops, in counts squared.
    dropped: f64,
    /// Variance of the nonlinearity, as stated (a limit, so / 3), in counts squared.
    nonlinearity: f64,
}

impl Sampling {
    fn new(transfer: &Transfer, accuracy: &Accuracy) -> Self {
        let nonlinearity = float(&accuracy.inl_lsb).unwrap_or(0.0) * transfer.per_sample;
        let shift = transfer.samples / transfer.per_sample;
        Self {
            per_sample: transfer.per_sample,
            samples: transfer.samples,
            dropped: VARIANCE * (1.0 - shift.powi(-2)).max(0.0),
            nonlinearity: nonlinearity.powi(2) / 3.0,
        }
    }

    /// Variance that is new in every row of a steady voltage, in counts squared.
    fn independent(&self, steps: f64) -> f64 {
        rounding::within(steps) / self.samples * self.per_sample.powi(2) + self.dropped
    }

    /// The mean of a voltage's rows; `harmonics` are those of the noise.
    fn mean(
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
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.source != NoiseSource::Unknown
    }

    /// The same, or where it is not known what is surely more, for finding gross mistakes.
    #[must_use]
    pub fn or_gross(&self, transfer: &Transfer) -> Self {
        if self.is_known() {
            return *self;
        }
        let steps = gross(transfer) / transfer.per_sample * transfer.samples.sqrt();
        Self::new(steps, NoiseSource::Unknown, None, self.sampling)
    }

    /// Error of the mean of a voltage's rows, in counts.
    #[must_use]
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
    #[must_use]
    pub fn one(&self) -> Error {
        self.mean(1.0, &[1.0; HARMONICS])
    }

    /// Squares that are expected within the voltages of a module, in counts squared, and at least what adjacent counts make.
    ///
    /// The supply may have moved by the meter's last digit, whether the figures show it or not.
    #[must_use]
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

/// Squares and their degrees of freedom.
#[derive(Debug, Clone, Copy, Default)]
struct Pool {
    squares: f64,
    degrees: f64,
}

/// Squares found, and what makes the squares expected.
#[derive(Debug, Clone, Copy, Default)]
struct Evidence {
    found: Pool,
    /// Weight of a row's own variance.
    own: f64,
    /// Weights of rounding, harmonic by harmonic.
    rounding: [f64; HARMONICS],
    /// Display and nonlinearity, in counts squared.
    fixed: f64,
}

impl Evidence {
    fn add(&mut self, other: &Self) {
        self.found.squares += other.found.squares;
        self.found.degrees += other.found.degrees;
        self.own += other.own;
        for (sum, more) in self.rounding.iter_mut().zip(other.rounding) {
            *sum += more;
        }
        self.fixed += other.fixed;
    }

    /// Squares that a noise makes, in counts squared.
    fn expected(&self, steps: f64, sampling: &Sampling) -> f64 {
        let rounding: f64 = rounding::harmonics(steps)
            .iter()
            .zip(self.rounding)
            .map(|(variance, weight)| variance * weight)
            .sum();
        self.own * sampling.independent(steps) + rounding * sampling.per_sample.powi(2) + self.fixed
    }

    /// The largest noise that makes no more than the squares found; 0 where rounding and display alone make more.
    fn steps(&self, sampling: &Sampling) -> f64 {
        let enough = |steps: f64| self.expected(steps, sampling) <= self.found.squares;
        let mut high =
            (self.found.squares / self.own * sampling.samples).sqrt() / sampling.per_sample + 1.0;
        // Downward by small steps first: summed samples of a dithering supply may make the same squares by rounding and by noise.
        while high > 1e-3 && !enough(high * 0.9) {
            high *= 0.9;
        }
        if high <= 1e-3 {
            return 0.0;
        }
        let mut low = high * 0.9;
        for _ in 0..30 {
            let middle = f64::midpoint(low, high);
            if enough(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }
}

/// A standard deviation that what is not known surely does not have, in counts.
#[must_use]
pub fn gross(transfer: &Transfer) -> f64 {
    let (low, high) = transfer.span();
    UNKNOWN_OF_RANGE * (high - low)
}

/// The noise of a batch.
#[must_use]
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
    match (measured, float(&accuracy.noise_rms_lsb)) {
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

/// Whether the display rounds by enough to be seen in the repeats.
fn display_matters(batch: &[Vec<Level>], transfer: &Transfer, meter: &Meter) -> bool {
    let (mut display, mut found) = (0.0, 0.0);
    for level in batch.iter().flatten().filter(|level| level.rows.len() > 1) {
        let one = meter.display_counts(transfer, level.position).powi(2);
        display += (level.repeats() - 1.0) * one;
        found += level.scatter();
    }
    display > DISPLAY_MATTERS * found
}

/// Squares and degrees of freedom within the voltages of a module.
#[must_use]
pub fn repeats(levels: &[Level]) -> (f64, f64) {
    (
        levels.iter().map(Level::scatter).sum(),
        levels.iter().map(|level| level.repeats() - 1.0).sum(),
    )
}

/// What repeats tell.
fn within<'a>(
    levels: impl Iterator<Item = &'a Level>,
    transfer: &Transfer,
    meter: &Meter,
) -> Evidence {
    let mut evidence = Evidence::default();
    for level in levels.filter(|level| level.rows.len() > 1) {
        evidence.found.squares += level.scatter();
        evidence.found.degrees += level.repeats() - 1.0;
        for (weight, alike) in evidence.rounding.iter_mut().zip(level.alike) {
            *weight += level.repeats() * (1.0 - alike);
        }
        let display = meter.display_counts(transfer, level.position).powi(2);
        evidence.fixed += (level.repeats() - 1.0) * (1.0 - level.display_shared) * display;
    }
    evidence.own = evidence.found.degrees;
    evidence
}

/// What the levels tell about a module's own line.
fn about_line(
    levels: &[Level],
    transfer: &Transfer,
    meter: &Meter,
    sampling: &Sampling,
) -> Evidence {
    let points: Vec<Point> = levels
        .iter()
        .map(|level| Point {
            x: level.position,
            y: level.place,
            weight: 1.0,
        })
        .collect();
    let mut evidence = Evidence::default();
    let Some(design) = Design::straight(&points).filter(|_| points.len() > 2) else {
        return evidence;
    };
    evidence.found = Pool {
        squares: Line::fit(&points, design).residual_squares,
        degrees: points.len() as f64 - 2.0,
    };
    for (level, point) in levels.iter().zip(&points) {
        let left = 1.0 - design.share(point, point.x);
        evidence.own += left / level.repeats();
        for (weight, alike) in evidence.rounding.iter_mut().zip(level.alike) {
            *weight += left * alike;
        }
        let display = level.display(meter, transfer).variance;
        evidence.fixed += left * (display + sampling.nonlinearity);
    }
    evidence
}

/// The evidence of the modules that are like the median one.
fn pooled(modules: &[Evidence]) -> Option<Evidence> {
    let asked = |evidence: &&Evidence| evidence.found.degrees > 0.0;
    // Medians and limits depend on the degrees of freedom only, and few values of them occur.
    let mut quantiles: BTreeMap<u64, (f64, f64)> = BTreeMap::new();
    for Evidence { found, .. } in modules.iter().filter(asked) {
        quantiles.entry(found.degrees as u64).or_insert_with(|| {
            ChiSquared::new(found.degrees).map_or((f64::INFINITY, f64::INFINITY), |chi| {
                (chi.inverse_cdf(0.5), chi.inverse_cdf(BEYOND_CHANCE))
            })
        });
    }
    let quantile = |found: &Pool| {
        quantiles
            .get(&(found.degrees as u64))
            .copied()
            .unwrap_or((f64::INFINITY, f64::INFINITY))
    };
    let mut typical: Vec<f64> = modules
        .iter()
        .filter(asked)
        .map(|Evidence { found, .. }| found.squares / quantile(found).0)
        .collect();
    typical.sort_by(f64::total_cmp);
    // Noiseless modules give 0; rounding alone may move any of them.
    let median = typical.get(typical.len() / 2).copied()?.max(ADJACENT);
    let mut all = Evidence::default();
    for evidence in modules.iter().filter(asked) {
        if evidence.found.squares <= quantile(&evidence.found).1 * median {
            all.add(evidence);
        }
    }
    (all.found.degrees >= DEGREES_MIN).then_some(all)
}

fn float(value: &Option<num_rational::BigRational>) -> Option<f64> {
    value.as_ref().and_then(ToPrimitive::to_f64)
}
