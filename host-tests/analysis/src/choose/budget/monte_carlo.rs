//! Propagation of distributions (JCGM 101): trials through the model itself, and the shortest 95 % interval.
//!
//! Trials come in chunks, and each chunk has a stream of its own of one counter-based generator, so that the same seed
//! gives the same figures on any number of threads.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardNormal};
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

use super::distribution::Distribution;
use super::input::{Correlation, Input, Model};

/// Share of the values inside an interval.
pub const COVERAGE: f64 = 0.95;
/// Trials of one stream. Changing it changes every figure.
const CHUNK: usize = 4096;

/// What a run does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    /// How many trials.
    pub trials: usize,
    /// Where the generator starts.
    pub seed: u64,
}

/// Every output of every trial.
#[derive(Debug, Clone)]
pub struct Trials {
    /// One for each chunk: its trials of the first output, then of the second, and so on.
    blocks: Vec<Vec<f64>>,
    outputs: usize,
    trials: usize,
}

/// One output quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
    /// Lower end of the shortest 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Standard error of the larger end's distance from zero: what chance alone moves it by.
    pub end_error: f64,
}

/// Parts that the trials are cut into, to see what chance does to the interval's ends.
const PARTS: usize = 8;

impl Run {
    /// Draws every trial and evaluates the model on it.
    ///
    /// Correlated inputs must be rectangular or constant: they are drawn through a Gaussian copula whose coefficient
    /// gives the rectangular marginals the coefficient that is asked for.
    ///
    /// `progress` is told how many trials were done, from any thread.
    pub fn go(
        self,
        inputs: &[Input],
        correlations: &[Correlation],
        outputs: usize,
        model: &Model,
        progress: &(dyn Fn(u64) + Sync),
    ) -> Trials {
        let pairs: Vec<Pair> = correlations
            .iter()
            .filter_map(|pair| Pair::new(inputs, pair))
            .collect();
        let estimates: Vec<f64> = inputs.iter().map(|input| input.estimate).collect();
        let drawn: Vec<(usize, Input)> = inputs
            .iter()
            .copied()
            .enumerate()
            .filter(|(_, input)| !input.distribution.is_constant())
            .collect();
        let blocks = (0..self.trials.div_ceil(CHUNK))
            .into_par_iter()
            .map(|chunk| {
                let size = CHUNK.min(self.trials - chunk * CHUNK);
                let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
                rng.set_stream(chunk as u64);
                let mut values = estimates.clone();
                let mut out = vec![0.0; outputs];
                let mut block = vec![0.0; outputs * size];
                for trial in 0..size {
                    for (index, input) in &drawn {
                        values[*index] = input.estimate + input.distribution.draw(&mut rng);
                    }
                    for pair in &pairs {
                        pair.draw(&mut rng, &mut values);
                    }
                    model(&values, &mut out);
                    for (column, value) in block.chunks_exact_mut(size).zip(&out) {
                        column[trial] = *value;
                    }
                }
                progress(size as u64);
                block
            })
            .collect();
        Trials {
            blocks,
            outputs,
            trials: self.trials,
        }
    }
}

impl Trials {
    /// Mean, standard deviation and shortest 95 % interval of some outputs.
    pub fn summaries(&self, outputs: &[usize]) -> Vec<Summary> {
        outputs
            .par_iter()
            .map(|output| {
                let values: Vec<f64> = self.column(*output).collect();
                let size = values.len().div_ceil(PARTS).max(1);
                let ends: Vec<f64> = values
                    .chunks(size)
                    .map(summary)
                    .map(|part| part.low.abs().max(part.high.abs()))
                    .collect();
                let count = ends.len() as f64;
                let mean = ends.iter().sum::<f64>() / count;
                let squares: f64 = ends.iter().map(|end| (end - mean).powi(2)).sum();
                Summary {
                    end_error: (squares / (count - 1.0).max(1.0) / count).sqrt(),
                    ..summary(&values)
                }
            })
            .collect()
    }

    /// The share of an output's values below `bound`.
    pub fn share_below(&self, output: usize, bound: f64) -> f64 {
        self.share(output, |value| value < bound)
    }

    /// The share of an output's values at or below `bound`.
    pub(crate) fn share_at_most(&self, output: usize, bound: f64) -> f64 {
        self.share(output, |value| value <= bound)
    }

    /// The share of trials in which every one of some outputs lies within `bound` of zero.
    pub(crate) fn share_within(&self, outputs: &[usize], bound: f64) -> f64 {
        let within: usize = self
            .blocks
            .par_iter()
            .map(|block| {
                let size = block.len() / self.outputs.max(1);
                let columns: Vec<&[f64]> = outputs
                    .iter()
                    .map(|output| &block[output * size..(output + 1) * size])
                    .collect();
                (0..size)
                    .filter(|trial| columns.iter().all(|column| column[*trial].abs() <= bound))
                    .count()
            })
            .sum();
        within as f64 / self.trials as f64
    }

    fn share(&self, output: usize, wanted: impl Fn(f64) -> bool) -> f64 {
        let number = self.column(output).filter(|value| wanted(*value)).count();
        number as f64 / self.trials as f64
    }

    /// The value that `rank` of an output's values lie below.
    pub fn ranked(&self, output: usize, rank: usize) -> f64 {
        let mut values: Vec<f64> = self.column(output).collect();
        let rank = rank.min(values.len().saturating_sub(1));
        if values.is_empty() {
            return f64::NAN;
        }
        *values.select_nth_unstable_by(rank, f64::total_cmp).1
    }

    /// How many trials there are.
    pub fn trials(&self) -> usize {
        self.trials
    }

    fn column(&self, output: usize) -> impl Iterator<Item = f64> + '_ {
        self.blocks.iter().flat_map(move |block| {
            let size = block.len() / self.outputs.max(1);
            block[output * size..(output + 1) * size].iter().copied()
        })
    }
}

/// The interval's ends are in the outer twentieths (JCGM 101, 7.7), so only those are sorted.
fn summary(values: &[f64]) -> Summary {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let inside = (COVERAGE * count).round() as usize;
    let (lowest, highest) = tails(values, values.len().saturating_sub(inside));
    let (low, high) = lowest
        .into_iter()
        .zip(highest)
        .min_by(|one, other| (one.1 - one.0).total_cmp(&(other.1 - other.0)))
        .unwrap_or((f64::NAN, f64::NAN));
    Summary {
        mean,
        sd: (squares / (count - 1.0)).sqrt(),
        low,
        high,
        end_error: 0.0,
    }
}

/// The lowest and the highest `wanted` values, each rising.
///
/// The first chunk tells roughly where the tails begin; one pass then gathers what lies beyond. Where that is too little,
/// as for a value that hardly varies, everything is sorted.
fn tails(values: &[f64], wanted: usize) -> (Vec<f64>, Vec<f64>) {
    let sorted = |mut values: Vec<f64>| {
        values.sort_unstable_by(f64::total_cmp);
        values
    };
    let probe = sorted(values.iter().copied().take(CHUNK).collect());
    // Twice the share that is wanted, so that chance does not leave it short.
    let place = 2 * wanted * probe.len() / values.len().max(1);
    let cuts = probe.get(place).zip(probe.iter().nth_back(place));
    let (low, high) = cuts.map_or_else(Default::default, |(low, high)| {
        let beyond = |wanted: &dyn Fn(f64) -> bool| -> Vec<f64> {
            values
                .iter()
                .copied()
                .filter(|value| wanted(*value))
                .collect()
        };
        (
            beyond(&|value| value < *low),
            beyond(&|value| value > *high),
        )
    });
    let (mut low, high) = if low.len() >= wanted && high.len() >= wanted {
        (sorted(low), sorted(high))
    } else {
        let all = sorted(values.to_vec());
        (all.clone(), all)
    };
    low.truncate(wanted);
    let high = high.get(high.len() - wanted..).unwrap_or_default().to_vec();
    (low, high)
}

/// Two rectangular inputs that go together.
struct Pair {
    one: (usize, f64, f64),
    other: (usize, f64, f64),
    /// Coefficient of the normal variables behind them, and what makes their sum of squares 1.
    shared: f64,
    own: f64,
    normal: Normal,
}

impl Pair {
    fn new(inputs: &[Input], pair: &Correlation) -> Option<Self> {
        let side = |index: usize| {
            let input = inputs.get(index)?;
            match input.distribution {
                Distribution::Rectangular { half } => Some((index, input.estimate, half)),
                _ => None,
            }
        };
        // Uniform marginals of a Gaussian copula with coefficient s have the coefficient (6 / pi) asin(s / 2).
        let shared = 2.0 * (std::f64::consts::PI / 6.0 * pair.coefficient).sin();
        (pair.coefficient != 0.0).then_some(())?;
        Some(Self {
            one: side(pair.one)?,
            other: side(pair.other)?,
            shared,
            own: (1.0 - shared * shared).max(0.0).sqrt(),
            normal: Normal::standard(),
        })
    }

    fn draw(&self, rng: &mut ChaCha8Rng, values: &mut [f64]) {
        let (one, independent): (f64, f64) =
            (StandardNormal.sample(rng), StandardNormal.sample(rng));
        let other = self.shared * one + self.own * independent;
        for ((index, estimate, half), normal) in [(self.one, one), (self.other, other)] {
            values[index] = estimate + half * (2.0 * self.normal.cdf(normal) - 1.0);
        }
    }
}

#[cfg(test)]
mod tests;
