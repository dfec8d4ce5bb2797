//! A channel that reads whole windows from a buffer which is not its own: the one that DMA or an interrupt fills.

use super::alarm_states::AlarmStates;
use super::channel::{no_temperature, no_voltage};
use super::channel_setup::ChannelSetup;
use super::reading::{Alarms, Reading, Sensing};
use super::window_setup::WindowSetup;
use crate::arch::kernels;
use crate::convert::cell_conversion::CellConversion;
use crate::convert::line::DividedConversion;
use crate::convert::temperature_sensor::TemperatureSensor;
use crate::convert::thermistor::Thermistor;
use crate::convert::window::Summing;
use crate::error::ConfigError;
use crate::watch::alarm::Alarm;
use crate::watch::plausibility::{Faults, is_stuck};
use crate::watch::quiet::QuietBand;

/// Judges two alarms. A core with pointers of 16 bits judges copies: so a channel that nothing points to need not lie in memory, which
/// is 150 bytes of flash there; elsewhere copies take stack.
#[inline]
fn judged(
    (one, other): (&mut Alarm, &mut Alarm),
    judge: impl FnOnce(&mut Alarm, &mut Alarm) -> QuietBand,
) -> QuietBand {
    if !cfg!(target_pointer_width = "16") {
        return judge(one, other);
    }
    let (mut first, mut second) = (*one, *other);
    let band = judge(&mut first, &mut second);
    (*one, *other) = (first, second);
    band
}

/// The state of one channel that reads windows of `WINDOW` samples from a buffer.
///
/// ```text
/// buffer -> rail watch, sum -> count -> voltage
///                               |----> quiet band, or count limits -> alarms
///                               |----> supply, stuck, reference -> faults
/// sensor count ------------------> temperature, quiet band, or count limits -> alarms, faults
/// ```
///
/// Each reading is the one that a [`Channel`](super::channel::Channel) of the same set-up gives after the same samples. That one keeps its
/// window, for a reading after every sample; this one keeps none, and takes 32 bytes at most where a pointer has 16 or 32 bits,
/// checked while compiling.
///
/// # Quiet bands
/// While no row of readings speaks for a change, a quantity's alarms stay as they are at all counts of one band. The channel keeps
/// it, so that one comparison says that both alarms stay. Outside the band each is updated as ever, and the band is formed anew.
///
/// ```
/// use tallyvolt::{
///     Acquisition, AlarmRule, BlockChannel, CellRange, ChannelLimits, ChannelSetup, DividedConversion, DividedDescription,
///     DividedInput, Faults, LimitSide, Microvolts, OutputUnit, Plausibility, Sensing, Voltage, proven,
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
/// static SETUP: ChannelSetup<DividedConversion<16>> = ChannelSetup {
///     conversion: CONVERSION,
///     calibrated: false,
///     thermistor: None,
///     limits: ChannelLimits {
///         over_voltage: Some(proven!(CONVERSION.limit(
///             LimitSide::Over,
///             Microvolts::from_mv(3650),
///             Microvolts::from_mv(20),
///             RULE
///         ))),
///         ..ChannelLimits::NONE
///     },
///     plausibility: Plausibility::NONE,
/// };
///
/// # fn run() -> Result<(), tallyvolt::ConfigError> {
/// let mut channel = BlockChannel::<_, 16>::new(&SETUP)?;
/// let mut buffer = [3065; 16]; // what DMA has written when it says that it is full
/// let reading = channel.reading(&buffer, Sensing::default());
/// assert_eq!(reading.voltage, Ok(Voltage(3200)));
/// assert!(reading.faults == Faults::NONE && !reading.alarms.any());
///
/// buffer = [3500; 16]; // 3654 mV: an alarm after the second reading
/// assert!(!channel.reading(&buffer, Sensing::default()).alarms.over_voltage);
/// assert!(channel.reading(&buffer, Sensing::default()).alarms.over_voltage);
/// # Ok(())
/// # }
/// # run().unwrap();
/// ```
///
/// # Range
/// `WINDOW` a power of two from 1 to 1024, the samples of the set-up's sum.
#[derive(Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct BlockChannel<'a, C, const WINDOW: usize, S = Thermistor<'static>> {
    setup: &'a ChannelSetup<C, S>,
    quiet_voltage: QuietBand,
    quiet_temperature: QuietBand,
    last_count: u32,
    /// The top code as `kernels::summed` takes it.
    edge: u16,
    row: u8,
    states: AlarmStates,
}

impl<'a, C, const WINDOW: usize, S> BlockChannel<'a, C, WINDOW, S> {
    /// A channel that has read nothing, of a set-up that fits: for a `static`, as [`Channel::of`](crate::Channel::of).
    #[inline]
    #[must_use]
    pub const fn of(setup: WindowSetup<'a, C, WINDOW, S>) -> Self {
        Self {
            setup: setup.setup,
            quiet_voltage: QuietBand::NONE,
            quiet_temperature: QuietBand::NONE,
            last_count: 0,
            edge: kernels::edge(Self::below(setup.summing), WINDOW),
            row: 0,
            states: AlarmStates::CLEAR,
        }
    }

    /// The top code less one: what a sample less one must be below.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::arithmetic_side_effects,
        reason = "a set-up's samples are 1 to 1024, and WINDOW is as many; the rail is that many top codes, each a u16"
    )]
    const fn below(summing: Summing) -> u16 {
        ((summing.rail / WINDOW as u32) as u16).saturating_sub(1)
    }
}

impl<'a, C: CellConversion, const WINDOW: usize, S: TemperatureSensor>
    BlockChannel<'a, C, WINDOW, S>
{
    /// A channel that has read nothing.
    ///
    /// # Errors
    /// [`ConfigError::WindowMismatch`] when the set-up's conversion is not of `WINDOW` summed samples without a shift.
    pub fn new(setup: &'a ChannelSetup<C, S>) -> Result<Self, ConfigError> {
        let summing = setup.conversion.summing();
        Ok(Self::of(WindowSetup::new(setup, summing)?))
    }

    /// A reading of a whole window. The order of its samples does not matter.
    pub fn reading(&mut self, window: &[u16; WINDOW], sensing: Sensing) -> Reading {
        let setup = self.setup;
        let below = || Self::below(setup.conversion.summing());
        let answers = (Faults::NONE, Faults::SAMPLE_AT_RAIL);
        let (count, mut faults) = kernels::summed(window, self.edge, below, answers);
        if let Some(minimum) = setup.plausibility.supply_minimum {
            faults = faults.with_if(Faults::SUPPLY_LOW, minimum.is_beyond(count));
        }
        let stuck = setup.plausibility.stuck_readings;
        if stuck > 0 {
            let stuck = is_stuck(&mut self.last_count, &mut self.row, count, stuck);
            faults = faults.with_if(Faults::STUCK, stuck);
        }
        let voltage = setup.conversion.voltage(count);
        if let Err(fault) = voltage {
            faults = faults.with(no_voltage(setup, fault, sensing.sensor));
        }
        let (states, limits) = (&mut self.states, &setup.limits);
        if states.settle(sensing.bleeding, &setup.plausibility) {
            faults = faults.with(Faults::BLEEDING);
        } else if !self.quiet_voltage.holds(count) {
            let pair = (&mut states.over_voltage, &mut states.under_voltage);
            self.quiet_voltage = judged(pair, |over, under| {
                QuietBand::after(
                    (over, &limits.over_voltage),
                    (under, &limits.under_voltage),
                    count,
                )
            });
        }

        let mut temperature = None;
        if let (Some(thermistor), Some(sensor)) = (&setup.thermistor, sensing.sensor) {
            if !self.quiet_temperature.holds(sensor) {
                let pair = (&mut states.over_temperature, &mut states.under_temperature);
                self.quiet_temperature = judged(pair, |over, under| {
                    QuietBand::after(
                        (over, &limits.over_temperature),
                        (under, &limits.under_temperature),
                        sensor,
                    )
                });
            }
            let measured = thermistor.temperature(sensor);
            if let Err(fault) = measured {
                faults = faults.with(no_temperature(fault));
            }
            temperature = Some(measured);
        }
        Reading {
            voltage,
            temperature,
            faults,
            alarms: states.active(),
            calibrated: setup.calibrated,
        }
    }

    /// The alarms as they stand.
    #[must_use]
    pub const fn alarms(&self) -> Alarms {
        self.states.active()
    }

    /// Clears all alarms, latching ones too; what is still beyond its limit trips again.
    pub const fn acknowledge(&mut self) {
        self.states.acknowledge();
        self.quiet_voltage = QuietBand::NONE;
        self.quiet_temperature = QuietBand::NONE;
    }
}

// A 64-bit host's pointer takes four bytes more, and there are four of padding.
const _: () = assert!(
    size_of::<BlockChannel<'static, DividedConversion<16>, 16>>()
        <= if cfg!(target_pointer_width = "64") {
            40
        } else {
            32
        },
    "a channel that reads a buffer must fit 32 bytes of RAM"
);
