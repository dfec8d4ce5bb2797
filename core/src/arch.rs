//! The same readings by hand-written kernels: for AVR and Cortex-M0+, whose compilers leave much to gain.
//!
//! Every function here answers what the portable method answers, at every count; on other targets it *is* that method, so
//! firmware and its tests on a PC call the same name. Kernels are the only `unsafe` code of the crate: they read operands
//! from registers or through one pointer, write none of the memory, and call the portable method where they do not suffice.
//!
//! What they cost is measured on simulated chips: `docs/small-cores.md`.

#[cfg(target_arch = "avr")]
mod avr;
#[cfg(all(target_arch = "arm", not(target_has_atomic = "32")))]
mod cortex_m0plus;

use crate::divided_input::DividedConversion;
use crate::supply_reference::SupplyConversion;
use crate::thermistor::Thermistor;
use crate::units::{Count, Fault, Temperature, TemperatureFault, Voltage};

/// [`DividedConversion::voltage`].
///
/// # Errors
/// The same.
#[inline]
#[cfg_attr(
    not(any(
        target_arch = "avr",
        all(target_arch = "arm", not(target_has_atomic = "32"))
    )),
    expect(
        clippy::missing_const_for_fn,
        reason = "a kernel's call is not const, and the name is the same everywhere"
    )
)]
pub fn divided(conversion: &DividedConversion, count: Count) -> Result<Voltage, Fault> {
    #[cfg(target_arch = "avr")]
    return avr::divided(conversion, count);
    #[cfg(all(target_arch = "arm", not(target_has_atomic = "32")))]
    if let Ok(units) = u16::try_from(cortex_m0plus::divided(count.0, conversion)) {
        return Ok(Voltage(units));
    }
    #[cfg(not(target_arch = "avr"))]
    conversion.voltage(count)
}

/// [`SupplyConversion::voltage`].
///
/// # Errors
/// The same.
#[inline]
#[cfg_attr(
    not(any(
        target_arch = "avr",
        all(target_arch = "arm", not(target_has_atomic = "32"))
    )),
    expect(
        clippy::missing_const_for_fn,
        reason = "a kernel's call is not const, and the name is the same everywhere"
    )
)]
pub fn supply(conversion: &SupplyConversion, count: Count) -> Result<Voltage, Fault> {
    #[cfg(target_arch = "avr")]
    return avr::supply(conversion, count);
    #[cfg(all(target_arch = "arm", not(target_has_atomic = "32")))]
    if let Ok(units) = u16::try_from(cortex_m0plus::supply(count.0, conversion)) {
        return Ok(Voltage(units));
    }
    #[cfg(not(target_arch = "avr"))]
    conversion.voltage(count)
}

/// [`Thermistor::temperature`].
///
/// # Errors
/// The same.
#[inline]
#[cfg_attr(
    not(any(
        target_arch = "avr",
        all(target_arch = "arm", not(target_has_atomic = "32"))
    )),
    expect(
        clippy::missing_const_for_fn,
        reason = "a kernel's call is not const, and the name is the same everywhere"
    )
)]
pub fn temperature(
    thermistor: &Thermistor<'_>,
    count: Count,
) -> Result<Temperature, TemperatureFault> {
    #[cfg(target_arch = "avr")]
    return avr::temperature(thermistor, count);
    #[cfg(all(target_arch = "arm", not(target_has_atomic = "32")))]
    if let Ok(tenths) = u16::try_from(cortex_m0plus::temperature(count.0, thermistor)) {
        return Ok(Temperature(tenths.cast_signed()));
    }
    #[cfg(not(target_arch = "avr"))]
    thermistor.temperature(count)
}
