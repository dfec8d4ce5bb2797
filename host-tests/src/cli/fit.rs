//! `tallyvolt fit FILE READINGS.csv`

use std::io;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::{Exit, failure};
use crate::fit::meter::Meter;
use crate::fit::mode::Mode;
use crate::fit::transfer::Transfer;
use crate::fit::{Batch, Settings, batch_csv, fit, output, output_json, readings, records};
use crate::front_end::FrontEnd;
use crate::front_end_file;
use crate::progress::Progress;
use crate::staged::Staged;

/// Bad rows shown one by one; the others are counted.
const PROBLEMS_SHOWN: usize = 20;

#[derive(Debug, Args)]
pub(super) struct FitArguments {
    /// Front-end file (TOML).
    file: PathBuf,
    /// Readings: CSV with module,meter_mv,count and optionally temp_c; repeat rows are welcome.
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
    /// Write the batch as CSV.
    #[arg(long, value_name = "PATH")]
    csv: Option<PathBuf>,
    /// Write NAME.bin and NAME.hex (Intel HEX) of every good module into a new folder.
    #[arg(long, value_name = "FOLDER")]
    records: Option<PathBuf>,
    /// Address of the record in the Intel HEX files, decimal or 0x...
    #[arg(long, default_value = "0", value_parser = address)]
    address: u32,
    /// Sequence number of the records.
    #[arg(long, default_value_t = 1)]
    sequence: u16,
    /// Give records also to modules that nothing could contradict; the exit code stays 1.
    #[arg(long)]
    accept_unchecked: bool,
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
    .map_err(|error| error.to_string())
}

pub(super) fn run(arguments: &FitArguments) -> Exit {
    let front_end = match front_end_file::read(&arguments.file) {
        Ok(front_end) => front_end,
        Err(error) => {
            failure::show(error);
            return Exit::BadInput;
        }
    };
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
    let largest = match Transfer::new(&front_end) {
        Ok(transfer) => transfer.largest,
        Err(error) => {
            failure::say(&format!("{}: {error}", arguments.file.display()));
            return Exit::BadInput;
        }
    };
    let readings = match readings::read(&arguments.readings, largest) {
        Ok(readings) => readings,
        Err(error) => {
            failure::show_rows(error);
            return Exit::BadInput;
        }
    };
    if readings.modules.is_empty() {
        failure::show_problems(&readings.problems, PROBLEMS_SHOWN);
        failure::say(&format!(
            "{}: no row with a module",
            arguments.readings.display()
        ));
        return Exit::BadInput;
    }
    let progress = Progress::of(readings.modules.len() as u64, "modules");
    let fitted = fit(&front_end, &readings, &settings, |modules| {
        progress.advance(modules)
    });
    drop(progress);
    let batch = match fitted {
        Ok(batch) => batch,
        Err(error) => {
            failure::say(&format!("{}: {error}", arguments.file.display()));
            return Exit::BadInput;
        }
    };
    let bad = readings.problems.len();
    let text = if arguments.json {
        let json = output_json::json(&front_end, &settings, &batch, &readings.problems);
        match serde_json::to_string_pretty(&json) {
            Ok(text) => text + "\n",
            Err(error) => {
                failure::say(&format!("the result cannot be written as JSON: {error}"));
                return Exit::BadInput;
            }
        }
    } else {
        let file = arguments.readings.display().to_string();
        output::text(&front_end, &settings, &batch, readings.rows, bad, &file)
    };
    let files_wanted = arguments.csv.is_some() || arguments.records.is_some();
    if files_wanted
        && (bad == 0 || arguments.skip_bad_rows)
        && let Err((path, error)) = write_files(arguments, &batch)
    {
        failure::say(&format!("{}: {error}", path.display()));
        return Exit::BadInput;
    }
    let printed = super::print(&text);
    failure::show_problems(&readings.problems, PROBLEMS_SHOWN);
    if bad > 0 && files_wanted && !arguments.skip_bad_rows {
        failure::say(
            "no file was written: mend the rows above, or give --skip-bad-rows to leave them out",
        );
    }
    match printed {
        Err(exit) => exit,
        Ok(()) if bad > 0 => Exit::BadInput,
        Ok(()) if batch.modules.iter().all(|module| module.is_good()) => Exit::Holds,
        Ok(()) => Exit::Fails,
    }
}

/// Stages everything that was asked for, and only then moves it into place.
fn write_files<'a>(
    arguments: &'a FitArguments,
    batch: &Batch,
) -> Result<(), (&'a Path, io::Error)> {
    let mut staged = Vec::new();
    if let Some(folder) = &arguments.records {
        let files = records::stage(folder, &batch.modules, arguments.address);
        staged.push((folder, files.map_err(|error| (folder.as_path(), error))?));
    }
    if let Some(path) = &arguments.csv {
        let file = batch_csv::text(batch)
            .map_err(io::Error::other)
            .and_then(|text| Staged::file(path, &text));
        staged.push((path, file.map_err(|error| (path.as_path(), error))?));
    }
    for (path, file) in staged {
        file.commit().map_err(|error| (path.as_path(), error))?;
    }
    Ok(())
}
