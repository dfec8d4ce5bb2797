//! Good, or suspect with every reason that was found.

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::levels::Level;
use super::noise;
use super::robust;

/// A value, residual or scatter is suspect when chance gives it less than once in a million: so many standard uncertainties
/// of a normal distribution, or this quantile of another. A batch of 10,000 sound modules then has none, as a rule.
pub const BEYOND_CHANCE_U: f64 = 4.9;
const BEYOND_CHANCE: f64 = 1.0 - 1e-6;
/// Two groups of repeats this many standard deviations apart are two modules, not one.
const GROUPS_APART: f64 = 6.0;
/// Voltages of a two-point fit must span this part of the cell's range: beyond, a line is stretched over five times.
pub const SPAN_MIN: f64 = 0.2;

/// Why a module is suspect.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Reason {
    /// Which check.
    pub check: Check,
    /// What it found.
    pub found: String,
}

/// The checks, in the order they are reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Check {
    /// A row that could not be read.
    BadRow,
    /// A count at either end of the converter's range.
    Saturated,
    /// No two voltages, or too close together.
    TooClose,
    /// Readings of two modules under one name.
    DuplicatedId,
    /// A reading off the robust line.
    Outlier,
    /// Counts that turn back.
    NonMonotonic,
    /// Repeats that scatter more than the batch does.
    Scatter,
    /// A voltage off the fitted line.
    Residual,
    /// A gain that the parts cannot make.
    Gain,
    /// An offset that the converter cannot have.
    Offset,
    /// Words that cannot be stored, or that firmware cannot prove.
    Stored,
}

impl Check {
    /// The check's name in one or two words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::BadRow => "bad row",
            Self::Saturated => "saturated count",
            Self::TooClose => "too close",
            Self::DuplicatedId => "duplicated id",
            Self::Outlier => "outlier",
            Self::NonMonotonic => "non-monotonic",
            Self::Scatter => "scatter",
            Self::Residual => "residual",
            Self::Gain => "gain",
            Self::Offset => "offset",
            Self::Stored => "stored words",
        }
    }
}

impl Reason {
    /// A reason.
    #[must_use]
    pub fn new(check: Check, found: String) -> Self {
        Self { check, found }
    }
}

/// A level's residual in counts and its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Residual {
    /// The level's voltage.
    pub mv: f64,
    /// Rows.
    pub rows: usize,
    /// Distance from the line.
    pub counts: f64,
    /// What meter and noise explain, standard.
    pub u_counts: f64,
}

/// Residuals beyond meter and noise.
#[must_use]
pub fn residuals(residuals: &[Residual]) -> Option<Reason> {
    let worst = residuals
        .iter()
        .filter(|residual| residual.counts.abs() > BEYOND_CHANCE_U * residual.u_counts + 1e-6)
        .max_by(|one, other| one.counts.abs().total_cmp(&other.counts.abs()))?;
    Some(Reason::new(
        Check::Residual,
        format!(
            "{:+.2} counts off the line at {:.1} mV, meter and noise explain {:.2}",
            worst.counts,
            worst.mv,
            BEYOND_CHANCE_U * worst.u_counts
        ),
    ))
}

/// Readings off the robust line; `noise` is the standard deviation of a reading.
#[must_use]
pub fn outliers(levels: &[Level], offset: bool, noise: f64) -> Option<Reason> {
    let found = robust::outliers(levels, offset, noise);
    let worst = found
        .iter()
        .max_by(|one, other| one.1.abs().total_cmp(&other.1.abs()))?;
    let mut lines: Vec<u64> = found.iter().map(|(row, _)| row.line).collect();
    lines.sort_unstable();
    Some(Reason::new(
        Check::Outlier,
        format!(
            "{} off the repeated-median line by up to {:+.1} counts (Hampel limit)",
            at_lines("line", &lines),
            worst.1
        ),
    ))
}

/// Repeats that scatter more than the batch's noise.
#[must_use]
pub fn scatter(levels: &[Level], noise: f64) -> Option<Reason> {
    let (squares, degrees) = noise::repeats(levels);
    if degrees < 1.0 || noise <= 0.0 {
        return None;
    }
    let limit = ChiSquared::new(degrees).ok()?.inverse_cdf(BEYOND_CHANCE);
    // Noiseless repeats differ by a count now and then where the voltage stands at a step.
    let floor = noise.max(0.5);
    (squares > limit * floor * floor).then(|| {
        Reason::new(
            Check::Scatter,
            format!(
                "repeats scatter by {:.2} counts rms, the batch by {noise:.2}",
                (squares / degrees).sqrt()
            ),
        )
    })
}

/// Repeats that fall in two groups at every voltage: two modules wear one name.
#[must_use]
pub fn duplicated(levels: &[Level], noise: f64) -> Option<Reason> {
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
        least = least.min(gap);
    }
    (least > GROUPS_APART * noise.max(0.5)).then(|| {
        Reason::new(
            Check::DuplicatedId,
            format!(
                "at each of {} voltages the readings fall in two groups, at least {least:.1} counts apart: two modules \
                 under one name?",
                repeated.len()
            ),
        )
    })
}

/// Counts that do not rise, or fall, with the voltage as the topology has it.
#[must_use]
pub fn non_monotonic(levels: &[Level], noise: f64) -> Option<Reason> {
    // Positions rise with the counts in both topologies.
    levels.windows(2).find_map(|pair| match pair {
        [lower, upper] if upper.place <= lower.place => {
            let counts = upper.place - lower.place;
            Some(Reason::new(
                Check::NonMonotonic,
                format!(
                    "from nominal count {:.0} to {:.0} the counts move by {counts:+.1} (noise {noise:.2})",
                    lower.position, upper.position
                ),
            ))
        }
        _ => None,
    })
}

/// "line 5" or "lines 5, 6, 7 and 12 more".
#[must_use]
pub fn at_lines(word: &str, lines: &[u64]) -> String {
    const SHOWN: usize = 5;
    let shown: Vec<String> = lines.iter().take(SHOWN).map(u64::to_string).collect();
    let more = match lines.len().saturating_sub(SHOWN) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let plural = if lines.len() == 1 { "" } else { "s" };
    format!("{word}{plural} {}{more}", shown.join(", "))
}
