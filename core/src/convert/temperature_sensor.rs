//! What a channel asks of a sensor, wherever its table lies.

use super::sensor_as_drawn::{DrawnSensor, SensorAsDrawn};
use super::thermistor::Thermistor;
use crate::units::{Count, Temperature, TemperatureFault};

/// A sensor: a [`Thermistor`], or one as a type. Sealed: its implementations are those of this crate.
pub trait TemperatureSensor: sealed::Sealed {
    /// The temperature of a count, or why the count is none.
    ///
    /// # Errors
    /// [`TemperatureFault`], as [`Thermistor::temperature`].
    fn temperature(&self, count: Count) -> Result<Temperature, TemperatureFault>;

    /// Smallest count that means a broken or shorted wire at the high end.
    fn high_wire(&self) -> Count;
}

mod sealed {
    use super::{DrawnSensor, SensorAsDrawn, Thermistor};

    /// Keeps [`super::TemperatureSensor`] to this crate.
    pub trait Sealed {}

    impl Sealed for Thermistor<'_> {}
    impl<D: DrawnSensor> Sealed for SensorAsDrawn<D> {}
}

impl TemperatureSensor for Thermistor<'_> {
    #[inline(always)]
    fn temperature(&self, count: Count) -> Result<Temperature, TemperatureFault> {
        self.temperature(count)
    }

    fn high_wire(&self) -> Count {
        self.description().high_wire
    }
}

impl<D: DrawnSensor> TemperatureSensor for SensorAsDrawn<D> {
    #[inline(always)]
    fn temperature(&self, count: Count) -> Result<Temperature, TemperatureFault> {
        self.temperature(count)
    }

    fn high_wire(&self) -> Count {
        const { D::THERMISTOR.description().high_wire }
    }
}
