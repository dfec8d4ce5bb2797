//! Kernels for AVR with a hardware multiplier (8 x 8 bits in two cycles): whole functions in the C calling convention.
//!
//! The compiler calls a routine for every 32-bit product, saves registers for it, and shifts 32-bit numbers one bit a loop. These form the
//! partial products in place and stay within the registers that a called function may change: r18 to r27, r30, r31 and r0; r1 is 0
//! again at the end. They call nothing, so they run on chips without `call` and `jmp`.
//!
//! A voltage's kernel takes a count of 16 bits and answers the voltage in output units, or 65 535 for what it leaves to the portable method.

#[cfg(target_feature = "mul")]
mod divided;
#[cfg(target_feature = "mul")]
mod drawn;
#[cfg(target_feature = "mul")]
mod samples;
#[cfg(target_feature = "mul")]
mod supply;
#[cfg(target_feature = "mul")]
mod temperature;
#[cfg(target_feature = "mul")]
mod window;

#[cfg(target_feature = "mul")]
pub use divided::divided;
#[cfg(target_feature = "mul")]
pub(crate) use drawn::drawn;
#[cfg(target_feature = "mul")]
pub(super) use samples::copied_sum;
#[cfg(target_feature = "mul")]
pub use supply::supply;
#[cfg(target_feature = "mul")]
pub use temperature::temperature;
#[cfg(target_feature = "mul")]
pub(super) use window::window_sum;
