//! Yields as rows, for text and page alike.

use crate::words::numbers::told;
use tallyvolt_analysis::choose::budget::yields::Yields;

/// What the table says.
pub(crate) const TITLE: &str = "yield: share of boards within an error at the cell's minimum, nominal and maximum, over the range";

/// Its headings, as [`super::sheet::columns`] takes them; the first two columns say what a row is about.
pub(crate) fn headings(yields: &Yields) -> String {
    let errors = yields.errors_mv.iter();
    let errors = errors.map(|error| format!(" | >{error} mV"));
    std::iter::once("resistors | calibration".to_owned())
        .chain(errors)
        .collect()
}

/// Its rows: the front end as described, then with resistors of other classes.
pub(crate) fn rows(yields: &Yields) -> impl Iterator<Item = Vec<String>> {
    yields.rows.iter().map(|row| {
        let resistors = told(row.resistors_ppm, "as described", |ppm| {
            format!("{} %", f64::from(ppm) / 10_000.0)
        });
        let shares = row.shares.iter();
        let shares = shares.map(|share| format!("{:.2} %", 100.0 * share));
        [resistors, row.calibration.to_owned()]
            .into_iter()
            .chain(shares)
            .collect()
    })
}
