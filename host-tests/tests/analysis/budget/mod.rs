//! Budgets of front ends: the circuit's model, the noise rule, alarms, reproducibility; facts of the trade.

#![expect(clippy::unwrap_used, reason = "a test may end this way")]

mod alarms;
mod boards;
mod circuit;
mod combined;
mod dynamics;
mod file_terms;
mod headroom;
mod noise;
mod temperature;
mod temperature_terms;
mod totals;
mod trials;
mod verdicts;
mod worst;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use tallyvolt_analysis::choose::budget::found::{Budget, Total};
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::reading::{State, Temperature};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_model::front_end::FrontEnd;

const RUN: Run = Run {
    trials: 50_000,
    seed: 7,
};

/// For what no trial takes part in.
const FEW: Run = Run {
    trials: 1000,
    seed: 7,
};

fn near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "found {found}, expected {expected} within {within}"
    );
}

/// A file's text: what every test shares, and extra keys by table.
fn described(topology: &str, tables: &[(&str, &str)]) -> FrontEnd {
    let mut text = format!("name = \"test\"\ntopology = \"{topology}\"\n");
    for (table, keys) in tables {
        let _ = write!(text, "\n[{table}]\n{}\n", keys.replace("; ", "\n"));
    }
    front_end_file::parse(Path::new("test.toml"), &text)
        .unwrap_or_else(|error| panic!("{:?}", error.lines()))
}

const CELL: (&str, &str) = (
    "cell",
    "chemistry = \"NMC\"; min_mv = 2500; nominal_mv = 3500; max_mv = 4200",
);

fn divided(bits: u32, converter: &str, reference: &str, divider: &str) -> FrontEnd {
    let converter = format!("bits = {bits}; {converter}");
    described(
        "divided-input",
        &[
            CELL,
            ("converter", &converter),
            ("reference", reference),
            ("divider", divider),
        ],
    )
}

fn at(made: &Budget, state: State, temperature: Temperature, site: usize) -> &Total {
    &made.state(state, temperature).unwrap().totals[site]
}

fn shipped() -> Vec<FrontEnd> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../front-ends/candidates");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    assert_eq!(paths.len(), 5);
    let serving: Vec<FrontEnd> = paths
        .iter()
        .filter_map(|path| front_end_file::read(path).ok())
        .collect();
    assert_eq!(serving.len(), 4, "one candidate breaks a rule on purpose");
    serving
}
