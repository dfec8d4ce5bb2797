//! The limits of a front-end file, as the firmware crate takes them.

use tallyvolt::{AlarmRule, ConfigError, Limit, LimitSide, Microvolts, Temperature, Thermistor};

use crate::budget::temperature::{self, TemperatureAlarm};
use crate::budget::thresholds::{self, Direction, Threshold, no_zone, planned, thresholds};
use crate::firmware::Conversion;
use crate::front_end::{FrontEnd, LimitMeaning, Limits};

/// One limit of a file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DescribedLimit {
    /// Its key in `[limits]`.
    pub key: &'static str,
    /// The key of its hysteresis.
    pub hysteresis_key: &'static str,
    /// Which values are beyond it.
    pub side: LimitSide,
    /// The value as written: mV or degC.
    pub written: f64,
    /// What firmware compares with, mV or degC: the last reading that is no alarm.
    pub value: f64,
    /// The same in output units, or in tenths of a degree.
    pub steps: i32,
    /// The guard band between the value and the alarm, mV or degC; 0 for a limit on the reading.
    pub guard: f64,
    /// The crate's limit, or why there is none.
    pub limit: Result<Limit, ConfigError>,
}

/// Every limit that a file sets, as firmware compares it: at the limit itself, or earlier by the guard band of the planned
/// calibration where the limit bounds the true value. Guard bands that leave no acceptance zone make no limit.
///
/// Temperature limits only with the thermistor they are for.
#[must_use]
pub fn described(
    front_end: &FrontEnd,
    conversion: &Conversion,
    thermistor: Option<&Thermistor<'_>>,
) -> Vec<DescribedLimit> {
    let thresholds = match &front_end.limits {
        Some(limits) if limits.meaning == LimitMeaning::TrueValue => {
            thresholds(front_end, planned(front_end))
        }
        _ => thresholds::as_written(front_end),
    };
    let alarms = temperature::alarms(front_end);
    limits(front_end, conversion, thermistor, &thresholds, &alarms)
}

/// The same with every limit taken as one on the reading: whether the file's own values can be limits at all.
#[must_use]
pub fn as_written(
    front_end: &FrontEnd,
    conversion: &Conversion,
    thermistor: Option<&Thermistor<'_>>,
) -> Vec<DescribedLimit> {
    let thresholds = thresholds::as_written(front_end);
    let alarms = temperature::as_written(front_end);
    limits(front_end, conversion, thermistor, &thresholds, &alarms)
}

fn limits(
    front_end: &FrontEnd,
    conversion: &Conversion,
    thermistor: Option<&Thermistor<'_>>,
    thresholds: &[Threshold],
    alarms: &[TemperatureAlarm],
) -> Vec<DescribedLimit> {
    let Some(limits) = &front_end.limits else {
        return Vec::new();
    };
    let rule = rule(limits);
    let zone = no_zone(front_end, thresholds).is_none();
    let volts = |key, direction| {
        let threshold = thresholds
            .iter()
            .find(|threshold| threshold.direction == direction)?;
        let side = side(direction);
        let steps = threshold.quiet_units;
        let limit = match (u16::try_from(steps), zone) {
            (Ok(value), true) => conversion.limit(
                side,
                Microvolts(u32::from(value) * front_end.unit_uv),
                Microvolts(limits.hysteresis_uv),
                rule,
            ),
            _ => Err(not_readable(steps)),
        };
        Some(DescribedLimit {
            key,
            hysteresis_key: "hysteresis_mv",
            side,
            written: f64::from(threshold.limit_uv) / 1000.0,
            value: steps as f64 * f64::from(front_end.unit_uv) / 1000.0,
            steps: i32::try_from(steps).unwrap_or(i32::MAX),
            guard: threshold.guard_mv,
            limit,
        })
    };
    let degrees = |key, direction| {
        let alarm = alarms.iter().find(|alarm| alarm.direction == direction)?;
        let thermistor = thermistor?;
        let tenths = alarm.quiet_tenths;
        let limit = match (
            i16::try_from(tenths),
            u16::try_from(limits.hysteresis_tenths),
        ) {
            (Ok(value), Ok(hysteresis)) => {
                let side = side(direction);
                thermistor.limit(side, Temperature(value), hysteresis, rule)
            }
            _ => Err(ConfigError::LimitNotReadable { limit: tenths }),
        };
        Some(DescribedLimit {
            key,
            hysteresis_key: "hysteresis_c",
            side: side(direction),
            written: alarm.limit_c,
            value: f64::from(tenths) / 10.0,
            steps: tenths,
            guard: alarm.guard_k,
            limit,
        })
    };
    [
        volts("over_voltage_mv", Direction::Over),
        volts("under_voltage_mv", Direction::Under),
        degrees("over_temperature_c", Direction::Over),
        degrees("under_temperature_c", Direction::Under),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn side(direction: Direction) -> LimitSide {
    match direction {
        Direction::Over => LimitSide::Over,
        Direction::Under => LimitSide::Under,
    }
}

fn rule(limits: &Limits) -> AlarmRule {
    AlarmRule {
        // Larger numbers were refused on reading; saturating keeps the crate's own check in charge all the same.
        readings: u8::try_from(limits.debounce_readings).unwrap_or(u8::MAX),
        latching: limits.latching,
    }
}

fn not_readable(limit: i64) -> ConfigError {
    ConfigError::LimitNotReadable {
        limit: i32::try_from(limit).unwrap_or(i32::MAX),
    }
}
