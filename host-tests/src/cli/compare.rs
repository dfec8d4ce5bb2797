//! `tallyvolt compare FILE...`

use std::path::PathBuf;

use serde::Serialize;

use super::exit::Exit;
use super::progress::Progress;
use super::{failure, print};
use crate::words;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::compare::{Comparison, RowName, compare};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::front_end_file::problem::FileError;

#[derive(Serialize)]
struct Output<'a> {
    #[serde(flatten)]
    comparison: &'a Comparison,
    bad_files: Vec<Vec<String>>,
}

/// Exits well while a candidate is left that serves.
pub(super) fn run(
    files: &[PathBuf],
    by: Option<RowName>,
    run: Run,
    json: bool,
) -> Result<Exit, Exit> {
    let (good, bad) = failure::read_all(files, front_end_file::read_candidate);
    let good: Vec<_> = good
        .into_iter()
        .map(|(file, front_end)| (file.display().to_string(), front_end))
        .collect();
    let progress = Progress::of((run.trials * good.len()) as u64, "trials");
    let comparison = progress.during(|told| compare(&good, by, run, told));
    let output = Output {
        comparison: &comparison,
        bad_files: bad.iter().map(FileError::lines).collect(),
    };
    let printed = if json || !good.is_empty() {
        print::result(json, output, || words::compare::comparison(&comparison))
    } else {
        Ok(())
    };
    let shown = failure::show_all(bad);
    printed.and(shown)?;
    let mut candidates = comparison.candidates.iter();
    Ok(Exit::of(
        candidates.any(|candidate| candidate.failures.is_empty()),
    ))
}
