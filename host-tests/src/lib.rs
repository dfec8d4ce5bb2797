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
//! table, report    conversion, check      -> CSV, JSON and text
//! emit             conversion, check      -> Rust and C source for firmware
//! cli              the commands
//! ```
//!
//! `cases` makes front ends, calibrations and counts for the tests; the model shares no code and no constant with the crate.

pub mod check;
pub mod cli;
pub mod emit;
pub mod firmware;
pub mod front_end;
pub mod front_end_file;
pub mod model;
pub mod outcome;
pub mod progress;
pub mod report;
pub mod sweep;
pub mod table;

/// Every Rust block of the documentation compiles and passes.
#[cfg(doctest)]
mod documentation {
    #[doc = include_str!("../../README.md")]
    struct Readme;
    #[doc = include_str!("../../docs/numerics.md")]
    struct Numerics;
    #[doc = include_str!("../../docs/front-end-file.md")]
    struct FrontEndFile;
    #[doc = include_str!("../../docs/emit.md")]
    struct Emit;
    #[doc = include_str!("../../docs/safety.md")]
    struct Safety;
}
