//! A front end as source text for firmware: the proven constants in Rust or in C.
//!
//! ```text
//! names          the front end's name     -> identifiers
//! description    front end, check         -> what a reader of the text must know
//! sensing        front end                -> the same of a temperature sensor and of limits, where described
//! rust           description              -> a module that the compiler proves again
//! rust_sensing   description              -> its table and limits
//! rust_layout    words filled into lines as rustfmt does
//! c              description              -> a header of C99 that is C++ as well
//! c_quotient     a quotient's constants  -> the shortest division that each core has
//! c_calibrated   front end                -> what a module's calibration needs, for the header
//! c_sensing      description              -> the header's sensor, and its limits behind it
//! c_interpolation  sensor                 -> a temperature from a position in its table
//! c_limits       limits                   -> their counts, alarms, and those of a calibrated module
//! c_channel      description              -> the whole channel, where the header shall have it
//! c_additions    constants                -> a line for cores without a multiplier
//! ```
//!
//! The same front end and command give the same text, byte for byte, from the program and from a `build.rs`:
//!
//! ```
//! use std::path::Path;
//! use tallyvolt_host::emit::{Lang, emit};
//! use tallyvolt_analysis::describe::front_end_file;
//!
//! let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends/hut-divided-12bit.toml");
//! let front_end = front_end_file::read(&file)?;
//! let module = emit(&front_end, Lang::Rust, "cargo build")?;
//! // In a build script: write it to OUT_DIR, and include!() it in a module of the firmware.
//! assert!(module.contains("pub const AS_DRAWN: DividedConversion"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod c;
mod c_additions;
mod c_calibrated;
mod c_channel;
mod c_interpolation;
mod c_limits;
mod c_quotient;
mod c_rows;
mod c_sensing;
pub(crate) mod description;
pub mod error;
pub mod names;
mod rust;
pub(crate) mod rust_layout;
mod rust_sensing;
pub(crate) mod sensing;

use clap::ValueEnum;
use serde::Serialize;
use tallyvolt_model::front_end::FrontEnd;

use description::Description;
use error::EmitError;

/// Language of the emitted text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Lang {
    /// A module over the crate `tallyvolt`.
    Rust,
    /// One self-contained header, C99 and C++.
    C,
}

/// The source text of a front end, ending in a line break.
///
/// Every count is compared with the exact model first. `command` is what makes the text again; it is put into the head as it
/// stands, made harmless: no line and no comment ends in it.
///
/// # Errors
/// [`EmitError`]: the crate refuses the front end, its thermistor or a limit, or its check fails.
pub fn emit(front_end: &FrontEnd, lang: Lang, command: &str) -> Result<String, EmitError> {
    emit_with(front_end, lang, command, &|_| {})
}

/// The same, and `progress` is told how many counts were done, from any thread; every count is looked at twice.
///
/// # Errors
/// As [`emit`].
pub fn emit_with(
    front_end: &FrontEnd,
    lang: Lang,
    command: &str,
    progress: &(dyn Fn(u64) + Sync),
) -> Result<String, EmitError> {
    let description = Description::of(front_end, command, progress)?;
    Ok(match lang {
        Lang::Rust => rust::module(&description),
        Lang::C => c::header(&description, ""),
    })
}

/// The C header with the whole channel: a window of samples in; voltage, temperature, faults and alarms out.
///
/// # Errors
/// As [`emit`], and [`EmitError::ChannelShift`].
pub fn emit_channel_with(
    front_end: &FrontEnd,
    command: &str,
    progress: &(dyn Fn(u64) + Sync),
) -> Result<String, EmitError> {
    let description = Description::of(front_end, command, progress)?;
    Ok(c::header(&description, &c_channel::part(&description)?))
}
