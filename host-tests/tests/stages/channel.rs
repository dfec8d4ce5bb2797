//! The composed channel against its stages one by one, its faults, and any input at all.

use std::sync::LazyLock;

use num_rational::BigRational;
use proptest::prelude::*;
use tallyvolt::{
    Acquisition, Alarm, AlarmRule, CellConversion, CellRange, Channel, ChannelLimits, ChannelSetup,
    Count, DividedConversion, DividedDescription, DividedInput, Fault, Faults, LimitSide,
    Microvolts, OutputUnit, Plausibility, Sample, Sensing, SensorSide, SupplyConversion,
    SupplyDescription, SupplyReference, Table, Temperature, TemperatureFault, Thermistor,
    ThermistorDescription, Voltage, bleed_error_uv, proven,
};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::channel::{ChannelModel, PlainLimit};
use tallyvolt_model::front_end::{self, Cell, Converter, Divider, FrontEnd, Reference, Topology};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::table::SensorTable;
use tallyvolt_stages::runs::{Step, block_run, firmware_run, plain_run};

const CELL: CellRange = CellRange {
    min_uv: 2_000_000,
    max_uv: 3_650_000,
};
const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition::summed(12, 16),
    reference_uv: 1_225_000,
    top_ohms: 24_900,
    bottom_ohms: 10_000,
    cell: CELL,
    unit: OutputUnit::Millivolt,
}));
const DIVIDED: DividedConversion<16> = proven!(INPUT.conversion());
const REFERENCE: SupplyReference = proven!(SupplyReference::new(SupplyDescription {
    acquisition: Acquisition::summed(12, 16),
    reference_uv: 1_200_000,
    cell: CELL,
    unit: OutputUnit::Millivolt,
}));
const SUPPLY: SupplyConversion = proven!(REFERENCE.conversion());

/// 80.0 degC at count 512 down to -20.0 degC at count 3584, in nearly equal pieces: a made-up sensor on the low side.
pub(super) const ENTRIES: [i16; 17] = [
    800, 717, 633, 550, 467, 383, 300, 217, 133, 50, -33, -117, -200, -283, -367, -450, -533,
];
pub(super) const SENSOR: Thermistor<'static> = proven!(Thermistor::new(ThermistorDescription {
    side: SensorSide::Low,
    table: proven!(Table::new(&ENTRIES, 8, 0)),
    first: Count(512),
    counts: 3072,
    low_wire: Count(100),
    high_wire: Count(3900),
}));
const RULE: AlarmRule = AlarmRule {
    readings: 2,
    latching: false,
};
const HYSTERESIS: Microvolts = Microvolts::from_mv(20);
const WARM: AlarmRule = AlarmRule {
    readings: 1,
    latching: true,
};
const PLAUSIBILITY: Plausibility = Plausibility {
    supply_minimum: None,
    stuck_readings: 4,
    settle_readings: 2,
};

const TEMPERATURES: ChannelLimits = ChannelLimits {
    over_temperature: Some(proven!(SENSOR.limit(
        LimitSide::Over,
        Temperature(600),
        30,
        WARM
    ))),
    under_temperature: Some(proven!(SENSOR.limit(
        LimitSide::Under,
        Temperature(0),
        30,
        WARM
    ))),
    ..ChannelLimits::NONE
};

pub(super) static ON_DIVIDER: ChannelSetup<DividedConversion<16>> = ChannelSetup {
    conversion: DIVIDED,
    calibrated: false,
    thermistor: Some(SENSOR),
    limits: ChannelLimits {
        over_voltage: Some(proven!(DIVIDED.limit(
            LimitSide::Over,
            Microvolts::from_mv(3650),
            HYSTERESIS,
            RULE
        ))),
        under_voltage: Some(proven!(DIVIDED.limit(
            LimitSide::Under,
            Microvolts::from_mv(2500),
            HYSTERESIS,
            RULE
        ))),
        ..TEMPERATURES
    },
    plausibility: PLAUSIBILITY,
};
pub(super) static ON_SUPPLY: ChannelSetup<SupplyConversion> = ChannelSetup {
    conversion: SUPPLY,
    calibrated: true,
    thermistor: Some(SENSOR),
    limits: ChannelLimits {
        over_voltage: Some(proven!(SUPPLY.limit(
            LimitSide::Over,
            Microvolts::from_mv(3650),
            HYSTERESIS,
            RULE
        ))),
        under_voltage: Some(proven!(SUPPLY.limit(
            LimitSide::Under,
            Microvolts::from_mv(2500),
            HYSTERESIS,
            RULE
        ))),
        ..TEMPERATURES
    },
    plausibility: Plausibility {
        supply_minimum: Some(proven!(
            SUPPLY.count_limit(LimitSide::Under, Microvolts::from_mv(1800))
        )),
        ..PLAUSIBILITY
    },
};
fn filled<C: CellConversion>(
    setup: &'static ChannelSetup<C>,
    sample: u16,
) -> Channel<'static, C, 16> {
    let mut channel = Channel::new(setup).expect("16 samples are summed");
    for _ in 0..16 {
        channel.sample(Sample(sample));
    }
    channel
}

fn with_sensor(count: u32) -> Sensing {
    Sensing {
        sensor: Some(Count(count)),
        bleeding: false,
    }
}

#[test]
fn size_with_a_window_of_16() {
    // 64 or less where pointers have 16 or 32 bits is asserted while compiling; a 64-bit host adds wider indices.
    let bytes = size_of::<Channel<'static, DividedConversion<16>, 16>>();
    assert!(bytes <= 72, "{bytes} bytes");
    assert_eq!(size_of::<Alarm>(), 1);
}

#[test]
fn a_reading_before_and_after_the_window_is_full() {
    let mut channel = Channel::<_, 16>::new(&ON_DIVIDER).expect("16 samples are summed");
    for _ in 0..15 {
        channel.sample(Sample(3065));
        assert_eq!(channel.reading(with_sensor(1000)), None);
    }
    channel.sample(Sample(3065));
    let reading = channel
        .reading(with_sensor(1000))
        .expect("the window is full");
    assert_eq!(reading.voltage, Ok(Voltage(3200)));
    // 71.7 degC less 232/256 of 8.4: 64.09 degC.
    assert_eq!(reading.temperature, Some(Ok(Temperature(641))));
    assert!(reading.alarms.over_temperature && !reading.alarms.over_voltage);
    assert_eq!(reading.faults, Faults::NONE);
    assert!(!reading.calibrated, "as drawn, and said");
}

#[test]
fn faults_of_the_cell() {
    let reading = filled(&ON_DIVIDER, 4095)
        .reading(with_sensor(4095))
        .expect("full");
    assert_eq!(reading.voltage, Err(Fault::Rail));
    assert_eq!(
        reading.temperature,
        Some(Err(TemperatureFault::OpenCircuit))
    );
    let everything = Faults::NO_VOLTAGE
        .with(Faults::SAMPLE_AT_RAIL)
        .with(Faults::REFERENCE_LOST)
        .with(Faults::SENSOR_OPEN);
    assert_eq!(reading.faults, everything);

    // The cell alone at the rail is a cell that is too high, not a lost reference.
    let reading = filled(&ON_DIVIDER, 4095)
        .reading(with_sensor(2000))
        .expect("full");
    assert!(!reading.faults.contains(Faults::REFERENCE_LOST));

    // In a supply reference a count of nothing is the reference gone, and one at the top is not.
    let reading = filled(&ON_SUPPLY, 0)
        .reading(with_sensor(2000))
        .expect("full");
    assert!(reading.faults.contains(Faults::REFERENCE_LOST) && reading.calibrated);
    let reading = filled(&ON_SUPPLY, 4095)
        .reading(with_sensor(2000))
        .expect("full");
    assert!(!reading.faults.contains(Faults::REFERENCE_LOST));
    assert!(
        reading
            .faults
            .contains(Faults::SUPPLY_LOW.with(Faults::NO_VOLTAGE))
    );

    // 1799 mV and 1801 mV, below and above the converter's minimum of 1800 mV.
    for (sample, low) in [(2732, true), (2729, false)] {
        let reading = filled(&ON_SUPPLY, sample)
            .reading(with_sensor(2000))
            .expect("full");
        assert_eq!(reading.faults.contains(Faults::SUPPLY_LOW), low, "{sample}");
    }
}

#[test]
fn one_sample_at_the_rail_shows_for_as_long_as_it_is_in_the_window() {
    let mut channel = filled(&ON_DIVIDER, 3065);
    channel.sample(Sample(4095));
    for _ in 0..15 {
        let reading = channel.reading(with_sensor(2000)).expect("full");
        assert!(reading.voltage.is_ok() && reading.faults.contains(Faults::SAMPLE_AT_RAIL));
        channel.sample(Sample(3065));
    }
    channel.sample(Sample(3065));
    let reading = channel.reading(with_sensor(2000)).expect("full");
    assert!(!reading.faults.contains(Faults::SAMPLE_AT_RAIL));
}

#[test]
fn a_count_that_does_not_move_is_stuck_until_it_moves() {
    let mut channel = filled(&ON_DIVIDER, 3065);
    let stuck = [(); 5].map(|()| {
        let reading = channel.reading(Sensing::default()).expect("full");
        assert_eq!(reading.temperature, None);
        reading.faults.contains(Faults::STUCK)
    });
    assert_eq!(stuck, [false, false, false, true, true]);
    channel.sample(Sample(3066));
    assert!(
        channel
            .reading(Sensing::default())
            .expect("full")
            .faults
            .is_empty()
    );
}

#[test]
fn bleeding_is_flagged_and_voltage_limits_wait() {
    assert_eq!(bleed_error_uv(150, 80), 12_000);
    assert_eq!(bleed_error_uv(u16::MAX, u16::MAX), 65_535 * 65_535);
    let mut channel = filled(&ON_DIVIDER, 2000);
    let mut read = |bleeding| {
        let reading = channel
            .reading(Sensing {
                sensor: Some(Count(600)),
                bleeding,
            })
            .expect("full");
        assert_eq!(reading.voltage, Ok(Voltage(2088)), "reported all the same");
        assert!(reading.alarms.over_temperature, "judged all the same");
        (
            reading.faults.contains(Faults::BLEEDING),
            reading.alarms.under_voltage,
        )
    };
    assert_eq!([true; 6].map(&mut read), [(true, false); 6]);
    // Two readings to settle, then two of debounce.
    assert_eq!(
        [false; 4].map(&mut read),
        [(true, false), (true, false), (false, false), (false, true)]
    );
}

#[test]
fn latching_alarms_stay_until_acknowledged() {
    let mut channel = filled(&ON_DIVIDER, 3065);
    let read = |channel: &mut Channel<'_, _, 16>, sensor| {
        channel.reading(with_sensor(sensor)).expect("full").alarms
    };
    assert!(read(&mut channel, 600).over_temperature);
    assert!(read(&mut channel, 2000).over_temperature);
    channel.acknowledge();
    assert!(!channel.alarms().any() && !read(&mut channel, 2000).any());
}

#[test]
fn every_sensor_count_is_a_temperature_or_the_right_fault() {
    for count in 0..5000 {
        let reading = filled(&ON_DIVIDER, 3065)
            .reading(with_sensor(count))
            .expect("full");
        let wanted = match count {
            0..=100 => Faults::SENSOR_SHORT,
            101..=511 | 3584..=3899 => Faults::SENSOR_RANGE,
            512..=3583 => Faults::NONE,
            _ => Faults::SENSOR_OPEN,
        };
        assert_eq!(reading.faults, wanted, "sensor count {count}");
        assert_eq!(reading.temperature, Some(SENSOR.temperature(Count(count))));
    }
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let sample = prop_oneof![
        any::<u16>(),
        0_u16..=4095,
        Just(0),
        Just(4095),
        3480_u16..3510
    ];
    let sensor = prop_oneof![any::<u32>(), 0_u32..4200];
    let step = prop_oneof![
        4 => prop::collection::vec(sample, 0..40).prop_map(Step::Samples),
        8 => (prop::option::of(sensor), any::<bool>()).prop_map(|(sensor, bleeding)| Step::Reading(sensor, bleeding)),
        1 => Just(Step::Acknowledge),
    ];
    prop::collection::vec(step, 0..60)
}

/// The plain channel of a set-up above, from the same figures.
fn model(front_end: &FrontEnd, supply_minimum: Option<i64>) -> ChannelModel {
    let limit = |over, value, hysteresis, readings, latching| {
        Some(PlainLimit {
            over,
            value,
            hysteresis,
            readings,
            latching,
        })
    };
    ChannelModel {
        voltage: IntegerForm::of(&Model::new(front_end, CalibrationModel::identity())),
        rises: front_end.topology != Topology::SupplyReference,
        window: 16,
        top_code: 4095,
        table: Some(SensorTable {
            side: front_end::SensorSide::Low,
            entries: ENTRIES.to_vec(),
            step: 256,
            entries_per_tenth: 1,
            first: 512,
            counts: 3072,
            low_wire: 100,
            high_wire: 3900,
        }),
        limits: [
            limit(true, 3650, 20, 2, false),
            limit(false, 2500, 20, 2, false),
            limit(true, 600, 30, 1, true),
            limit(false, 0, 30, 1, true),
        ],
        supply_minimum,
        stuck_readings: 4,
        settle_readings: 2,
    }
}

fn front_end(topology: Topology, reference_uv: u32) -> FrontEnd {
    FrontEnd::bare(
        "channel".to_owned(),
        topology,
        Cell {
            chemistry: "LFP".to_owned(),
            min_uv: 2_000_000,
            nominal_uv: 3_200_000,
            max_uv: 3_650_000,
        },
        Converter {
            samples: 16,
            ..Converter::single(12)
        },
        Reference::nominal(reference_uv),
        1000,
    )
}

pub(super) static DIVIDED_MODEL: LazyLock<ChannelModel> = LazyLock::new(|| {
    let ohms = |value: u32| BigRational::from_integer(value.into());
    let divider = Divider::nominal(ohms(24_900), ohms(10_000));
    model(&front_end(Topology::DividedInput(divider), 1_225_000), None)
});
pub(super) static SUPPLY_MODEL: LazyLock<ChannelModel> =
    LazyLock::new(|| model(&front_end(Topology::SupplyReference, 1_200_000), Some(1800)));

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// No sequence panics or wraps (tests run with overflow checks), and each reading is the plain channel's.
    #[test]
    fn any_sequence_equals_the_plain_channel(steps in steps()) {
        let (divided, supply) = (plain_run(&DIVIDED_MODEL, &steps), plain_run(&SUPPLY_MODEL, &steps));
        prop_assert_eq!(&firmware_run::<_, 16>(&ON_DIVIDER, &steps), &divided);
        prop_assert_eq!(&firmware_run::<_, 16>(&ON_SUPPLY, &steps), &supply);
        prop_assert_eq!(block_run::<_, 16>(&ON_DIVIDER, &steps), divided);
        prop_assert_eq!(block_run::<_, 16>(&ON_SUPPLY, &steps), supply);
    }
}
