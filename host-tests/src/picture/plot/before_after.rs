//! Errors of several front ends before and after calibration, side by side on one scale.

use super::bars::{Row, bars};
use super::palette::Ink;
use crate::picture::curves::Curves;
use crate::picture::curves::glance::Glance;
use crate::picture::curves::values::near_millivolts;

/// The picture of those front ends that have an error budget; none of fewer than two.
pub(crate) fn svg<'a>(front_ends: impl Iterator<Item = &'a Curves>) -> Option<String> {
    let rows = front_ends.filter_map(|curves| {
        let glance = Glance::of(curves);
        let errors = vec![glance.before?.mv, glance.after?.mv];
        Some((curves.name.as_str(), errors))
    });
    let rows: Vec<Row<'_>> = rows.collect();
    if rows.len() < 2 {
        return None;
    }
    let kinds = [
        ("before calibration", Ink::Vermillion),
        ("after", Ink::Blue),
    ];
    let each = rows.iter().map(|(name, values)| {
        let texts: Vec<String> = values.iter().map(|mv| near_millivolts(*mv)).collect();
        format!("{name} {}", texts.join(" and "))
    });
    let described = format!(
        "Error of a reading before and after calibration: {}.",
        each.collect::<Vec<_>>().join("; ")
    );
    let label = "error of a reading, 95 % of boards within, mV";
    let picture = bars(&rows, &kinds, label, described);
    Some(picture.svg("Errors before and after calibration"))
}
