//! A comparison as a table, for people.

use std::fmt::Write as _;

use super::numbers::{grouped, told};
use super::sheet::{Sheet, text_width};
use super::wrapping::wrapped;
use tallyvolt_analysis::choose::budget::reading::State;
use tallyvolt_analysis::choose::compare::{Candidate, Comparison};

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
pub fn comparison(comparison: &Comparison) -> String {
    let labels = comparison.rows.iter().map(|row| row.label);
    let header: Vec<&str> = (["candidate", "topology"].into_iter())
        .chain(labels)
        .chain(["verdict"])
        .collect();
    let mut table = Sheet::new(&header.join(" | >"), 1);
    for (at, candidate) in comparison.candidates.iter().enumerate() {
        let cells = comparison.rows.iter().map(|row| {
            told(row.cells.get(at), "", |cell| {
                let mark = if cell.best { "* " } else { "" };
                format!("{mark}{}", cell.text)
            })
        });
        let verdict = if candidate.failures.is_empty() {
            "serves"
        } else {
            "CANNOT SERVE"
        };
        table.row(
            [candidate.name.clone(), candidate.topology.replace('-', " ")]
                .into_iter()
                .chain(cells)
                .chain([verdict.to_owned()]),
        );
    }
    let table = table.turned();
    let order = match comparison.by {
        Some(by) => {
            let name = by.label();
            format!("ordered by {name}, best first, candidates that cannot serve last")
        }
        None => "in the order given, not ranked: say what matters with --by ROW".to_owned(),
    };
    let note = format!(
        "* best of the row among those that serve, and what the trials do not tell apart from it; errors over the \
         range of temperature, the largest of the cell's minimum, nominal and maximum; {} trials a candidate, seed {}; boards \
         within {} mV at all three at once",
        grouped(comparison.trials as u64),
        comparison.seed,
        comparison.within_mv
    );
    let mut text = format!("{table}{}\n{order}\n", wrapped(&note, 2, text_width()));
    for candidate in &comparison.candidates {
        let line = classes(candidate, comparison.within_mv);
        if !line.is_empty() {
            let _ = writeln!(text, "{}", wrapped(&line, 2, text_width()));
        }
    }
    for candidate in &comparison.candidates {
        for failure in &candidate.failures {
            let line = format!("{}: {failure}", candidate.name);
            let _ = write!(text, "\nCANNOT SERVE  {}", wrapped(&line, 14, text_width()));
        }
    }
    if !text.ends_with('\n') {
        text.push('\n');
    }
    text
}
