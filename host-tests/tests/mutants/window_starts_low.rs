//! Mutant: the window's first count is rounded down, so that a count that is no voltage would be converted.
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
        divide_floor_i128, divide_floor_u32, divide_floor_u64, divide_floor_u128,
        product_of_16_bits, shift_floor_u32, shift_floor_u64, shift_nearest_i32, shift_nearest_u32,
        upper_of_sum,
    };

    pub(crate) const fn divide_ceil_i128(numerator: i128, denominator: i128) -> i128 {
        divide_floor_i128(numerator, denominator)
    }
}

#[test]
fn supply_references_with_such_a_count_are_refused() {
    let found = found("supply-reference");
    // A conversion checks its own largest value, so the sweep has nothing left to find.
    assert!(found.refused > 0, "{found:?}");
    assert_eq!(found.wrong, 0, "{found:?}");
}
