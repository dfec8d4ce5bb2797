//! The fullest cell, 3.65 V through 1.9 to 1, stands above the reference.

use tallyvolt::{Acquisition, CellRange, DividedDescription, DividedInput, OutputUnit, proven};

const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_225_000,
    top_ohms: 19_000,
    bottom_ohms: 10_000,
    cell: CellRange {
        min_uv: 2_000_000,
        max_uv: 3_650_000,
    },
    unit: OutputUnit::Millivolt,
}));

fn main() {
    let _ = INPUT;
}
