//! A sensor's table among the code of an AVR, and its reader.
#![expect(unsafe_code, reason = "assembly")]

use core::arch::{asm, naked_asm};

use crate::convert::interpolation::Interpolation;
use crate::convert::sensor_as_drawn::DrawnSensor;
use crate::units::{Count, Temperature, TemperatureFault};

/// [`crate::Thermistor::temperature`] of a sensor that is a type.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    reason = "where first and counts, and so all positions, have 16 bits"
)]
pub(crate) fn drawn_temperature<D: DrawnSensor>(
    count: Count,
) -> Result<Temperature, TemperatureFault> {
    let (first, counts) = const { (D::THERMISTOR.first().0, D::THERMISTOR.counts()) };
    if const { D::THERMISTOR.quick > 0 } {
        // Wraps on purpose: a count before the table becomes a position far behind it.
        let position = (count.0 as u16).wrapping_sub(first as u16);
        if count.0 >> 16 == 0 && position < counts as u16 {
            let scale = interpolation::<D>();
            let (segment, fraction) = scale.place_by_bytes(position);
            return Ok(scale.between_by_bytes(pair::<D>(segment as u8), fraction));
        }
    } else {
        let position = count.0.wrapping_sub(first);
        if position < counts {
            let scale = interpolation::<D>();
            let (segment, fraction) = scale.place_by_words(position);
            return Ok(scale.between_by_words(pair::<D>(segment as u8), fraction));
        }
    }
    Err(fault::<D>(count))
}

/// Apart from the entries, to which a reference would bring them to RAM.
#[inline(always)]
#[expect(clippy::inline_always, reason = "constants")]
const fn interpolation<D: DrawnSensor>() -> Interpolation {
    const { D::THERMISTOR.table().interpolation }
}

#[cold]
#[inline(never)]
const fn fault<D: DrawnSensor>(count: Count) -> TemperatureFault {
    let ends = const { D::THERMISTOR.ends() };
    ends.fault(count)
}

/// Two neighbouring entries.
///
/// # Range
/// `segment` below the number of entries less one.
#[inline]
fn pair<D: DrawnSensor>(segment: u8) -> (i16, i16) {
    let (from, to): (i16, i16);
    // SAFETY: reads flash, which has no effect whatever the address, and changes what is declared changed. r1 is 0.
    unsafe {
        asm!(
            "ldi r30, lo8({table})",
            "ldi r31, hi8({table})",
            "add r30, {segment}",
            "adc r31, r1",
            "add r30, {segment}",
            "adc r31, r1",
            "lpm {from:l}, Z+",
            "lpm {from:h}, Z+",
            "lpm {to:l}, Z+",
            "lpm {to:h}, Z",
            table = sym table::<D>,
            segment = in(reg) segment,
            from = out(reg_pair) from,
            to = out(reg_pair) to,
            out("Z") _,
            options(pure, nomem, nostack),
        );
    }
    (from, to)
}

/// Four entries as they lie, the first lowest; 0 behind the last.
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    reason = "the 16 bits of an entry; 4 to 64 places, which are looked at; shifts below 64"
)]
const fn four<D: DrawnSensor>(number: usize) -> u64 {
    let entries = D::THERMISTOR.table().entries();
    let (mut place, mut four) = (0, 0);
    while place < 4 && 4 * number + place < entries.len() {
        four |= (entries[4 * number + place] as u16 as u64) << (16 * place);
        place += 1;
    }
    four
}

/// The entries in fours, among the code; never called.
#[unsafe(naked)]
extern "C" fn table<D: DrawnSensor>() {
    naked_asm!(
        ".quad {e0}",
        ".quad {e1}",
        ".quad {e2}",
        ".quad {e3}",
        ".if {entries} > 16",
        ".quad {e4}",
        ".endif",
        ".if {entries} > 20",
        ".quad {e5}",
        ".endif",
        ".if {entries} > 24",
        ".quad {e6}",
        ".endif",
        ".if {entries} > 28",
        ".quad {e7}",
        ".endif",
        ".if {entries} > 32",
        ".quad {e8}",
        ".endif",
        ".if {entries} > 36",
        ".quad {e9}",
        ".endif",
        ".if {entries} > 40",
        ".quad {e10}",
        ".endif",
        ".if {entries} > 44",
        ".quad {e11}",
        ".endif",
        ".if {entries} > 48",
        ".quad {e12}",
        ".endif",
        ".if {entries} > 52",
        ".quad {e13}",
        ".endif",
        ".if {entries} > 56",
        ".quad {e14}",
        ".endif",
        ".if {entries} > 60",
        ".quad {e15}",
        ".endif",
        entries = const D::THERMISTOR.table().entries().len(),
        e0 = const four::<D>(0),
        e1 = const four::<D>(1),
        e2 = const four::<D>(2),
        e3 = const four::<D>(3),
        e4 = const four::<D>(4),
        e5 = const four::<D>(5),
        e6 = const four::<D>(6),
        e7 = const four::<D>(7),
        e8 = const four::<D>(8),
        e9 = const four::<D>(9),
        e10 = const four::<D>(10),
        e11 = const four::<D>(11),
        e12 = const four::<D>(12),
        e13 = const four::<D>(13),
        e14 = const four::<D>(14),
        e15 = const four::<D>(15),
    )
}
