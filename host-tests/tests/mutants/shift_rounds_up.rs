//! Mutant: the shift behind the divided input's product rounds up instead of down.
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
        product_of_16_bits, shift_nearest_i32, shift_nearest_u32, upper_of_sum,
    };

    pub(crate) const fn shift_floor_u32(value: u32, shift: u32) -> u32 {
        (value >> shift) + (value & ((1 << shift) - 1) != 0) as u32
    }

    pub(crate) const fn shift_floor_u64(value: u64, shift: u32) -> u64 {
        (value >> shift) + (value & ((1 << shift) - 1) != 0) as u64
    }
}

#[test]
fn every_divided_input_is_caught() {
    let found = found("divided-input");
    // Most are refused already where a conversion is made: its largest value would not fit.
    assert!(found.caught + found.refused >= 30, "{found:?}");
    assert!(
        found.caught > 0 && found.wrong > found.counts / 2,
        "{found:?}"
    );
}
