//! One line or quotient in every type that it has: unit and limits are the same in each.

use tallyvolt::{
    Acquisition, AlarmRule, AsDrawn, CellRange, ConfigError, Count, CountLimit, DividedConversion,
    DividedDescription, DividedInput, Drawn, LimitSide, LineConstants, Microvolts, OutputUnit,
    SupplyDescription, SupplyReference, VoltageLimits, proven,
};

const CELL: CellRange = CellRange {
    min_uv: 2_000_000,
    max_uv: 3_650_000,
};

const fn divided(unit: OutputUnit) -> DividedInput {
    proven_input(DividedInput::new(DividedDescription {
        acquisition: Acquisition::single(12),
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CELL,
        unit,
    }))
}

const fn proven_input(described: Result<DividedInput, ConfigError>) -> DividedInput {
    match described {
        Ok(input) => input,
        Err(_) => panic!("the hut's divider"),
    }
}

fn supply(unit: OutputUnit) -> SupplyReference {
    SupplyReference::new(SupplyDescription {
        acquisition: Acquisition::single(12),
        reference_uv: 1_200_000,
        cell: CELL,
        unit,
    })
    .expect("the hut's supply reference")
}

struct Lighting;
impl Drawn<12> for Lighting {
    const CONVERSION: DividedConversion<12> = proven!(divided(OutputUnit::Millivolt).conversion());
}

/// In steps of 100 uV, which only the long form holds.
struct Fine;
impl Drawn<12> for Fine {
    const CONVERSION: DividedConversion<12> =
        proven!(divided(OutputUnit::TenthMillivolt).conversion());
}

/// Whether a count is a limit's last that is not beyond it, by its voltage and by that of the next count that is.
fn is_last(
    conversion: &impl VoltageLimits,
    found: CountLimit,
    side: LimitSide,
    limit: Microvolts,
) -> bool {
    let beyond = |count| {
        let read = conversion
            .voltage(Count(count))
            .map(|read| conversion.summing().unit().microvolts(read));
        read.is_ok_and(|read| match side {
            LimitSide::Over => read > limit,
            LimitSide::Under => read < limit,
        })
    };
    match found {
        CountLimit::Above(Count(last)) => !beyond(last) && beyond(last + 1),
        CountLimit::Below(Count(last)) => !beyond(last) && beyond(last - 1),
    }
}

/// How many limits of either side both have; what one refuses the other does, and what is found is where voltages pass the limit.
fn same_limits(one: &impl VoltageLimits, other: &impl VoltageLimits) -> usize {
    let rule = AlarmRule::PLAIN;
    let mut found = 0;
    for side in [LimitSide::Over, LimitSide::Under] {
        for limit in (0..7_000_000).step_by(4_567).map(Microvolts) {
            let by_count = one.count_limit(side, limit);
            assert_eq!(
                by_count,
                other.count_limit(side, limit),
                "{side:?} {limit:?}"
            );
            let hysteresis = Microvolts::from_mv(20);
            let with_rule = one.limit(side, limit, hysteresis, rule);
            assert_eq!(with_rule, other.limit(side, limit, hysteresis, rule));
            if let Ok(with_rule) = with_rule {
                assert_eq!(Ok(with_rule.trip()), by_count);
            }
            if let Ok(by_count) = by_count {
                assert!(
                    is_last(one, by_count, side, limit),
                    "{side:?} {limit:?} {by_count:?}"
                );
                found += 1;
            }
        }
    }
    found
}

#[test]
fn limits_are_those_of_the_constants_in_every_type() {
    let whole = Lighting::CONVERSION;
    let module = whole.short().expect("steps of 1 mV");
    let reference = supply(OutputUnit::Millivolt);
    let quotient = reference.conversion().expect("legal");
    // Written as a chip's: 4096 counts have a short form after a self-calibration by nothing.
    let one = tallyvolt::fixed::types::U8F24::ONE;
    let scaled = quotient
        .scaled(one, tallyvolt::fixed::types::I24F8::ZERO)
        .expect("legal");
    let small = scaled.short().expect("steps of 1 mV");
    for found in [
        same_limits(&whole, &module),
        same_limits(&whole, &AsDrawn::<12, Lighting>::NEW),
        same_limits(&Fine::CONVERSION, &AsDrawn::<12, Fine>::NEW),
        same_limits(&scaled, &small),
    ] {
        assert!(found > 700, "{found} limits");
    }
}

/// A limit just below the largest voltage that there is can be passed, and is found; at the largest it cannot.
#[test]
fn the_last_limit_is_one_step_below_the_largest_voltage() {
    let input = DividedInput::new(DividedDescription {
        acquisition: Acquisition::single(16),
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CELL,
        unit: OutputUnit::Millivolt,
    });
    // One step a count: count 1 reads 2 mV, count 65 534 reads 65 535 mV.
    let constants = LineConstants {
        first: 1,
        counts: 65_534,
        factor: 1 << 32,
        addend: 2 << 32,
        shift: 32,
    };
    let module = input
        .and_then(|input| input.module::<16>(constants))
        .expect("sound");
    let over = |limit| module.count_limit(LimitSide::Over, Microvolts(limit));
    assert_eq!(over(65_534_000), Ok(CountLimit::Above(Count(65_533))));
    assert_eq!(over(65_534_999), Ok(CountLimit::Above(Count(65_533))));
    assert_eq!(
        over(65_535_000),
        Err(ConfigError::LimitNotReadable { limit: 65_535 })
    );
    assert_eq!(
        over(65_536_000),
        Err(ConfigError::LimitNotReadable { limit: 65_536 })
    );
    let under = |limit| module.count_limit(LimitSide::Under, Microvolts(limit));
    assert_eq!(under(65_535_000), Ok(CountLimit::Below(Count(65_534))));
    assert_eq!(under(65_534_001), Ok(CountLimit::Below(Count(65_534))));
    assert_eq!(
        under(65_535_001),
        Err(ConfigError::LimitNotReadable { limit: 65_536 })
    );
}

/// The control: another drawing's limits are other ones.
#[test]
#[should_panic(expected = "Over")]
fn limits_of_another_drawing_are_noticed() {
    same_limits(&Lighting::CONVERSION, &Fine::CONVERSION);
}

#[test]
fn the_unit_is_the_drawings_in_every_type() {
    assert_eq!(AsDrawn::<12, Lighting>::NEW.unit(), OutputUnit::Millivolt);
    assert_eq!(AsDrawn::<12, Fine>::NEW.unit(), OutputUnit::TenthMillivolt);
    assert_eq!(
        AsDrawn::<12, Fine>::NEW.summing(),
        Fine::CONVERSION.summing()
    );
    for unit in [OutputUnit::Millivolt, OutputUnit::TenthMillivolt] {
        let (input, reference) = (divided(unit), supply(unit));
        let line = input.conversion::<12>().expect("exact");
        let quotient = reference.conversion().expect("exact");
        let units = [input.unit(), reference.unit(), line.unit(), quotient.unit()];
        assert_eq!(units, [unit; 4]);
        assert_eq!(line.summing().unit(), unit);
        if let Some(module) = line.short() {
            assert_eq!((module.unit(), module.summing()), (unit, line.summing()));
        }
        if let Some(module) = quotient.short() {
            assert_eq!(
                (module.unit(), module.summing()),
                (unit, quotient.summing())
            );
        }
    }
}

/// Every voltage of either unit, exactly: a step is 1000 or 100 uV.
#[test]
fn a_voltage_in_microvolts_is_its_steps() {
    for steps in 0..=u16::MAX {
        let voltage = tallyvolt::Voltage(steps);
        let expected = |step: u32| Microvolts(u32::from(steps) * step);
        assert_eq!(OutputUnit::Millivolt.microvolts(voltage), expected(1000));
        assert_eq!(
            OutputUnit::TenthMillivolt.microvolts(voltage),
            expected(100)
        );
        assert_eq!(Microvolts::from_mv(steps), expected(1000));
    }
}
