//! What a channel, a limit or generic firmware asks of a conversion, whichever the topology.

use super::line::DividedConversion;
use super::quotient::SupplyConversion;
use super::window::{Summing, Window};
use crate::error::ConfigError;
use crate::units::{Count, Fault, Microvolts, Voltage};
use crate::watch::alarm::{AlarmRule, Limit};
use crate::watch::limits::{CountLimit, LimitSide};

/// Either topology's conversion. Sealed: its implementations are those of this crate.
pub trait CellConversion: sealed::Kernels {
    /// The voltage of a count, or why it is none.
    ///
    /// # Errors
    /// [`Fault`], as the conversion's own `voltage`.
    fn voltage(&self, count: Count) -> Result<Voltage, Fault>;

    /// The counts that are voltages.
    fn window(&self) -> Window;

    /// How a count comes about, and the step of a voltage.
    fn summing(&self) -> Summing;

    /// The count limit that gives, at every count, the verdict of comparing the converted voltage with the limit.
    ///
    /// # Errors
    /// [`ConfigError`], as the conversion's own `count_limit`.
    fn count_limit(&self, side: LimitSide, limit: Microvolts) -> Result<CountLimit, ConfigError>;

    /// A limit with its rule; a voltage has come back when it is `hysteresis` inside the limit.
    ///
    /// # Errors
    /// [`ConfigError`], as the conversion's own `limit`.
    fn limit(
        &self,
        side: LimitSide,
        limit: Microvolts,
        hysteresis: Microvolts,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError>;

    /// Whether a fault means a lost reference; `sensor_at_top` tells of the other input against the same reference.
    fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool;
}

pub(crate) mod sealed {
    use crate::convert::thermistor::Thermistor;
    use crate::convert::window_sum::summed;
    use crate::units::{Count, Sample, Temperature, TemperatureFault};

    /// Keeps [`super::CellConversion`] to this crate, and says by which way its channel does what is no voltage.
    pub trait Kernels {
        /// The temperature of a count.
        ///
        /// # Errors
        /// [`TemperatureFault`], as [`Thermistor::temperature`].
        #[inline]
        fn temperature(
            thermistor: &Thermistor<'_>,
            count: Count,
        ) -> Result<Temperature, TemperatureFault>
        where
            Self: Sized,
        {
            thermistor.temperature(count)
        }

        /// The sum of a whole window, and one of two answers: whether one of its samples stands at a rail.
        #[inline]
        fn summed<F>(samples: &[u16], below: u16, none: F, at_rail: F) -> (Count, F)
        where
            Self: Sized,
        {
            summed(samples, below, none, at_rail)
        }

        /// Copies a whole window's samples to as many places and sums them in one loop; none where that must be done otherwise.
        #[inline]
        fn copied_sum(samples: &[Sample], places: &mut [u16], top_code: Sample) -> Option<u32>
        where
            Self: Sized,
        {
            let _ = (samples, places, top_code);
            None
        }
    }
}

impl<const BITS: u32> sealed::Kernels for DividedConversion<BITS> {}
impl sealed::Kernels for SupplyConversion {}

impl<const BITS: u32> CellConversion for DividedConversion<BITS> {
    #[inline]
    fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        self.voltage(count)
    }

    fn window(&self) -> Window {
        self.window()
    }

    #[inline]
    fn summing(&self) -> Summing {
        self.summing()
    }

    fn count_limit(&self, side: LimitSide, limit: Microvolts) -> Result<CountLimit, ConfigError> {
        self.count_limit(side, limit)
    }

    fn limit(
        &self,
        side: LimitSide,
        limit: Microvolts,
        hysteresis: Microvolts,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError> {
        self.limit(side, limit, hysteresis, rule)
    }

    /// Against a reference of nothing every input reads the top code; the cell alone could also be too high.
    fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool {
        sensor_at_top && fault == Fault::Rail
    }
}

impl CellConversion for SupplyConversion {
    #[inline]
    fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        self.voltage(count)
    }

    fn window(&self) -> Window {
        self.window()
    }

    #[inline]
    fn summing(&self) -> Summing {
        self.summing()
    }

    fn count_limit(&self, side: LimitSide, limit: Microvolts) -> Result<CountLimit, ConfigError> {
        self.count_limit(side, limit)
    }

    fn limit(
        &self,
        side: LimitSide,
        limit: Microvolts,
        hysteresis: Microvolts,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError> {
        self.limit(side, limit, hysteresis, rule)
    }

    /// The reference is what is sampled: next to nothing of it is no cell voltage that could be.
    fn reference_lost(&self, fault: Fault, _sensor_at_top: bool) -> bool {
        matches!(fault, Fault::ZeroCount | Fault::AboveRange)
    }
}
