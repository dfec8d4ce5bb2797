//! A cell whose empty voltage is above its full one.

use tallyvolt::{Acquisition, CellRange, OutputUnit, SupplyDescription, SupplyReference, proven};

const SUPPLY: SupplyReference = proven!(SupplyReference::new(SupplyDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_200_000,
    cell: CellRange {
        min_uv: 3_650_000,
        max_uv: 2_000_000,
    },
    unit: OutputUnit::Millivolt,
}));

fn main() {
    let _ = SUPPLY;
}
