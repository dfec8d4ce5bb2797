//! The limits of a front-end file, as the firmware crate takes them.

use tallyvolt::{AlarmRule, ConfigError, Limit, LimitSide, Microvolts, Temperature, Thermistor};

use crate::firmware::Conversion;
use crate::front_end::{FrontEnd, Limits};

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
    pub value: f64,
    /// The same in output units, or in tenths of a degree.
    pub steps: i32,
    /// The crate's limit, or why there is none.
    pub limit: Result<Limit, ConfigError>,
}

/// Every limit that a file sets; temperature limits only with the thermistor they are for.
#[must_use]
pub fn described(
    front_end: &FrontEnd,
    conversion: &Conversion,
    thermistor: Option<&Thermistor<'_>>,
) -> Vec<DescribedLimit> {
    let Some(limits) = &front_end.limits else {
        return Vec::new();
    };
    let rule = rule(limits);
    let volts = |key, side, uv: Option<u32>| {
        let uv = uv?;
        let hysteresis = Microvolts(limits.hysteresis_uv);
        let limit = conversion.limit(side, Microvolts(uv), hysteresis, rule);
        Some(DescribedLimit {
            key,
            hysteresis_key: "hysteresis_mv",
            side,
            value: f64::from(uv) / 1000.0,
            steps: i32::try_from(uv / front_end.unit_uv).unwrap_or(i32::MAX),
            limit,
        })
    };
    let degrees = |key, side, tenths: Option<i32>| {
        let (tenths, thermistor) = (tenths?, thermistor?);
        let limit = match (
            i16::try_from(tenths),
            u16::try_from(limits.hysteresis_tenths),
        ) {
            (Ok(value), Ok(hysteresis)) => {
                thermistor.limit(side, Temperature(value), hysteresis, rule)
            }
            _ => Err(ConfigError::LimitNotReadable { limit: tenths }),
        };
        Some(DescribedLimit {
            key,
            hysteresis_key: "hysteresis_c",
            side,
            value: f64::from(tenths) / 10.0,
            steps: tenths,
            limit,
        })
    };
    [
        volts("over_voltage_mv", LimitSide::Over, limits.over_uv),
        volts("under_voltage_mv", LimitSide::Under, limits.under_uv),
        degrees("over_temperature_c", LimitSide::Over, limits.over_tenths),
        degrees("under_temperature_c", LimitSide::Under, limits.under_tenths),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn rule(limits: &Limits) -> AlarmRule {
    AlarmRule {
        // Larger numbers were refused on reading; saturating keeps the crate's own check in charge all the same.
        readings: u8::try_from(limits.debounce_readings).unwrap_or(u8::MAX),
        latching: limits.latching,
    }
}
