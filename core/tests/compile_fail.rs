//! Descriptions that cannot be proven do not compile, and the compiler says the fix.
//!
//! `cargo test -p tallyvolt --test compile_fail -- --ignored` builds the library once more; CI does at each run.

#![allow(clippy::expect_used, clippy::panic, reason = "a test may panic")]

use std::path::{Path, PathBuf};

#[test]
#[ignore = "builds the library once more and runs the compiler on every case: half a minute"]
fn a_bad_description_does_not_compile() {
    let cases = trybuild::TestCases::new();
    // A good one among them: it shows that the others fail for their own reason, and makes the compiler evaluate all the
    // way to constants inside generic functions.
    cases.pass("tests/compile_fail/good/*.rs");
    cases.compile_fail("tests/compile_fail/*.rs");
}

/// The checked-in messages themselves say how to fix the description.
#[test]
fn every_message_says_the_fix() {
    let fixes = [
        (
            "divider_above_reference",
            "raise the top or lower the bottom resistance",
        ),
        ("reference_not_below_cell", "choose a lower reference"),
        ("zero_resistor", "or both in a coarser unit (given: 0)"),
        ("seven_bits", "give the converter's resolution (given: 7)"),
        (
            "twelve_samples",
            "(samples in a count is 12, not a power of two)",
        ),
        ("shift_leaves_nothing", "shift less or sum more samples"),
        ("sliding_sum_of_twelve", "takes a power of two of samples"),
        ("cell_above_output", "use the 1 mV output unit"),
        (
            "counts_wider_than_the_type",
            "with the width of the largest count",
        ),
        (
            "conversion_of_20_bits",
            "8 to 16, or 26 for every wider count",
        ),
        (
            "cell_in_millivolts",
            "must be 100 000 to 65 535 000 microvolts",
        ),
        ("raw_sample_as_count", "expected `Count`, found `u16`"),
        ("reference_in_millivolts", "check the unit (given: 1200)"),
        (
            "cell_upside_down",
            "(the cell's lowest voltage, 3650000 uV, is not below its highest, 2000000 uV)",
        ),
        (
            "limit_above_what_can_be_read",
            "(no readable value lies on each side of the limit 360 (in steps of the value))",
        ),
        (
            "float_gain",
            "// U8F24::lit(\"1.004\"), I24F8::lit(\"1.25\")",
        ),
        (
            "limit_without_unit",
            "try wrapping the expression in `tallyvolt::Microvolts`",
        ),
        (
            "sample_where_a_sum_is_meant",
            "expected `Count`, found `Sample`",
        ),
        (
            "fault_not_looked_at",
            "expected `Voltage`, found `Result<Voltage, Fault>`",
        ),
        ("record_taken_unseen", "found `Result<_, RecordError>`"),
    ];
    let directory = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/compile_fail");
    let sources = std::fs::read_dir(&directory).expect("the directory of cases");
    let sources: Vec<PathBuf> = sources
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "rs"))
        .collect();
    assert_eq!(
        sources.len(),
        fixes.len(),
        "a case without its fix here, or the reverse"
    );
    for (name, fix) in fixes {
        let message = std::fs::read_to_string(directory.join(name).with_extension("stderr"))
            .unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(message.contains(fix), "{name}: {message}");
    }
}
