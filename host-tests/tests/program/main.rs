//! The program: what commands print, write, refuse and find.

mod away_from_the_source;
mod bad_files;
mod cli;
mod cli_budget;
mod cli_fit;
mod emit_cli;
mod files;
mod findings;
mod large_batch;
mod record_cli;
mod report;
mod sensor_offset;
