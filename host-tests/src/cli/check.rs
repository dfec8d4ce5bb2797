//! `tallyvolt check FILE...`

use std::path::PathBuf;

use serde::Serialize;
use tallyvolt_model::acquisition::AcquisitionModel;

use super::exit::Exit;
use super::progress::Progress;
use super::{failure, print};
use crate::words;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::front_end_file::problem::FileError;
use tallyvolt_analysis::prove::check::check;
use tallyvolt_analysis::prove::check::found::Check;

#[derive(Serialize)]
struct Output<'a> {
    holds: bool,
    counts_swept: u64,
    wrong_counts: u64,
    front_ends: &'a [Check],
    bad_files: Vec<Vec<String>>,
}

pub(super) fn run(files: &[PathBuf], json: bool) -> Result<Exit, Exit> {
    let (good, mut bad) = failure::read_all(files, front_end_file::read);
    let total = good
        .iter()
        .map(|(_, front_end)| {
            u64::from(AcquisitionModel::new(&front_end.converter).largest_count()) + 1
        })
        .sum();
    let progress = Progress::of(total, "counts");
    let mut checks = Vec::new();
    let mut blocks = String::new();
    for (file, front_end) in &good {
        let file = file.display().to_string();
        match check(front_end, &|counts| progress.advance(counts)) {
            Ok(checked) => {
                blocks.push_str(&words::check::block(&checked, &file));
                blocks.push('\n');
                checks.push(checked);
            }
            Err(error) => bad.push(FileError::Unreadable {
                file,
                reason: error.to_string(),
            }),
        }
    }
    drop(progress);
    let holds = bad.is_empty() && checks.iter().all(|check| check.holds);
    let output = Output {
        holds,
        counts_swept: checks.iter().map(|check| check.counts_swept).sum(),
        wrong_counts: checks.iter().map(|check| check.wrong_counts).sum(),
        front_ends: &checks,
        bad_files: bad.iter().map(FileError::lines).collect(),
    };
    let printed = if json || !checks.is_empty() {
        print::result(json, output, || blocks + &words::check::summary(&checks))
    } else {
        Ok(())
    };
    let shown = failure::show_all(bad);
    printed.and(shown)?;
    Ok(Exit::of(holds))
}
