//! A reference in millivolts.

use tallyvolt::{Acquisition, CellRange, OutputUnit, SupplyDescription, SupplyReference, proven};

const SUPPLY: SupplyReference = proven!(SupplyReference::new(SupplyDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_200,
    cell: CellRange {
        min_uv: 2_000_000,
        max_uv: 3_650_000,
    },
    unit: OutputUnit::Millivolt,
}));

fn main() {
    let _ = SUPPLY;
}
