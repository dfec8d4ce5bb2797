//! Count limits as `check` compares them: those of every shipped front end, and one that is off.

use tallyvolt::{ConfigError, Count, CountLimit, LimitSide};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::prove::check;
use tallyvolt_model::limits::Walk;

/// Every shipped front end with limits: each readable value as a limit, against a walk over every count's exact value.
#[test]
fn every_limit_of_every_shipped_front_end() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../front-ends");
    let mut compared = 0;
    for name in [
        "hut-divided-thermistor",
        "hut-supply-thermistor",
        "hut-supply-10bit-thermistor",
        "hut-divided-pt1000-thermistor",
    ] {
        let path = folder.join(format!("{name}.toml"));
        let front_end = front_end_file::read(&path).expect("shipped");
        let checked = check::check(&front_end, &|_| {}).expect("described");
        let limits = checked.limits.as_ref().expect("limits are described");
        assert!(checked.holds && limits.holds(), "{name}: {limits:?}");
        assert_eq!(limits.described.len(), 4, "{name}");
        compared += limits.voltage_limits + limits.temperature_limits;
    }
    assert!(compared > 250_000, "{compared} limits");
}

/// The walk must be able to fail: a limit one count off is counted as wrong.
#[test]
fn a_count_limit_one_off_is_counted() {
    let walk = Walk::over((1..100).map(|count| (count, 5000))).map(|_| ());
    assert_eq!(walk, None, "a value that never moves has no direction");
    let walk = Walk::over((1_u32..100).map(|count| (count, i32::try_from(count).expect("small"))))
        .expect("rises");
    let honest = |side, limit: i32| match side {
        LimitSide::Over if (1..99).contains(&limit) => {
            Ok(CountLimit::Above(Count(limit.unsigned_abs())))
        }
        LimitSide::Under if (2..100).contains(&limit) => {
            Ok(CountLimit::Below(Count(limit.unsigned_abs())))
        }
        _ => Err(ConfigError::LimitNotReadable { limit }),
    };
    assert_eq!(check::limits::compare(&walk, honest), (206, 0));
    let off = |side, limit: i32| -> Result<CountLimit, ConfigError> {
        match honest(side, limit)? {
            CountLimit::Above(Count(50)) => Ok(CountLimit::Above(Count(51))),
            other => Ok(other),
        }
    };
    assert_eq!(check::limits::compare(&walk, off), (206, 1));
}
