//! The check of limits: how many are compared, and that a wrong one is found.

use tallyvolt::{ConfigError, Count, CountLimit, LimitSide};
use tallyvolt_analysis::prove::check::check;
use tallyvolt_analysis::prove::check::limits::{LimitsCheck, compare};
use tallyvolt_model::limits::{Beyond, Walk};

use super::shipped_front_end;

fn walk() -> Walk {
    Walk::over([(5, 10), (6, 10), (7, 12)].into_iter()).expect("a walk")
}

/// The right answer for a limit of [`walk`].
fn answer(side: LimitSide, limit: i32) -> Result<CountLimit, ConfigError> {
    let exact = match side {
        LimitSide::Over => walk().over_limit(limit),
        LimitSide::Under => walk().under_limit(limit),
    };
    match exact {
        Some(Beyond::Above(count)) => Ok(CountLimit::Above(Count(count))),
        Some(Beyond::Below(count)) => Ok(CountLimit::Below(Count(count))),
        None => Err(ConfigError::LimitNotReadable { limit }),
    }
}

/// From 10 - 2 to 12 + 2 are seven values, each a limit on both sides.
#[test]
fn two_values_beyond_each_end_are_compared_on_both_sides() {
    assert_eq!(compare(&walk(), answer), (14, 0));
}

#[test]
fn each_wrong_limit_is_counted() {
    let other_count = |side, limit| match answer(side, limit) {
        Ok(CountLimit::Above(count)) => Ok(CountLimit::Above(Count(count.0 + 1))),
        right => right,
    };
    // Over 10 and over 11 are above count 6.
    assert_eq!(compare(&walk(), other_count), (14, 2));
    let none = |_, limit| Err(ConfigError::LimitNotReadable { limit });
    // Under 11 and under 12 too are limits, below count 7.
    assert_eq!(compare(&walk(), none), (14, 4));
    // Only those over 10 and over 11 are above count 6.
    let always = |_, _| Ok(CountLimit::Above(Count(6)));
    assert_eq!(compare(&walk(), always), (14, 12));
}

#[test]
fn one_wrong_limit_of_either_kind_fails_the_check() {
    let found = |wrong_voltage_limits, wrong_temperature_limits| LimitsCheck {
        voltage_limits: 14,
        wrong_voltage_limits,
        temperature_limits: 14,
        wrong_temperature_limits,
        described: Vec::new(),
    };
    assert!(found(0, 0).holds());
    assert!(!found(1, 0).holds());
    assert!(!found(0, 1).holds());
    assert!(!found(1, 1).holds());
}

/// V(n) = 1100 mV * 1024 / (n + 1/2): counts 17 to 1022 read 64 366 down to 1102 mV. More than 3600 mV are the counts below
/// 313, more than 3550 mV those below 317; less than 2800 mV are those above 401, less than 2850 mV those above 394.
///
/// The table answers -19.9 to 59.9 degC. By the sensor's law 296 stands at 50.198 degC, 311 at 48.075, 760 at -0.125 and 742
/// at 1.843: the last counts beyond 50.0, 48.0, 0.0 and 2.0 degC. Count 297, 50.054 by the law, is 50.0 by the table.
#[test]
fn the_limits_of_a_shipped_file_by_hand() {
    let found = check(&shipped_front_end("hut-supply-10bit-thermistor"), &|_| {});
    let found = found
        .expect("shipped")
        .limits
        .expect("limits are described");
    assert_eq!(found.voltage_limits, 2 * (64_366 - 1102 + 1 + 4));
    assert_eq!(found.wrong_voltage_limits, 0);
    assert_eq!(found.temperature_limits, 2 * (599 + 199 + 1 + 4));
    assert_eq!(found.wrong_temperature_limits, 0);
    let described: Vec<_> = found
        .described
        .iter()
        .map(|limit| {
            (
                limit.key,
                limit.value,
                limit.guard,
                &*limit.trips,
                &*limit.holds,
            )
        })
        .collect();
    assert_eq!(
        described,
        [
            ("over_voltage_mv", 3600.0, 0.0, "below 313", "below 317"),
            ("under_voltage_mv", 2800.0, 0.0, "above 401", "above 394"),
            ("over_temperature_c", 50.0, 0.0, "below 297", "below 312"),
            ("under_temperature_c", 0.0, 0.0, "above 759", "above 741"),
        ]
    );
}
