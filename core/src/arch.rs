//! The same readings by hand-written kernels: for AVR and Cortex-M0+, whose compilers leave much to gain.
//!
//! Every function here answers what the portable method answers, at every count; on other targets it *is* that method, so
//! firmware and its tests on a PC call the same name. Kernels are the only `unsafe` code of the crate: they read operands
//! from registers or through one pointer, write none of the memory but the places that samples are copied to, and call the
//! portable method where they do not suffice. A channel reads by them with a [`ByKernel`] conversion.
//!
//! What they cost is measured on simulated chips: `docs/small-cores.md`.

#[cfg(target_arch = "avr")]
mod avr;
#[cfg(all(target_arch = "arm", not(target_has_atomic = "32")))]
mod cortex_m0plus;

use crate::channel::CellConversion;
use crate::divided_input::DividedConversion;
use crate::supply_reference::SupplyConversion;
use crate::thermistor::Thermistor;
use crate::units::{Count, Fault, Sample, Temperature, TemperatureFault, Voltage};
use crate::window::Window;

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

/// A conversion whose channel takes samples, voltage and temperature by kernels. Every reading is that of the conversion inside.
///
/// On Cortex-M0+ a divided input's voltage and the temperature stay the portable ones, which are inlined: to call a kernel costs
/// more than it gains.
///
/// ```
/// use tallyvolt::arch::ByKernel;
/// # use tallyvolt::{
/// #     Acquisition, Calibration, CellRange, Channel, ChannelLimits, ChannelSetup, DividedConversion, DividedDescription,
/// #     DividedInput, OutputUnit, Plausibility, Sample, Sensing, Voltage, proven,
/// # };
/// # const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
/// #     acquisition: Acquisition::summed(12, 16),
/// #     reference_uv: 1_225_000,
/// #     top_ohms: 24_900,
/// #     bottom_ohms: 10_000,
/// #     cell: CellRange { min_uv: 2_000_000, max_uv: 3_650_000 },
/// #     unit: OutputUnit::Millivolt,
/// # }));
/// # const CONVERSION: DividedConversion = proven!(INPUT.conversion(Calibration::IDENTITY));
/// static SETUP: ChannelSetup<'static, ByKernel<DividedConversion>> = ChannelSetup {
///     conversion: ByKernel(CONVERSION),
///     calibrated: false,
///     thermistor: None,
///     limits: ChannelLimits::NONE,
///     plausibility: Plausibility::NONE,
/// };
/// # fn run() -> Result<(), tallyvolt::ConfigError> {
/// let mut channel = Channel::<_, 16>::new(&SETUP)?;
/// for buffer in [[Sample(3000); 16], [Sample(3065); 16]] {
///     channel.samples(&buffer);
/// }
/// let reading = channel.reading(Sensing::default()).expect("16 samples are there");
/// assert_eq!(reading.voltage, Ok(Voltage(3200)));
/// # Ok(())
/// # }
/// # run().unwrap();
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ByKernel<C>(pub C);

/// Whether kernels of few instructions are worth their call, where the compiler can inline the portable method.
const KERNELS_ARE_SHORTER: bool = cfg!(target_arch = "avr");

/// A conversion that has a kernel.
pub trait KernelConversion: CellConversion {
    /// What [`CellConversion::voltage`] answers, by the shorter way of both.
    ///
    /// # Errors
    /// The same.
    fn voltage_by_kernel(&self, count: Count) -> Result<Voltage, Fault>;
}

impl KernelConversion for DividedConversion {
    #[inline]
    fn voltage_by_kernel(&self, count: Count) -> Result<Voltage, Fault> {
        if KERNELS_ARE_SHORTER {
            divided(self, count)
        } else {
            self.voltage(count)
        }
    }
}

impl KernelConversion for SupplyConversion {
    #[inline]
    fn voltage_by_kernel(&self, count: Count) -> Result<Voltage, Fault> {
        supply(self, count)
    }
}

impl<C: KernelConversion> CellConversion for ByKernel<C> {
    #[inline]
    fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        self.0.voltage_by_kernel(count)
    }

    fn window(&self) -> &Window {
        self.0.window()
    }

    fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool {
        self.0.reference_lost(fault, sensor_at_top)
    }

    #[inline]
    fn temperature(
        &self,
        thermistor: &Thermistor<'_>,
        count: Count,
    ) -> Result<Temperature, TemperatureFault> {
        if KERNELS_ARE_SHORTER {
            temperature(thermistor, count)
        } else {
            thermistor.temperature(count)
        }
    }

    #[inline]
    fn copied_sum(&self, samples: &[Sample], places: &mut [u16], top_code: Sample) -> Option<u32> {
        copied_sum(samples, places, top_code)
    }
}

/// Copies samples to places and sums them in one loop: none where one of the samples is at a rail, on targets without a kernel, and
/// for numbers of samples that are no multiple of 4, above 256, or not those of the places.
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
fn copied_sum(samples: &[Sample], places: &mut [u16], top_code: Sample) -> Option<u32> {
    #[cfg(any(
        target_arch = "avr",
        all(target_arch = "arm", not(target_has_atomic = "32"))
    ))]
    if let (4..=256, 0) = (samples.len(), samples.len() % 4)
        && samples.len() == places.len()
    {
        #[cfg(target_arch = "avr")]
        return avr::copied_sum(samples, places, top_code);
        #[cfg(not(target_arch = "avr"))]
        return cortex_m0plus::copied_sum(samples, places, top_code);
    }
    let _ = (samples, places, top_code);
    None
}
