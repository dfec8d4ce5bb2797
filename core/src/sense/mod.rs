//! Samples to counts, and the whole channel of a cell.

mod alarm_states;
pub mod block;
pub mod channel;
pub mod channel_setup;
pub mod decimate;
pub mod filter;
pub mod reading;
pub mod window_setup;
