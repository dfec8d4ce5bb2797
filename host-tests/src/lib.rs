//! Bench program of Tallyvolt.
//!
//! The crate [`tallyvolt_analysis`] computes: files, describe, choose, prove, calibrate. The rooms here put what it found into words,
//! source text and pictures. In the data's order, each imports only what stands above it:
//!
//! ```text
//! words      every result in words: text, JSON, numbers, units, cautions
//! emit       Rust and C source for firmware
//! cost       cycles, bytes and charge on small cores
//! picture    curves, plots, the page
//! cli        the commands
//! ```

pub mod cli;
pub mod cost;
pub mod emit;
pub mod picture;
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
    #[doc = include_str!("../../docs/emit.md")]
    struct Emit;
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
