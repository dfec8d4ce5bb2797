//! The converter's noise: one figure for the batch, because its converters are of one kind.
//!
//! Taken from the first of these that has something to say:
//!
//! 1. *repeats*: rows at the same voltage about their mean, pooled over the modules;
//! 2. *residuals*: what is left about each module's line, pooled, where there are no repeats;
//! 3. *data sheet*: `noise_rms_lsb` of the front-end file, and the rounding of every sample;
//! 4. *rounding only*, where neither is known.
//!
//! Pooling is robust: modules whose scatter is beyond what chance gives one in a million, judged from the median module, are
//! left out (they will be found suspect for it).
//!
//! Apart from noise, a level has an error that its repeats share: the converter's nonlinearity, as far as the file states it
//! (a limit, so / sqrt(3)), and rounding that too little noise does not average out. For an ideal rounding converter with
//! noise of s steps that is at most exp(-2 pi^2 s^2) / pi steps (first harmonic), never more than 1 / sqrt(12) in standard
//! uncertainty (GUM F.2.2.1).

use std::collections::BTreeMap;
use std::f64::consts::PI;

use num_traits::ToPrimitive;
use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::levels::Level;
use super::line::{Design, Line, Point};
use super::transfer::Transfer;
use crate::front_end::Accuracy;

/// Fewer degrees of freedom than these are not asked.
const DEGREES_MIN: f64 = 5.0;
/// A module's scatter beyond this probability is left out of the pool.
const BEYOND_CHANCE: f64 = 1.0 - 1e-6;
/// Variance of rounding, in steps squared.
const ROUNDING: f64 = 1.0 / 12.0;

/// Where the noise figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoiseSource {
    /// Pooled repeats.
    Repeats,
    /// Pooled residuals.
    Residuals,
    /// The front-end file.
    DataSheet,
    /// Nothing but rounding is known.
    RoundingOnly,
}

impl NoiseSource {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Repeats => "repeats at the same voltage, pooled",
            Self::Residuals => "residuals about the lines, pooled",
            Self::DataSheet => "the front-end file's noise_rms_lsb, and rounding",
            Self::RoundingOnly => "rounding only: no repeats, and no noise_rms_lsb in the file",
        }
    }
}

/// Standard deviations in counts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Noise {
    /// Of one count, independent at every row.
    pub per_count: f64,
    /// Of what the repeats of a level share.
    pub per_level: f64,
    /// Degrees of freedom of `per_count`; none where it was not measured.
    pub degrees: Option<f64>,
    /// Where it comes from.
    pub source: NoiseSource,
}

/// The noise of a batch.
#[must_use]
pub fn noise(batch: &[Vec<Level>], transfer: &Transfer, accuracy: &Accuracy) -> Noise {
    let measured = pooled(batch.iter().map(|levels| repeats(levels)))
        .map(|pool| (pool, NoiseSource::Repeats))
        .or_else(|| {
            pooled(batch.iter().map(|levels| residuals(levels)))
                .map(|pool| (pool, NoiseSource::Residuals))
        });
    let float =
        |value: &Option<num_rational::BigRational>| value.as_ref().and_then(ToPrimitive::to_f64);
    let stated = float(&accuracy.noise_rms_lsb);
    // Count units squared for one step squared in every one of the summed samples, independently.
    let independent = if transfer.samples > 0.0 {
        transfer.per_sample.powi(2) / transfer.samples
    } else {
        0.0
    };
    let steps = match measured {
        Some(((variance, _), _)) => (variance / independent - ROUNDING).max(0.0).sqrt(),
        None => stated.unwrap_or(0.0),
    };
    let first_harmonic = (-2.0 * PI * PI * steps * steps).exp() / PI;
    let unaveraged = (first_harmonic.powi(2) / 2.0).min(ROUNDING);
    let nonlinearity = float(&accuracy.inl_lsb).unwrap_or(0.0) / 3_f64.sqrt();
    // Without any noise the first harmonic is not the whole of it.
    let unaveraged = if steps == 0.0 { ROUNDING } else { unaveraged };
    let (per_count, degrees, source) = match (measured, stated) {
        (Some(((variance, degrees), source)), _) => (variance.sqrt(), Some(degrees), source),
        (None, stated) => {
            let variance = (steps * steps + ROUNDING - unaveraged) * independent;
            let source = if stated.is_some() {
                NoiseSource::DataSheet
            } else {
                NoiseSource::RoundingOnly
            };
            (variance.sqrt(), None, source)
        }
    };
    Noise {
        per_count,
        per_level: (unaveraged + nonlinearity * nonlinearity).sqrt() * transfer.per_sample,
        degrees,
        source,
    }
}

/// Squares and degrees of freedom within the levels of a module.
#[must_use]
pub fn repeats(levels: &[Level]) -> (f64, f64) {
    let squares = levels.iter().map(Level::scatter).sum();
    (
        squares,
        levels.iter().map(|level| level.repeats() - 1.0).sum(),
    )
}

/// Squares and degrees of freedom about a module's own line.
fn residuals(levels: &[Level]) -> (f64, f64) {
    let points: Vec<Point> = levels
        .iter()
        .map(|level| Point {
            x: level.position,
            y: level.place,
            weight: 1.0,
        })
        .collect();
    match Design::straight(&points) {
        Some(design) if points.len() > 2 => (
            Line::fit(&points, design).residual_squares,
            points.len() as f64 - 2.0,
        ),
        _ => (0.0, 0.0),
    }
}

/// Pooled variance and its degrees of freedom.
fn pooled(modules: impl Iterator<Item = (f64, f64)>) -> Option<(f64, f64)> {
    let modules: Vec<(f64, f64)> = modules.filter(|(_, degrees)| *degrees > 0.0).collect();
    let all: f64 = modules.iter().map(|(_, degrees)| degrees).sum();
    if all < DEGREES_MIN {
        return None;
    }
    // Medians and limits depend on the degrees of freedom only, and few values of them occur.
    let mut quantiles: BTreeMap<u64, (f64, f64)> = BTreeMap::new();
    for (_, degrees) in &modules {
        quantiles.entry(*degrees as u64).or_insert_with(|| {
            ChiSquared::new(*degrees).map_or((f64::INFINITY, f64::INFINITY), |chi| {
                (chi.inverse_cdf(0.5), chi.inverse_cdf(BEYOND_CHANCE))
            })
        });
    }
    let quantile = |degrees: f64| {
        quantiles
            .get(&(degrees as u64))
            .copied()
            .unwrap_or((f64::INFINITY, f64::INFINITY))
    };
    let mut typical: Vec<f64> = modules
        .iter()
        .map(|(squares, degrees)| squares / quantile(*degrees).0)
        .collect();
    typical.sort_by(f64::total_cmp);
    // Noiseless modules give 0; rounding alone may move any of them.
    let median = typical.get(typical.len() / 2).copied()?.max(ROUNDING);
    let (mut squares, mut degrees) = (0.0, 0.0);
    for (own, own_degrees) in &modules {
        if *own <= quantile(*own_degrees).1 * median {
            squares += own;
            degrees += own_degrees;
        }
    }
    (degrees >= DEGREES_MIN).then_some((squares / degrees, degrees))
}
