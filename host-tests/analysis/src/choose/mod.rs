//! Choices before boards are ordered: errors, findings, resistors, candidates.

pub mod budget;
pub mod compare;
pub mod described_limits;
pub mod divider;
pub mod findings;
pub mod halving;
