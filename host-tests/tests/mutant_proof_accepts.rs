//! Mutant: the proof accepts the first multiplier it tries. The sweep must not believe it.
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
#[path = "../../core/src/rounding.rs"]
mod rounding;

mod floor_sum {
    /// Any two sums are equal.
    pub(crate) const fn floor_sum(_: u128, _: u128, _: u128, _: u128) -> u128 {
        0
    }
}

#[test]
fn every_divided_input_is_caught() {
    let found = found("divided-input");
    // The search starts at 16 bits of shift, which are enough for some front ends without any proof.
    assert!(found.caught >= 25, "{found:?}");
    assert_eq!(found.refused, 0);
}
