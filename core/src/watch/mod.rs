//! What follows from counts: limits, alarms, and what makes a reading doubtful.

pub mod alarm;
pub mod count_limit;
pub mod limits;
pub mod plausibility;
pub(crate) mod quiet;
