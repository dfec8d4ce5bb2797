//! A comparison as a table, for people.

use std::fmt::Write as _;

use super::sheet::{Sheet, text_width};
use super::{grouped, wrapped};
use crate::compare::Comparison;

/// The comparison, failures below it.
#[must_use]
pub fn comparison(comparison: &Comparison) -> String {
    let labels = comparison.rows.iter().map(|row| row.label);
    let header = ["candidate", "topology"]
        .into_iter()
        .chain(labels)
        .chain(["verdict"]);
    let mut table = Sheet::with_header(header.map(str::to_owned).collect(), &[0], 1);
    for (at, candidate) in comparison.candidates.iter().enumerate() {
        let cells = comparison.rows.iter().map(|row| {
            row.cells.get(at).map_or_else(String::new, |cell| {
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
        "* best of the row among those that serve; errors over the range of temperature, the largest of the cell's minimum, \
         nominal and maximum; {} trials a candidate, seed {}",
        grouped(comparison.trials as u64),
        comparison.seed
    );
    let mut text = format!("{table}{}\n{order}\n", wrapped(&note, 2, text_width()));
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
