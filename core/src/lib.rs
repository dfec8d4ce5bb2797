//! Exact integer-only conversion of converter counts to cell voltages, for the smallest microcontrollers.
//!
//! At every possible count the result equals the exact rational model rounded to the nearest output unit, ties upward:
//! proven while compiling for a described front end, and again at load for a module's own gain and offset.
//!
//! **Lithium cells burn.** This crate converts numbers. It is not a protection system; a cell also needs the independent
//! protection that its maker's data sheet, the local codes and qualified people ask for.
//!
//! # A worked channel
//! A cell of a mountain hut's lighting bank reaches a 12-bit converter through 24.9 kOhm over 10 kOhm, against a reference
//! of 1.225 V. Full scale is 1225 mV * 3.49 = 4275.25 mV, so code 3065 stands for 3065.5 / 4096 of it: 3199.653 mV.
//!
//! ```
//! use tallyvolt::fixed::types::{I24F8, U8F24};
//! use tallyvolt::{
//!     Acquisition, Calibration, CellRange, Count, DividedConversion, DividedDescription, DividedInput, Fault, OutputUnit,
//!     Voltage, proven,
//! };
//!
//! const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
//!     acquisition: Acquisition::single(12),
//!     reference_uv: 1_225_000,
//!     top_ohms: 24_900,
//!     bottom_ohms: 10_000,
//!     cell: CellRange { min_uv: 2_000_000, max_uv: 3_650_000 },
//!     unit: OutputUnit::Millivolt,
//! }));
//! // (68404 * (count - 1) + 135374) >> 16, found and proven by the compiler.
//! const AS_DRAWN: DividedConversion = proven!(INPUT.conversion(Calibration::IDENTITY));
//!
//! assert_eq!(AS_DRAWN.voltage(Count(3065)), Ok(Voltage(3200)));
//! assert_eq!(AS_DRAWN.voltage(Count(0)), Err(Fault::ZeroCount));
//! assert_eq!(AS_DRAWN.voltage(Count(4095)), Err(Fault::Rail));
//! # assert_eq!((AS_DRAWN.multiplier().multiplier(), AS_DRAWN.multiplier().addend()), (68_404, 135_374));
//! # assert_eq!(AS_DRAWN.multiplier().shift(), 16);
//!
//! // A module whose bench values were stored: it reads 1.25 counts too many, and 0.4 % too little after that.
//! # fn load() -> Result<(), tallyvolt::ConfigError> {
//! let stored = Calibration::new(U8F24::from_bits(16_843_886), I24F8::from_bits(320))?;
//! let module = INPUT.conversion(stored)?;
//! assert_eq!(module.voltage(Count(3065)), Ok(Voltage(3211))); // 3198.348 mV * 1.0039738 = 3211.058 mV
//! # Ok(())
//! # }
//! # load().unwrap();
//! ```
//!
//! # The way of a sample
//! 1. A converter's result is a [`Sample`].
//! 2. Samples become a [`Count`]: one as it is, or a sum by the converter, by [`BlockSum`], [`SumAndShift`] or
//!    [`SlidingSum`]. An [`Acquisition`] describes which, and where a code stands.
//! 3. The drawing is described once, as a [`DividedDescription`] or a [`SupplyDescription`], and checked by
//!    [`DividedInput::new`] or [`SupplyReference::new`]. [`proven!`] turns a refusal into a compile error that says the mend.
//! 4. A module's [`Calibration`], or [`Calibration::IDENTITY`], gives its [`DividedConversion`] or [`SupplyConversion`]:
//!    a [`Window`] of valid counts, and a proven [`Multiplier`] or an exact [`Quotient`] behind it.
//!    A calibration is kept as a [`Record`]: 24 bytes, checked, and refused where the drawing is another.
//! 5. `voltage(count)` answers with a [`Voltage`] in steps of the [`OutputUnit`], or with a [`Fault`]. It is total: every
//!    `u32` is accepted and nothing panics.
//! 6. A [`CountLimit`] compares counts with the verdict of comparing voltages; an [`Alarm`] adds hysteresis, debounce and
//!    latching. A [`Thermistor`] does for temperatures what a conversion does for voltages.
//! 7. A [`Channel`] is all of it: samples in, one [`Reading`] out.
//!
//! Why it is exact is told in [`straight_line`] and [`supply_reference`]; every limit stands in [`bounds`]. The
//! repository's `docs/numerics.md` has the proofs in full and the table of widths.
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
//! - `store`: the two-slot [`store`] for calibration records, over the `embedded-storage` traits. Off by default; a
//!   [`Record`] needs no feature.
//! - `arch`: the same readings by hand-written kernels for AVR and Cortex-M0+, in `arch`. Off by default.
//!
//! The crate is `no_std`, needs no allocator, and holds no float and no atomics, and no `unsafe` outside `arch`.
#![no_std]
#![cfg_attr(
    all(feature = "arch", target_arch = "avr"),
    feature(asm_experimental_arch)
)]
#![cfg_attr(docsrs, feature(doc_cfg))]

// Vocabulary.
pub mod bounds;
mod error;
mod rounding;
mod units;

// Sample to count.
pub mod acquisition;
pub mod decimate;
pub mod filter;

// What a module is and differs by.
mod calibration;
mod cell;
mod factor;

// A calibration kept: whose it is, as bytes, and in memory.
pub mod fingerprint;
pub mod record;
#[cfg(feature = "store")]
pub mod store;

// Count to voltage, and the proofs.
pub mod divided_input;
mod floor_sum;
pub mod reciprocal;
pub mod straight_line;
pub mod supply_reference;
mod window;

// Count to temperature.
mod table;
pub mod thermistor;

// What follows from counts.
pub mod alarm;
pub mod limits;
pub mod plausibility;

// All of it, composed.
pub mod cell_conversion;
pub mod channel;
pub mod channel_setup;
pub mod reading;
// The same by hand-written kernels.
#[cfg(feature = "arch")]
pub mod arch;

#[cfg(test)]
mod proof_tests;

pub use acquisition::{Acquisition, CodeCentre, CountScale, FullScale, ShiftRounding};
pub use alarm::{Alarm, AlarmRule, Limit};
pub use calibration::Calibration;
pub use cell::CellRange;
pub use cell_conversion::CellConversion;
pub use channel::Channel;
pub use channel_setup::{ChannelLimits, ChannelSetup, Plausibility};
pub use decimate::{BlockSum, SlidingSum, SumAndShift};
pub use divided_input::{DividedConversion, DividedDescription, DividedInput};
pub use error::{ConfigError, Field};
pub use filter::{LowPass, Median, TrimmedSum};
pub use fingerprint::Fingerprint;
pub use limits::{CountLimit, LimitSide};
pub use plausibility::{Faults, RailWatch, StuckWatch, bleed_error_uv};
pub use reading::{Alarms, Reading, Sensing};
pub use reciprocal::Reciprocal;
pub use record::{Record, RecordError};
#[cfg(feature = "store")]
pub use store::{Loaded, Store, StoreError};
pub use straight_line::Multiplier;
pub use supply_reference::{Quotient, SupplyConversion, SupplyDescription, SupplyReference};
pub use table::Table;
pub use thermistor::{SensorSide, Thermistor, ThermistorDescription};
pub use units::{Count, Fault, OutputUnit, Sample, Temperature, TemperatureFault, Voltage};
pub use window::Window;

/// The fixed-point types of a calibration, re-exported.
pub use fixed;
