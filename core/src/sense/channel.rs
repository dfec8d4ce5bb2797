//! The whole channel of one cell: samples in, one [`Reading`] out.

use super::alarm_states::AlarmStates;
use super::channel_setup::ChannelSetup;
use super::decimate::SlidingSum;
use super::reading::{Alarms, Reading, Sensing};
use super::window_setup::WindowSetup;
use crate::arch::kernels;
use crate::convert::cell_conversion::CellConversion;
use crate::convert::line::DividedConversion;
use crate::convert::temperature_sensor::TemperatureSensor;
use crate::convert::thermistor::Thermistor;
use crate::error::ConfigError;
use crate::units::{Count, Fault, Sample, TemperatureFault};
use crate::watch::alarm::{Alarm, Limit};
use crate::watch::plausibility::{Faults, RailWatch, StuckWatch};

/// The state of one channel with a window of `WINDOW` samples.
///
/// ```text
/// sample -> rail watch, sliding sum -> count -> voltage
///                                        |----> count limits -> alarms
///                                        |----> supply, stuck, reference -> faults
/// sensor count ---------------------------> temperature, count limits -> alarms, faults
/// ```
///
/// Constants live in a [`ChannelSetup`], which is for flash; a [`Channel`] is the state, for RAM: 64 bytes at most with a
/// window of 16 samples where a pointer has 16 or 32 bits, checked while compiling. A conversion that a stored calibration
/// gave at load is a set-up in RAM, and takes what `size_of` says on top.
///
/// An alarm is judged on counts, faults included: a count at the rail trips what a voltage beyond the rail would trip.
/// Without a calibration a channel works as drawn, and says so in every reading.
///
/// ```
/// use tallyvolt::{
///     Acquisition, AlarmRule, CellRange, Channel, ChannelLimits, ChannelSetup, DividedConversion, DividedDescription,
///     DividedInput, Faults, LimitSide, Microvolts, OutputUnit, Plausibility, Sample, Sensing, Voltage, proven,
/// };
///
/// const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
///     acquisition: Acquisition::summed(12, 16),
///     reference_uv: 1_225_000,
///     top_ohms: 24_900,
///     bottom_ohms: 10_000,
///     cell: CellRange { min_uv: 2_000_000, max_uv: 3_650_000 },
///     unit: OutputUnit::Millivolt,
/// }));
/// const CONVERSION: DividedConversion<16> = proven!(INPUT.conversion());
/// const RULE: AlarmRule = AlarmRule { readings: 2, latching: false };
/// const LIMIT: Microvolts = Microvolts::from_mv(3650);
/// const HYSTERESIS: Microvolts = Microvolts::from_mv(20);
/// static SETUP: ChannelSetup<DividedConversion<16>> = ChannelSetup {
///     conversion: CONVERSION,
///     calibrated: false,
///     thermistor: None,
///     limits: ChannelLimits {
///         over_voltage: Some(proven!(CONVERSION.limit(LimitSide::Over, LIMIT, HYSTERESIS, RULE))),
///         ..ChannelLimits::NONE
///     },
///     plausibility: Plausibility::NONE,
/// };
///
/// # fn run() -> Result<(), tallyvolt::ConfigError> {
/// let mut channel = Channel::<_, 16>::new(&SETUP)?;
/// for _ in 0..16 {
///     channel.sample(Sample(3065));
/// }
/// let reading = channel.reading(Sensing::default()).expect("16 samples are there");
/// assert_eq!(reading.voltage, Ok(Voltage(3200)));
/// assert!(!reading.calibrated && reading.faults == Faults::NONE && !reading.alarms.any());
/// # Ok(())
/// # }
/// # run().unwrap();
/// ```
// In this order the small fields are within reach of a Cortex-M0+'s shortest loads.
#[derive(Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct Channel<'a, C, const WINDOW: usize, S = Thermistor<'static>> {
    setup: &'a ChannelSetup<C, S>,
    states: AlarmStates,
    rail: RailWatch,
    stuck: StuckWatch,
    sum: SlidingSum<WINDOW>,
}

impl<'a, C, const WINDOW: usize, S> Channel<'a, C, WINDOW, S> {
    /// A channel without samples, of a set-up that fits: for a `static`, where nothing can fail any more.
    ///
    /// ```
    /// # use tallyvolt::{Acquisition, CellRange, ChannelLimits, DividedDescription, DividedInput, OutputUnit, Plausibility};
    /// use tallyvolt::{Channel, ChannelSetup, DividedConversion, proven};
    ///
    /// # const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    /// #     acquisition: Acquisition::summed(12, 16),
    /// #     reference_uv: 1_225_000,
    /// #     top_ohms: 24_900,
    /// #     bottom_ohms: 10_000,
    /// #     cell: CellRange { min_uv: 2_000_000, max_uv: 3_650_000 },
    /// #     unit: OutputUnit::Millivolt,
    /// # }));
    /// static SETUP: ChannelSetup<DividedConversion<16>> = ChannelSetup {
    ///     conversion: proven!(INPUT.conversion()),
    ///     // ...
    /// #   calibrated: false,
    /// #   thermistor: None,
    /// #   limits: ChannelLimits::NONE,
    /// #   plausibility: Plausibility::NONE,
    /// };
    /// // Behind a lock of yours, as a channel is changed by its samples.
    /// static CHANNEL: Channel<DividedConversion<16>, 16> = Channel::of(proven!(SETUP.for_window()));
    /// assert!(!CHANNEL.alarms().any());
    /// ```
    #[inline]
    #[must_use]
    pub const fn of(setup: WindowSetup<'a, C, WINDOW, S>) -> Self {
        Self {
            setup: setup.setup,
            sum: SlidingSum::new(),
            stuck: StuckWatch::NEW,
            rail: RailWatch::NEW,
            states: AlarmStates::CLEAR,
        }
    }
}

impl<'a, C: CellConversion, const WINDOW: usize, S: TemperatureSensor> Channel<'a, C, WINDOW, S> {
    /// A channel without samples.
    ///
    /// # Errors
    /// [`ConfigError::WindowMismatch`] when the set-up's conversion is not of `WINDOW` summed samples without a shift.
    pub fn new(setup: &'a ChannelSetup<C, S>) -> Result<Self, ConfigError> {
        let summing = setup.conversion.summing();
        Ok(Self::of(WindowSetup::new(setup, summing)?))
    }

    /// Takes a sample of the cell.
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "SlidingSum allows WINDOW up to 1024"
    )]
    pub fn sample(&mut self, sample: Sample) {
        self.rail.update(sample, self.top_code(), WINDOW as u16);
        self.sum.push(sample);
    }

    /// Takes several samples of the cell, the oldest first, as a converter's buffer holds them.
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "SlidingSum allows WINDOW up to 1024"
    )]
    pub fn samples(&mut self, samples: &[u16]) {
        let top_code = self.top_code();
        if let Some(newest) = samples.last_chunk::<WINDOW>()
            && self
                .sum
                .renew_by(|places| kernels::copied_sum(newest, places, top_code))
        {
            self.rail = RailWatch::NEW;
            return;
        }
        self.rail.extend(samples, top_code, WINDOW as u16);
        self.sum.extend(samples);
    }

    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::arithmetic_side_effects,
        reason = "WINDOW is a power of two from 1 to 1024, so this is a shift; the rail is WINDOW top codes, each a u16, by `new`"
    )]
    fn top_code(&self) -> Sample {
        Sample((self.setup.conversion.summing().rail / WINDOW as u32) as u16)
    }

    /// A reading of the last `WINDOW` samples; none until they are there.
    pub fn reading(&mut self, sensing: Sensing) -> Option<Reading> {
        let count = self.sum.count()?;
        let setup = self.setup;
        let mut faults = Faults::NONE
            .with_if(Faults::SAMPLE_AT_RAIL, self.rail.in_window())
            .with_if(Faults::SUPPLY_LOW, self.supply_is_low(count))
            .with_if(Faults::STUCK, self.is_stuck(count));

        let voltage = setup.conversion.voltage(count);
        if let Err(fault) = voltage {
            faults = faults.with(no_voltage(setup, fault, sensing.sensor));
        }
        let limits = &setup.limits;
        if self.states.settle(sensing.bleeding, &setup.plausibility) {
            faults = faults.with(Faults::BLEEDING);
        } else {
            update(&mut self.states.over_voltage, &limits.over_voltage, count);
            update(&mut self.states.under_voltage, &limits.under_voltage, count);
        }

        let mut temperature = None;
        if let (Some(thermistor), Some(sensor)) = (&setup.thermistor, sensing.sensor) {
            update(
                &mut self.states.over_temperature,
                &limits.over_temperature,
                sensor,
            );
            update(
                &mut self.states.under_temperature,
                &limits.under_temperature,
                sensor,
            );
            let measured = thermistor.temperature(sensor);
            if let Err(fault) = measured {
                faults = faults.with(no_temperature(fault));
            }
            temperature = Some(measured);
        }
        Some(Reading {
            voltage,
            temperature,
            faults,
            alarms: self.states.active(),
            calibrated: setup.calibrated,
        })
    }

    /// The alarms as they stand.
    #[must_use]
    pub const fn alarms(&self) -> Alarms {
        self.states.active()
    }

    /// Clears all alarms, latching ones too; what is still beyond its limit trips again.
    pub const fn acknowledge(&mut self) {
        self.states.acknowledge();
    }

    fn supply_is_low(&self, count: Count) -> bool {
        let minimum = self.setup.plausibility.supply_minimum;
        minimum.is_some_and(|minimum| minimum.is_beyond(count))
    }

    const fn is_stuck(&mut self, count: Count) -> bool {
        let readings = self.setup.plausibility.stuck_readings;
        readings > 0 && self.stuck.update(count, readings)
    }
}

/// Why there is no voltage, as far as both inputs tell.
#[cold]
#[inline(never)]
pub(super) fn no_voltage<C: CellConversion, S: TemperatureSensor>(
    setup: &ChannelSetup<C, S>,
    fault: Fault,
    sensor: Option<Count>,
) -> Faults {
    let sensor_at_top = match (&setup.thermistor, sensor) {
        (Some(thermistor), Some(sensor)) => sensor.0 >= thermistor.high_wire().0,
        _ => false,
    };
    let lost = setup.conversion.reference_lost(fault, sensor_at_top);
    Faults::NO_VOLTAGE.with_if(Faults::REFERENCE_LOST, lost)
}

/// `if` instead of `match`: the compiler turns a `match` into a table, which costs RAM on AVR.
#[cold]
#[inline(never)]
pub(super) fn no_temperature(fault: TemperatureFault) -> Faults {
    if fault == TemperatureFault::OpenCircuit {
        Faults::SENSOR_OPEN
    } else if fault == TemperatureFault::ShortCircuit {
        Faults::SENSOR_SHORT
    } else {
        Faults::SENSOR_RANGE
    }
}

#[inline]
const fn update(alarm: &mut Alarm, limit: &Option<Limit>, count: Count) {
    if let Some(limit) = limit {
        alarm.update(limit, count);
    }
}

// The pointer of a 64-bit host takes four bytes more, and four of padding.
const _: () = assert!(
    size_of::<Channel<'static, DividedConversion<16>, 16>>()
        <= if cfg!(target_pointer_width = "64") {
            72
        } else {
            64
        },
    "a channel with a window of 16 samples must fit 64 bytes of RAM"
);
