//! 8 bits shifted right by 8.

use tallyvolt::{Acquisition, CellRange, DividedDescription, DividedInput, OutputUnit, proven};

const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition {
        right_shift: 8,
        ..Acquisition::single(8)
    },
    reference_uv: 1_225_000,
    top_ohms: 24_900,
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
