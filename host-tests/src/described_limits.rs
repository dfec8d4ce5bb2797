//! The limits of a front-end file, as the firmware crate takes them.

use tallyvolt::{
    AlarmRule, ConfigError, CountLimit, Limit, LimitSide, Temperature, Thermistor, Voltage,
};

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

impl Conversion {
    /// The count limit of a voltage in output units.
    ///
    /// # Errors
    /// [`ConfigError::LimitNotReadable`].
    pub fn count_limit(&self, side: LimitSide, units: u16) -> Result<CountLimit, ConfigError> {
        match self {
            Self::Divided(conversion) => conversion.count_limit(side, Voltage(units)),
            Self::Supply(conversion) => conversion.count_limit(side, Voltage(units)),
        }
    }

    fn limit(&self, side: LimitSide, units: u16, rule: AlarmRule) -> Result<Limit, ConfigError> {
        match self {
            Self::Divided(conversion) => conversion.limit(side, Voltage(units), rule),
            Self::Supply(conversion) => conversion.limit(side, Voltage(units), rule),
        }
    }
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
    let units = |uv: u32| u16::try_from(uv / front_end.unit_uv);
    let volts = |key, side, uv: Option<u32>| {
        let uv = uv?;
        let limit = match (units(uv), units(limits.hysteresis_uv)) {
            (Ok(value), Ok(hysteresis)) => conversion.limit(side, value, rule(limits, hysteresis)),
            _ => Err(not_readable(i64::from(uv / front_end.unit_uv))),
        };
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
                thermistor.limit(side, Temperature(value), rule(limits, hysteresis))
            }
            _ => Err(not_readable(i64::from(tenths))),
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

fn rule(limits: &Limits, hysteresis: u16) -> AlarmRule {
    AlarmRule {
        hysteresis,
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
