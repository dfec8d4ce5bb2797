//! Topology B: `V = Vref * F * gain / x`.

use num_rational::BigRational;
use num_traits::Signed;

/// The cell's voltage in microvolts at position `x` (count units); none at or below zero, where the formula has its pole.
#[must_use]
pub fn voltage_uv(
    x: &BigRational,
    full_scale: &BigRational,
    reference_uv: &BigRational,
    gain: &BigRational,
) -> Option<BigRational> {
    x.is_positive()
        .then(|| reference_uv * full_scale * gain / x)
}

/// Microvolts by which the voltage falls for one count more: `dV/dx = -V / x = -V^2 / (Vref F gain)`, its magnitude.
#[must_use]
pub fn step_uv(
    voltage_uv: &BigRational,
    full_scale: &BigRational,
    reference_uv: &BigRational,
    gain: &BigRational,
) -> BigRational {
    voltage_uv * voltage_uv / (reference_uv * full_scale * gain)
}
