//! Costs as a table for people.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, Table, presets};

use super::energy::Charge;
use super::figure::{Costs, Figure};

/// The usual ways that ratios are taken against, and their headings.
const AGAINST: [(&str, &str); 4] = [
    ("Rust f32", "Rust f32"),
    ("Rust u32 division", "Rust u32 /"),
    ("C f32", "C f32"),
    ("C u32 division", "C u32 /"),
];

/// Jobs down, cores across: mean cycles or instructions, and of a load the flash of loading and converting. A cell has Rust's portable
/// code, its kernel and emitted C, as far as there are such.
#[must_use]
pub fn overview(cores: &[Costs]) -> String {
    let mut jobs: Vec<&str> = Vec::new();
    for figure in cores.iter().flat_map(|costs| &costs.figures) {
        let shown = ["divided", "supply", "reading", "load"].contains(&&*figure.task);
        if shown && figure.promised && !jobs.contains(&&*figure.what) {
            jobs.push(&figure.what);
        }
    }
    let mut table = Table::new();
    table.load_style(presets::ASCII_MARKDOWN);
    let heads = cores
        .iter()
        .map(|costs| format!("{}, {}", costs.core, costs.amount));
    table.set_header(std::iter::once("job".to_owned()).chain(heads));
    for job in jobs {
        let cells = cores.iter().map(|costs| {
            let of = |figure: &&Figure| figure.what == job;
            let cells: Vec<String> = costs.figures.iter().filter(of).map(cell).collect();
            cells.join(", ")
        });
        table.add_row(std::iter::once(job.to_owned()).chain(cells));
    }
    table.to_string()
}

fn cell(figure: &Figure) -> String {
    let amount = if figure.task == "load" {
        format!("{} B", figure.flash)
    } else {
        format!("{:.0}", figure.mean)
    };
    match &*figure.origin {
        "portable" => amount,
        "arch" => format!("kernel {amount}"),
        _ => format!("C {amount}"),
    }
}

/// The table of one core.
#[must_use]
pub fn table(costs: &Costs) -> String {
    let mut table = Table::new();
    table.load_style(presets::ASCII_MARKDOWN);
    let mut header = vec![
        "function".to_owned(),
        "by".to_owned(),
        format!("{} min/mean/max", costs.amount),
        "flash B".to_owned(),
        "RAM B".to_owned(),
        "stack B".to_owned(),
        "div".to_owned(),
        "counts".to_owned(),
        "wrong".to_owned(),
    ];
    header.extend(AGAINST.iter().map(|(_, heading)| format!("x {heading}")));
    table.set_header(header);
    for figure in &costs.figures {
        table.add_row(row(costs, figure));
    }
    for column in 2..9 + AGAINST.len() {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let broken: String = costs
        .figures
        .iter()
        .filter(|figure| figure.promised && !figure.broken_rules.is_empty())
        .map(|figure| {
            format!(
                "BROKEN: {} ({}): {}\n",
                figure.what,
                figure.origin,
                figure.broken_rules.join(", ")
            )
        })
        .collect();
    let (besides, wrong) = costs.checked_besides;
    let compilers = if costs.c.is_empty() {
        costs.rust.clone()
    } else {
        format!("{}; {}", costs.rust, costs.c)
    };
    format!(
        "{}: {}\nbuilt by {compilers}\n\n{table}\n\n{broken}{besides} further answers, faults told apart, were compared: {wrong} wrong.\n",
        costs.core, costs.basis
    )
}

fn row(costs: &Costs, figure: &Figure) -> Vec<String> {
    let mut row = vec![
        figure.what.clone(),
        figure.origin.clone(),
        format!("{}/{:.1}/{}", figure.min, figure.mean, figure.max),
        figure.flash.to_string(),
        figure.ram.to_string(),
        figure.stack.to_string(),
        figure.divisions.to_string(),
        if figure.step == 1 {
            figure.counts.to_string()
        } else {
            format!("{} (every {}.)", figure.counts, figure.step)
        },
        figure.wrong.to_string(),
    ];
    row.extend(AGAINST.iter().map(|(what, _)| {
        costs
            .usual(&figure.task, what)
            .map_or_else(String::new, |mean| format!("{:.1}", mean / figure.mean))
    }));
    row
}

/// The charges of a front end's readings.
#[must_use]
pub fn charges(charges: &[Charge]) -> String {
    let mut text = String::from("charge of the arithmetic alone, over the sleep current:\n");
    for charge in charges {
        let average = charge
            .average_ua
            .map_or_else(String::new, |ua| format!(", {ua:.4} uA with sleep"));
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "  {:<14} {:<58} {:>9.3} us {:>10.4} nC a reading, {:.6} uA on average{average}",
            charge.core,
            charge.what,
            charge.microseconds,
            charge.nanocoulombs,
            charge.conversions_ua
        );
    }
    text
}

/// The `[measured]` tables that `compare` reads from a front-end file: what a module's calibrated conversion takes at most.
/// Nothing for a core whose instructions are counted and not its cycles.
#[must_use]
pub fn measured_tables(costs: &Costs) -> String {
    if costs.amount != "cycles" {
        return String::new();
    }
    costs
        .figures
        .iter()
        .filter(|figure| ["divided", "supply"].contains(&&*figure.task))
        .filter(|figure| figure.what.ends_with("calibrated"))
        .map(|figure| {
            format!(
                "[measured]  # {}, {}\ncore = \"{}\"\ncycles = {}\nflash_bytes = {}\n\n",
                figure.what, figure.origin, costs.core, figure.max, figure.flash
            )
        })
        .collect()
}
