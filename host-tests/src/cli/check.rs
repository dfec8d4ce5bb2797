//! `tallyvolt check FILE...`

use std::path::PathBuf;

use serde::Serialize;
use tallyvolt_model::acquisition::AcquisitionModel;
use tallyvolt_model::front_end::FrontEnd;

use super::{Exit, failure};
use crate::cli::progress::Progress;
use crate::describe::front_end_file;
use crate::describe::front_end_file::problem::FileError;
use crate::prove::check::{Check, check};
use crate::words;

#[derive(Serialize)]
struct Output<'a> {
    tallyvolt: &'static str,
    holds: bool,
    counts_swept: u64,
    wrong_counts: u64,
    front_ends: &'a [Check],
    bad_files: &'a [Vec<String>],
    caution: &'static str,
}

pub(super) fn run(files: &[PathBuf], json: bool) -> Exit {
    let mut good: Vec<(&PathBuf, FrontEnd)> = Vec::new();
    let mut bad: Vec<FileError> = Vec::new();
    for file in files {
        match front_end_file::read(file) {
            Ok(front_end) => good.push((file, front_end)),
            Err(error) => bad.push(error),
        }
    }
    let total = good
        .iter()
        .map(|(_, front_end)| {
            u64::from(AcquisitionModel::new(&front_end.converter).largest_count()) + 1
        })
        .sum();
    let progress = Progress::new(total);
    let mut checks = Vec::new();
    let mut blocks = String::new();
    for (file, front_end) in &good {
        match check(front_end, |counts| progress.advance(counts)) {
            Ok(checked) => {
                blocks.push_str(&words::check::block(&checked, &file.display().to_string()));
                blocks.push('\n');
                checks.push(checked);
            }
            Err(error) => bad.push(FileError::Unreadable {
                file: file.display().to_string(),
                reason: error.to_string(),
            }),
        }
    }
    drop(progress);
    let holds = bad.is_empty() && checks.iter().all(|check| check.holds);
    let printed = if json {
        let bad_lines: Vec<_> = bad.iter().map(FileError::lines).collect();
        failure::print_json(&Output {
            tallyvolt: env!("CARGO_PKG_VERSION"),
            holds,
            counts_swept: checks.iter().map(|check| check.counts_swept).sum(),
            wrong_counts: checks.iter().map(|check| check.wrong_counts).sum(),
            front_ends: &checks,
            bad_files: &bad_lines,
            caution: words::cautions::CAUTION,
        })
    } else if checks.is_empty() {
        Ok(())
    } else {
        failure::print(&format!(
            "{blocks}{}\n{}\n",
            words::check::summary(&checks),
            words::cautions::caution()
        ))
    };
    let any_bad = !bad.is_empty();
    for error in bad {
        failure::show(error);
    }
    match printed {
        Err(exit) => exit,
        Ok(()) if any_bad => Exit::BadInput,
        Ok(()) if holds => Exit::Holds,
        Ok(()) => Exit::Fails,
    }
}
