//! Windows of 64 samples of 14 and of 8 bits, with samples at and beside a rail: what no channel of sixteen samples of 12 bits meets.
//!
//! Of 14 bits a sum takes three bytes; of 8 bits the top code has no upper byte. The front ends are those of
//! `front-ends/divided-14bit-x64.toml` and `front-ends/divided-8bit-x64.toml`. A step of 0.1 mV is about 25 of the longer sum's 2^20 values.

use tallyvolt::{
    Acquisition, BlockChannel, CellConversion, CellRange, Channel, ChannelLimits, ChannelSetup,
    DividedConversion, DividedDescription, DividedInput, OutputUnit, Plausibility, Reading, Sample,
    Sensing, Voltage, proven,
};

const WINDOW: usize = 64;
/// Samples that come one by one behind a whole window.
const MORE: usize = 5;

/// Of counts wider than 16 bits.
type Conversion14 = DividedConversion<26>;
type Conversion8 = DividedConversion<16>;

const fn described(bits: u8) -> DividedDescription {
    DividedDescription {
        acquisition: Acquisition::summed(bits, 64),
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::TenthMillivolt,
    }
}

const fn setup<C>(conversion: C) -> ChannelSetup<C> {
    ChannelSetup {
        conversion,
        calibrated: false,
        thermistor: None,
        limits: ChannelLimits::NONE,
        plausibility: Plausibility::NONE,
    }
}

const INPUT_14: DividedInput = proven!(DividedInput::new(described(14)));
const INPUT_8: DividedInput = proven!(DividedInput::new(described(8)));

static SETUP_14: ChannelSetup<Conversion14> = setup(proven!(INPUT_14.conversion()));
static SETUP_8: ChannelSetup<Conversion8> = setup(proven!(INPUT_8.conversion()));

#[unsafe(no_mangle)]
static mut SUMS_14: Channel<'static, Conversion14, WINDOW> =
    Channel::of(proven!(SETUP_14.for_window()));
#[unsafe(no_mangle)]
static mut SUMS_8: Channel<'static, Conversion8, WINDOW> =
    Channel::of(proven!(SETUP_8.for_window()));
#[unsafe(no_mangle)]
static mut BLOCK_SUMS_14: BlockChannel<'static, Conversion14, WINDOW> =
    BlockChannel::of(proven!(SETUP_14.for_window()));
#[unsafe(no_mangle)]
static mut BLOCK_SUMS_8: BlockChannel<'static, Conversion8, WINDOW> =
    BlockChannel::of(proven!(SETUP_8.for_window()));

/// Samples that jump about in as many values as `top` and one more; one is at a rail or beside it, by the last three bits of `first`, and
/// where, by the others.
fn sample(first: u16, place: u16, top: u16) -> u16 {
    if place == (first >> 3) % 80 && first & 7 < 4 {
        return [0, 1, top - 1, top][usize::from(first & 3)];
    }
    let jumping = first.wrapping_mul(40_503) ^ place.wrapping_mul(7_919).wrapping_add(first << 3);
    // Neither rail, nor beside one.
    (jumping & top).clamp(2, top - 2)
}

fn samples(first: u16, bits: u8) -> [u16; WINDOW + MORE] {
    let mut samples = [0; WINDOW + MORE];
    for (place, taken) in (0..).zip(&mut samples) {
        *taken = sample(first, place, (1 << bits) - 1);
    }
    samples
}

fn told(reading: &Reading) -> u32 {
    let units = reading.voltage.map_or(u16::MAX, |Voltage(units)| units);
    u32::from(units) | u32::from(reading.faults.bits()) << 16
}

/// A window taken at once, then a few samples one by one, each of which takes the oldest away.
fn kept<C: CellConversion>(samples: &[u16], channel: &mut Channel<'static, C, WINDOW>) -> u32 {
    let (window, more) = samples.split_at(WINDOW);
    channel.samples(window);
    for sample in more {
        channel.sample(Sample(*sample));
    }
    let reading = channel.reading(Sensing::default());
    reading.map_or(u32::MAX, |reading| told(&reading))
}

/// The last window of the same samples, where it lies.
fn block<C: CellConversion>(
    samples: &[u16],
    channel: &mut BlockChannel<'static, C, WINDOW>,
) -> u32 {
    match samples.last_chunk() {
        Some(window) => told(&channel.reading(window, Sensing::default())),
        None => u32::MAX,
    }
}

#[unsafe(no_mangle)]
pub extern "C" fn kept_sums_14(
    first: u16,
    channel: &mut Channel<'static, Conversion14, WINDOW>,
) -> u32 {
    kept(&samples(first, 14), channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn kept_sums_8(
    first: u16,
    channel: &mut Channel<'static, Conversion8, WINDOW>,
) -> u32 {
    kept(&samples(first, 8), channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn block_sums_14(
    first: u16,
    channel: &mut BlockChannel<'static, Conversion14, WINDOW>,
) -> u32 {
    block(&samples(first, 14), channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn block_sums_8(
    first: u16,
    channel: &mut BlockChannel<'static, Conversion8, WINDOW>,
) -> u32 {
    block(&samples(first, 8), channel)
}
