//! What the bench program computes, before a word of it is written.
//!
//! The rooms, in the data's order; each imports only what stands above it:
//!
//! ```text
//! files      bytes and CSV rows in, bounded; files out, whole or not at all
//! describe   a front-end file and its front end; the firmware crate's view of it, its tables and limits
//! choose     error budget, findings, resistors, candidates
//! prove      every count of the firmware against the exact model
//! calibrate  batches fitted, records as a chip holds them, logs against the meter
//! ```
//!
//! The exact model is a crate of its own, [`tallyvolt_model`], which shares no code and no constant with the firmware crate.

pub mod calibrate;
pub mod choose;
pub mod describe;
pub mod files;
pub mod prove;
