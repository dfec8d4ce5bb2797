//! The limits of a front-end file, as the firmware crate takes them.
//!
//! Where each is compared, at the value as written or earlier by a guard band, is said from outside.

use serde::Serialize;
use tallyvolt::{
    AlarmRule, ConfigError, CountLimit, Limit, LimitSide, Microvolts, Temperature, Thermistor,
};
use tallyvolt_model::front_end::{FrontEnd, Limits};
use tallyvolt_model::rational::in_millivolts;

use super::firmware::Conversion;
use super::limit_name::{Direction, LimitName};

/// The alarm for one limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Threshold {
    /// Which limit.
    pub direction: Direction,
    /// The limit as written, in microvolts.
    pub limit_uv: u32,
    /// Guard band by the normal or t distribution, in millivolts.
    pub normal_mv: f64,
    /// The worst case on the side that is missed, in millivolts.
    pub worst_mv: f64,
    /// The guard band taken, in millivolts: the smaller of the two, or the file's own where that is larger; 0 for a limit on
    /// the reading.
    pub guard_mv: f64,
    /// The last reading that is no alarm, in output units: what firmware compares with.
    pub quiet_units: i64,
}

impl Threshold {
    /// The first reading that is an alarm, in millivolts.
    pub(crate) fn alarm_mv(&self, unit_uv: u32) -> f64 {
        let alarm = match self.direction {
            Direction::Over => self.quiet_units.saturating_add(1),
            Direction::Under => self.quiet_units.saturating_sub(1),
        };
        alarm as f64 * f64::from(unit_uv) / 1000.0
    }
}

/// The alarm of one temperature limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TemperatureAlarm {
    /// Which limit.
    pub direction: Direction,
    /// The limit as written, degC.
    pub limit_c: f64,
    /// The guard band in kelvin: the smaller of k u_c and the worst case; 0 for a limit on the reading.
    pub guard_k: f64,
    /// The last reading that is no alarm, in tenths of a degree: what firmware compares with.
    pub quiet_tenths: i32,
}

/// One limit of a file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DescribedLimit {
    /// Which it is.
    pub name: LimitName,
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

/// Every limit taken as one on the reading: whether the file's own values can be limits at all.
pub(crate) fn as_written(
    front_end: &FrontEnd,
    conversion: &Conversion,
    thermistor: Option<&Thermistor<'_>>,
) -> Vec<DescribedLimit> {
    let thresholds = voltages_as_written(front_end);
    let alarms = temperatures_as_written(front_end);
    limits(front_end, conversion, thermistor, &thresholds, &alarms)
}

/// Every limit that a file sets, compared where the thresholds and alarms say. Guard bands that leave no acceptance zone make no
/// limit.
///
/// Temperature limits only with the thermistor they are for.
pub fn limits(
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
    let volts = |name: LimitName| {
        let mut thresholds = thresholds.iter();
        let threshold = thresholds.find(|threshold| threshold.direction == name.direction())?;
        let side = side(name.direction());
        let quiet = threshold.quiet_units;
        let steps = quiet.clamp(i32::MIN.into(), i32::MAX.into()) as i32;
        let limit = match (u16::try_from(quiet), zone) {
            (Ok(value), true) => conversion.limit(
                side,
                Microvolts(u32::from(value) * front_end.unit_uv),
                Microvolts(limits.hysteresis_uv),
                rule,
            ),
            _ => Err(ConfigError::LimitNotReadable { limit: steps }),
        };
        Some(DescribedLimit {
            name,
            side,
            written: in_millivolts(threshold.limit_uv),
            value: quiet as f64 * f64::from(front_end.unit_uv) / 1000.0,
            steps,
            guard: threshold.guard_mv,
            limit,
        })
    };
    let degrees = |name: LimitName| {
        let (thermistor, side) = (thermistor?, side(name.direction()));
        let alarm = alarms
            .iter()
            .find(|alarm| alarm.direction == name.direction())?;
        let tenths = alarm.quiet_tenths;
        let hysteresis = u16::try_from(limits.hysteresis_tenths);
        let limit = match (i16::try_from(tenths), hysteresis) {
            (Ok(value), Ok(hysteresis)) => {
                thermistor.limit(side, Temperature(value), hysteresis, rule)
            }
            _ => Err(ConfigError::LimitNotReadable { limit: tenths }),
        };
        Some(DescribedLimit {
            name,
            side,
            written: alarm.limit_c,
            value: f64::from(tenths) / 10.0,
            steps: tenths,
            guard: alarm.guard_k,
            limit,
        })
    };
    let described = |name: LimitName| match name.is_of_voltage() {
        true => volts(name),
        false => degrees(name),
    };
    LimitName::ALL.into_iter().filter_map(described).collect()
}

/// Why two guard bands leave no reading that is not an alarm; none where they do.
pub(crate) fn no_zone(front_end: &FrontEnd, thresholds: &[Threshold]) -> Option<String> {
    let alarm = |direction| {
        let of_it = |threshold: &&Threshold| threshold.direction == direction;
        let found = thresholds.iter().find(of_it)?;
        Some(found.alarm_mv(front_end.unit_uv))
    };
    let (above, whence) = match alarm(Direction::Under) {
        Some(under) => (under, "the alarm for the lower limit"),
        None => (in_millivolts(front_end.cell.min_uv), "the emptiest cell"),
    };
    let (below, whither) = match alarm(Direction::Over) {
        Some(over) => (over, "the alarm for the upper limit"),
        None => (in_millivolts(front_end.cell.max_uv), "the fullest cell"),
    };
    let unit_mv = in_millivolts(front_end.unit_uv);
    (!thresholds.is_empty() && above + unit_mv / 2.0 >= below - unit_mv).then(|| {
        format!(
            "no acceptance zone left: {whither} would stand at {below} mV, {whence} at {above} mV"
        )
    })
}

/// The limits as they are written, each taken as one on the reading.
pub(crate) fn voltages_as_written(front_end: &FrontEnd) -> Vec<Threshold> {
    let limits = front_end.limits.iter();
    limits
        .flat_map(|limits| stated(limits.over_uv, limits.under_uv))
        .map(|(direction, limit_uv)| Threshold {
            direction,
            limit_uv,
            normal_mv: 0.0,
            worst_mv: 0.0,
            guard_mv: 0.0,
            quiet_units: i64::from(limit_uv / front_end.unit_uv),
        })
        .collect()
}

/// The temperature limits as they are written, each taken as one on the reading.
pub(crate) fn temperatures_as_written(front_end: &FrontEnd) -> Vec<TemperatureAlarm> {
    let limits = front_end.limits.iter();
    limits
        .flat_map(|limits| stated(limits.over_tenths, limits.under_tenths))
        .map(|(direction, tenths)| TemperatureAlarm {
            direction,
            limit_c: f64::from(tenths) / 10.0,
            guard_k: 0.0,
            quiet_tenths: tenths,
        })
        .collect()
}

/// The count that a limit compares with.
pub fn count(limit: CountLimit) -> u32 {
    match limit {
        CountLimit::Above(count) | CountLimit::Below(count) => count.0,
    }
}

/// Those of two limits that are stated.
pub fn stated<T>(over: Option<T>, under: Option<T>) -> impl Iterator<Item = (Direction, T)> {
    let over = over.map(|limit| (Direction::Over, limit));
    let under = under.map(|limit| (Direction::Under, limit));
    over.into_iter().chain(under)
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
