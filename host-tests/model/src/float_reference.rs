//! The same formulas in `f64`, as a person would check them on a calculator. A second opinion, never the truth.

use num_traits::ToPrimitive;

use super::Model;
use super::acquisition::AcquisitionModel;
use crate::front_end::Topology;

/// Voltage in output units in double precision; `None` where the formula has none.
#[must_use]
pub fn units(model: &Model, count: u32) -> Option<f64> {
    let front_end = model.front_end();
    let acquisition = AcquisitionModel::new(&front_end.converter);
    let full_scale = acquisition.full_scale().to_f64()?;
    let offset = acquisition.in_count_units(&model.calibration.offset);
    let x = f64::from(count) + acquisition.centre().to_f64()? - offset.to_f64()?;
    let gain = model.calibration.gain.to_f64()?;
    let reference = f64::from(front_end.reference.microvolts) / f64::from(front_end.unit_uv);
    match &front_end.topology {
        Topology::DividedInput(divider) => {
            let (top, bottom) = (divider.top_ohms.to_f64()?, divider.bottom_ohms.to_f64()?);
            Some(x / full_scale * reference * (top + bottom) / bottom * gain)
        }
        Topology::SupplyReference => (x > 0.0).then(|| reference * full_scale * gain / x),
    }
}

/// Largest distance in output units between the double-precision and the exact value, over about `probes` counts evenly
/// spread over those that are voltages, with the number of counts looked at.
#[must_use]
pub fn largest_distance(model: &Model, first: u32, last: u32, probes: u32) -> (f64, u32) {
    let stride = ((last.saturating_sub(first)) / probes.max(1)).max(1) as usize;
    let mut looked_at = 0;
    let mut largest: f64 = 0.0;
    for count in (first..=last).step_by(stride) {
        let (Some(exact), Some(float)) = (model.units(count), units(model, count)) else {
            continue;
        };
        let Some(float) = num_rational::BigRational::from_float(float) else {
            continue;
        };
        looked_at += 1;
        largest = largest.max((exact - float).to_f64().unwrap_or(f64::INFINITY).abs());
    }
    (largest, looked_at)
}
