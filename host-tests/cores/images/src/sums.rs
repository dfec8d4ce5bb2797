//! Windows of 64 samples of 14 and of 8 bits, of 512 of 16 bits, of 4 of 10 bits and of 8 of 12 bits, with samples at and beside a rail: what no
//! channel of sixteen samples of 12 bits meets.
//!
//! Of 14 bits a sum takes three bytes; of 8 bits the top code has no upper byte; 512 samples of 16 bits take four bytes, which is more than a
//! kernel sums; 8 samples are the fewest that one sums, and 4 are fewer. The front ends are `divided-14bit-x64.toml` and so on, in
//! `front-ends`. A step of 0.1 mV is about 25 of the 2^20 values of a sum of 14 bits.

use tallyvolt::{
    Acquisition, BlockChannel, CellConversion, CellRange, Channel, ChannelLimits, ChannelSetup,
    DividedConversion, DividedDescription, DividedInput, OutputUnit, Plausibility, Reading, Sample,
    Sensing, Voltage, proven,
};

const WINDOW: usize = 64;
const LONG_WINDOW: usize = 512;
const SHORT_WINDOW: usize = 8;
const SHORTER_WINDOW: usize = 4;
/// Samples that come one by one behind a whole window.
const MORE: usize = 5;

/// Of counts wider than 16 bits.
type Conversion14 = DividedConversion<26>;
type Conversion16 = DividedConversion<26>;
type Conversion8 = DividedConversion<16>;
type Conversion12 = DividedConversion<16>;
type Conversion10 = DividedConversion<12>;

const fn described(bits: u8, samples: u16) -> DividedDescription {
    DividedDescription {
        acquisition: Acquisition::summed(bits, samples),
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

const INPUT_14: DividedInput = proven!(DividedInput::new(described(14, 64)));
const INPUT_8: DividedInput = proven!(DividedInput::new(described(8, 64)));
const INPUT_16: DividedInput = proven!(DividedInput::new(described(16, 512)));
const INPUT_12: DividedInput = proven!(DividedInput::new(described(12, 8)));
const INPUT_10: DividedInput = proven!(DividedInput::new(described(10, 4)));

static SETUP_14: ChannelSetup<Conversion14> = setup(proven!(INPUT_14.conversion()));
static SETUP_8: ChannelSetup<Conversion8> = setup(proven!(INPUT_8.conversion()));
static SETUP_16: ChannelSetup<Conversion16> = setup(proven!(INPUT_16.conversion()));
static SETUP_12: ChannelSetup<Conversion12> = setup(proven!(INPUT_12.conversion()));
static SETUP_10: ChannelSetup<Conversion10> = setup(proven!(INPUT_10.conversion()));

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
#[unsafe(no_mangle)]
static mut BLOCK_SUMS_16: BlockChannel<'static, Conversion16, LONG_WINDOW> =
    BlockChannel::of(proven!(SETUP_16.for_window()));
#[unsafe(no_mangle)]
static mut BLOCK_SUMS_12: BlockChannel<'static, Conversion12, SHORT_WINDOW> =
    BlockChannel::of(proven!(SETUP_12.for_window()));
#[unsafe(no_mangle)]
static mut BLOCK_SUMS_10: BlockChannel<'static, Conversion10, SHORTER_WINDOW> =
    BlockChannel::of(proven!(SETUP_10.for_window()));

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

/// Handed out in place: a copy would not fit beside them in a small core's RAM.
#[inline(always)]
fn with_samples<const N: usize>(first: u16, bits: u8, take: impl FnOnce(&[u16; N]) -> u32) -> u32 {
    let mut samples = [0; N];
    for (place, taken) in (0..).zip(&mut samples) {
        *taken = sample(first, place, ((1_u32 << bits) - 1) as u16);
    }
    take(&samples)
}

fn told(reading: &Reading) -> u32 {
    let units = reading.voltage.map_or(u16::MAX, |Voltage(units)| units);
    u32::from(units) | u32::from(reading.faults.bits()) << 16
}

/// A window taken at once, then a few samples one by one, each of which takes the oldest away.
fn kept<C: CellConversion>(first: u16, bits: u8, channel: &mut Channel<'static, C, WINDOW>) -> u32 {
    with_samples::<{ WINDOW + MORE }>(first, bits, |samples| {
        let (window, more) = samples.split_at(WINDOW);
        channel.samples(window);
        for sample in more {
            channel.sample(Sample(*sample));
        }
        let reading = channel.reading(Sensing::default());
        reading.map_or(u32::MAX, |reading| told(&reading))
    })
}

/// The last window of the same samples, where it lies.
fn block<C: CellConversion, const N: usize, const W: usize>(
    first: u16,
    bits: u8,
    channel: &mut BlockChannel<'static, C, W>,
) -> u32 {
    with_samples::<N>(first, bits, |samples| match samples.last_chunk() {
        Some(window) => told(&channel.reading(window, Sensing::default())),
        None => u32::MAX,
    })
}

#[unsafe(no_mangle)]
pub extern "C" fn kept_sums_14(
    first: u16,
    channel: &mut Channel<'static, Conversion14, WINDOW>,
) -> u32 {
    kept(first, 14, channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn kept_sums_8(
    first: u16,
    channel: &mut Channel<'static, Conversion8, WINDOW>,
) -> u32 {
    kept(first, 8, channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn block_sums_14(
    first: u16,
    channel: &mut BlockChannel<'static, Conversion14, WINDOW>,
) -> u32 {
    block::<_, { WINDOW + MORE }, WINDOW>(first, 14, channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn block_sums_8(
    first: u16,
    channel: &mut BlockChannel<'static, Conversion8, WINDOW>,
) -> u32 {
    block::<_, { WINDOW + MORE }, WINDOW>(first, 8, channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn block_sums_16(
    first: u16,
    channel: &mut BlockChannel<'static, Conversion16, LONG_WINDOW>,
) -> u32 {
    block::<_, LONG_WINDOW, LONG_WINDOW>(first, 16, channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn block_sums_12(
    first: u16,
    channel: &mut BlockChannel<'static, Conversion12, SHORT_WINDOW>,
) -> u32 {
    block::<_, SHORT_WINDOW, SHORT_WINDOW>(first, 12, channel)
}

#[unsafe(no_mangle)]
pub extern "C" fn block_sums_10(
    first: u16,
    channel: &mut BlockChannel<'static, Conversion10, SHORTER_WINDOW>,
) -> u32 {
    block::<_, SHORTER_WINDOW, SHORTER_WINDOW>(first, 10, channel)
}
