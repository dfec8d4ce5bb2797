//! 6.6 V does not fit 16 bits of 100 uV.

use tallyvolt::{Acquisition, CellRange, DividedDescription, DividedInput, OutputUnit, proven};

const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_225_000,
    top_ohms: 100_000,
    bottom_ohms: 10_000,
    cell: CellRange {
        min_uv: 2_000_000,
        max_uv: 6_600_000,
    },
    unit: OutputUnit::TenthMillivolt,
}));

fn main() {
    let _ = INPUT;
}
