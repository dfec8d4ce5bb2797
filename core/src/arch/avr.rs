//! Kernels for AVR with a hardware multiplier (8 x 8 bits in two cycles), whole functions.
//!
//! The compiler calls a routine for every 32-bit product, saves registers for it, and shifts 32-bit numbers one bit a loop.
//! These form only the partial products that matter, pick the value as whole bytes, and stay within the registers that a
//! called function may change: r18 to r27, r30, r31 and r0. r1 is 0 again at the end.
//!
//! They take counts of 16 bits, follow the C calling convention, and return the voltage in output units or the temperature's 16
//! bits, or 2^16 for any fault. A count that is not among the quick ones they hand to a function that answers all.

mod divided;
mod samples;
mod supply;
mod temperature;

use crate::units::{Fault, Voltage};

pub(super) use divided::divided;
pub(super) use samples::copied_sum;
pub(super) use supply::supply;
pub(super) use temperature::temperature;

fn number(reading: Result<Voltage, Fault>) -> u32 {
    match reading {
        Ok(Voltage(units)) => u32::from(units),
        Err(_) => 1 << 16,
    }
}
