//! The check of a thermistor's table: its figures by hand, and a verdict for each thing that may be wrong.

use tallyvolt::{Count, Temperature, TemperatureFault};
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check;
use tallyvolt_analysis::prove::check::thermistor::{ThermistorCheck, exact};

use super::shipped_front_end;

/// Checks the shipped table of 10 bits with a subject made from the right answers by `spoil`.
fn checked(
    spoil: impl Fn(u32, Result<Temperature, TemperatureFault>) -> Result<Temperature, TemperatureFault>,
) -> ThermistorCheck {
    let front_end = shipped_front_end("hut-supply-10bit-thermistor");
    let drawn = front_end.thermistor.as_ref().expect("a thermistor");
    let built = BuiltTable::build(&front_end, drawn).expect("a table");
    check::thermistor::check(&front_end, drawn, &built, &|count| {
        spoil(count.0, exact(&built, count.0))
    })
}

/// 10 kOhm over the sensor, T = 1 / (1/298.15 K + ln(x / (1 - x)) / 3434 K) at x = (count + 1/2) / 1024: count 235 stands at
/// 59.948 degC and 906 at -19.921 degC; 234 and 907 lie beyond -20 and 60 degC. From 905 to 906 it falls by 178.989 m degC,
/// and nowhere by more. A broken wire lies half way to the ends: at 235 / 2 and at 907 + (1023 - 906 - 1) / 2. The 672
/// counts are 21 segments of 32, so 22 entries, an eighth of 0.1 degC fine: 5 + 3 is a whole shift of 8 bits.
#[test]
fn a_shipped_table_by_hand() {
    let found = checked(|_, right| right);
    assert_eq!((found.counts_swept, found.wrong_counts), (1024 + 3, 0));
    assert_eq!(found.wrong_example, None);
    assert_eq!(found.counts, (235, 906));
    assert_eq!(found.range_c, (-19.9, 59.9));
    assert_eq!(found.wires, (117, 965));
    assert!((found.largest_step_mc - 178.988_734).abs() < 1e-5);
    assert_eq!(found.bytes, 2 * found.entries);
    assert_eq!(
        (found.entries, found.step, found.entries_per_tenth),
        (22, 32, 8)
    );
    assert!(found.monotonic && found.holds());
}

#[test]
fn a_check_of_the_front_end_has_the_thermistor_s() {
    let found = check::check(&shipped_front_end("hut-supply-10bit-thermistor"), &|_| {});
    let found = found.expect("shipped").thermistor.expect("described");
    assert_eq!(found.counts, (235, 906));
    assert!(found.holds());
}

/// Also directly behind the largest count, 1023, and at the ends of what a count can be.
#[test]
fn each_wrong_count_is_found() {
    for wrong in [0, 235, 500, 906, 1023, 1024, u32::MAX / 2, u32::MAX] {
        let found = checked(|count, right| match right {
            Ok(tenths) if count == wrong => Ok(Temperature(tenths.0 + 1)),
            Err(_) if count == wrong => Err(TemperatureFault::AboveTable),
            right => right,
        });
        assert_eq!((found.wrong_counts, found.wrong_example), (1, Some(wrong)));
        assert!(!found.holds(), "count {wrong}");
    }
    let all = checked(|_, _| Err(TemperatureFault::AboveTable));
    assert!(all.wrong_counts > 800);
    assert_eq!(all.wrong_example, Some(0));
}

#[test]
fn a_temperature_that_turns_back_is_not_monotonic() {
    let found = checked(|count, right| match count {
        500 => Ok(Temperature(-199)),
        _ => right,
    });
    assert!(!found.monotonic);
}

/// The sum of both errors may be as large as the error asked for, not larger.
#[test]
fn one_thing_wrong_fails_the_check() {
    let mut found = checked(|_, right| right);
    (found.answer_error_mc, found.interpolation_mc) = (90.0, 60.0);
    assert_eq!(found.max_error_mc, 150);
    assert!(found.holds());
    let spoiled = [
        ThermistorCheck {
            wrong_counts: 1,
            ..found.clone()
        },
        ThermistorCheck {
            monotonic: false,
            ..found.clone()
        },
        ThermistorCheck {
            answer_error_mc: 90.5,
            ..found.clone()
        },
        ThermistorCheck {
            interpolation_mc: 60.5,
            ..found.clone()
        },
    ];
    for spoiled in spoiled {
        assert!(!spoiled.holds(), "{spoiled:?}");
    }
}

/// The table's counts are 235 to 906; its neighbours have faults, and so have the wires' counts.
#[test]
fn faults_begin_beside_the_table() {
    let front_end = shipped_front_end("hut-supply-10bit-thermistor");
    let drawn = front_end.thermistor.as_ref().expect("a thermistor");
    let built = BuiltTable::build(&front_end, drawn).expect("a table");
    let sensor = built.firmware().expect("firmware takes it");
    for count in [116, 117, 118, 234, 235, 906, 907, 964, 965] {
        assert_eq!(exact(&built, count), sensor.temperature(Count(count)));
    }
    assert_eq!(exact(&built, 117), Err(TemperatureFault::ShortCircuit));
    assert_eq!(exact(&built, 118), Err(TemperatureFault::AboveTable));
    assert_eq!(exact(&built, 234), Err(TemperatureFault::AboveTable));
    assert_eq!(exact(&built, 907), Err(TemperatureFault::BelowTable));
    assert_eq!(exact(&built, 964), Err(TemperatureFault::BelowTable));
    assert_eq!(exact(&built, 965), Err(TemperatureFault::OpenCircuit));
}
