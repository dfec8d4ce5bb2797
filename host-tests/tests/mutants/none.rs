//! Control of the mutants: the library compiled the same way, with nothing changed, has no wrong count.
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
    pub(crate) use crate::true_rounding::*;
}

#[test]
fn nothing_is_found() {
    for topology in ["divided-input", "supply-reference"] {
        let found = found(topology);
        assert!(found.counts > 100_000, "{found:?}");
        assert_eq!((found.wrong, found.caught, found.refused), (0, 0, 0));
    }
    assert_eq!(wrong_decimations(), 0);
}
