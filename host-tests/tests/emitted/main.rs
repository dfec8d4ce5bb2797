//! Emitted C and Rust: read back, compiled, run on small cores.

mod c;
mod channel;
mod constants;
mod cores;
mod examples;
mod lines;
mod rust;
mod small_cores;
mod small_firmware;
mod support;
