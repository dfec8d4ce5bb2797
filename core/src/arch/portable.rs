//! The functions of `arch` in Rust.

use super::{Immediate, ImmediateLine, Line, Narrow, Quotient, narrow, wide};
use crate::convert::sensor_as_drawn::DrawnSensor;
use crate::convert::thermistor::Thermistor;
use crate::rounding::{divide_floor_u32, product_of_16_bits, shift_floor_u32, upper_of_sum};
use crate::units::{Count, Sample, Temperature, TemperatureFault};

/// Whether the target divides in software: there sixteen steps are shorter than the compiler's own division.
pub(crate) const BIT_BY_BIT: bool = cfg!(any(
    target_arch = "avr",
    all(target_arch = "arm", not(target_has_atomic = "32")),
    all(target_arch = "riscv32", not(target_feature = "m"))
));

/// Whether it multiplies in hardware then.
pub(crate) const MULTIPLIES_ONLY: bool =
    cfg!(all(target_arch = "arm", not(target_has_atomic = "32")));

/// The position of a count in a window of counts of 16 bits; none outside.
#[inline(always)]
#[expect(clippy::inline_always, reason = "two comparisons")]
pub(crate) const fn position(count: Count, first: Narrow, counts: Narrow) -> Option<Narrow> {
    // Wraps on purpose: a count before the window becomes a position far behind it.
    let position = narrow(count.0).wrapping_sub(first);
    if (count.0 >> (Narrow::BITS - 1)) >> 1 == 0 && position < counts {
        Some(position)
    } else {
        None
    }
}

/// The value of a line at a count, over 2^(`BITS` + 3); none outside its counts.
#[inline(always)]
#[expect(
    clippy::inline_always,
    reason = "a few instructions, without a result put together for the caller"
)]
pub(crate) const fn line<const BITS: u32>(line: &Line, count: Count) -> Option<u16> {
    match position(count, line.first, line.counts) {
        Some(position) => Some(line_at::<BITS>(line, position)),
        None => None,
    }
}

/// The value of a line at a position.
///
/// # Range
/// That of [`Line`].
#[inline(always)]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::inline_always,
    reason = "the range; with constants compiled in, only a product is left"
)]
pub(crate) const fn line_at<const BITS: u32>(line: &Line, position: Narrow) -> u16 {
    let scale = Line::scale(BITS);
    let sum = product_of_16_bits(wide(line.factor), wide(position << scale)) + line.addend;
    shift_floor_u32(sum, BITS + 3 + scale) as u16
}

/// The value of a type's line at a count; none outside its counts.
#[inline(always)]
#[expect(clippy::inline_always, reason = "constants are in the code")]
pub(crate) const fn drawn<L: Immediate>(count: Count) -> Option<u16> {
    let ImmediateLine { first, counts, .. } = const { L::LINE };
    match position(count, narrow(first), narrow(counts)) {
        Some(position) => Some(drawn_at::<L>(position)),
        None => None,
    }
}

/// The value of a type's line at a position.
#[inline(always)]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::inline_always,
    reason = "constants are in the code; short: the range; long: lower halves and position have 16 bits, and the value is the upper 16 of 48 bits"
)]
pub(crate) const fn drawn_at<L: Immediate>(position: Narrow) -> u16 {
    let ImmediateLine {
        factor,
        addend,
        shift,
        ..
    } = const { L::LINE };
    if shift < 32 {
        let sum = product_of_16_bits(factor as u32, wide(position)) + addend as u32;
        return shift_floor_u32(sum, shift) as u16;
    }
    let low = product_of_16_bits(factor as u32 & 0xFFFF, wide(position));
    let high = (factor >> 16) as u32 * wide(position) + (addend >> 16) as u32;
    shift_floor_u32(high + upper_of_sum(low, addend as u16), 16) as u16
}

/// The value of a quotient at a count; none outside its counts.
#[inline]
pub(crate) const fn quotient(quotient: &Quotient, count: Count) -> Option<u16> {
    match position(count, quotient.first, quotient.counts) {
        Some(position) => Some(quotient_at(quotient, position)),
        None => None,
    }
}

/// The value of a quotient at a position.
///
/// # Range
/// That of [`Quotient`].
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "the range"
)]
pub(crate) const fn quotient_at(quotient: &Quotient, position: Narrow) -> u16 {
    let half = quotient.half_step.times(position) + wide(quotient.half_at_first);
    let sum = quotient.numerator + half;
    if MULTIPLIES_ONLY {
        return refined::<15>(sum >> 1, half);
    }
    if BIT_BY_BIT {
        return steps(sum, half as u16);
    }
    divide_floor_u32(sum, half << 1) as u16
}

/// `2^20 / (256 i + 128)` to the nearest, from i = 32 on: 2^20 / h, within 2.0 %, for an h from 2^13 to below 2^15 whose bits from 8 on
/// are i. In front of them lie zeros, so that seven bits need not be looked at.
#[expect(
    clippy::cast_possible_truncation,
    clippy::indexing_slicing,
    reason = "constants: the index runs over the table, and 2^20 / 8320 is below 2^7"
)]
static SEEDS: [u8; 128] = {
    let mut seeds = [0; 128];
    let mut index = 32;
    while index < seeds.len() {
        let middle = 256 * index as u32 + 128;
        seeds[index] = ((1_u32 << 20) / middle + (1_u32 << 20) % middle / (middle / 2)) as u8;
        index += 1;
    }
    seeds
};

/// `floor(sum / half)` by products. A small divisor is enlarged fourfold, and the sum with it, which stays below 2^16 times it.
///
/// With T a seed, u = floor(floor(n / 2^8) T / 2^12) + 1 lies within 2.0 % and 2 of n / h, which is below 2^16. What is left, n - u h, is
/// within 1313 h then, times T within 2^31, and e = floor((n - u h) T / 2^20) within 28 of what u lacks.
///
/// u + e is never above n / h, so h is left a few times, and mostly not once. Where T h is at most 2^20, e is at most what u lacks, or -1 where
/// u is less than 1 too large. Where it is more, u is above n / h less 0.04, and e is less than what u is too large, or 0.
///
/// # Range
/// `half` from 1 to below 2^`BITS`, `BITS` 15 or 16, `sum` below 2^31, the result below 2^16. A half from 2^15 on is looked up by one bit fewer, and
/// what is left of it is halved before its product.
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    reason = "a sum below 2^31 over 2^8, and a seed below 2^7; estimates as above; seven bits are a place; signs on purpose"
)]
pub(crate) const fn refined<const BITS: u32>(mut sum: u32, mut half: u32) -> u16 {
    while half >> 13 == 0 {
        half <<= 2;
        sum <<= 2;
    }
    let more = if BITS > 15 { half >> 15 } else { 0 };
    let seed = SEEDS[(half >> (8 + more)) as usize & 127] as u32;
    let first = (((sum >> 8) * seed) >> (12 + more)) + 1;
    let rest = sum.wrapping_sub(first * half) as i32;
    let second = ((rest >> more) * seed as i32) >> 20;
    let rest = (rest - second * half as i32) as u32;
    let value = (first as i32 + second) as u32;
    if rest < half {
        value as u16
    } else if rest - half < half {
        (value + 1) as u16
    } else {
        settled(value, rest, half)
    }
}

/// `value`, and one more for each `half` in what is left, where there is one.
#[cold]
#[inline(never)]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "a few steps to a value of 16 bits"
)]
const fn settled(mut value: u32, mut rest: u32, half: u32) -> u16 {
    loop {
        rest -= half;
        value += 1;
        if rest < half {
            return value as u16;
        }
    }
}

/// `floor(sum / (2 half))`, bit by bit.
///
/// It is floor(floor(sum / 2) / half). The upper half of floor(sum / 2) is a remainder below `half` from the start, because the result
/// is below 2^16; twice it and one fits 16 bits.
///
/// # Range
/// `half` from 1 to below 2^15, the result below 2^16.
#[inline(never)]
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "halves of 31 bits; rest is below half, below 2^15"
)]
pub(crate) const fn steps(sum: u32, half: u16) -> u16 {
    // The remainder above the bits that are left, which the quotient's take the place of.
    let mut both = sum >> 1;
    let mut steps = 16_u8;
    while steps > 0 {
        both <<= 1;
        let rest = (both >> 16) as u16;
        if rest >= half {
            both = ((rest - half) as u32) << 16 | both & 0xFFFF | 1;
        }
        steps -= 1;
    }
    both as u16
}

/// What a module keeps for a table of reciprocals: nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct Reciprocal;

impl Reciprocal {
    /// Of any quotient.
    pub(crate) const fn of(_quotient: &Quotient) -> Self {
        Self
    }
}

/// The units of a module's count, as without a table.
#[inline]
pub(crate) fn tabled_units(
    _table: &Reciprocal,
    _count: Count,
    otherwise: impl FnOnce() -> u32,
) -> u32 {
    otherwise()
}

/// What [`summed`] takes of the top code less one, for windows of so many samples: itself.
pub(crate) const fn edge(below: u16, _number: usize) -> u16 {
    below
}

/// The sum of at most 1024 samples, and the second answer where one is 0, or less one is not below the top code less one; else the first.
///
/// What is to be answered is handed in, so that a kernel's answer need not be looked at again.
#[inline]
#[expect(
    clippy::arithmetic_side_effects,
    reason = "at most 1024 samples of 65 535 are summed, below 2^26"
)]
pub(crate) fn summed<F>(
    samples: &[u16],
    edge: u16,
    _below: impl FnOnce() -> u16,
    (none, at_rail): (F, F),
) -> (Count, F) {
    let (mut sum, mut railed) = (0, false);
    for sample in samples {
        sum += u32::from(*sample);
        // Less one, 0 is the largest number, so one comparison tells.
        railed |= usize::from(*sample).wrapping_sub(1) >= usize::from(edge);
    }
    (Count(sum), if railed { at_rail } else { none })
}

/// None: samples are summed and kept in loops of their own.
#[inline]
pub(crate) const fn copied_sum(
    _samples: &[u16],
    _places: &mut [u16],
    _top_code: Sample,
) -> Option<u32> {
    None
}

/// The temperature of a count by a sensor that is a type.
#[inline(always)]
#[expect(clippy::inline_always, reason = "constants in place")]
#[cfg_attr(
    all(
        feature = "arch",
        target_arch = "avr",
        target_feature = "lpmx",
        not(target_feature = "lowbytefirst")
    ),
    expect(dead_code, reason = "a table in flash has a reader of its own")
)]
pub(crate) fn drawn_temperature<D: DrawnSensor>(
    count: Count,
) -> Result<Temperature, TemperatureFault> {
    D::THERMISTOR.temperature(count)
}

/// The temperature of a count, or why the count is none.
#[inline]
pub(crate) const fn temperature(
    thermistor: &Thermistor<'_>,
    count: Count,
) -> Result<Temperature, TemperatureFault> {
    thermistor.portable(count)
}
