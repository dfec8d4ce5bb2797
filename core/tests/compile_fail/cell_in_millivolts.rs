//! The cell's range in millivolts, where microvolts are wanted.

use tallyvolt::{Acquisition, CellRange, DividedDescription, DividedInput, OutputUnit, proven};

const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_225_000,
    top_ohms: 24_900,
    bottom_ohms: 10_000,
    cell: CellRange {
        min_uv: 2_000,
        max_uv: 3_650,
    },
    unit: OutputUnit::Millivolt,
}));

fn main() {
    let _ = INPUT;
}
