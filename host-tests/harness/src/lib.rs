//! What Tallyvolt's tests share.

pub mod cases;
pub mod simulated;
