//! No conversion for counts of just 20 bits.

use tallyvolt::{
    Acquisition, CellRange, DividedConversion, DividedDescription, DividedInput, OutputUnit, proven,
};

const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_225_000,
    top_ohms: 24_900,
    bottom_ohms: 10_000,
    cell: CellRange {
        min_uv: 2_000_000,
        max_uv: 3_650_000,
    },
    unit: OutputUnit::Millivolt,
}));
const AS_DRAWN: DividedConversion<20> = proven!(INPUT.conversion());

fn main() {
    let _ = AS_DRAWN;
}
