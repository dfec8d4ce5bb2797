//! Topology A: `V = x / F * Vref * (Rtop + Rbottom) / Rbottom * gain`.

use num_rational::BigRational;

use crate::front_end::Divider;

/// The cell's voltage in microvolts at position `x` (count units).
#[must_use]
pub fn voltage_uv(
    x: &BigRational,
    full_scale: &BigRational,
    reference_uv: &BigRational,
    divider: &Divider,
    gain: &BigRational,
) -> BigRational {
    let pin_uv = x / full_scale * reference_uv;
    let ratio = (&divider.top_ohms + &divider.bottom_ohms) / &divider.bottom_ohms;
    pin_uv * ratio * gain
}

/// Microvolts for one count more: the same everywhere.
#[must_use]
pub fn step_uv(
    full_scale: &BigRational,
    reference_uv: &BigRational,
    divider: &Divider,
    gain: &BigRational,
) -> BigRational {
    let one = BigRational::from_integer(1.into());
    voltage_uv(&one, full_scale, reference_uv, divider, gain)
}
