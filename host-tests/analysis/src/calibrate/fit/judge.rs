//! The tests of a module: each allows for noise, rounding and meter, and asks [`super::chance`] whether what is left is beyond
//! chance.

use super::chance::Chance;
use super::evidence::{self, ADJACENT};
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
            at_lines("line", &lines),
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
        let (squares, degrees) = evidence::repeats(levels);
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
            let gap = level
                .rows
                .windows(2)
                .filter_map(|pair| match pair {
                    [one, other] => Some(level.deviation(other) - level.deviation(one)),
                    _ => None,
                })
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
        levels.windows(2).find_map(|pair| match pair {
            [lower, upper] => {
                let back = lower.point.y - upper.point.y;
                let u = (lower.error.variance + upper.error.variance).sqrt();
                self.chance
                    .is_over(back / u.max(TINY), self.noise.degrees)
                    .then(|| {
                        Check::NonMonotonic.found(format!(
                                "from nominal count {:.0} to {:.0} the counts turn back by {back:.1} (standard uncertainty {u:.2})",
                                lower.point.x, upper.point.x
                            ),
                        )
                    })
            }
            _ => None,
        })
    }
}
