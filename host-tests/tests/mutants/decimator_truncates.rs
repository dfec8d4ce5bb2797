//! Mutant: sum and shift drops the bits it should round.
#![allow(
    dead_code,
    unused_imports,
    unexpected_cfgs,
    unfulfilled_lint_expectations,
    missing_docs,
    reason = "the library's files are compiled outside their crate, and each mutant uses a part of them"
)]

// The harness's adapter names the library; here it means this crate.
extern crate self as tallyvolt;
include!("core_sources.rs");
#[path = "../../../core/src/rounding.rs"]
mod true_rounding;

mod rounding {
    pub(crate) use crate::true_rounding::{
        divide_ceil_i128, divide_floor_i128, divide_floor_u32, divide_floor_u64, divide_floor_u128,
        product_of_16_bits, shift_floor_u32, shift_floor_u64, shift_nearest_i32, upper_of_sum,
    };

    pub(crate) const fn shift_nearest_u32(value: u32, shift: u32) -> u32 {
        value >> shift
    }
}

#[test]
fn half_of_the_counts_are_wrong() {
    let wrong = wrong_decimations();
    assert!((64..192).contains(&wrong), "{wrong} of 256");
}
