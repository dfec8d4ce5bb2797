//! A sensor as a type: constants in the code, and on an AVR its table in flash alone.

use core::marker::PhantomData;

use super::thermistor::Thermistor;
use crate::arch::drawn_sensor;
use crate::units::{Count, Temperature, TemperatureFault};

/// A sensor's conversion as an associated constant.
pub trait DrawnSensor {
    /// The conversion. Limits are found with it, while compiling.
    const THERMISTOR: Thermistor<'static>;
}

/// A sensor without memory: that of a [`DrawnSensor`] type. Every temperature is that of its constant.
///
/// An AVR reads flash by an instruction of its own, `lpm`, at addresses of its own. Whatever Rust calls a `static` is copied to RAM there, a
/// table of 2 bytes an entry too: 100 of the 512 bytes that a small chip has. With the feature `arch` the table of a type stands among
/// the code instead, where only its reader finds it: no reference to it exists, so nobody reads RAM at its address.
///
/// | core | table |
/// |---|---|
/// | AVR with `lpm` of any register, feature `arch` | flash, read by `lpm` |
/// | AVR of the present generation, whose flash is mapped into memory | flash, as every `static` |
/// | any other | as every `static` |
///
/// Which AVR maps its flash, the compiler is told by `-C target-cpu`. Of those that do not and have more than 64 kB, `lpm` reaches the first 64.
///
/// ```
/// use tallyvolt::{
///     Count, DrawnSensor, SensorAsDrawn, SensorSide, Table, Temperature, TemperatureFault, Thermistor, ThermistorDescription, proven,
/// };
///
/// struct Sensor;
/// impl DrawnSensor for Sensor {
///     const THERMISTOR: Thermistor<'static> = proven!(Thermistor::new(ThermistorDescription {
///         side: SensorSide::Low,
///         table: proven!(Table::new(
///             &[600, 520, 440, 370, 310, 260, 220, 180, 140, 100, 60, 20, -20, -70, -130, -200],
///             8,
///             0
///         )),
///         first: Count(100),
///         counts: 3840,
///         low_wire: Count(50),
///         high_wire: Count(4090),
///     }));
/// }
/// assert_eq!(SensorAsDrawn::<Sensor>::NEW.temperature(Count(228)), Ok(Temperature(560)));
/// assert_eq!(SensorAsDrawn::<Sensor>::NEW.temperature(Count(50)), Err(TemperatureFault::ShortCircuit));
/// ```
pub struct SensorAsDrawn<D>(PhantomData<D>);

impl<D> Clone for SensorAsDrawn<D> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<D> Copy for SensorAsDrawn<D> {}

impl<D> PartialEq for SensorAsDrawn<D> {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl<D> Eq for SensorAsDrawn<D> {}

impl<D> core::fmt::Debug for SensorAsDrawn<D> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("SensorAsDrawn")
    }
}

#[cfg(feature = "defmt")]
impl<D> defmt::Format for SensorAsDrawn<D> {
    fn format(&self, fmt: defmt::Formatter<'_>) {
        defmt::write!(fmt, "SensorAsDrawn");
    }
}

impl<D> SensorAsDrawn<D> {
    /// The only value there is.
    pub const NEW: Self = Self(PhantomData);
}

impl<D: DrawnSensor> SensorAsDrawn<D> {
    /// The temperature of a count, or why the count is none.
    ///
    /// # Errors
    /// [`TemperatureFault`], as [`Thermistor::temperature`].
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "constants in place")]
    pub fn temperature(&self, count: Count) -> Result<Temperature, TemperatureFault> {
        drawn_sensor::drawn_temperature::<D>(count)
    }
}
