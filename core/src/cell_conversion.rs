//! What a channel asks of a conversion, whichever the topology.

use crate::divided_input::DividedConversion;
use crate::supply_reference::SupplyConversion;
use crate::thermistor::Thermistor;
use crate::units::{Count, Fault, Sample, Temperature, TemperatureFault, Voltage};
use crate::window::Window;

/// Either topology's conversion, as a channel needs it.
pub trait CellConversion {
    /// The voltage of a count, or why it is none.
    ///
    /// # Errors
    /// [`Fault`], as the conversion's own `voltage`.
    fn voltage(&self, count: Count) -> Result<Voltage, Fault>;

    /// The counts that are voltages.
    fn window(&self) -> &Window;

    /// Whether a fault means a lost reference; `sensor_at_top` tells of the other input against the same reference.
    fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool;

    /// The temperature of a sensor's count, by the thermistor's own `temperature` unless there is a quicker way.
    ///
    /// # Errors
    /// [`TemperatureFault`], as that.
    #[inline]
    fn temperature(
        &self,
        thermistor: &Thermistor<'_>,
        count: Count,
    ) -> Result<Temperature, TemperatureFault> {
        thermistor.temperature(count)
    }

    /// A quicker way to copy samples to as many places and sum them, where there is one: the sum, if none of the samples is 0, or
    /// the top code or above. Otherwise none, and the places hold anything.
    #[inline]
    fn copied_sum(
        &self,
        _samples: &[Sample],
        _places: &mut [u16],
        _top_code: Sample,
    ) -> Option<u32> {
        None
    }
}

impl CellConversion for DividedConversion {
    #[inline]
    fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        self.voltage(count)
    }

    fn window(&self) -> &Window {
        self.window()
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

    fn window(&self) -> &Window {
        self.window()
    }

    /// The reference is what is sampled: next to nothing of it is no cell voltage that could be.
    fn reference_lost(&self, fault: Fault, _sensor_at_top: bool) -> bool {
        matches!(fault, Fault::ZeroCount | Fault::AboveRange)
    }
}
