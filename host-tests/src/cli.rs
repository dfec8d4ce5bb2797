//! The command line: what each command takes, and its exit code.

mod check;
mod cost;
mod failure;
mod table;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// The exit codes of every command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Everything holds.
    Holds,
    /// A promise fails.
    Fails,
    /// Bad input, or output that cannot be written.
    BadInput,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(match exit {
            Exit::Holds => 0,
            Exit::Fails => 1,
            Exit::BadInput => 2,
        })
    }
}

/// Exact integer-only conversion of battery cell front ends: proofs and tables, before boards are ordered.
///
/// Exit codes: 0 everything holds, 1 a promise fails, 2 bad input.
#[derive(Debug, Parser)]
#[command(name = "tallyvolt", version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Compare every count of each front end with the exact model and show what the range looks like.
    Check {
        /// Front-end files (TOML).
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Print JSON instead of text.
        #[arg(long)]
        json: bool,
    },
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
}

/// Runs the program with the process's arguments.
#[must_use]
pub fn run() -> Exit {
    failure::install_handler();
    match Arguments::parse().command {
        Command::Check { files, json } => check::run(&files, json),
        Command::Cost(arguments) => cost::run(&arguments),
        Command::Table { file, json } => table::run(&file, json),
    }
}
