//! Lines near their bounds, as types: sums that carry from byte to byte where no drawing's do, in every form and width of M and B.
//!
//! `tallyvolt cost` calls them by bits and index, and reads the same constants for what they must answer.

use tallyvolt::{
    Acquisition, AsDrawn, CellRange, Count, DividedConversion, DividedDescription, DividedInput,
    Drawn, OutputUnit, proven,
};

use crate::answers::reading;
use crate::line_constants::{OF_8, OF_12, OF_16};

const fn input(bits: u8) -> DividedInput {
    let description = DividedDescription {
        acquisition: Acquisition::single(bits),
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::Millivolt,
    };
    match DividedInput::new(description) {
        Ok(input) => input,
        Err(_) => panic!("a front end of any bits"),
    }
}

/// One of the lines of so many bits.
struct Of<const BITS: u32, const INDEX: usize>;

impl<const INDEX: usize> Drawn<8> for Of<8, INDEX> {
    const CONVERSION: DividedConversion<8> = proven!(input(8).module(OF_8[INDEX]));
}
impl<const INDEX: usize> Drawn<12> for Of<12, INDEX> {
    const CONVERSION: DividedConversion<12> = proven!(input(12).module(OF_12[INDEX]));
}
impl<const INDEX: usize> Drawn<16> for Of<16, INDEX> {
    const CONVERSION: DividedConversion<16> = proven!(input(16).module(OF_16[INDEX]));
}

#[inline(always)]
fn answer<const BITS: u32, const INDEX: usize>(count: u16) -> u16
where
    Of<BITS, INDEX>: Drawn<BITS>,
{
    reading(AsDrawn::<BITS, Of<BITS, INDEX>>::NEW.voltage(Count(count.into())))
}

#[unsafe(no_mangle)]
pub extern "C" fn line_8_0(count: u16) -> u16 {
    answer::<8, 0>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_8_1(count: u16) -> u16 {
    answer::<8, 1>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_12_0(count: u16) -> u16 {
    answer::<12, 0>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_12_1(count: u16) -> u16 {
    answer::<12, 1>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_12_2(count: u16) -> u16 {
    answer::<12, 2>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_0(count: u16) -> u16 {
    answer::<16, 0>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_1(count: u16) -> u16 {
    answer::<16, 1>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_2(count: u16) -> u16 {
    answer::<16, 2>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_3(count: u16) -> u16 {
    answer::<16, 3>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_4(count: u16) -> u16 {
    answer::<16, 4>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_5(count: u16) -> u16 {
    answer::<16, 5>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_6(count: u16) -> u16 {
    answer::<16, 6>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_7(count: u16) -> u16 {
    answer::<16, 7>(count)
}
#[unsafe(no_mangle)]
pub extern "C" fn line_16_8(count: u16) -> u16 {
    answer::<16, 8>(count)
}
