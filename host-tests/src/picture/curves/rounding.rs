//! What firmware answers less the exact voltage, in output units.

use serde::Serialize;

use super::characteristic::{Characteristic, spaced_between};

/// Columns of the plot.
const COLUMNS: u32 = 256;
/// Counts of a column that are looked at: every one up to 65 536 counts in all.
pub(super) const COUNTS_A_COLUMN: u32 = 256;

/// Rounding errors, column by column along the counts.
#[derive(Debug, Clone, Serialize)]
pub struct Rounding {
    /// Counts that are voltages.
    pub counts: u64,
    /// How many of them were looked at; the check looks at every one.
    pub looked_at: u64,
    pub columns: Vec<RoundingColumn>,
}

/// A run of counts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RoundingColumn {
    pub first: u32,
    pub last: u32,
    /// Least answer less exact voltage, in output units.
    pub lowest: f64,
    pub highest: f64,
}

impl Rounding {
    pub(super) fn of(voltages: &Characteristic<'_>) -> Self {
        let (first, last) = (voltages.first, voltages.last);
        let mut looked_at = 0;
        let columns = columns(first, last)
            .filter_map(|(first, last)| {
                let counts = spaced_between(first, last, COUNTS_A_COLUMN);
                let errors = counts.filter_map(|count| {
                    let units = voltages.units(count)?;
                    Some(voltages.form.error(count, units))
                });
                let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
                for error in errors {
                    looked_at += 1;
                    lowest = lowest.min(error);
                    highest = highest.max(error);
                }
                (lowest <= highest).then_some(RoundingColumn {
                    first,
                    last,
                    lowest,
                    highest,
                })
            })
            .collect();
        Self {
            counts: u64::from(last - first) + 1,
            looked_at,
            columns,
        }
    }
}

/// `first ..= last` cut into at most [`COLUMNS`] runs of nearly the same length, in order.
pub(super) fn columns(first: u32, last: u32) -> impl Iterator<Item = (u32, u32)> {
    let counts = u64::from(last.saturating_sub(first)) + 1;
    let columns = counts.min(u64::from(COLUMNS));
    (0..columns).map(move |column| {
        // At most last, a u32.
        let start = |column: u64| first + (counts * column / columns) as u32;
        (start(column), start(column + 1) - 1)
    })
}
