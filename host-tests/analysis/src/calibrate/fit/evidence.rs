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
    let quantile = |found: &Pool| quantiles[&(found.degrees as u64)];
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

#[cfg(test)]
mod tests {
    use tallyvolt_model::rational::whole;

    use super::super::examples::{divided, level};
    use super::*;

    fn close(one: f64, other: f64) -> bool {
        (one - other).abs() <= 1e-9 * other.abs().max(1.0)
    }

    fn transfer() -> Transfer {
        Transfer::new(&divided()).expect("legal")
    }

    /// A display that rounds by 2 mV rms, and a count is a millivolt.
    fn coarse() -> Meter {
        Meter {
            resolution_mv: 2.0 * 12_f64.sqrt(),
            ..Meter::default()
        }
    }

    /// Three rows and two of them, and one that tells nothing; 4 counts squared of display.
    #[test]
    fn repeats_by_hand() {
        let levels = [
            level(2000.0, &[-1.0, 0.0, 1.0], 0.25, 0.5),
            level(3000.0, &[-2.0, 2.0], 0.5, 0.25),
            level(3500.0, &[5.0], 1.0, 1.0),
        ];
        let found = within(levels.iter(), &transfer(), &coarse());
        assert!(close(found.found.squares, 2.0 + 8.0));
        assert!(close(found.found.degrees, 3.0) && close(found.own, 3.0));
        for weight in found.rounding {
            assert!(close(weight, 3.0 * 0.75 + 2.0 * 0.5));
        }
        assert!(close(found.fixed, 2.0 * 0.5 * 4.0 + 0.75 * 4.0));
    }

    /// Off a line by -1, 2 and -1 in the middle of three: leverages 5/6, 1/3, 5/6, so that 1/6, 2/3 and 1/6 are left of each level.
    #[test]
    fn a_line_by_hand() {
        let levels = [
            level(2000.0, &[0.0, 0.0], 0.5, 1.0),
            level(3000.0, &[3.0; 4], 0.5, 0.5),
            level(4000.0, &[0.0], 0.25, 0.0),
        ];
        let mut accuracy = divided().converter.accuracy;
        accuracy.inl_lsb = Some(whole(3));
        let sampling = Sampling::new(&transfer(), &accuracy);
        let found = about_line(&levels, &transfer(), &coarse(), &sampling);
        assert!(close(found.found.squares, 6.0) && close(found.found.degrees, 1.0));
        assert!(close(found.own, 1.0 / 12.0 + 1.0 / 6.0 + 1.0 / 6.0));
        for weight in found.rounding {
            assert!(close(weight, 1.0 / 12.0 + 1.0 / 3.0 + 1.0 / 24.0));
        }
        // Display: all of 4, a half and an eighth of it, all of it; nonlinearity: 3 squared, over 3.
        let fixed = (4.0 + 3.0) / 6.0 + (2.5 + 3.0) * 2.0 / 3.0 + (4.0 + 3.0) / 6.0;
        assert!(close(found.fixed, fixed));
    }

    /// A line through two voltages fits them: nothing is left, to the last bit.
    #[test]
    fn two_voltages_tell_nothing_about_a_line() {
        let sampling = Sampling::new(&transfer(), &divided().converter.accuracy);
        for place in 1..50 {
            let position = 2000.1 + 31.7 * f64::from(place);
            let levels = [
                level(1999.3, &[0.0], 1.0, 1.0),
                level(position, &[0.7], 1.0, 1.0),
            ];
            let found = about_line(&levels, &transfer(), &Meter::default(), &sampling);
            assert_eq!((found.found.squares, found.found.degrees), (0.0, 0.0));
            assert_eq!((found.own, found.fixed), (0.0, 0.0));
        }
    }

    fn evidence(squares: f64, degrees: f64) -> Evidence {
        Evidence {
            found: Pool { squares, degrees },
            own: degrees,
            rounding: [2.0; HARMONICS],
            fixed: 0.5,
        }
    }

    /// What is added, is added item by item; without noise, the squares are rounding and display.
    #[test]
    fn evidence_adds_up() {
        let mut both = evidence(1.0, 2.0);
        let more = Evidence {
            rounding: [5.0; HARMONICS],
            ..evidence(10.0, 20.0)
        };
        both.add(&more);
        assert_eq!((both.found.squares, both.found.degrees), (11.0, 22.0));
        assert_eq!((both.own, both.fixed), (22.0, 1.0));
        assert_eq!(both.rounding, [7.0; HARMONICS]);
        let mut sampling = Sampling::new(&transfer(), &divided().converter.accuracy);
        // Two steps of noise, and their own rounding.
        let noisy = 22.0 * (4.0 + 1.0 / 12.0) + 1.0;
        assert!(close(both.expected(2.0, &sampling), noisy));
        (sampling.samples, sampling.per_sample) = (16.0, 16.0);
        let still = 7.0 / 12.0 * 256.0 + 1.0;
        assert!(close(both.expected(0.0, &sampling), still));
    }

    /// The noise found is the noise that makes these very squares, whatever is summed, shifted away and weighed.
    #[test]
    fn the_noise_found_makes_the_squares_found() {
        let mut sampling = Sampling::new(&transfer(), &divided().converter.accuracy);
        for (samples, per_sample) in [(1.0, 1.0), (16.0, 16.0), (16.0, 0.25)] {
            (sampling.samples, sampling.per_sample) = (samples, per_sample);
            for own in [0.1, 20.0] {
                for noise in [0.7, 3.0, 30.0] {
                    let mut evidence = Evidence {
                        own,
                        ..evidence(0.0, 20.0)
                    };
                    evidence.found.squares = evidence.expected(noise, &sampling);
                    let found = evidence.steps(&sampling);
                    assert!((found / noise - 1.0).abs() < 1e-6, "{noise} {found}");
                }
            }
        }
    }

    /// Modules that have no repeats do not speak: with them the median would be 0, and the two others beyond it. A module that scatters
    /// two hundred times as much as the others is left out.
    #[test]
    fn modules_without_repeats_have_no_vote() {
        let mut modules = vec![Evidence::default(); 3];
        modules.extend([evidence(100.0, 10.0), evidence(110.0, 10.0)]);
        let found = pooled(&modules).expect("two modules").found;
        assert_eq!((found.squares, found.degrees), (210.0, 20.0));
        modules.push(evidence(20_000.0, 10.0));
        let found = pooled(&modules).expect("three modules").found;
        assert_eq!((found.squares, found.degrees), (210.0, 20.0));
    }
}
