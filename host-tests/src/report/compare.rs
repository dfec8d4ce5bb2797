//! A comparison as a table, for people.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, Table, presets};

use super::{grouped, wrapped};
use crate::budget::reading::State;
use crate::compare::{Candidate, Comparison};

/// What other tolerance classes of the resistors would give; empty without resistors.
fn classes(candidate: &Candidate, within_mv: f64) -> String {
    let yields = &candidate.yields;
    let Some(place) = yields
        .errors_mv
        .iter()
        .position(|error| *error == within_mv)
    else {
        return String::new();
    };
    let share = |ppm, calibration| {
        let mut rows = yields.rows.iter();
        let row =
            rows.find(|row| row.resistors_ppm == Some(ppm) && row.calibration == calibration)?;
        Some(100.0 * row.shares.get(place)?)
    };
    let mut classes: Vec<u32> = yields
        .rows
        .iter()
        .filter_map(|row| row.resistors_ppm)
        .collect();
    classes.dedup();
    let parts = classes.into_iter().filter_map(|ppm| {
        let (before, after) = (
            share(ppm, State::Uncalibrated.word())?,
            share(ppm, State::TwoPoint.word())?,
        );
        let percent = f64::from(ppm) / 10_000.0;
        Some(format!("{percent} %: {before:.2} and {after:.2} %"))
    });
    let parts = parts.collect::<Vec<_>>().join("; ");
    if parts.is_empty() {
        return parts;
    }
    format!(
        "{}, boards within, uncalibrated and two-point, with resistors of {parts}",
        candidate.name
    )
}

/// The comparison, failures below it.
#[must_use]
pub fn comparison(comparison: &Comparison) -> String {
    let mut table = Table::new();
    table.load_style(presets::ASCII_BORDERS_ONLY_CONDENSED);
    let names = comparison
        .candidates
        .iter()
        .map(|candidate| candidate.name.as_str());
    table.set_header(std::iter::once("candidate").chain(names));
    let topologies = comparison
        .candidates
        .iter()
        .map(|candidate| candidate.topology.replace('-', " "));
    table.add_row(std::iter::once("topology".to_owned()).chain(topologies));
    for row in &comparison.rows {
        let cells = row.cells.iter().map(|cell| {
            let mark = if cell.best { "* " } else { "" };
            format!("{mark}{}", cell.text)
        });
        table.add_row(std::iter::once(row.label.to_owned()).chain(cells));
    }
    let verdicts = comparison.candidates.iter().map(|candidate| {
        if candidate.failures.is_empty() {
            "serves"
        } else {
            "CANNOT SERVE"
        }
        .to_owned()
    });
    table.add_row(std::iter::once("verdict".to_owned()).chain(verdicts));
    for column in 1..=comparison.candidates.len() {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let order = match comparison.by {
        Some(by) => {
            let name = by.label();
            format!("ordered by {name}, best first, candidates that cannot serve last")
        }
        None => "in the order given, not ranked: say what matters with --by ROW".to_owned(),
    };
    let mut text = format!(
        "{table}\n* best of the row among those that serve, and what the trials do not tell apart from it; errors over the range of temperature, the largest of the cell's \
         minimum,\n  nominal and maximum; {} trials a candidate, seed {}\n\
         boards within {} mV at all three at once\n{order}\n",
        grouped(comparison.trials as u64),
        comparison.seed,
        comparison.within_mv
    );
    for candidate in &comparison.candidates {
        let line = classes(candidate, comparison.within_mv);
        if !line.is_empty() {
            let _ = writeln!(text, "{}", wrapped(&line, 2, 110));
        }
    }
    for candidate in &comparison.candidates {
        for failure in &candidate.failures {
            let line = format!("{}: {failure}", candidate.name);
            let _ = write!(text, "\nCANNOT SERVE  {}", wrapped(&line, 14, 110));
        }
    }
    if !text.ends_with('\n') {
        text.push('\n');
    }
    text
}
