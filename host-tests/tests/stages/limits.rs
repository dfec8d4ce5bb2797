//! Limits: count comparison against value comparison at every count and every value, and the alarm against a plain model.

use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{
    Acquisition, AlarmRule, CellRange, ConfigError, Count, CountLimit, DividedConversion,
    DividedDescription, DividedInput, LimitSide, Microvolts, OutputUnit, SupplyConversion,
    SupplyDescription, SupplyReference,
};

const CELL: CellRange = CellRange {
    min_uv: 2_000_000,
    max_uv: 3_650_000,
};
const SIDES: [LimitSide; 2] = [LimitSide::Over, LimitSide::Under];

/// A module's gain and offset, or none as drawn.
pub type Adjusted = Option<(U8F24, I24F8)>;

pub const DRAWN: Adjusted = None;

pub fn divided(acquisition: Acquisition, adjusted: Adjusted) -> DividedConversion<26> {
    DividedInput::new(DividedDescription {
        acquisition,
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CELL,
        unit: OutputUnit::Millivolt,
    })
    .and_then(|input| input.conversion())
    .and_then(|drawn| match adjusted {
        Some((gain, offset)) => drawn.scaled(gain, offset),
        None => Ok(drawn),
    })
    .expect("the hut's divider")
}

pub fn supply(acquisition: Acquisition, adjusted: Adjusted) -> SupplyConversion {
    SupplyReference::new(SupplyDescription {
        acquisition,
        reference_uv: 1_200_000,
        cell: CELL,
        unit: OutputUnit::Millivolt,
    })
    .and_then(|reference| reference.conversion())
    .and_then(|drawn| match adjusted {
        Some((gain, offset)) => drawn.scaled(gain, offset),
        None => Ok(drawn),
    })
    .expect("the hut's supply reference")
}

pub fn awkward() -> Adjusted {
    Some((U8F24::from_bits(16_843_213), I24F8::from_bits(317)))
}

pub fn mv(millivolts: u16) -> Microvolts {
    Microvolts::from_mv(millivolts)
}

pub fn beyond(side: LimitSide, value: i32, limit: i32) -> bool {
    match side {
        LimitSide::Over => value > limit,
        LimitSide::Under => value < limit,
    }
}

/// Every count against every limit: returns how many limits exist, and compares each at each count.
fn equal_everywhere(
    values: &[Option<i32>],
    limits: std::ops::RangeInclusive<i32>,
    count_limit: impl Fn(LimitSide, i32) -> Result<CountLimit, ConfigError>,
) -> u64 {
    let mut comparisons = 0;
    for side in SIDES {
        for limit in limits.clone() {
            let verdicts = || {
                values
                    .iter()
                    .flatten()
                    .map(|value| beyond(side, *value, limit))
            };
            let both = verdicts().any(|verdict| verdict) && verdicts().any(|verdict| !verdict);
            match count_limit(side, limit) {
                Ok(by_count) => {
                    assert!(both, "{side:?} {limit} is a limit without two sides");
                    for (count, value) in (0_u32..).zip(values) {
                        if let Some(value) = value {
                            comparisons += 1;
                            assert_eq!(
                                by_count.is_beyond(Count(count)),
                                beyond(side, *value, limit),
                                "{side:?} {limit}, count {count} reads {value}"
                            );
                        }
                    }
                }
                Err(ConfigError::LimitNotReadable { limit: named }) => {
                    assert_eq!(named, limit);
                    assert!(!both, "{side:?} {limit} has two sides and was refused");
                }
                Err(other) => panic!("{side:?} {limit}: {other}"),
            }
        }
    }
    comparisons
}

#[test]
fn every_count_and_every_millivolt_of_both_topologies() {
    let mut comparisons = 0;
    for acquisition in [Acquisition::single(10), Acquisition::single(12)] {
        for adjusted in [DRAWN, awkward()] {
            let counts = 0..1_u32 << acquisition.bits;
            let conversion = divided(acquisition, adjusted);
            let read = |count| Some(i32::from(conversion.voltage(Count(count)).ok()?.0));
            let values: Vec<_> = counts.clone().map(read).collect();
            comparisons += equal_everywhere(&values, 0..=4400, |side, limit| {
                conversion.count_limit(side, mv(u16::try_from(limit).expect("in range")))
            });

            let conversion = supply(acquisition, adjusted);
            let read = |count| Some(i32::from(conversion.voltage(Count(count)).ok()?.0));
            let values: Vec<_> = counts.map(read).collect();
            comparisons += equal_everywhere(&values, 1100..=5500, |side, limit| {
                conversion.count_limit(side, mv(u16::try_from(limit).expect("in range")))
            });
        }
    }
    assert!(comparisons > 150_000_000, "{comparisons} comparisons");
}

/// The comparison above must be able to fail: a limit one count off is noticed.
#[test]
#[should_panic(expected = "count 3496 reads 3650")]
fn a_limit_one_count_off_is_noticed() {
    let conversion = divided(Acquisition::single(12), DRAWN);
    let read = |count| Some(i32::from(conversion.voltage(Count(count)).ok()?.0));
    let values: Vec<_> = (0..4096).map(read).collect();
    equal_everywhere(&values, 3650..=3650, |side, limit| {
        match conversion.count_limit(side, mv(u16::try_from(limit).expect("in range")))? {
            CountLimit::Above(Count(count)) => Ok(CountLimit::Above(Count(count - 1))),
            below @ CountLimit::Below(_) => Ok(below),
        }
    });
}

/// Sums of 16 and 1024: the limit's own count and its neighbour, at every millivolt.
#[test]
fn the_counts_on_either_side_of_every_limit_of_a_sum() {
    for samples in [16, 1024] {
        let acquisition = Acquisition::summed(12, samples);
        for limit in 1300..4200 {
            let (divided, supply) = (
                divided(acquisition, awkward()),
                supply(acquisition, awkward()),
            );
            for side in SIDES {
                let by_count = divided
                    .count_limit(side, mv(limit))
                    .expect("readable in both topologies");
                let (CountLimit::Above(Count(edge)) | CountLimit::Below(Count(edge))) = by_count;
                for count in edge - 1..=edge + 1 {
                    let value = divided.voltage(Count(count)).expect("inside the window").0;
                    let wanted = beyond(side, value.into(), limit.into());
                    assert_eq!(by_count.is_beyond(Count(count)), wanted);
                }
                let by_count = supply
                    .count_limit(side, mv(limit))
                    .expect("readable in both topologies");
                let (CountLimit::Above(Count(edge)) | CountLimit::Below(Count(edge))) = by_count;
                for count in edge - 1..=edge + 1 {
                    let value = supply.voltage(Count(count)).expect("inside the window").0;
                    let wanted = beyond(side, value.into(), limit.into());
                    assert_eq!(by_count.is_beyond(Count(count)), wanted);
                }
            }
        }
    }
}

#[test]
fn counts_that_are_faults_belong_to_the_side_they_lie_on() {
    let divided = divided(Acquisition::single(12), DRAWN);
    let over = divided
        .count_limit(LimitSide::Over, mv(3650))
        .expect("readable");
    let under = divided
        .count_limit(LimitSide::Under, mv(2500))
        .expect("readable");
    assert_eq!(over, CountLimit::Above(Count(3496)));
    assert_eq!(under, CountLimit::Below(Count(2395)));
    assert!(over.is_beyond(Count(4095)) && over.is_beyond(Count(u32::MAX)));
    assert!(under.is_beyond(Count(0)) && !under.is_beyond(Count(4095)));
    assert_eq!(over.quiet_counts(under), Some((Count(2395), Count(3496))));
    assert_eq!(under.quiet_counts(over), over.quiet_counts(under));
    assert_eq!(over.quiet_counts(over), None);

    // The count falls as the voltage rises, so the same two limits change places.
    let supply = supply(Acquisition::single(12), DRAWN);
    let over = supply
        .count_limit(LimitSide::Over, mv(3650))
        .expect("readable");
    let under = supply
        .count_limit(LimitSide::Under, mv(2500))
        .expect("readable");
    assert_eq!(over, CountLimit::Below(Count(1346)));
    assert_eq!(under, CountLimit::Above(Count(1965)));
    assert!(over.is_beyond(Count(0)) && under.is_beyond(Count(4095)));
    assert_eq!(over.quiet_counts(under), Some((Count(1346), Count(1965))));
}

/// A limit has a unit of its own: on a conversion in steps of 100 uV it is the same voltage, also between two of its steps.
#[test]
fn a_limit_is_the_same_voltage_in_every_unit() {
    let conversion = DividedInput::new(DividedDescription {
        acquisition: Acquisition::summed(12, 16),
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CELL,
        unit: OutputUnit::TenthMillivolt,
    })
    .and_then(|input| input.conversion::<16>())
    .expect("the hut's divider");
    let read = |count| {
        conversion
            .voltage(Count(count))
            .map(|voltage| i64::from(voltage.0) * 100)
    };
    let mut compared = 0;
    for uv in [3_600_000, 3_600_049, 3_600_050, 3_600_099, 2_500_001] {
        for side in SIDES {
            let by_count = conversion
                .count_limit(side, Microvolts(uv))
                .expect("readable");
            for count in 1..65_000 {
                if let Ok(read) = read(count) {
                    let wanted = match side {
                        LimitSide::Over => read > i64::from(uv),
                        LimitSide::Under => read < i64::from(uv),
                    };
                    assert_eq!(
                        by_count.is_beyond(Count(count)),
                        wanted,
                        "{side:?} {uv} at {count}"
                    );
                    compared += 1;
                }
            }
        }
    }
    assert_eq!(compared, 10 * 64_999);
}

#[test]
fn hysteresis_that_leaves_the_readable_range_is_refused() {
    let conversion = divided(Acquisition::single(12), DRAWN);
    let refused = conversion.limit(LimitSide::Under, mv(4000), mv(600), AlarmRule::PLAIN);
    assert_eq!(refused, Err(ConfigError::LimitNotReadable { limit: 4600 }));
    let refused = conversion.limit(LimitSide::Over, mv(4000), mv(u16::MAX), AlarmRule::PLAIN);
    assert_eq!(
        refused,
        Err(ConfigError::HysteresisTooLong {
            limit_uv: 4_000_000,
            hysteresis_uv: 65_535_000,
        })
    );
    let rule = AlarmRule {
        readings: 0,
        ..AlarmRule::PLAIN
    };
    assert!(matches!(
        conversion.limit(LimitSide::Over, mv(3650), mv(0), rule),
        Err(ConfigError::OutOfBounds { value: 0, .. })
    ));
}

/// The largest voltage that can be read is 65.535 V: a limit there or above has no reading beyond it, and is no smaller one in disguise.
#[test]
fn a_limit_above_every_voltage_is_refused_with_its_steps() {
    let conversion = divided(Acquisition::single(12), DRAWN);
    let quotient = supply(Acquisition::single(12), DRAWN);
    for (limit, steps) in [
        (Microvolts(65_535_000), 65_535),
        (Microvolts(65_536_000), 65_536),
        // 2^16 steps and 3 V: what is left of it in 16 bits could be read.
        (Microvolts(68_536_000), 68_536),
        (Microvolts(u32::MAX), 4_294_967),
    ] {
        let refused = Err(ConfigError::LimitNotReadable { limit: steps });
        assert_eq!(conversion.count_limit(LimitSide::Over, limit), refused);
        assert_eq!(quotient.count_limit(LimitSide::Over, limit), refused);
    }
}
