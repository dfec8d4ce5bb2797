//! `tallyvolt compare FILE...`

use std::path::PathBuf;

use serde::Serialize;

use super::{Exit, failure};
use crate::choose::budget::monte_carlo::Run;
use crate::choose::compare::{Comparison, RowName, compare};
use crate::cli::progress::Progress;
use crate::describe::front_end_file;
use crate::describe::front_end_file::problem::FileError;
use crate::words;

#[derive(Serialize)]
struct Output<'a> {
    tallyvolt: &'static str,
    #[serde(flatten)]
    comparison: &'a Comparison,
    bad_files: &'a [Vec<String>],
    caution: &'static str,
}

/// Exits well while a candidate is left that serves.
pub(super) fn run(files: &[PathBuf], by: Option<RowName>, run: Run, json: bool) -> Exit {
    let mut good = Vec::new();
    let mut bad: Vec<FileError> = Vec::new();
    for file in files {
        match front_end_file::read_candidate(file) {
            Ok(front_end) => good.push((file.display().to_string(), front_end)),
            Err(error) => bad.push(error),
        }
    }
    let progress = Progress::of((run.trials * good.len()) as u64, "trials");
    let comparison = compare(&good, by, run, |trials| progress.advance(trials));
    drop(progress);
    let printed = if json {
        let bad_lines: Vec<_> = bad.iter().map(FileError::lines).collect();
        failure::print_json(&Output {
            tallyvolt: env!("CARGO_PKG_VERSION"),
            comparison: &comparison,
            bad_files: &bad_lines,
            caution: words::cautions::CAUTION,
        })
    } else if good.is_empty() {
        Ok(())
    } else {
        let text = words::compare::comparison(&comparison);
        failure::print(&format!("{text}\n{}\n", words::cautions::caution()))
    };
    let any_bad = !bad.is_empty();
    for error in bad {
        failure::show(error);
    }
    let serves = comparison
        .candidates
        .iter()
        .any(|candidate| candidate.failures.is_empty());
    match printed {
        Err(exit) => exit,
        Ok(()) if any_bad => Exit::BadInput,
        Ok(()) if serves => Exit::Holds,
        Ok(()) => Exit::Fails,
    }
}
