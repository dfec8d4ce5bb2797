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
include!("mutants/core_sources.rs");
#[path = "../../core/src/floor_sum.rs"]
mod floor_sum;
#[path = "../../core/src/rounding.rs"]
mod true_rounding;

mod rounding {
    pub(crate) use crate::true_rounding::{
        divide_ceil_i128, divide_floor_i128, divide_floor_u32, divide_floor_u64, divide_floor_u128,
        shift_floor_u32, shift_floor_u64, shift_nearest_u32,
    };

    pub(crate) const fn nearest_of_doubled(doubled: u32) -> u32 {
        doubled >> 1
    }
}

#[test]
fn every_supply_reference_is_caught() {
    let found = found("supply-reference");
    assert!(found.caught >= 30, "{found:?}");
    // Half of all values lie in the upper half of a unit.
    assert!(found.wrong > found.counts / 8, "{found:?}");
}
