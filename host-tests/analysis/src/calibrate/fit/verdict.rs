//! Good, unchecked, or suspect with every reason that was found.

use serde::Serialize;

use super::noise::Noise;

/// Voltages of a two-point fit must span this part of the cell's range: beyond, a line is stretched over five times.
pub const SPAN_MIN: f64 = 0.2;

/// What a module is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing speaks against it, and something could.
    Good,
    /// Nothing speaks against it, and nothing could.
    Unchecked,
    /// Something speaks against it.
    Suspect,
}

impl Verdict {
    /// In one word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Unchecked => "unchecked",
            Self::Suspect => "suspect",
        }
    }
}

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

    /// The reason that it gives.
    pub fn found(self, found: impl Into<String>) -> Reason {
        let (check, found) = (self, found.into());
        Reason { check, found }
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

/// Tests of a module with these rows and voltages: each row, each voltage, each pair of neighbours, scatter, groups, gain, offset.
pub fn tests(rows: usize, voltages: usize) -> f64 {
    (rows + 2 * voltages + 4) as f64
}

/// Why nothing could contradict a fit of so many values to so many rows; none where something could.
pub fn unchecked(rows: usize, values: usize, noise: &Noise) -> Option<String> {
    if rows <= values {
        let plural = if rows == 1 { "" } else { "s" };
        let values = if values == 1 {
            "1 value is"
        } else {
            "2 values are"
        };
        let why = format!("{rows} row{plural}, and {values} fitted: any rows would agree");
        return Some(why);
    }
    (!noise.is_known())
        .then(|| "the noise is not known, so no row can be told from noise".to_owned())
}

/// "line 5" or "lines 5, 6, 7 and 12 more".
pub(crate) fn at_lines(lines: &[u64]) -> String {
    const SHOWN: usize = 5;
    let shown: Vec<String> = lines.iter().take(SHOWN).map(u64::to_string).collect();
    let more = match lines.len().saturating_sub(SHOWN) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let plural = if lines.len() == 1 { "" } else { "s" };
    format!("line{plural} {}{more}", shown.join(", "))
}
