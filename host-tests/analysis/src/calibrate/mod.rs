//! Batches calibrated, records as a chip holds them, logs against the meter.

pub mod fit;
pub mod recorded;
pub mod replay;
