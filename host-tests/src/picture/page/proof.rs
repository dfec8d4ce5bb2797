//! What was found about every count: label and text.

use super::glance::reads;
use crate::picture::curves::values::millivolts;
use crate::words;
use crate::words::numbers::{grouped, told};
use tallyvolt_analysis::prove::check::found::Check;

/// The rows; a label that is indented belongs to the one above.
pub(super) fn rows(check: &Check) -> Vec<(&'static str, String)> {
    let unit = millivolts(check.unit_uv);
    let mut rows = vec![(
        "counts compared",
        format!(
            "{} with the exact model, {} wrong",
            grouped(check.counts_swept),
            grouped(check.wrong_counts)
        ),
    )];
    rows.extend(words::check::wrong(check));
    rows.extend([
        (
            "largest rounding error",
            format!(
                "{:.6} of a step of {unit} (at most 0.5 is exact)",
                check.largest_rounding_error_units
            ),
        ),
        ("arithmetic", words::formulas::formula(&check.arithmetic)),
        ("why it is exact", check.proof.clone()),
        (
            "reads",
            told(reads(check), "no count is a voltage", |(range, counts)| {
                format!("{range}, {counts}")
            }),
        ),
        (
            "answers in the cell's range",
            format!(
                "{} in steps of {unit}: {} that no count gives, {} that more than one gives",
                grouped(check.cell_values),
                grouped(check.unreachable_values),
                grouped(check.doubled_values)
            ),
        ),
        ("never turns back", words::numbers::yes(check.monotonic)),
        ("the cell's range is read", words::check::fits(check)),
        ("double precision", words::check::float_distance(check)),
    ]);
    let degrees = |text: String| text.replace("m degC", "m°C").replace("degC", "°C");
    rows.extend(words::sensor::rows(check).map(|(label, text)| (label, degrees(text))));
    rows
}
