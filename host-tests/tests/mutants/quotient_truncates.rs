//! Mutant: the supply reference drops the half and truncates instead of rounding to nearest.
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
        divide_ceil_i128, divide_floor_i128, divide_floor_u128, product_of_16_bits,
        shift_floor_u32, shift_floor_u64, shift_nearest_i32, shift_nearest_u32, upper_of_sum,
    };

    // The half that rounds comes with the numerator of a quotient; here it is taken off again.
    pub(crate) const fn divide_floor_u32(numerator: u32, denominator: u32) -> u32 {
        (numerator - denominator / 2) / denominator
    }

    pub(crate) const fn divide_floor_u64(numerator: u64, denominator: u64) -> u64 {
        (numerator - denominator / 2) / denominator
    }
}

#[test]
fn every_supply_reference_is_caught() {
    let found = found("supply-reference");
    assert!(found.caught >= 30, "{found:?}");
    // Half of all values lie in the upper half of a unit.
    assert!(found.wrong > found.counts / 8, "{found:?}");
}
