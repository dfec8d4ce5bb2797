//! The command line: what each command takes, and its exit code.

mod budget;
mod check;
mod compare;
mod cost;
mod destination;
mod divider;
mod emit;
mod example;
pub mod exit;
mod failure;
mod fit;
mod plot;
mod print;
mod progress;
mod record;
mod replay;
mod report;
mod table;
mod trials;

use std::path::PathBuf;

use clap::{CommandFactory as _, FromArgMatches as _, Parser, Subcommand};

use crate::words::cautions;
use exit::Exit;
use tallyvolt_analysis::choose::compare::RowName;
use tallyvolt_analysis::choose::divider::found::Objective;
use tallyvolt_analysis::describe::eseries::Series;
use tallyvolt_analysis::describe::front_end_file::example::Example;
use trials::Trials;

/// Exact integer-only conversion of battery cell front ends: proofs and tables, before boards are ordered.
///
/// Exit codes: 0 everything holds, 1 a promise fails, 2 bad input.
#[derive(Debug, Parser)]
#[command(name = "tallyvolt", version, after_help = cautions::CAUTION, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Print a front-end file to start from: every key, with what it is and where its value is found.
    Example {
        /// How the cell reaches the converter.
        topology: Example,
        /// Print JSON, the file's text in it.
        #[arg(long)]
        json: bool,
    },
    /// Compare every count of each front end with the exact model and show what the range looks like.
    Check {
        /// Front-end files (TOML).
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Print JSON instead of text.
        #[arg(long)]
        json: bool,
    },
    /// Fit gain and offset of one module or of a batch to a bench meter's readings.
    Fit(fit::FitArguments),
    /// Read records, as written or as read back from a chip: whose they are, what they do, whether they are sound.
    ///
    /// Exit code 1 when one is not this front end's, or not sound.
    Record(record::Arguments),
    /// Convert logged counts and compare them with the meter, module by module.
    Replay(replay::ReplayArguments),
    /// Measure what a reading costs on small cores: firmware images built, simulated, and checked at every count.
    Cost(cost::Arguments),
    /// Print the conversion of every count as CSV: count,mv,fault,exact_mv.
    Table {
        /// Front-end file (TOML).
        file: PathBuf,
        /// Print JSON rows instead of CSV.
        #[arg(long)]
        json: bool,
    },
    /// Write a front end as Rust or C source for firmware: proven constants, conversion, calibration.
    Emit(emit::Options),
    /// Write one self-contained HTML page: description, proof, plots with their numbers, cautions.
    ///
    /// Exit code 1, with the page written, when a front end does not pass `check`.
    Report(report::Options),
    /// Draw one picture of such a page as SVG.
    Plot(plot::Options),
    /// Print the error budget: every term, totals three ways, alarm thresholds, dynamic checks.
    Budget {
        /// Front-end file (TOML).
        file: PathBuf,
        #[command(flatten)]
        trials: Trials,
        /// Print JSON instead of text.
        #[arg(long)]
        json: bool,
    },
    /// Put candidate front ends side by side; ones whose values do not go together are shown with the reason.
    Compare {
        /// Front-end files (TOML).
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Order the candidates by this row, best first.
        #[arg(long, value_name = "ROW")]
        by: Option<RowName>,
        #[command(flatten)]
        trials: Trials,
        /// Print JSON instead of text.
        #[arg(long)]
        json: bool,
    },
    /// Search resistor pairs of a preferred series for a divided input's range.
    Divider {
        /// Front-end file (TOML).
        file: PathBuf,
        /// Series of IEC 60063.
        #[arg(long, default_value = "E96", ignore_case = true)]
        series: Series,
        /// What makes a pair better.
        #[arg(long, default_value = "step")]
        by: Objective,
        /// Print JSON instead of text.
        #[arg(long)]
        json: bool,
    },
}

/// The process's arguments; every command's help ends with the caution.
fn arguments() -> Arguments {
    let command =
        Arguments::command().mut_subcommands(|command| command.after_help(cautions::CAUTION));
    let matches = command.get_matches();
    Arguments::from_arg_matches(&matches).unwrap_or_else(|error| error.exit())
}

/// Runs the program with the process's arguments.
pub fn run() -> Exit {
    failure::install_handler();
    crate::words::sheet::look_at_terminal();
    let done = match arguments().command {
        Command::Example { topology, json } => example::run(topology, json),
        Command::Check { files, json } => check::run(&files, json),
        Command::Fit(arguments) => fit::run(&arguments),
        Command::Record(arguments) => record::run(&arguments),
        Command::Replay(arguments) => replay::run(&arguments),
        Command::Cost(arguments) => cost::run(&arguments),
        Command::Table { file, json } => table::run(&file, json),
        Command::Emit(options) => emit::run(&options),
        Command::Report(options) => report::run(&options),
        Command::Plot(options) => plot::run(&options),
        Command::Budget { file, trials, json } => budget::run(&file, trials.run(), json),
        Command::Compare {
            files,
            by,
            trials,
            json,
        } => compare::run(&files, by, trials.run(), json),
        Command::Divider {
            file,
            series,
            by,
            json,
        } => divider::run(&file, series, by, json),
    };
    match done {
        Ok(exit) | Err(exit) => exit,
    }
}
