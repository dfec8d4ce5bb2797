//! What follows from counts: limits, alarms, and what makes a reading doubtful.

pub mod alarm;
pub mod limits;
pub mod plausibility;
pub(crate) mod quiet;
