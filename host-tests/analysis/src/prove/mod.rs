//! Every count of the firmware against the exact model.

pub mod check;
pub mod sweep;
pub mod table;
