//! What the rows of a batch tell about noise: the squares found, and what makes the squares expected.

use std::collections::BTreeMap;

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::levels::Level;
use super::line::{Design, Line, Point};
use super::meter::Meter;
use super::rounding::{self, HARMONICS};
use super::sampling::Sampling;
use super::transfer::Transfer;
use crate::choose::halving::halved;

/// With fewer degrees of freedom a noise is not known: Student's factor would be 2.8 and more, and whole counts are too coarse a scale.
pub const DEGREES_MIN: f64 = 5.0;
/// A module's scatter beyond this probability is left out of the pool.
const BEYOND_CHANCE: f64 = 1.0 - 1e-6;
/// Rows of two adjacent counts have at most this variance, whatever the noise, in counts squared.
pub const ADJACENT: f64 = 0.25;
/// A display's variance below this part of the scatter found does not matter.
const DISPLAY_MATTERS: f64 = 0.2;

/// Squares and their degrees of freedom.
#[derive(Debug, Clone, Copy, Default)]
pub struct Pool {
    /// Counts squared.
    pub squares: f64,
    pub degrees: f64,
}

/// Squares found, and what makes the squares expected.
#[derive(Debug, Clone, Copy, Default)]
pub struct Evidence {
    pub found: Pool,
    /// Weight of a row's own variance.
    own: f64,
    /// Weights of rounding, harmonic by harmonic.
    rounding: [f64; HARMONICS],
    /// Display and nonlinearity, in counts squared.
    pub fixed: f64,
}

impl Evidence {
    /// Both.
    pub fn add(&mut self, other: &Self) {
        self.found.squares += other.found.squares;
        self.found.degrees += other.found.degrees;
        self.own += other.own;
        for (sum, more) in self.rounding.iter_mut().zip(other.rounding) {
            *sum += more;
        }
        self.fixed += other.fixed;
    }

    /// Squares that a noise makes, in counts squared.
    pub fn expected(&self, steps: f64, sampling: &Sampling) -> f64 {
        let rounding: f64 = rounding::harmonics(steps)
            .iter()
            .zip(self.rounding)
            .map(|(variance, weight)| variance * weight)
            .sum();
        self.own * sampling.independent(steps) + rounding * sampling.per_sample.powi(2) + self.fixed
    }

    /// The largest noise that makes no more than the squares found; 0 where rounding and display alone make more.
    pub fn steps(&self, sampling: &Sampling) -> f64 {
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
        halved((high * 0.9, high), 30, enough)
    }
}

/// Whether the display rounds by enough to be seen in the repeats.
pub fn display_matters(batch: &[Vec<Level>], transfer: &Transfer, meter: &Meter) -> bool {
    let (mut display, mut found) = (0.0, 0.0);
    for level in batch.iter().flatten().filter(|level| level.rows.len() > 1) {
        let one = meter.display_counts(transfer, level.position).powi(2);
        display += (level.repeats() - 1.0) * one;
        found += level.scatter();
    }
    display > DISPLAY_MATTERS * found
}

/// Squares and degrees of freedom within the voltages of a module.
pub fn repeats(levels: &[Level]) -> (f64, f64) {
    (
        levels.iter().map(Level::scatter).sum(),
        levels.iter().map(|level| level.repeats() - 1.0).sum(),
    )
}

/// What repeats tell.
pub fn within<'a>(
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
pub fn about_line(
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
pub fn pooled(modules: &[Evidence]) -> Option<Evidence> {
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
        let known = quantiles.get(&(found.degrees as u64)).copied();
        known.unwrap_or((f64::INFINITY, f64::INFINITY))
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
