//! Bench program and test harness of Tallyvolt.
//!
//! The way of the data:
//!
//! ```text
//! front_end_file   TOML text              -> front_end::FrontEnd
//! firmware         FrontEnd               -> the crate's conversion
//! model            FrontEnd, calibration  -> the exact truth, in rational numbers
//! sweep            conversion and model   -> every count compared
//! check            sweep                  -> what a front end can and cannot do
//! budget           FrontEnd               -> error of a reading: terms, totals, guard bands
//! compare          FrontEnds              -> candidates side by side
//! divider          FrontEnd               -> resistor pairs from a preferred series
//! table, report    conversion, check      -> CSV, JSON and text
//! cli              the commands
//! ```
//!
//! `cases` makes front ends, calibrations and counts for the tests; the model shares no code and no constant with the crate.

pub mod budget;
pub mod check;
pub mod cli;
pub mod compare;
pub mod divider;
pub mod eseries;
pub mod firmware;
pub mod front_end;
pub mod front_end_file;
pub mod model;
pub mod outcome;
pub mod progress;
pub mod report;
pub mod sweep;
pub mod table;
