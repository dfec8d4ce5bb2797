//! A module's constants as bytes, and the memory that keeps them.

pub mod record;
#[cfg(feature = "store")]
pub mod store;
