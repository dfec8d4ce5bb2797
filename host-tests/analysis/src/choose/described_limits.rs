//! The limits of a front-end file with their guard bands, as the firmware crate takes them.

use tallyvolt::Thermistor;
use tallyvolt_model::front_end::{FrontEnd, LimitMeaning};

use crate::choose::budget::temperature;
use crate::choose::budget::thresholds::{planned, thresholds};
use crate::describe::firmware::Conversion;
use crate::describe::limits::{DescribedLimit, limits, voltages_as_written};

/// The [`limits`] of a file as firmware compares them: at the limit itself, or earlier by the guard band of the planned
/// calibration where the limit bounds the true value.
pub fn described(
    front_end: &FrontEnd,
    conversion: &Conversion,
    thermistor: Option<&Thermistor<'_>>,
) -> Vec<DescribedLimit> {
    let thresholds = match &front_end.limits {
        Some(limits) if limits.meaning == LimitMeaning::TrueValue => {
            thresholds(front_end, planned(front_end))
        }
        _ => voltages_as_written(front_end),
    };
    let alarms = temperature::alarms(front_end);
    limits(front_end, conversion, thermistor, &thresholds, &alarms)
}
