//! Descriptions of supply references: every one is taken or refused, and what is taken converts.

use proptest::prelude::*;
use tallyvolt::{CellRange, ConfigError, Count, SupplyDescription, SupplyReference};
use tallyvolt_model::front_end::Topology;

use super::strategies::{acquisition, config, number, reads, unit};

proptest! {
    #![proptest_config(config(256))]

    /// Any numbers in a description are taken or refused. What is taken converts every count without a panic, or no count is a voltage.
    #[test]
    fn any_supply_description_is_total(
        acquisition in acquisition(),
        reference_uv in number(100_000..=8_000_000),
        min_uv in number(100_000..=4_000_000),
        max_uv in number(100_000..=6_000_000),
        unit in unit(),
        counts in prop::collection::vec(any::<u32>(), 16),
    ) {
        let described = SupplyReference::new(SupplyDescription {
            acquisition, reference_uv, cell: CellRange { min_uv, max_uv }, unit,
        });
        match described {
            Ok(supply) => {
                let reads = reads(Topology::SupplyReference, acquisition, reference_uv, unit);
                let converts = supply.conversion();
                prop_assert_eq!(converts.err(), (!reads).then_some(ConfigError::Constants));
                let Ok(conversion) = converts else { return Ok(()) };
                for count in counts.into_iter().chain([0, 1, u32::MAX]) {
                    let _ = conversion.voltage(Count(count));
                }
            }
            Err(error) => prop_assert!(!error.fix().is_empty() && !error.to_string().is_empty()),
        }
    }
}
