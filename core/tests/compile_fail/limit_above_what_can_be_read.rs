//! A limit that no reading reaches.

use tallyvolt::{
    Acquisition, AlarmRule, CellRange, Limit, LimitSide, Microvolts, OutputUnit, SupplyConversion,
    SupplyDescription, SupplyReference, proven,
};

const SUPPLY: SupplyReference = proven!(SupplyReference::new(SupplyDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_200_000,
    cell: CellRange {
        min_uv: 2_000_000,
        max_uv: 3_650_000,
    },
    unit: OutputUnit::Millivolt,
}));
const CELL: SupplyConversion = proven!(SUPPLY.conversion());
const RULE: AlarmRule = AlarmRule {
    readings: 3,
    latching: false,
};
const LIMIT: Limit = proven!(CELL.limit(
    LimitSide::Under,
    Microvolts::from_mv(360),
    Microvolts::from_mv(20),
    RULE
));

fn main() {
    let _ = LIMIT;
}
