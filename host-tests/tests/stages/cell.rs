//! The cell's range: in microvolts, the right way round, and within what the output holds.

use tallyvolt::{
    Acquisition, CellRange, ConfigError, OutputUnit, SupplyDescription, SupplyReference,
};

fn described(min_uv: u32, max_uv: u32, unit: OutputUnit) -> Result<SupplyReference, ConfigError> {
    SupplyReference::new(SupplyDescription {
        acquisition: Acquisition::summed(16, 1),
        reference_uv: 100_000,
        cell: CellRange { min_uv, max_uv },
        unit,
    })
}

#[test]
fn a_range_within_the_output_is_taken() {
    for (max_uv, unit) in [
        (65_535_000, OutputUnit::Millivolt),
        (6_553_500, OutputUnit::TenthMillivolt),
    ] {
        assert!(described(150_000, max_uv, unit).is_ok(), "{max_uv}");
        assert!(described(150_000, max_uv + 1, unit).is_err(), "{max_uv}");
    }
}

#[test]
fn a_range_in_millivolts_or_upside_down_is_refused_with_its_values() {
    let unit = OutputUnit::Millivolt;
    assert!(described(2_000, 3_650, unit).is_err());
    assert!(described(2_000_000, 3_650, unit).is_err());
    assert_eq!(
        described(3_650_000, 2_000_000, unit).map(|_| ()),
        Err(ConfigError::CellRangeEmpty {
            min_uv: 3_650_000,
            max_uv: 2_000_000
        })
    );
    assert!(described(2_000_000, 2_000_000, unit).is_err());
}
