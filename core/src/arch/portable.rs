//! The portable methods under the kernels' names.

use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::thermistor::Thermistor;
use crate::units::{Count, Fault, Sample, Temperature, TemperatureFault, Voltage};

/// [`DividedConversion::voltage`].
///
/// # Errors
/// The same.
#[inline]
pub const fn divided<const BITS: u32>(
    conversion: &DividedConversion<BITS>,
    count: Count,
) -> Result<Voltage, Fault> {
    conversion.voltage(count)
}

/// [`SupplyConversion::voltage`].
///
/// # Errors
/// The same.
#[inline]
pub const fn supply(conversion: &SupplyConversion, count: Count) -> Result<Voltage, Fault> {
    conversion.voltage(count)
}

/// [`Thermistor::temperature`].
///
/// # Errors
/// The same.
#[inline]
pub const fn temperature(
    thermistor: &Thermistor<'_>,
    count: Count,
) -> Result<Temperature, TemperatureFault> {
    thermistor.temperature(count)
}

/// None: the portable loop is as fast.
#[inline]
pub(super) const fn window_sum(_samples: &[u16], _below: u16) -> Option<u32> {
    None
}

/// None: samples are summed and kept in loops of their own.
#[inline]
pub(super) const fn copied_sum(
    _samples: &[Sample],
    _places: &mut [u16],
    _top_code: Sample,
) -> Option<u32> {
    None
}
