//! `tallyvolt budget FILE`

use std::path::Path;

use serde::Serialize;

use super::{Exit, failure};
use crate::choose::budget::monte_carlo::Run;
use crate::choose::budget::{Budget, budget};
use crate::cli::progress::Progress;
use crate::describe::front_end_file;
use crate::describe::limits::Direction;
use crate::words;

#[derive(Serialize)]
struct Output<'a> {
    tallyvolt: &'static str,
    #[serde(flatten)]
    budget: &'a Budget,
    caution: &'static str,
}

pub(super) fn run(file: &Path, run: Run, json: bool) -> Exit {
    let front_end = match front_end_file::read(file) {
        Ok(front_end) => front_end,
        Err(error) => {
            failure::show(error);
            return Exit::BadInput;
        }
    };
    let progress = Progress::of(run.trials as u64, "trials");
    let made = budget(&front_end, run, |trials| progress.advance(trials));
    drop(progress);
    let printed = if json {
        failure::print_json(&Output {
            tallyvolt: env!("CARGO_PKG_VERSION"),
            budget: &made,
            caution: words::cautions::CAUTION,
        })
    } else {
        let text = words::budget::budget(&made, &file.display().to_string());
        failure::print(&format!("{text}\n{}\n", words::cautions::caution()))
    };
    if let Err(exit) = printed {
        return exit;
    }
    show_missing_zone(file, &made);
    if made.meets { Exit::Holds } else { Exit::Fails }
}

/// Underlines the limits that leave no acceptance zone with the planned calibration.
fn show_missing_zone(file: &Path, made: &Budget) {
    let planned = made.guard_bands.iter().find(|bands| bands.planned);
    let Some((bands, problem)) = planned.and_then(|bands| Some((bands, bands.problem.clone()?)))
    else {
        return;
    };
    let keys: Vec<(&str, &str)> = bands
        .alarms
        .iter()
        .map(|alarm| match alarm.direction {
            Direction::Over => ("limits", "over_voltage_mv"),
            Direction::Under => ("limits", "under_voltage_mv"),
        })
        .collect();
    let Some((first, others)) = keys.split_first() else {
        return;
    };
    let mend =
        "calibrate at more points, choose better parts, or set limits farther apart".to_owned();
    if let Err(error) = front_end_file::problem_at(file, *first, others, problem, mend) {
        failure::show(error);
    }
}
