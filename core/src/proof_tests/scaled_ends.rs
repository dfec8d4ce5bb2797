//! Where the window and the short form of a scaled conversion end.

use super::scaled::{line, quotient, summing};
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::units::{Count, Voltage};
use fixed::types::{I24F8, U8F24};

/// A conversion of 12 bits scaled by nothing: its first count, how many there are, and whether it is short.
fn unscaled(factor: u128, addend: u128, shift: u8, first: u32, counts: u32) -> (u32, u32, bool) {
    let drawn = line(first, counts, factor, addend, shift);
    let drawn = DividedConversion::<12>::of(drawn, summing(4095, 1)).ok_or(drawn);
    let scaled = drawn.map(|drawn| drawn.scaled(U8F24::ONE, I24F8::ZERO));
    assert!(matches!(scaled, Ok(Ok(_))), "{drawn:?} {scaled:?}");
    let window = |of: DividedConversion<12>| {
        let window = of.window();
        (window.first().0, window.counts(), of.short().is_some())
    };
    scaled.map_or((0, 0, false), |scaled| scaled.map_or((0, 0, false), window))
}

#[test]
fn a_scaled_line_keeps_every_count_that_is_a_voltage() {
    // Half a step a count, and 0 exactly half a step below the first count: the one before it would be negative.
    assert_eq!(unscaled(1 << 31, 0, 32, 10, 4000).0, 10);
    // 32 steps a count from the first on: 2048 would be 65 536.
    assert_eq!(unscaled(32 << 32, 32 << 32, 32, 1, 2000), (1, 2047, false));
    // 20 steps a count: 3276 is 65 520.
    assert_eq!(unscaled(20 << 32, 20 << 32, 32, 1, 2000), (1, 3276, false));
}

#[test]
fn a_scaled_line_is_short_up_to_its_last_voltage_and_never_flat() {
    // 1.99997 steps a count from 60 000 on.
    assert_eq!(unscaled(65_535, 60_000 << 15, 15, 1, 2700), (1, 2769, true));
    // 2^-32 of a step a count: nothing is left of M in the short form.
    assert_eq!(unscaled(1, 60_000 << 32, 32, 1, 4094), (1, 4094, false));
}

/// A quotient scaled by nothing: t of the short form, if it has one.
fn short_step(rail: u32, first: u32, numerator: u64, at_first: u32, t: u8) -> Option<u8> {
    let constants = quotient(first, rail.abs_diff(first), numerator, at_first, t);
    let drawn = SupplyConversion::of(constants, summing(rail, 1)).ok_or(constants);
    let scaled = drawn.map(|drawn| drawn.scaled(U8F24::ONE, I24F8::ZERO));
    assert!(matches!(scaled, Ok(Ok(_))), "{drawn:?} {scaled:?}");
    let scaled = scaled.ok()?.ok()?;
    assert_ne!(scaled.voltage(Count(first)), Ok(Voltage(0)));
    scaled.short().map(|short| short.constants().step_log2)
}

/// D has 16 bits: t is what the counts leave of them, 7 at most and 1 at least.
#[test]
fn a_scaled_quotient_is_short_for_counts_of_up_to_fifteen_bits() {
    assert_eq!(short_step(255, 5, 80_281_600, 1280, 8), Some(7));
    assert_eq!(short_step(1023, 20, 80_281_600, 1280, 6), Some(6));
    // D would be 2^16 at the last count, which is left out.
    assert_eq!(short_step(1023, 20, 80_281_600, 1408, 6), Some(6));
    assert_eq!(short_step(32_766, 1000, 80_281_600, 2000, 1), Some(1));
    assert_eq!(short_step(65_520, 1000, 80_281_600, 2000, 1), None);
    // D at count 0 is 2^12: nothing would be rounded off.
    let (first, at_first) = (2_000_000, 4_004_096);
    assert_eq!(
        short_step(67_107_840, first, 160_000_000_000, at_first, 1),
        None
    );
}

/// D is 1280 at count 20, where half a step less than 65 536 is K = 83 885 440.
#[test]
fn a_scaled_quotient_begins_at_the_largest_voltage() {
    for (numerator, first, at_first) in [(83_885_439, 20, 1280), (83_885_440, 21, 1344)] {
        let constants = quotient(first, 1023 - first, numerator, at_first, 6);
        let drawn = SupplyConversion::of(constants, summing(1023, 1)).ok_or(constants);
        let scaled = drawn.map(|drawn| drawn.times(U8F24::ONE, I24F8::ZERO));
        let begins = scaled.map(|scaled| scaled.map(|scaled| scaled.window().first()));
        assert_eq!(begins, Ok(Ok(Count(first))));
    }
}

/// A D of 2^28 at every count, with a K that is doubled no more: t is the short form's already, and D far above 16 bits.
#[test]
fn a_scaled_quotient_whose_divisor_hardly_moves_is_in_full() {
    assert_eq!(short_step(4095, 1, 1 << 43, 1 << 28, 4), None);
    assert_eq!(short_step(4095, 1, 1 << 43, 1 << 28, 2), None);
    assert_eq!(short_step(4095, 1, 1 << 36, 1 << 26, 1), None);
}
