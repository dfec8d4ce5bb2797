//! Temperature limits against a comparison of temperatures, at every count and every limit of a sensor on either side.

use tallyvolt::{
    AlarmRule, ConfigError, Count, LimitSide, SensorSide, Table, Temperature, TemperatureFault,
    Thermistor, ThermistorDescription,
};

/// 50.0 degC down to -15.0 degC over 15 pieces of four counts, then up again for the other side.
const FALLS: [i16; 16] = [
    500, 440, 390, 350, 300, 260, 220, 180, 140, 100, 60, 20, -20, -60, -100, -150,
];

fn sensors() -> [Thermistor<'static>; 2] {
    static RISES: [i16; 16] = {
        let (mut entries, mut place) = (FALLS, 0);
        while place < 16 {
            entries[place] = FALLS[15 - place];
            place += 1;
        }
        entries
    };
    [(&FALLS, SensorSide::Low), (&RISES, SensorSide::High)].map(|(entries, side)| {
        let table = Table::new(entries, 2, 0).expect("one direction");
        Thermistor::new(ThermistorDescription {
            side,
            table,
            first: Count(20),
            counts: table.positions(),
            low_wire: Count(5),
            high_wire: Count(200),
        })
        .expect("fits")
    })
}

/// Every count of the table, and whether its temperature is beyond.
fn verdicts(sensor: &Thermistor, side: LimitSide, limit: i32) -> Vec<(Count, bool)> {
    let counts = (20..20 + sensor.counts()).map(Count);
    let beyond = |count| {
        let read = i32::from(sensor.temperature(count).expect("in the table").0);
        match side {
            LimitSide::Over => read > limit,
            LimitSide::Under => read < limit,
        }
    };
    counts.map(|count| (count, beyond(count))).collect()
}

#[test]
fn a_count_is_beyond_just_where_its_temperature_is() {
    let (mut limits, mut refused) = (0, 0);
    for sensor in sensors() {
        for side in [LimitSide::Over, LimitSide::Under] {
            for limit in -160..=510 {
                let wanted = verdicts(&sensor, side, limit);
                let both = wanted.iter().any(|of| of.1) && wanted.iter().any(|of| !of.1);
                match sensor.count_limit(side, Temperature(limit as i16)) {
                    Ok(found) => {
                        assert!(both, "{side:?} {limit}");
                        for (count, beyond) in wanted {
                            assert_eq!(
                                found.is_beyond(count),
                                beyond,
                                "{side:?} {limit} {count:?}"
                            );
                        }
                        limits += 1;
                    }
                    Err(error) => {
                        assert_eq!(error, ConfigError::LimitNotReadable { limit });
                        assert!(!both, "{side:?} {limit}");
                        refused += 1;
                    }
                }
            }
        }
    }
    assert!(limits > 2500 && refused > 20, "{limits} and {refused}");
}

/// A limit with its rule trips where the limit says, and holds to where the temperature has come back inside it.
#[test]
fn a_limit_holds_until_the_hysteresis_is_passed() {
    let rule = AlarmRule {
        readings: 3,
        latching: true,
    };
    let mut compared = 0;
    for sensor in sensors() {
        for (side, inside) in [(LimitSide::Over, -1), (LimitSide::Under, 1)] {
            for limit in (-140..=480).step_by(7) {
                for hysteresis in [0, 1, 30, 200_u16] {
                    let released = limit + inside * i32::from(hysteresis);
                    let by_count = |limit: i32| sensor.count_limit(side, Temperature(limit as i16));
                    let found = sensor.limit(side, Temperature(limit as i16), hysteresis, rule);
                    match (by_count(limit), by_count(released)) {
                        (Ok(trip), Ok(hold)) => {
                            let found = found.expect("both can be read");
                            assert_eq!((found.trip(), found.hold()), (trip, hold));
                            compared += 1;
                        }
                        (Err(error), _) | (_, Err(error)) => assert_eq!(found, Err(error)),
                    }
                }
            }
        }
    }
    assert!(compared > 1000, "{compared}");
}

/// On the low side of its resistor a sensor reads low when it is hot or shorted; on the high side, when it is cold or open.
#[test]
fn a_count_outside_the_table_has_the_fault_of_its_side() {
    use TemperatureFault::{AboveTable, BelowTable, OpenCircuit, ShortCircuit};
    let [low, high] = sensors();
    for (sensor, shorted, hotter, colder, open) in [
        (low, ShortCircuit, AboveTable, BelowTable, OpenCircuit),
        (high, OpenCircuit, BelowTable, AboveTable, ShortCircuit),
    ] {
        let behind = 20 + sensor.counts();
        for count in (0..300).chain([1 << 16, (1 << 16) + 20, u32::MAX]) {
            let wanted = match count {
                0..=5 => Err(shorted),
                6..20 => Err(hotter),
                200.. => Err(open),
                _ if count < behind => Ok(()),
                _ => Err(colder),
            };
            let answer = sensor.temperature(Count(count)).map(|_| ());
            assert_eq!(answer, wanted, "{count}");
        }
    }
}
