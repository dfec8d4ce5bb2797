//! A channel and its stages: filters, alarm, and a whole reading.
//!
//! State is behind a pointer, as firmware keeps it between interrupts; the `static`s here are for the simulator alone, and no
//! measured function is linked with them.

use core::mem::MaybeUninit;

use tallyvolt::{
    Alarm, BlockChannel, CellConversion, Channel, Count, Limit, LowPass, Median, Reading, Sample,
    Sensing, TemperatureSensor, TrimmedSum, Voltage, proven,
};

use crate::answers::tenths;

/// What a filter that has nothing yet answers.
const NONE: u32 = u32::MAX;

#[unsafe(no_mangle)]
pub extern "C" fn alarm_step(count: u32, alarm: &mut Alarm, limit: &Limit) -> u8 {
    u8::from(alarm.update(limit, Count(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn median_of_3(sample: u16, state: &mut Median<3>) -> u32 {
    state
        .push(Sample(sample))
        .map_or(NONE, |sample| sample.0.into())
}

#[unsafe(no_mangle)]
pub extern "C" fn median_of_5(sample: u16, state: &mut Median<5>) -> u32 {
    state
        .push(Sample(sample))
        .map_or(NONE, |sample| sample.0.into())
}

#[unsafe(no_mangle)]
pub extern "C" fn trimmed_sum(sample: u16, state: &mut TrimmedSum) -> u32 {
    state.push(Sample(sample)).map_or(NONE, |count| count.0)
}

#[unsafe(no_mangle)]
pub extern "C" fn low_pass(count: u16, state: &mut LowPass) -> u32 {
    state.push(Count(u32::from(count))).0
}

#[unsafe(no_mangle)]
static mut ALARM: Alarm = Alarm::CLEAR;
#[unsafe(no_mangle)]
static mut MEDIAN_OF_3: Median<3> = Median::new();
#[unsafe(no_mangle)]
static mut MEDIAN_OF_5: Median<5> = Median::new();
#[unsafe(no_mangle)]
static mut TRIMMED_SUM: TrimmedSum = proven!(TrimmedSum::new(16));
#[unsafe(no_mangle)]
static mut LOW_PASS: LowPass = proven!(LowPass::new(4));

/// Samples of the cell for whole readings: 257 windows of 16, one step apart, or 113 on the chip of 512 bytes of RAM.
pub const SAMPLES: usize = if cfg!(all(target_arch = "avr", not(target_feature = "mul"))) {
    128
} else {
    272
};

/// 16 or 34 steps from one to the next and up to 12 of jitter, so that windows move up the whole range of 12 bits and every limit
/// is passed: `i * 16 + i * 7919 mod 13`, at most 4095.
#[unsafe(no_mangle)]
static CELL_SAMPLES: [u16; SAMPLES] = {
    let mut samples = [0; SAMPLES];
    let mut i = 0;
    while i < SAMPLES {
        let value = i as u32 * (4352 / SAMPLES as u32) + i as u32 * 7919 % 13;
        samples[i] = if value > 4095 { 4095 } else { value as u16 };
        i += 1;
    }
    samples
};

/// Takes sixteen samples as a converter's buffer holds them, and the sensor's count; the whole reading in 64 bits: voltage or
/// 65 535, temperature or -32 768, faults, alarms.
#[inline]
pub fn whole_reading<C: CellConversion>(
    first: u16,
    channel: &mut Channel<'static, C, 16, impl TemperatureSensor>,
    samples: *const u16,
) -> u64 {
    // SAFETY: the caller passes CELL_SAMPLES and a first sample that leaves sixteen.
    let window = unsafe { core::slice::from_raw_parts(samples.add(usize::from(first)), 16) };
    channel.samples(window);
    // Every 64th count of a sensor of 14 bits.
    let sensor = Count(u32::from(first << 6));
    channel
        .reading(Sensing {
            sensor: Some(sensor),
            bleeding: false,
        })
        .map_or(u64::MAX, |reading| packed(&reading))
}

/// The same window, read where it lies.
#[inline]
pub fn block_reading<C: CellConversion>(
    first: u16,
    channel: &mut BlockChannel<'static, C, 16, impl TemperatureSensor>,
    samples: *const u16,
) -> u64 {
    // SAFETY: the caller passes CELL_SAMPLES and a first sample that leaves sixteen.
    let window = unsafe { &*samples.add(usize::from(first)).cast::<[u16; 16]>() };
    let reading = channel.reading(
        window,
        Sensing {
            sensor: Some(Count(u32::from(first << 6))),
            bleeding: false,
        },
    );
    packed(&reading)
}

#[inline]
fn packed(reading: &Reading) -> u64 {
    let voltage = reading.voltage.map_or(u16::MAX, |Voltage(units)| units);
    let temperature = reading.temperature.map_or(i16::MIN, tenths) as u16;
    let alarms = reading.alarms;
    let alarms = u16::from(alarms.over_voltage)
        | u16::from(alarms.under_voltage) << 1
        | u16::from(alarms.over_temperature) << 2
        | u16::from(alarms.under_temperature) << 3;
    let low = u32::from(voltage) | u32::from(temperature) << 16;
    let high = u32::from(reading.faults.bits()) | u32::from(alarms) << 16;
    u64::from(low) | u64::from(high) << 32
}

/// A channel's state, for the simulator's RAM.
pub type State<C, S> = MaybeUninit<Channel<'static, C, 16, S>>;
