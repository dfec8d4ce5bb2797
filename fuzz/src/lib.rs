//! What the fuzz targets share: the switch of their negative control.
//!
//! Each target compares the firmware with the exact model. With [`CONTROL`] set in the environment it compares a
//! firmware that is wrong on purpose, and must crash: `run.sh control` makes sure that it does.

use std::sync::LazyLock;

/// Environment variable that makes every target's subject wrong.
pub const CONTROL: &str = "TALLYVOLT_FUZZ_CONTROL";

static WRONG: LazyLock<bool> = LazyLock::new(|| std::env::var_os(CONTROL).is_some());

/// Whether the subject is to be wrong.
#[must_use]
pub fn wrong_on_purpose() -> bool {
    *WRONG
}
