//! Code that does not know where a table lies: both sensors answer through the trait as by their own methods.

use tallyvolt::{
    AlarmRule, ConfigError, Count, DrawnSensor, Field, LimitSide, SensorAsDrawn, SensorSide, Table,
    Temperature, TemperatureSensor, Thermistor, ThermistorDescription,
};
use tallyvolt_model::table::{nearest_ties_up, tenths};

use super::channel::SENSOR;

struct Sensor;

impl DrawnSensor for Sensor {
    const THERMISTOR: Thermistor<'static> = SENSOR;
}

fn asked(sensor: &impl TemperatureSensor) -> Vec<String> {
    let counts = (0..4096).step_by(7).map(Count);
    counts
        .map(|count| format!("{:?}", sensor.temperature(count)))
        .collect()
}

#[test]
fn both_sensors_pass_through_generic_code() {
    let [by_pointer, by_type] = [asked(&SENSOR), asked(&SensorAsDrawn::<Sensor>::NEW)];
    assert_eq!(by_pointer, by_type);
    assert!(by_type.iter().any(|answer| answer.starts_with("Ok")));
    assert!(by_type.iter().any(|answer| answer.starts_with("Err")));
    let wires = [
        SENSOR.high_wire(),
        TemperatureSensor::high_wire(&SensorAsDrawn::<Sensor>::NEW),
    ];
    assert_eq!(wires, [Count(3900); 2]);
}

/// Neighbours so far apart that their difference has no 16 bits: the slower arithmetic, and the same exact interpolation.
#[test]
fn a_sensor_with_a_cliff_in_its_table_is_exact() {
    let mut entries = [i16::MIN; 16];
    entries[8..].fill(i16::MAX);
    let table = Table::new(&entries, 6, 2).expect("rises");
    let sensor = Thermistor::new(ThermistorDescription {
        side: SensorSide::High,
        table,
        first: Count(10),
        counts: table.positions(),
        low_wire: Count(2),
        high_wire: Count(1000),
    })
    .expect("fits");
    for position in 0..table.positions() {
        let exact = tenths(&entries, 1 << 6, 1 << 2, position).expect("inside");
        let read = sensor
            .temperature(Count(10 + position))
            .map(|of| i64::from(of.0));
        assert_eq!(read, Ok(nearest_ties_up(exact)), "{position}");
    }
}

#[test]
fn a_temperature_limit_keeps_the_rule_of_its_alarm() {
    let limit = |readings| {
        let rule = AlarmRule {
            readings,
            latching: false,
        };
        SENSOR.limit(LimitSide::Over, Temperature(600), 30, rule)
    };
    assert!(limit(1).is_ok() && limit(127).is_ok());
    for readings in [0, 128] {
        let refused = ConfigError::OutOfBounds {
            field: Field::DebounceReadings,
            value: readings.into(),
            min: 1,
            max: 127,
        };
        assert_eq!(limit(readings), Err(refused));
    }
}
