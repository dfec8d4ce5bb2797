//! Bench program and test harness of Tallyvolt.
//!
//! The way of the data:
//!
//! ```text
//! front_end_file   TOML text              -> front_end::FrontEnd
//! firmware         FrontEnd               -> the crate's conversion
//! thermistor_table FrontEnd               -> the smallest table within the error asked for, certified
//! described_limits FrontEnd, conversion   -> the file's limits as count limits
//! model            FrontEnd, calibration  -> the exact truth, in rational numbers
//! sweep            conversion and model   -> every count compared
//! check            sweep                  -> what a front end can and cannot do
//! fit              FrontEnd, readings     -> a batch's calibrations, uncertainties, verdicts and records
//! recorded         FrontEnd, records     -> whose they are, what they do, whether they are sound
//! replay           FrontEnd, log          -> logged counts against the meter
//! budget           FrontEnd               -> error of a reading: terms, totals, guard bands
//! findings         FrontEnd               -> what its file asks for, and whether it is met
//! compare          FrontEnds              -> candidates side by side
//! divider          FrontEnd               -> resistor pairs from a preferred series
//! table, report    conversion, check      -> CSV, JSON and text
//! curves           FrontEnd               -> the numbers of its plots
//! plot, page       curves                 -> SVG pictures, a self-contained HTML page
//! emit             conversion, check      -> Rust and C source for firmware
//! cost             firmware images      -> cycles, bytes and charge on small cores
//! input_file       a path                 -> bytes, bounded
//! output_file      bytes                  -> a file, whole or not at all, never destroying another
//! rows             CSV as benches write it -> rows and numbers
//! cli              the commands
//! ```
//!
//! `cases` makes front ends, calibrations and counts for the tests; the model shares no code and no constant with the crate.

pub mod budget;
pub mod cases;
pub mod channel;
pub mod check;
pub mod cli;
pub mod compare;
pub mod cost;
pub mod curves;
pub mod described_limits;
pub mod divider;
pub mod emit;
pub mod eseries;
pub mod findings;
pub mod firmware;
pub mod fit;
pub mod front_end;
pub mod front_end_file;
pub mod input_file;
pub mod model;
pub mod outcome;
pub mod output_file;
pub mod page;
pub mod plot;
pub mod progress;
pub mod recorded;
pub mod replay;
pub mod report;
pub mod rows;
pub mod sweep;
pub mod table;
pub mod thermistor_table;

/// Every Rust block of these pages compiles and passes; the other pages show the program's output.
#[cfg(doctest)]
mod documentation {
    #[doc = include_str!("../../README.md")]
    struct Readme;
    #[doc = include_str!("../../core/README.md")]
    struct Package;
    #[doc = include_str!("../../docs/calibration.md")]
    struct Calibration;
    #[doc = include_str!("../../docs/front-end-file.md")]
    struct FrontEndFile;
    #[doc = include_str!("../../docs/limits.md")]
    struct Limits;
    #[doc = include_str!("../../docs/numerics.md")]
    struct Numerics;
    #[doc = include_str!("../../docs/safety.md")]
    struct Safety;
}
