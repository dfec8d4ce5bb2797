//! Windows whose sums take three bytes, with samples at and beside a rail: what no channel of sixteen samples of 12 bits meets.
//!
//! The front end is that of `front-ends/divided-14bit-x64.toml`. A step of 0.1 mV is about 25 of a sum's 2^20 values.

use tallyvolt::{
    Acquisition, BlockChannel, CellRange, Channel, ChannelLimits, ChannelSetup, DividedConversion, DividedDescription,
    DividedInput, OutputUnit, Plausibility, Reading, Sample, Sensing, Voltage, proven,
};

const WINDOW: usize = 64;
/// Samples that come one by one behind a whole window.
const MORE: usize = 5;

/// Of counts wider than 16 bits.
type Conversion = DividedConversion<26>;

const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition::summed(14, 64),
    reference_uv: 1_225_000,
    top_ohms: 24_900,
    bottom_ohms: 10_000,
    cell: CellRange {
        min_uv: 2_000_000,
        max_uv: 3_650_000,
    },
    unit: OutputUnit::TenthMillivolt,
}));

static SETUP: ChannelSetup<Conversion> = ChannelSetup {
    conversion: proven!(INPUT.conversion()),
    calibrated: false,
    thermistor: None,
    limits: ChannelLimits::NONE,
    plausibility: Plausibility::NONE,
};

#[unsafe(no_mangle)]
static mut SUMS: Channel<'static, Conversion, WINDOW> = Channel::of(proven!(SETUP.for_window()));
#[unsafe(no_mangle)]
static mut BLOCK_SUMS: BlockChannel<'static, Conversion, WINDOW> = BlockChannel::of(proven!(SETUP.for_window()));

/// Samples that jump about in 14 bits; one is at a rail or beside it, by the last three bits of `first`, and where, by the others.
fn sample(first: u16, place: u16) -> u16 {
    if place == (first >> 3) % 80 && first & 7 < 4 {
        return [0, 1, 0x3FFE, 0x3FFF][usize::from(first & 3)];
    }
    let jumping = first.wrapping_mul(40_503) ^ place.wrapping_mul(7_919).wrapping_add(first << 3);
    // Neither rail, nor beside one.
    (jumping & 0x3FFF).clamp(2, 0x3FFD)
}

fn samples(first: u16) -> [u16; WINDOW + MORE] {
    let mut samples = [0; WINDOW + MORE];
    for (place, taken) in (0..).zip(&mut samples) {
        *taken = sample(first, place);
    }
    samples
}

fn told(reading: &Reading) -> u32 {
    let units = reading.voltage.map_or(u16::MAX, |Voltage(units)| units);
    u32::from(units) | u32::from(reading.faults.bits()) << 16
}

/// A window taken at once, then a few samples one by one, each of which takes the oldest away.
#[unsafe(no_mangle)]
pub extern "C" fn kept_sums(first: u16, channel: &mut Channel<'static, Conversion, WINDOW>) -> u32 {
    let samples = samples(first);
    let (window, more) = samples.split_at(WINDOW);
    channel.samples(window);
    for sample in more {
        channel.sample(Sample(*sample));
    }
    let reading = channel.reading(Sensing::default());
    reading.map_or(u32::MAX, |reading| told(&reading))
}

/// The last window of the same samples, where it lies.
#[unsafe(no_mangle)]
pub extern "C" fn block_sums(first: u16, channel: &mut BlockChannel<'static, Conversion, WINDOW>) -> u32 {
    let samples = samples(first);
    match samples.last_chunk() {
        Some(window) => told(&channel.reading(window, Sensing::default())),
        None => u32::MAX,
    }
}
