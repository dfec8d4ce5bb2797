//! A drawing, described and checked, and turned into constants that are proven.

pub mod acquisition;
pub mod cell;
pub mod divided_input;
mod factor;
pub mod fingerprint;
pub(crate) mod floor_sum;
pub mod straight_line;
pub mod supply_reference;
