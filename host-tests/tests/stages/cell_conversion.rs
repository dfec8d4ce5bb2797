//! Code that does not know the topology: conversions and limits behind traits answer as the types do.

use tallyvolt::{
    CellConversion, Count, CountLimit, DividedConversion, Fault, LimitSide, Microvolts,
    SupplyConversion, VoltageLimits,
};

use super::line::input;
use super::quotient::reference;

/// The counts that read less than `limit`, by comparing voltages; generic over the topology.
fn below<C: CellConversion>(conversion: &C, limit: Microvolts, rail: u32) -> Vec<u32> {
    let counts = (0..=rail).filter(|count| {
        let voltage = conversion.voltage(Count(*count));
        voltage.is_ok_and(|units| u32::from(units.0) * 1000 < limit.0)
    });
    counts.collect()
}

fn by_limit<C: VoltageLimits>(conversion: &C, limit: Microvolts) -> CountLimit {
    conversion
        .count_limit(LimitSide::Under, limit)
        .expect("readable")
}

#[test]
fn both_topologies_pass_through_generic_code() {
    let divided: DividedConversion<12> = input(12).conversion().expect("proven");
    let supply: SupplyConversion = reference(12).conversion().expect("exact");
    let limit = Microvolts::from_mv(3_000);
    let of_divided = by_limit(&divided, limit);
    let of_supply = by_limit(&supply, limit);
    for count in below(&divided, limit, 4094) {
        assert!(of_divided.is_beyond(Count(count)), "{count}");
    }
    for count in below(&supply, limit, 4094) {
        assert!(of_supply.is_beyond(Count(count)), "{count}");
    }
    assert!(matches!(of_divided, CountLimit::Below(_)));
    assert!(matches!(of_supply, CountLimit::Above(_)));
    let both: [&dyn CellConversion; 2] = [&divided, &supply];
    for conversion in both {
        let window = conversion.window();
        assert!(conversion.voltage(window.first()).is_ok());
        assert!(conversion.voltage(window.last()).is_ok());
        assert!(conversion.voltage(Count(0)).is_err());
    }
}

/// Without its reference a divided input reads the top code, as the sensor beside it does; a supply reference is what is sampled.
#[test]
fn a_lost_reference_is_told_by_the_counts() {
    let divided: DividedConversion<12> = input(12).conversion().expect("proven");
    let supply: SupplyConversion = reference(12).conversion().expect("exact");
    for (fault, of_supply) in [
        (Fault::ZeroCount, true),
        (Fault::Rail, false),
        (Fault::BelowRange, false),
        (Fault::AboveRange, true),
    ] {
        for sensor_at_top in [false, true] {
            let of_divided = sensor_at_top && fault == Fault::Rail;
            assert_eq!(divided.reference_lost(fault, sensor_at_top), of_divided);
            assert_eq!(supply.reference_lost(fault, sensor_at_top), of_supply);
        }
    }
}
