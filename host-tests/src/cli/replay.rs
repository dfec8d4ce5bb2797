//! `tallyvolt replay FILE LOG.csv`

use std::path::PathBuf;

use clap::Args;
use tallyvolt_model::front_end::FrontEnd;

use super::destination::{PageOption, put};
use super::exit::Exit;
use super::progress::Progress;
use super::{failure, print};
use crate::picture::page::replay::{Source, page};
use crate::words;
use tallyvolt_analysis::calibrate::fit::batch_csv;
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_analysis::calibrate::replay::log::{End, Largest};
use tallyvolt_analysis::calibrate::replay::module::Watch;
use tallyvolt_analysis::calibrate::replay::sensing::Beside;
use tallyvolt_analysis::calibrate::replay::{Replay, ReplayError, Settings, replay};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::files::output_file::Place;

#[derive(Debug, Args)]
pub(super) struct ReplayArguments {
    /// Front-end file (TOML).
    file: PathBuf,
    /// Log: CSV with time,module,count and optionally meter_mv,sensor_count,meter_c, plain or gzip'd; time in seconds or ISO 8601.
    /// Comma, semicolon or tab, decimal point or comma, volts as meter_v: docs/calibration.md has all that is read.
    log: PathBuf,
    /// Calibrations: the batch's CSV as `tallyvolt fit --csv` wrote it.
    #[arg(long, value_name = "BATCH.csv")]
    calibration: Option<PathBuf>,
    /// Largest error of any row in millivolts; without it the fit's own uncertainty judges.
    #[arg(long, value_name = "MV", value_parser = positive)]
    limit_mv: Option<f64>,
    /// Rows with one count that make a stuck stretch.
    #[arg(long, value_name = "ROWS", default_value_t = 120, value_parser = clap::value_parser!(u64).range(2..))]
    stuck_rows: u64,
    /// Seconds that make a gap; without it three times the module's usual interval.
    #[arg(long, value_name = "SECONDS", value_parser = positive)]
    gap_s: Option<f64>,
    #[command(flatten)]
    beside: PageOption,
    /// Replace an existing page of another content.
    #[arg(long)]
    force: bool,
    /// Print JSON instead of text.
    #[arg(long)]
    json: bool,
}

fn positive(text: &str) -> Result<f64, String> {
    text.parse()
        .ok()
        .filter(|value: &f64| *value > 0.0 && *value <= 1e9)
        .ok_or_else(|| "not a number above 0, to 1e9".to_owned())
}

pub(super) fn run(arguments: &ReplayArguments) -> Result<Exit, Exit> {
    let file = &arguments.file;
    let front_end = failure::read(file)?;
    let transfer = failure::of_file(file, Transfer::new(&front_end))?;
    let table = front_end
        .thermistor
        .as_ref()
        .map(|thermistor| BuiltTable::build(&front_end, thermistor));
    let table = table
        .transpose()
        .map_err(|error| format!("[thermistor]: {error}; {}", error.fix()));
    let table = failure::of_file(file, table)?;
    let beside = failure::of_file(file, Beside::of(&front_end, table.as_ref()))?;
    let calibrations = arguments
        .calibration
        .as_ref()
        .map(|path| failure::shown_rows(batch_csv::read(path, transfer.firmware())))
        .transpose()?;
    let settings = Settings {
        calibrations,
        limit_mv: arguments.limit_mv,
        watch: Watch {
            stuck_rows: arguments.stuck_rows,
            gap_s: arguments.gap_s,
        },
    };
    let bytes = std::fs::metadata(&arguments.log).map_or(0, |metadata| metadata.len());
    let progress = Progress::of(bytes, "bytes");
    let replayed =
        progress.during(|told| replay(&transfer, &beside, &arguments.log, &settings, told));
    let replayed = match replayed {
        Err(ReplayError::Rows(error)) => failure::shown_rows(Err(error)),
        other => failure::of_file(file, other),
    }?;
    put_page(
        arguments, &front_end, &transfer, &beside, &settings, &replayed,
    )?;
    let body = words::replay::json(&front_end, &settings, &replayed);
    let printed = print::result(arguments.json, body, || {
        let log = arguments.log.display().to_string();
        words::replay::text(&front_end, &settings, &replayed, &log)
    });
    let end = &replayed.end;
    failure::show_bad_rows(&end.problems, end.bad_rows);
    if let Some(broken) = &end.broken {
        failure::say(broken);
    }
    if arguments.beside.page.is_some() && !is_whole(end) {
        failure::say("no page was written: fix what is said above");
    }
    printed?;
    Ok(if is_whole(end) {
        let mut modules = replayed.modules.iter();
        Exit::of(modules.all(|module| module.findings().is_empty()))
    } else {
        Exit::BadInput
    })
}

/// Whether every row was read, and there is one.
fn is_whole(end: &End) -> bool {
    end.bad_rows == 0 && end.broken.is_none() && end.rows > 0
}

/// A log with bad rows gets no page: they would be missing on it without a word.
fn put_page(
    arguments: &ReplayArguments,
    front_end: &FrontEnd,
    transfer: &Transfer,
    beside: &Beside<'_>,
    settings: &Settings,
    replayed: &Replay,
) -> Result<(), Exit> {
    let page_file = arguments.beside.page.as_ref();
    let Some(page_file) = page_file.filter(|_| is_whole(&replayed.end)) else {
        return Ok(());
    };
    let source = Source {
        front_end: &arguments.file.display().to_string(),
        log: &arguments.log,
        largest: Largest {
            cell: transfer.largest,
            sensor: beside.sensor_largest,
        },
    };
    let mut inputs = front_end_file::inputs(&arguments.file, front_end);
    inputs.push(arguments.log.clone());
    inputs.extend(arguments.calibration.clone());
    let made = if arguments.log.is_file() {
        let bytes = std::fs::metadata(&arguments.log).map_or(0, |metadata| metadata.len());
        let progress = Progress::of(bytes, "bytes, for the page");
        progress
            .during(|told| page(front_end, transfer, settings, replayed, &source, told))
            .map_err(failure::bad_input)
    } else {
        let why = "a page reads the log twice: give a file, not a pipe";
        failure::of_file(&arguments.log, Err(why))
    };
    let place = Place::new(page_file, arguments.force, &inputs);
    let written = made.and_then(|text| put(place, &text));
    written
        .map(drop)
        .inspect_err(|_| failure::say("no page was written"))
}
