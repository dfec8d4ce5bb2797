//! Mutant: the supply reference's numerator is rounded up where it must be rounded down: a slip of one in 2^30 and more.
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
        divide_ceil_i128, divide_floor_i128, divide_floor_u32, divide_floor_u64,
        product_of_16_bits, shift_floor_u32, shift_floor_u64, shift_nearest_i32, shift_nearest_u32,
        upper_of_sum,
    };

    pub(crate) const fn divide_floor_u128(numerator: u128, denominator: u128) -> (u128, u128) {
        let (floor, rest) = crate::true_rounding::divide_floor_u128(numerator, denominator);
        // The other division of a supply reference is by twice the largest voltage and one.
        let numerator = denominator != 131_071;
        (floor + numerator as u128, rest)
    }
}

#[test]
fn some_supply_references_are_caught() {
    let found = found("supply-reference");
    assert!(found.caught > 0, "{found:?}");
    assert!(found.wrong < found.counts / 100, "{found:?}");
}
