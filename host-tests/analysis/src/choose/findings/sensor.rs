//! What is found about a calibrated temperature sensor.

use tallyvolt_model::front_end::FrontEnd;

use super::finding::Finding;
use crate::choose::budget::temperature::offset_bounds;

/// The offset of a calibrated reading: one that the parts cannot have is a wrong count, a wrong thermometer or another sensor.
pub(super) fn findings(front_end: &FrontEnd) -> Option<Finding> {
    let bounds = offset_bounds(front_end)?;
    let (low, high) = bounds.worst_k;
    let offset_k = bounds.offset.offset_k;
    let rule = if bounds.known {
        format!("{low:+.3} to {high:+.3} K, by the parts and the thermometer at their worst")
    } else {
        "no tolerance of the sensor in the file (r25_tolerance_ppm, b_tolerance_ppm, tolerance_mk)"
            .to_owned()
    };
    Some(Finding {
        what: "sensor's offset",
        found: bounds.offset.to_string(),
        rule,
        source: "worked out from the file",
        holds: bounds.known.then_some((low..=high).contains(&offset_k)),
    })
}
