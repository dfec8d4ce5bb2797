//! `tallyvolt budget FILE`

use std::path::Path;

use super::exit::Exit;
use super::progress::Progress;
use super::{failure, print};
use crate::words;
use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::found::Budget;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::describe::front_end_file;

pub(super) fn run(file: &Path, run: Run, json: bool) -> Result<Exit, Exit> {
    let front_end = failure::read(file)?;
    let progress = Progress::of(run.trials as u64, "trials");
    let made = progress.during(|told| budget(&front_end, run, told));
    print::result(json, &made, || {
        words::budget::budget(&made, &file.display().to_string())
    })?;
    show_missing_zone(file, &made);
    Ok(Exit::of(made.meets))
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
        .map(|alarm| ("limits", alarm.direction.of_voltage().key()))
        .collect();
    let Some((first, others)) = keys.split_first() else {
        return;
    };
    let fix =
        "calibrate at more points, choose better parts, or set limits farther apart".to_owned();
    // Shown either way: the exit code follows from the findings.
    let _ = failure::shown(front_end_file::problem_at(
        file, *first, others, problem, fix,
    ));
}
