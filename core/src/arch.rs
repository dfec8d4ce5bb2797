//! The same readings by hand-written kernels: for AVR and Cortex-M0+, whose compilers leave much to gain.
//!
//! Every function here answers what the portable method answers, at every count; on other targets it *is* that method, so firmware
//! and its tests on a PC call the same name. Kernels are the only `unsafe` code of the crate: they read operands from registers or
//! through one pointer, call nothing, and leave what they do not
//! take to the portable method: faults, and constants in a form other than the short one. Only the sum of a window's samples writes
//! memory: the places that it copies them to.
//!
//! The AVR kernels need a multiplier: without one (`target_feature = "mul"`) the portable methods are called.
//! A channel reads by kernels with a [`ByKernel`] conversion.

#[cfg(target_arch = "avr")]
mod avr;
#[cfg(all(target_arch = "arm", not(target_has_atomic = "32")))]
mod cortex_m0plus;
#[cfg(not(any(
    all(target_arch = "avr", target_feature = "mul"),
    all(target_arch = "arm", not(target_has_atomic = "32"))
)))]
mod portable;
#[cfg(any(
    all(target_arch = "avr", target_feature = "mul"),
    all(target_arch = "arm", not(target_has_atomic = "32")),
    test
))]
pub(crate) mod samples;

#[cfg(all(target_arch = "avr", target_feature = "mul"))]
use avr as kernels;
#[cfg(all(target_arch = "arm", not(target_has_atomic = "32")))]
use cortex_m0plus as kernels;
#[cfg(not(any(
    all(target_arch = "avr", target_feature = "mul"),
    all(target_arch = "arm", not(target_has_atomic = "32"))
)))]
use portable as kernels;

use crate::convert::cell_conversion::{CellConversion, sealed};
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::thermistor::Thermistor;
use crate::convert::window::{Summing, Window};
use crate::convert::window_sum::summed;
use crate::error::ConfigError;
use crate::units::{Count, Fault, Microvolts, Sample, Temperature, TemperatureFault, Voltage};
use crate::watch::alarm::{AlarmRule, Limit};
use crate::watch::limits::{CountLimit, LimitSide};

#[cfg(all(target_arch = "avr", target_feature = "mul"))]
pub(crate) use avr::drawn;
pub use kernels::{divided, supply, temperature};

/// Whether a kernel's call takes less time than the portable method in line, for one product and for a table.
const CALLS_PAY: bool = cfg!(all(target_arch = "avr", target_feature = "mul"));

/// A conversion whose channel takes what there are faster kernels for by them. Every reading is that of the conversion inside.
///
/// On Cortex-M0+ the portable methods of a divided input and of a thermistor are faster in line than a call of [`divided`] or
/// [`temperature`], which are for code that converts in many places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ByKernel<C>(pub C);

impl<C> sealed::Kernels for ByKernel<C> {
    #[inline]
    fn temperature(
        thermistor: &Thermistor<'_>,
        count: Count,
    ) -> Result<Temperature, TemperatureFault> {
        if CALLS_PAY {
            temperature(thermistor, count)
        } else {
            thermistor.temperature(count)
        }
    }

    #[inline]
    fn summed<F>(samples: &[u16], below: u16, none: F, at_rail: F) -> (Count, F) {
        match kernels::window_sum(samples, below) {
            Some(sum) => (Count(sum), none),
            None => summed_apart(samples, below, none, at_rail),
        }
    }

    #[inline]
    fn copied_sum(samples: &[Sample], places: &mut [u16], top_code: Sample) -> Option<u32> {
        kernels::copied_sum(samples, places, top_code)
    }
}

/// Apart, so that the many registers of the portable loop are not saved where the kernel answers.
#[cold]
#[inline(never)]
fn summed_apart<F>(samples: &[u16], below: u16, none: F, at_rail: F) -> (Count, F) {
    summed(samples, below, none, at_rail)
}

impl<const BITS: u32> CellConversion for ByKernel<DividedConversion<BITS>> {
    #[inline]
    fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        if CALLS_PAY {
            divided(&self.0, count)
        } else {
            self.0.voltage(count)
        }
    }

    fn window(&self) -> Window {
        self.0.window()
    }

    #[inline]
    fn summing(&self) -> Summing {
        self.0.summing()
    }

    fn count_limit(&self, side: LimitSide, limit: Microvolts) -> Result<CountLimit, ConfigError> {
        self.0.count_limit(side, limit)
    }

    fn limit(
        &self,
        side: LimitSide,
        limit: Microvolts,
        hysteresis: Microvolts,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError> {
        self.0.limit(side, limit, hysteresis, rule)
    }

    fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool {
        self.0.reference_lost(fault, sensor_at_top)
    }
}

impl CellConversion for ByKernel<SupplyConversion> {
    #[inline]
    fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        supply(&self.0, count)
    }

    fn window(&self) -> Window {
        self.0.window()
    }

    #[inline]
    fn summing(&self) -> Summing {
        self.0.summing()
    }

    fn count_limit(&self, side: LimitSide, limit: Microvolts) -> Result<CountLimit, ConfigError> {
        self.0.count_limit(side, limit)
    }

    fn limit(
        &self,
        side: LimitSide,
        limit: Microvolts,
        hysteresis: Microvolts,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError> {
        self.0.limit(side, limit, hysteresis, rule)
    }

    fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool {
        self.0.reference_lost(fault, sensor_at_top)
    }
}
