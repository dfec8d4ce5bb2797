//! The firmware's channel beside the plain one: the same steps, and readings in the same words.

use tallyvolt::{
    BlockChannel, CellConversion, Channel, ChannelSetup, Count, Fault, Reading, Sample, Sensing,
    TemperatureFault, TemperatureSensor, Voltage,
};
use tallyvolt_model::channel::{ChannelModel, PlainChannel, PlainReading, SensorOutcome};
use tallyvolt_model::outcome::{FaultName, Outcome};

/// One step of any sequence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// Samples of the cell.
    Samples(Vec<u16>),
    /// A reading, with the sensor's count where it was taken, and whether the bleed resistor conducts.
    Reading(Option<u32>, bool),
    /// All alarms are acknowledged.
    Acknowledge,
}

/// An answer of the crate in the model's words.
#[must_use]
pub fn answered(answer: Result<Voltage, Fault>) -> Outcome {
    match answer {
        Ok(voltage) => Outcome::Units(u32::from(voltage.0)),
        Err(Fault::ZeroCount) => Outcome::Fault(FaultName::ZeroCount),
        Err(Fault::Rail) => Outcome::Fault(FaultName::Rail),
        Err(Fault::BelowRange) => Outcome::Fault(FaultName::BelowRange),
        Err(Fault::AboveRange) => Outcome::Fault(FaultName::AboveRange),
    }
}

/// A reading of the crate in the model's words.
#[must_use]
pub fn plain(reading: &Reading) -> PlainReading {
    let alarms = reading.alarms;
    PlainReading {
        voltage: answered(reading.voltage),
        temperature: reading.temperature.map(|temperature| match temperature {
            Ok(temperature) => SensorOutcome::Tenths(temperature.0.into()),
            Err(TemperatureFault::OpenCircuit) => SensorOutcome::Open,
            Err(TemperatureFault::ShortCircuit) => SensorOutcome::Short,
            Err(TemperatureFault::BelowTable | TemperatureFault::AboveTable) => {
                SensorOutcome::OutOfTable
            }
        }),
        faults: reading.faults.bits(),
        alarms: [
            alarms.over_voltage,
            alarms.under_voltage,
            alarms.over_temperature,
            alarms.under_temperature,
        ],
    }
}

/// What firmware answers to the readings among the steps.
///
/// # Panics
/// Where the set-up is not of `WINDOW` samples.
pub fn firmware_run<C: CellConversion, const WINDOW: usize>(
    setup: &ChannelSetup<C, impl TemperatureSensor>,
    steps: &[Step],
) -> Vec<Option<PlainReading>> {
    let mut channel = Channel::<C, WINDOW, _>::new(setup).expect("a set-up of this window");
    let mut readings = Vec::new();
    for step in steps {
        match step {
            // In blocks and one by one.
            Step::Samples(samples) if samples.len() % 2 == 0 => channel.samples(samples),
            Step::Samples(samples) => samples
                .iter()
                .for_each(|sample| channel.sample(Sample(*sample))),
            Step::Acknowledge => channel.acknowledge(),
            Step::Reading(sensor, bleeding) => {
                let sensing = Sensing {
                    sensor: sensor.map(Count),
                    bleeding: *bleeding,
                };
                readings.push(channel.reading(sensing).as_ref().map(plain));
            }
        }
    }
    readings
}

/// What a channel without a window of its own answers to them, handed the last `WINDOW` samples at each reading.
///
/// # Panics
/// As [`firmware_run`].
pub fn block_run<C: CellConversion, const WINDOW: usize>(
    setup: &ChannelSetup<C, impl TemperatureSensor>,
    steps: &[Step],
) -> Vec<Option<PlainReading>> {
    let mut channel = BlockChannel::<C, WINDOW, _>::new(setup).expect("a set-up of this window");
    let (mut taken, mut readings) = (Vec::new(), Vec::new());
    for step in steps {
        match step {
            Step::Samples(samples) => taken.extend_from_slice(samples),
            Step::Acknowledge => channel.acknowledge(),
            Step::Reading(sensor, bleeding) => {
                let sensing = Sensing {
                    sensor: sensor.map(Count),
                    bleeding: *bleeding,
                };
                let window = taken.last_chunk();
                readings.push(window.map(|window| plain(&channel.reading(window, sensing))));
            }
        }
    }
    readings
}

/// What the plain channel answers to them.
#[must_use]
pub fn plain_run(model: &ChannelModel, steps: &[Step]) -> Vec<Option<PlainReading>> {
    let mut channel = PlainChannel::new(model);
    let mut readings = Vec::new();
    for step in steps {
        match step {
            Step::Samples(samples) => channel.samples(samples),
            Step::Acknowledge => channel.acknowledge(),
            Step::Reading(sensor, bleeding) => readings.push(channel.reading(*sensor, *bleeding)),
        }
    }
    readings
}
