//! `tallyvolt fit FILE READINGS.csv`

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use tallyvolt_model::front_end::FrontEnd;

use super::destination::{PageOption, refused};
use super::exit::Exit;
use super::progress::Progress;
use super::{failure, print};
use crate::picture::page::fit::page;
use crate::words;
use crate::words::fit::Fitted;
use tallyvolt_analysis::calibrate::fit::meter::Meter;
use tallyvolt_analysis::calibrate::fit::mode::Mode;
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_analysis::calibrate::fit::{Settings, batch_csv, fit, readings, records};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::files::output_file::{OutputError, Place, commit_all};

#[derive(Debug, Args)]
pub(super) struct FitArguments {
    /// Front-end file (TOML).
    file: PathBuf,
    /// Readings: CSV with module,meter_mv,count and optionally temp_c; repeat rows are welcome. Comma, semicolon or tab, decimal
    /// point or comma, volts as meter_v: docs/calibration.md has all that is read.
    readings: PathBuf,
    /// What is fitted; `auto` takes the offset where the voltages span 20 % of the cell's range.
    #[arg(long, value_enum, default_value_t = ModeArgument::Auto)]
    mode: ModeArgument,
    /// Meter accuracy: parts per million of the reading.
    #[arg(long, value_name = "PPM", default_value_t = 0.0, value_parser = not_negative)]
    meter_ppm_reading: f64,
    /// Meter accuracy: parts per million of the range.
    #[arg(long, value_name = "PPM", default_value_t = 0.0, value_parser = not_negative, requires = "meter_range_mv")]
    meter_ppm_range: f64,
    /// The meter's range in millivolts.
    #[arg(long, value_name = "MV", default_value_t = 0.0, value_parser = not_negative)]
    meter_range_mv: f64,
    /// Meter accuracy: last digits ("0.05 % + 3 digits").
    #[arg(long, value_name = "DIGITS", default_value_t = 0.0, value_parser = not_negative, requires = "meter_resolution_mv")]
    meter_digits: f64,
    /// What the meter's last digit stands for, in millivolts.
    #[arg(long, value_name = "MV", default_value_t = 0.0, value_parser = not_negative)]
    meter_resolution_mv: f64,
    /// Write the batch as CSV; never over an input, and over another file only with --force.
    #[arg(long, value_name = "PATH")]
    csv: Option<PathBuf>,
    /// Write NAME.bin and NAME.hex (Intel HEX) of every good module into a new folder.
    #[arg(long, value_name = "FOLDER")]
    records: Option<PathBuf>,
    /// Address of the record in the Intel HEX files, decimal or 0x...
    #[arg(long, default_value = "0", value_parser = address, allow_negative_numbers = true)]
    address: u32,
    /// Sequence number of the records.
    #[arg(long, default_value_t = 1)]
    sequence: u16,
    /// Give records also to modules that nothing could contradict; the exit code stays 1.
    #[arg(long)]
    accept_unchecked: bool,
    #[command(flatten)]
    beside: PageOption,
    /// Replace an existing CSV file or page of another content.
    #[arg(long)]
    force: bool,
    /// Write files although rows are bad; the exit code stays 2.
    #[arg(long)]
    skip_bad_rows: bool,
    /// Print JSON instead of text.
    #[arg(long)]
    json: bool,
}

impl FitArguments {
    /// The meter of the options; without any, the one that the front-end file describes.
    fn meter(&self, front_end: &FrontEnd) -> Meter {
        let stated = Meter {
            ppm_reading: self.meter_ppm_reading,
            ppm_range: self.meter_ppm_range,
            range_mv: self.meter_range_mv,
            digits: self.meter_digits,
            resolution_mv: self.meter_resolution_mv,
        };
        match &front_end.meter {
            Some(described) if stated == Meter::default() => described.into(),
            _ => stated,
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ModeArgument {
    /// Decided by the data, module by module.
    Auto,
    /// Gain; the offset is taken as 0.
    Gain,
    /// Gain and offset.
    GainOffset,
}

fn not_negative(text: &str) -> Result<f64, String> {
    text.parse()
        .ok()
        .filter(|value| (0.0..=1e9).contains(value))
        .ok_or_else(|| "not a number from 0 to 1e9".to_owned())
}

fn address(text: &str) -> Result<u32, String> {
    let plain = text.replace('_', "");
    match plain.strip_prefix("0x") {
        Some(digits) => u32::from_str_radix(digits, 16),
        None => plain.parse(),
    }
    .map_err(|_| "not an address from 0 to 0xFFFFFFFF".to_owned())
}

pub(super) fn run(arguments: &FitArguments) -> Result<Exit, Exit> {
    let front_end = failure::read(&arguments.file)?;
    let settings = Settings {
        meter: arguments.meter(&front_end),
        mode: match arguments.mode {
            ModeArgument::Auto => None,
            ModeArgument::Gain => Some(Mode::GainOnly),
            ModeArgument::GainOffset => Some(Mode::GainAndOffset),
        },
        sequence: arguments.sequence,
        accept_unchecked: arguments.accept_unchecked,
    };
    let largest = failure::of_file(&arguments.file, Transfer::new(&front_end))?.largest;
    let readings = failure::shown_rows(readings::read(&arguments.readings, largest))?;
    let bad = readings.bad_rows;
    if readings.modules.is_empty() {
        failure::show_bad_rows(&readings.problems, bad);
        return failure::of_file(
            &arguments.readings,
            Err("a header and no row below it: give one for each module and point"),
        );
    }
    let progress = Progress::of(readings.modules.len() as u64, "modules");
    let batch = progress.during(|told| fit(&front_end, &readings, &settings, told));
    let batch = failure::of_file(&arguments.file, batch)?;
    let fitted = Fitted {
        front_end: &front_end,
        settings: &settings,
        batch: &batch,
        readings: &readings,
    };
    let files = [&arguments.csv, &arguments.records, &arguments.beside.page];
    let files_wanted = files.iter().any(|file| file.is_some());
    if bad == 0 || arguments.skip_bad_rows {
        write_files(arguments, fitted).map_err(|error| refused(&error))?;
    }
    let printed = print::result(arguments.json, words::fit_json::json(fitted), || {
        fitted.text(&arguments.readings.display().to_string())
    });
    failure::show_bad_rows(&readings.problems, bad);
    if bad > 0 && files_wanted && !arguments.skip_bad_rows {
        failure::say(
            "no file was written: correct the rows above, or give --skip-bad-rows to leave them out",
        );
    }
    printed?;
    Ok(if bad > 0 {
        Exit::BadInput
    } else {
        Exit::of(batch.holds())
    })
}

/// Stages everything that was asked for, and only then moves it into place.
fn write_files(arguments: &FitArguments, fitted: Fitted<'_>) -> Result<(), OutputError> {
    let batch = fitted.batch;
    let mut inputs = front_end_file::inputs(&arguments.file, fitted.front_end);
    inputs.push(arguments.readings.clone());
    let place = |path| Place::new(path, arguments.force, &inputs);
    let mut staged = Vec::new();
    if let Some(folder) = &arguments.records {
        let staged_records = records::stage(&place(folder), &batch.modules, arguments.address)?;
        staged.push(staged_records);
    }
    if let Some(path) = &arguments.csv {
        let text = batch_csv::text(batch).map_err(|error| OutputError::System {
            path: path.clone(),
            error: std::io::Error::other(error),
        })?;
        staged.push(place(path).file(&text)?);
    }
    if let Some(path) = &arguments.beside.page {
        let text = page(fitted, &arguments.file, &arguments.readings);
        staged.push(place(path).file(text.as_bytes())?);
    }
    commit_all(staged)
}
