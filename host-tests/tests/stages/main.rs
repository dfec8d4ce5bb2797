//! The stages of the firmware crate, each against the exact model: a file for each of `core/src`, and the whole way.

mod alarm;
mod channel;
mod decimate;
mod divided_input;
mod division;
mod exhaustive;
mod filter;
mod fingerprint;
mod generated;
mod harness;
mod limits;
mod plausibility;
mod properties;
mod reading;
mod record;
mod self_calibration;
mod store;
mod straight_line;
mod strategies;
mod supply_reference;
mod table;
mod thermistor;
mod worst_cases;
