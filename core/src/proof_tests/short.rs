//! Conversions scaled on a chip in their short form, against the full one.

use super::scaled::{line, quotients, scales, summing};
use crate::convert::constants::{LineConstants, QuotientConstants};
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::window::Summing;
use crate::units::{Count, OutputUnit};
use fixed::types::{I24F8, U8F24};

/// The greatest distance of the short form from the full one over a set of a window's counts, in output steps, and how many scales give it.
#[expect(
    clippy::arithmetic_side_effects,
    clippy::float_arithmetic,
    reason = "a few scales and counts; distances are asked for"
)]
fn short_lines<const BITS: u32>(constants: LineConstants, summing: Summing) -> (f64, u32) {
    let Some(drawn) = DividedConversion::<BITS>::of(constants, summing) else {
        return (f64::MAX, 0);
    };
    let (mut farthest, mut given) = (0.0_f64, 0);
    for (gain, offset) in scales() {
        let (Ok(full), Ok(scaled)) = (drawn.times(gain, offset), drawn.scaled(gain, offset)) else {
            continue;
        };
        let Some(module) = scaled.short() else {
            assert_eq!(scaled, full, "{gain} {offset}: not short, so in full");
            continue;
        };
        given += 1;
        let [full, short] = [full.constants(), scaled.constants()];
        let at = |line: &LineConstants, count: u32| {
            let position = f64::from(count) - f64::from(line.first);
            (line.factor as f64 * position + line.addend as f64) / f64::from(line.shift).exp2()
        };
        let window = module.window();
        for count in (window.first..=window.last().0).step_by(1 + window.counts as usize / 4000) {
            farthest = farthest.max((at(&short, count) - at(&full, count)).abs());
            assert_eq!(module.voltage(Count(count)), scaled.voltage(Count(count)));
        }
    }
    (farthest, given)
}

/// What a chip makes of itself, its module types load, close to what the full form would be.
#[test]
fn a_scaled_line_is_short_where_that_is_close() {
    for (name, (distance, given), least) in [
        (
            "10 bits",
            short_lines::<10>(line(1, 1022, 34_202, 67_687, 13), summing(1023, 1)),
            45,
        ),
        (
            "12 bits, long",
            short_lines::<12>(line(5, 4000, 4_482_861_123, 0, 32), summing(4095, 1)),
            45,
        ),
        (
            "16 bits",
            short_lines::<16>(line(1, 65_519, 34_211, 270_000, 19), summing(65_520, 16)),
            40,
        ),
    ] {
        assert!(given >= least, "{name}: only {given} scales are short");
        assert!(distance <= 1.0 / 31.0, "{name}: {distance}");
    }
}

/// The same for quotients, from 2 V to 4.3 V.
#[test]
fn a_scaled_quotient_is_short_where_that_is_close() {
    let (mut farthest, mut given, mut in_full) = (0.0_f64, 0, 0);
    for (_, drawn) in quotients().into_iter().take(3).flatten() {
        for (gain, offset) in scales() {
            let (Ok(full), Ok(scaled)) = (drawn.times(gain, offset), drawn.scaled(gain, offset))
            else {
                continue;
            };
            let Some(module) = scaled.short() else {
                assert_eq!(scaled, full, "{gain} {offset}: not short, so in full");
                in_full += 1;
                continue;
            };
            given += 1;
            let whole = full.window();
            let [full, short] = [full.constants(), scaled.constants()];
            let at = |quotient: &QuotientConstants, count: u32| {
                let position = f64::from(count) - f64::from(quotient.first);
                let step = f64::from(quotient.step_log2).exp2();
                quotient.numerator as f64 / (position * step + f64::from(quotient.at_first))
            };
            let window = module.window();
            let cut = whole.rail / 256 + 1;
            assert!(window.first <= whole.first + cut && window.last().0 + cut >= whole.last().0);
            for count in window.first..=window.last().0 {
                let exact = at(&full, count);
                if (2000.0..=4300.0).contains(&exact) {
                    farthest = farthest.max((at(&short, count) - exact).abs());
                }
                assert_eq!(module.voltage(Count(count)), scaled.voltage(Count(count)));
            }
        }
    }
    assert!(
        given >= 60 && in_full >= 40,
        "{given} are short, {in_full} in full"
    );
    assert!(farthest > 0.02 && farthest <= 0.05, "{farthest}");
}

/// With D off by d, both are farthest apart at 4.3 V: by d V (3.57 V - V) / K.
#[test]
fn a_quotient_is_short_exactly_where_a_twentieth_of_a_step_is_kept() {
    let (mut given, mut in_full) = (0, 0);
    for (rail, step, unit, units) in [
        (1024_u32, 5_u8, OutputUnit::Millivolt, 1_u32),
        (1023, 6, OutputUnit::TenthMillivolt, 10),
        (4095, 4, OutputUnit::TenthMillivolt, 10),
    ] {
        let first = rail / 5;
        // Of a reference of 1.2 V, with D in 2^-8 of the short form's.
        let short_numerator = 1200 * units * (rail << step);
        let volts = f64::from(units) * 1000.0;
        for at_zero in (-512..512_i32).step_by(6) {
            let drawn = QuotientConstants {
                first,
                counts: rail - first,
                numerator: u64::from(short_numerator) << 8,
                at_first: (first << (step + 8)).saturating_add_signed(at_zero),
                step_log2: step + 8,
            };
            let summing = Summing {
                unit,
                ..summing(rail, 1)
            };
            let made = SupplyConversion::of(drawn, summing).ok_or(drawn);
            let made = made.map(|drawn| drawn.scaled(U8F24::ONE, I24F8::ZERO));
            assert!(matches!(made, Ok(Ok(_))), "{made:?}");
            let Ok(Ok(scaled)) = made else { return };
            let short_at_zero = f64::from(at_zero) / 256.0;
            let off = (short_at_zero / 2.0).round() * 2.0 - short_at_zero;
            let apart = off.abs() * 4.3 * volts * 0.73 * volts / f64::from(short_numerator);
            if scaled.short().is_none() {
                in_full += 1;
                assert!(apart * 735.0 / 730.0 > 0.05, "{drawn:?} {apart}");
                continue;
            }
            given += 1;
            assert!(apart <= 0.05, "{drawn:?} {apart}");
            let short = scaled.constants();
            for count in first..rail {
                let exact = drawn.numerator as f64
                    / f64::from(((count - first) << drawn.step_log2) + drawn.at_first);
                let at = f64::from(((count - short.first) << short.step_log2) + short.at_first);
                if (2.0 * volts..=4.3 * volts).contains(&exact) {
                    let distance = (short.numerator as f64 / at - exact).abs();
                    assert!(distance <= 0.05, "{drawn:?} {count}: {distance}");
                }
            }
        }
    }
    assert_eq!((given, in_full), (148, 365));
}
