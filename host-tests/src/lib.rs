//! Bench program of Tallyvolt.
//!
//! The rooms, in the data's order; each imports only what stands above it:
//!
//! ```text
//! files      bytes and CSV rows in, bounded; files out, whole or not at all
//! describe   a front-end file and its front end; the firmware crate's view of it, its tables and limits
//! choose     error budget, findings, resistors, candidates
//! prove      every count of the firmware against the exact model
//! calibrate  batches fitted, records as a chip holds them, logs against the meter
//! words      every result in words: text, JSON, numbers, units, cautions
//! emit       Rust and C source for firmware
//! cost       cycles, bytes and charge on small cores
//! picture    curves, plots, the page
//! cli        the commands
//! ```
//!
//! The exact model is a crate of its own, [`tallyvolt_model`], which shares no code and no constant with the firmware crate.

pub mod calibrate;
pub mod choose;
pub mod cli;
pub mod cost;
pub mod describe;
pub mod emit;
pub mod files;
pub mod picture;
pub mod prove;
pub mod words;

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
    #[doc = include_str!("../../docs/worked-channels.md")]
    struct WorkedChannels;
}
