//! The check of limits: every output value as a limit, against a walk over every count's exact value.

use serde::Serialize;
use tallyvolt::{ConfigError, CountLimit, LimitSide};
use tallyvolt_model::limits::{Beyond, Walk};

use crate::describe::limits::DescribedLimit;

/// What was compared, and the limits of the file.
#[derive(Debug, Clone, Serialize)]
pub struct LimitsCheck {
    /// Limits compared: each output value that can be read, and two beyond each end, on both sides.
    pub voltage_limits: u64,
    /// Voltage limits whose verdict differs from comparing converted voltages at some count.
    pub wrong_voltage_limits: u64,
    /// The same for temperatures; 0 without a thermistor.
    pub temperature_limits: u64,
    /// Temperature limits whose verdict differs.
    pub wrong_temperature_limits: u64,
    /// The file's limits as counts.
    pub described: Vec<CountedLimit>,
}

/// One limit of the file.
#[derive(Debug, Clone, Serialize)]
pub struct CountedLimit {
    /// Its key.
    pub key: &'static str,
    /// Its value, mV or degC.
    pub value: f64,
    /// The guard band between the value and the alarm; 0 for a limit on the reading.
    pub guard: f64,
    /// The counts that trip it.
    pub trips: String,
    /// The counts that hold it once active.
    pub holds: String,
}

impl LimitsCheck {
    /// No wrong limit.
    pub fn holds(&self) -> bool {
        self.wrong_voltage_limits == 0 && self.wrong_temperature_limits == 0
    }
}

/// Compares every limit around a walk's range; answers how many were compared and how many differ.
///
/// Equal runs of counts are equal verdicts at every count.
pub fn compare(
    walk: &Walk,
    count_limit: impl Fn(LimitSide, i32) -> Result<CountLimit, ConfigError>,
) -> (u64, u64) {
    let Some((lowest, highest)) = walk.range() else {
        return (0, 0);
    };
    let (mut compared, mut wrong) = (0, 0);
    for limit in lowest - 2..=highest + 2 {
        for (side, exact) in [
            (LimitSide::Over, walk.over_limit(limit)),
            (LimitSide::Under, walk.under_limit(limit)),
        ] {
            compared += 1;
            let answered = match count_limit(side, limit) {
                Ok(CountLimit::Above(count)) => Some(Beyond::Above(count.0)),
                Ok(CountLimit::Below(count)) => Some(Beyond::Below(count.0)),
                Err(_) => None,
            };
            if answered != exact {
                wrong += 1;
            }
        }
    }
    (compared, wrong)
}

/// The file's limits in words; those that are no limits were refused on reading.
pub fn counted(described: &[DescribedLimit]) -> Vec<CountedLimit> {
    let words = |limit: CountLimit| match limit {
        CountLimit::Above(count) => format!("above {}", count.0),
        CountLimit::Below(count) => format!("below {}", count.0),
    };
    described
        .iter()
        .filter_map(|described| {
            let limit = described.limit.ok()?;
            Some(CountedLimit {
                key: described.name.key(),
                value: described.written,
                guard: described.guard,
                trips: words(limit.trip()),
                holds: words(limit.hold()),
            })
        })
        .collect()
}
