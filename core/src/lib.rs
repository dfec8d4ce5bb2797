//! Exact integer-only conversion of converter counts to cell voltages, for the smallest microcontrollers.
//!
//! At every possible count the result is the exact rational of its constants' model, rounded to the nearest output unit, ties upward.
//! As drawn, the model is the drawing, proven while compiling. Calibrated, it is the module's own constants: a PC chooses and proves
//! them, a chip loads 32 bytes and converts.
//!
//! **Lithium cells burn.** This crate converts numbers. It is not a protection system; a cell also needs the independent
//! protection that its maker's data sheet, the local codes and qualified people ask for.
//!
//! # A worked channel
//! A cell of a mountain hut's lighting bank reaches a 12-bit converter through 24.9 kOhm over 10 kOhm, against a reference
//! of 1.225 V. Full scale is 1225 mV * 3.49 = 4275.25 mV, so code 3065 stands for 3065.5 / 4096 of it: 3199.653 mV.
//!
//! ```
//! use tallyvolt::{
//!     Acquisition, CellRange, Count, DividedConversion, DividedDescription, DividedInput, DividedModule, Fault, OutputUnit,
//!     RecordError, Voltage, proven,
//! };
//! use tallyvolt::fixed::types::{I24F8, U8F24};
//!
//! const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
//!     acquisition: Acquisition::single(12),
//!     reference_uv: 1_225_000,
//!     top_ohms: 24_900,
//!     bottom_ohms: 10_000,
//!     cell: CellRange { min_uv: 2_000_000, max_uv: 3_650_000 },
//!     unit: OutputUnit::Millivolt,
//! }));
//! // (34202 * (count - 1) + 67694) >> 15 for counts of 12 bits, found and proven by the compiler.
//! const AS_DRAWN: DividedConversion<12> = proven!(INPUT.conversion());
//!
//! assert_eq!(AS_DRAWN.voltage(Count(3065)), Ok(Voltage(3200)));
//! assert_eq!(AS_DRAWN.voltage(Count(0)), Err(Fault::ZeroCount));
//! assert_eq!(AS_DRAWN.voltage(Count(4095)), Err(Fault::Rail));
//!
//! // At start: the 32 bytes that `fit` wrote for this module, from wherever they are kept. Bytes that are no record of this front end
//! // leave the conversion as drawn, and the reason is there to be reported.
//! let erased = [0xFF; tallyvolt::RECORD_BYTES];
//! let own: Result<DividedModule<12>, RecordError> = INPUT.load(&erased);
//! let voltage = match &own {
//!     Ok(module) => module.voltage(Count(3065)),
//!     Err(_reason) => AS_DRAWN.voltage(Count(3065)),
//! };
//! assert_eq!((own, voltage), (Err(RecordError::Blank), Ok(Voltage(3200))));
//!
//! // Without a PC: this module reads 1.25 counts too many, and 0.4 % too little after that.
//! # fn adjust() -> Result<(), tallyvolt::ConfigError> {
//! let adjusted = AS_DRAWN.scaled(U8F24::lit("1.004"), I24F8::lit("1.25"))?;
//! assert_eq!(adjusted.voltage(Count(3065)), Ok(Voltage(3211))); // 3198.348 mV * 1.004 = 3211.142 mV
//! let bytes = INPUT.record(&adjusted, 1).encode();
//! assert_eq!(INPUT.load(&bytes), Ok(adjusted));
//! # Ok(())
//! # }
//! # adjust().unwrap();
//! ```
//!
//! # The way of a sample
//! 1. A converter's result is a [`Sample`].
//! 2. Samples become a [`Count`]: one as it is, or a sum by the converter, by [`BlockSum`], [`SumAndShift`] or
//!    [`SlidingSum`]. An [`Acquisition`] describes which, and where a code stands.
//! 3. The drawing is described once, as a [`DividedDescription`] or a [`SupplyDescription`], and checked by
//!    [`DividedInput::new`] or [`SupplyReference::new`]. [`proven!`] turns a refusal into a compile error that says the fix.
//! 4. Its `conversion` is a [`DividedConversion`] or a [`SupplyConversion`] as drawn, proven. A calibrated module's is loaded from a
//!    [`Record`]: 32 bytes, checked, and refused where the drawing is another. On a small chip it is a [`DividedModule`] or a
//!    [`SupplyModule`], which have the short form of constants alone.
//! 5. `voltage(count)` answers with a [`Voltage`] in steps of the [`OutputUnit`], or with a [`Fault`]. It is total: every
//!    `u32` is accepted and nothing panics.
//! 6. A [`CountLimit`] compares counts with the verdict of comparing voltages; an [`Alarm`] adds hysteresis, debounce and
//!    latching. A [`Thermistor`] does for temperatures what a conversion does for voltages.
//! 7. A [`Channel`] is all of it: samples in, one [`Reading`] out. A [`BlockChannel`] takes a whole window at once from a buffer
//!    that is not its own.
//!
//! Why it is exact is told at [`DividedInput`], [`SupplyReference`], [`DividedConversion`] and [`SupplyConversion`]; every limit stands in
//! [`bounds`]. The repository's `docs/numerics.md` has the proofs in full and the table of widths.
//!
//! # What it does not do
//! - drive a converter or a multiplexer: it has no hardware layer, and takes numbers;
//! - tell current, state of charge, or whether a cell is healthy;
//! - correct anything that is not a straight line: nonlinearity, and drift with temperature, stay in the reading;
//! - see through a sum: samples at the rail inside a sum are noticed by a [`Channel`] only, which sees each sample;
//! - convert differential or signed results, or samples wider than 16 bits.
//!
//! # Features
//! - `defmt`: `defmt::Format` for the public types that are values. Off by default.
//! - `store`: the two-slot `Store` for calibration records, over the `embedded-storage` traits. Off by default; a
//!   [`Record`] needs no feature.
//! - `arch`: the same readings by hand-written kernels for AVR and Cortex-M0+. Nothing else changes in the firmware. Off by default.
//!
//! The crate is `no_std`, needs no allocator, and holds no float and no atomics, and no `unsafe` outside `arch`.
#![no_std]
#![cfg_attr(
    all(feature = "arch", target_arch = "avr"),
    feature(asm_experimental_arch)
)]
#![cfg_attr(docsrs, feature(doc_cfg))]

// Vocabulary: values, every limit, every rounding, every refusal.
pub mod bounds;
mod error;
mod field;
mod refused;
mod rounding;
mod text;
mod units;

// Arithmetic, by assembly where there is some.
mod arch;

// A drawing to constants, with their proofs: while compiling, or on a PC.
mod describe;

// Counts to voltages and temperatures: what a chip runs.
mod convert;

// Samples to counts, and a channel's reading.
mod sense;

// Limits, alarms, plausibility.
mod watch;

// A module's constants, kept.
mod keep;

#[cfg(test)]
mod proof_tests;

// Rooms are private: each public item has one path, from here.

pub use convert::as_drawn::{AsDrawn, Drawn};
pub use convert::cell_conversion::CellConversion;
pub use convert::constants::{LineConstants, QuotientConstants};
pub use convert::divided_module::DividedModule;
pub use convert::line::DividedConversion;
pub use convert::quotient::SupplyConversion;
pub use convert::sensor_as_drawn::{DrawnSensor, SensorAsDrawn};
pub use convert::supply_module::SupplyModule;
pub use convert::table::Table;
pub use convert::tabled_supply_module::TabledSupplyModule;
pub use convert::temperature_sensor::TemperatureSensor;
pub use convert::thermistor::{SensorSide, Thermistor, ThermistorDescription};
pub use convert::window::{Summing, Window};
pub use describe::acquisition::{Acquisition, CodeCentre, FullScale, ShiftRounding};
pub use describe::cell::CellRange;
pub use describe::divided_input::{DividedDescription, DividedInput};
pub use describe::fingerprint::Fingerprint;
pub use describe::supply_reference::{SupplyDescription, SupplyReference};
pub use error::ConfigError;
pub use field::Field;
pub use keep::record::{RECORD_BYTES, RECORD_VERSION, Record, RecordError, Recorded};
#[cfg(feature = "store")]
pub use keep::store::{Store, StoreError};
pub use sense::block::BlockChannel;
pub use sense::channel::Channel;
pub use sense::channel_setup::{ChannelLimits, ChannelSetup, Plausibility};
pub use sense::decimate::{BlockSum, SlidingSum, SumAndShift};
pub use sense::filter::{LowPass, Median, TrimmedSum};
pub use sense::reading::{Alarms, Reading, Sensing};
pub use sense::window_setup::WindowSetup;
pub use units::{
    Count, Fault, Microvolts, OutputUnit, Sample, Temperature, TemperatureFault, Voltage,
};
pub use watch::alarm::{Alarm, AlarmRule, Limit};
pub use watch::count_limit::CountLimit;
pub use watch::limits::{LimitSide, VoltageLimits};
pub use watch::plausibility::{Faults, RailWatch, StuckWatch, bleed_error_uv};

/// The fixed-point types of a self-calibration, re-exported.
pub use fixed;
