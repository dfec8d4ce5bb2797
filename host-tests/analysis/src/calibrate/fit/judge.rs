//! The tests of a module: each allows for noise, rounding and meter, and asks [`super::chance`] whether what is left is beyond
//! chance.

use super::chance::Chance;
use super::evidence::{ADJACENT, Pool, within};
use super::levels::{Level, Row};
use super::line::Line;
use super::meter::Meter;
use super::noise::{Noise, NoiseSource};
use super::robust;
use super::transfer::Transfer;
use super::uncertainty::Weighed;
use super::verdict::{Check, Reason, Residual, at_lines};

/// Fewer rows of one voltage cannot outvote a wrong one.
const ROWS_MIN: usize = 3;
/// Fewer rows of a module cannot.
const READINGS_MIN: usize = 4;
/// Counts that are nothing: the rounding of the computation itself.
const TINY: f64 = 1e-6;

/// What the tests of a module judge by.
#[derive(Debug, Clone, Copy)]
pub struct Judge<'a> {
    /// How rare a finding must be.
    pub chance: Chance,
    pub noise: &'a Noise,
    pub transfer: &'a Transfer,
    pub meter: &'a Meter,
}

impl Judge<'_> {
    /// Residuals beyond meter and noise.
    pub fn residuals(&self, residuals: &[Residual]) -> Option<Reason> {
        let ratio = |residual: &Residual| {
            (residual.counts.abs() - TINY).max(0.0) / residual.u_counts.max(TINY)
        };
        let worst = residuals
            .iter()
            .max_by(|one, other| ratio(one).total_cmp(&ratio(other)))
            .filter(|worst| self.chance.is_beyond(ratio(worst), self.noise.degrees))?;
        Some(Check::Residual.found(format!(
                "{:+.2} counts off the line at {:.1} mV, the standard uncertainty of meter, noise and rounding is {:.2}",
                worst.counts, worst.mv, worst.u_counts
            ),
        ))
    }

    /// Single readings off: of their voltage's other rows, or of the line.
    ///
    /// `residuals` are those of the levels. Where a row is beyond chance, the rows named are those off a line that it cannot move.
    pub fn outliers(
        &self,
        levels: &[Level],
        with_offset: bool,
        line: &Line,
        residuals: &[Residual],
    ) -> Option<Reason> {
        let mut beyond: Vec<(Row, f64)> = Vec::new();
        let rows: usize = levels.iter().map(|level| level.rows.len()).sum();
        for (level, residual) in levels.iter().zip(residuals) {
            let repeats = level.repeats();
            // Its level's, and its own about the level: a row that stands alone is its level.
            let own = if repeats > 1.0 {
                self.one_row(level) * (repeats - 1.0) / repeats
            } else {
                0.0
            };
            let u = (residual.u_counts.powi(2) + own).sqrt();
            for row in &level.rows {
                let deviation = level.deviation(row);
                if level.rows.len() >= ROWS_MIN && self.is_off_its_level(level, deviation) {
                    beyond.push((*row, deviation));
                    continue;
                }
                let counts = row.place - line.at(row.position);
                if rows >= READINGS_MIN
                    && u > TINY
                    && self
                        .chance
                        .is_beyond((counts.abs() - TINY) / u, self.noise.degrees)
                {
                    beyond.push((*row, counts));
                }
            }
        }
        if beyond.is_empty() {
            return None;
        }
        let one_reading = self.noise.one().variance.sqrt();
        let robust = robust::outliers(levels, with_offset, one_reading);
        let found = if robust.is_empty() { beyond } else { robust };
        let worst = found
            .iter()
            .max_by(|one, other| one.1.abs().total_cmp(&other.1.abs()))?;
        let mut lines: Vec<u64> = found.iter().map(|(row, _)| row.line).collect();
        lines.sort_unstable();
        Some(Check::Outlier.found(format!(
            "{} off by up to {:+.1} counts",
            at_lines(&lines),
            worst.1
        )))
    }

    /// Whether a row lies off the other rows of its voltage, judged by the noise of all rows but itself.
    fn is_off_its_level(&self, level: &Level, deviation: f64) -> bool {
        let repeats = level.repeats();
        let own = deviation.powi(2) * repeats / (repeats - 1.0);
        let expected = self.one_row(level);
        let (scale, degrees) = self.without(own, 1.0);
        let variance = (expected * scale).max(ADJACENT);
        self.chance.is_beyond((own / variance).sqrt(), degrees)
    }

    /// Variance of a row about its level, in counts squared.
    fn one_row(&self, level: &Level) -> f64 {
        let rows = std::slice::from_ref(level);
        self.noise.expected(rows, self.transfer, self.meter) / (level.repeats() - 1.0)
    }

    /// What leaving these squares out of the noise makes of its variance, and the degrees of freedom that remain.
    fn without(&self, squares: f64, degrees: f64) -> (f64, Option<f64>) {
        match (self.noise.source, self.noise.degrees) {
            (NoiseSource::Repeats | NoiseSource::Residuals, Some(all)) if all > degrees => {
                let left = (self.noise.squares - squares).max(0.0) / self.noise.squares.max(TINY);
                (left * all / (all - degrees), Some(all - degrees))
            }
            _ => (1.0, self.noise.degrees),
        }
    }

    /// Repeats that scatter more than those of all other modules.
    pub fn scatter(&self, levels: &[Level]) -> Option<Reason> {
        let repeats = within(levels.iter(), self.transfer, self.meter);
        let Pool { squares, degrees } = repeats.found;
        if degrees < 1.0 {
            return None;
        }
        let expected = self.noise.expected(levels, self.transfer, self.meter);
        let (scale, against) = self.without(squares, degrees);
        let variance = (expected * scale).max(ADJACENT * degrees);
        self.chance
            .is_wide(squares / variance, degrees, against)
            .then(|| {
                Check::Scatter.found(format!(
                    "repeats scatter by {:.2} counts rms, noise and display explain {:.2}",
                    (squares / degrees).sqrt(),
                    (expected / degrees).sqrt()
                ))
            })
    }

    /// Repeats that fall in two groups at every voltage: two modules wear one name.
    pub fn duplicated(&self, levels: &[Level]) -> Option<Reason> {
        let repeated: Vec<&Level> = levels.iter().filter(|level| level.rows.len() > 1).collect();
        if repeated.len() < 2 {
            return None;
        }
        let mut least = f64::INFINITY;
        for level in &repeated {
            // Rows are in the order of their deviation.
            let pairs = level.rows.array_windows();
            let gap = pairs
                .map(|[one, other]| level.deviation(other) - level.deviation(one))
                .fold(0.0, f64::max);
            let u = (2.0 * self.one_row(level)).sqrt();
            if !self.chance.is_over(gap / u, self.noise.degrees) {
                return None;
            }
            least = least.min(gap);
        }
        Some(Check::DuplicatedId.found(format!(
                "at each of {} voltages the readings fall in two groups, at least {least:.1} counts apart: two modules \
                 under one name?",
                repeated.len()
            ),
        ))
    }

    /// Counts that turn back by more than noise, rounding and display explain.
    pub fn non_monotonic(&self, levels: &[Weighed]) -> Option<Reason> {
        // Positions rise with the counts in both topologies.
        levels.array_windows().find_map(|[lower, upper]| {
            let back = lower.point.y - upper.point.y;
            let u = (lower.error.variance + upper.error.variance).sqrt();
            self.chance
                .is_over(back / u.max(TINY), self.noise.degrees)
                .then(|| {
                    Check::NonMonotonic.found(format!(
                        "from nominal count {:.0} to {:.0} the counts turn back by {back:.1} (standard uncertainty {u:.2})",
                        lower.point.x, upper.point.x
                    ))
                })
        })
    }
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{ContinuousCDF, FisherSnedecor};

    use super::super::examples::{divided, level, stated_noise};
    use super::super::line::{Design, Point};
    use super::*;

    /// One test of one module may spend so much.
    const ONE_TEST: f64 = 1e-5;

    fn measured(steps: u32, squares: f64, degrees: f64) -> Noise {
        let mut noise = stated_noise(&divided(), steps);
        noise.source = NoiseSource::Repeats;
        (noise.squares, noise.degrees) = (squares, Some(degrees));
        noise
    }

    fn with<T>(noise: &Noise, of: impl Fn(&Judge<'_>) -> T) -> T {
        of(&Judge {
            chance: Chance::new(1.0, 1.0),
            noise,
            transfer: &Transfer::new(&divided()).expect("legal"),
            meter: &Meter::default(),
        })
    }

    fn residual(counts: f64, u_counts: f64) -> Residual {
        Residual {
            mv: 3000.0,
            rows: 1,
            counts,
            u_counts,
        }
    }

    /// The line on which every count is at its position.
    fn diagonal(levels: &[Level]) -> Line {
        let point = |level: &Level| Point {
            x: level.position,
            y: level.position,
            weight: 1.0,
        };
        let points: Vec<Point> = levels.iter().map(point).collect();
        Line::fit(&points, Design::straight(&points).expect("a line"))
    }

    /// Of 40 squares with 10 degrees of freedom 10 with 4 are taken out: 30 over 6 is five quarters of 40 over 10.
    #[test]
    fn a_module_is_judged_without_itself() {
        let without = |noise: &Noise, degrees| with(noise, |judge| judge.without(10.0, degrees));
        let noise = measured(2, 40.0, 10.0);
        assert_eq!(without(&noise, 4.0), (1.25, Some(6.0)));
        // Nothing would remain, or the module was left out of the noise.
        assert_eq!(without(&noise, 10.0), (1.0, Some(10.0)));
        assert_eq!(without(&noise, 12.0), (1.0, Some(10.0)));
        let stated = stated_noise(&divided(), 2);
        assert_eq!(without(&stated, 4.0), (1.0, None));
    }

    /// Repeats at -d, 0 and d are a finding where Fisher's ratio to the noise without them is as rare as a test may spend: with two
    /// steps of noise, and with none, where adjacent counts make a quarter of a count squared a degree of freedom, whatever is left.
    #[test]
    fn repeats_scatter_by_fishers_ratio() {
        let fisher = FisherSnedecor::new(2.0, 48.0).expect("degrees");
        for (steps, of_batch, one) in [(2, 5000.0, 4.0 + 1.0 / 12.0), (0, 8.0, 0.25)] {
            let mut found = [0; 2];
            for quarters in 1..200 {
                let off = f64::from(quarters) / 4.0;
                let (squares, levels) = (
                    2.0 * off * off,
                    [level(3000.0, &[-off, 0.0, off], 1.0, 1.0)],
                );
                let left = f64::max(of_batch - squares, 0.0) / of_batch * 50.0 / 48.0;
                let variance = f64::max(2.0 * one * left, 2.0 * 0.25);
                let rare = fisher.sf(squares / variance) < ONE_TEST && squares > variance;
                let noise = measured(steps, of_batch, 50.0);
                let finding = with(&noise, |judge| judge.scatter(&levels).is_some());
                assert_eq!(finding, rare, "{steps} {off}");
                found[usize::from(rare)] += 1;
            }
            assert!(found[0] > 5 && found[1] > 5, "{found:?}");
        }
    }

    /// Five counts of 1e-6 are the computation's rounding, and nothing that chance would have to explain.
    #[test]
    fn the_computations_own_rounding_is_no_finding() {
        let noise = stated_noise(&divided(), 0);
        let is_off = |counts, u| {
            let residuals = [residual(counts, u)];
            with(&noise, |judge| judge.residuals(&residuals).is_some())
        };
        // 4.417 standard uncertainties are as rare as one test may spend on both sides.
        assert!(!is_off(5.2e-6, 0.0) && is_off(-5.6e-6, 0.0));
        let is_outlier = |counts: f64, u: f64| {
            let mut levels: Vec<Level> = [2000.0, 2500.0, 3000.0, 3500.0]
                .map(|position| level(position, &[0.0], 1.0, 1.0))
                .to_vec();
            levels.extend([level(3600.0, &[counts], 1.0, 1.0)]);
            let residuals = [residual(0.0, u); 5];
            with(&noise, |judge| {
                judge
                    .outliers(&levels, true, &diagonal(&levels), &residuals)
                    .is_some()
            })
        };
        assert!(!is_outlier(9.3e-6, 2e-6) && is_outlier(10.5e-6, 2e-6));
        // Where nothing is uncertain there is nothing to judge by.
        assert!(!is_outlier(1e-3, 1e-6) && is_outlier(1e-3, 1.1e-6));
    }

    /// Three rows alike, off a line whose level is known to a count: a row has two thirds of its noise about its level beside that.
    #[test]
    fn a_row_has_its_own_noise_about_its_level() {
        let u = (1.0 + 2.0 / 3.0 * (4.0 + 1.0 / 12.0_f64)).sqrt();
        // Normal, 5e-6 on each side.
        let limit = 4.417_173 * u;
        let noise = stated_noise(&divided(), 2);
        for size in [limit, -limit] {
            let found = [0.999, 1.001].map(|part| {
                let levels = [
                    level(2000.0, &[0.0], 1.0, 1.0),
                    level(2800.0, &[part * size; 3], 1.0, 1.0),
                ];
                let residuals = [residual(0.0, 1.0); 2];
                with(&noise, |judge| {
                    judge
                        .outliers(&levels, true, &diagonal(&levels), &residuals)
                        .is_some()
                })
            });
            assert_eq!(found, [false, true]);
        }
    }
}
