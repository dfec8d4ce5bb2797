//! Tests of the proofs' inner parts.
//!
//! Apart from the files they test, because the mutants of `host-tests` compile those files with a wrong rounding.

use crate::bounds::SHIFT_MAX;
use crate::error::ConfigError;
use crate::reciprocal::{
    E_END, E_MIN, Reciprocal, SEED_FIRST, SEED_SHIFT, SEEDS, long_division, refined,
};
use crate::straight_line::ExactLine;
use crate::supply_reference::Quotient;
use crate::table::Table;

/// The value stands 1/Q below a rounding boundary at every position: rounding the intercept up crosses it at every
/// shift, and the search says so instead of accepting a wrong multiplier.
#[test]
fn a_line_too_close_below_a_boundary_is_refused() {
    let denominator = (1 << 93) - 1;
    let line = ExactLine {
        terms: 2,
        slope: 0,
        intercept: denominator - 1,
        denominator,
    };
    assert_eq!(
        line.prove(),
        Err(ConfigError::Unproven { shift: SHIFT_MAX })
    );
}

#[test]
fn one_position_needs_no_slope() {
    let line = ExactLine {
        terms: 1,
        slope: 1 << 90,
        intercept: 7,
        denominator: 2,
    };
    assert_eq!(line.prove().map(|multiplier| multiplier.at(0)), Ok(3));
}

/// Every E of the refinement, at the numerators nearest a rounding boundary; a seed one too large is noticed.
#[test]
#[expect(
    clippy::cast_possible_truncation,
    clippy::indexing_slicing,
    reason = "E below 2^27 and k below 2^16: every product is below 2^44"
)]
fn refinement_and_long_division_equal_the_division_for_every_e() {
    let mut noticed = false;
    let mut k = 1_u64;
    let mut e = E_MIN;
    while e < E_END {
        // Spread over 0 .. 65 534, as a full-period generator modulo 2^16 gives it.
        k = (k * 25_173 + 13_849) & 0xFFFF;
        let (wide, below) = (u64::from(e), k.min(65_534));
        let boundary = below * wide + wide / 2;
        let seed = u32::from(SEEDS[((e >> SEED_SHIFT) - SEED_FIRST) as usize]);
        for (h, value) in [
            (boundary - 1, below),
            (boundary, below + 1),
            (65_535 * wide + wide / 2 - 1, 65_535),
        ] {
            let (low, top) = (h as u32, (h >> 24) as u32);
            assert_eq!(u64::from(refined(e, seed, low, top)), value, "{h} / {e}");
            noticed |= u64::from(refined(e, seed + 8, low, top)) != value;
        }
        if e.is_multiple_of(1 << 10) {
            assert_eq!(u64::from(long_division(boundary - 1, e)), below);
            assert_eq!(u64::from(long_division(boundary, e)), below + 1);
        }
        e += 2;
    }
    assert!(noticed, "negative control: a wrong seed must show");
}

/// E below and beyond the refinement's range.
#[test]
fn the_rare_ways_equal_the_division() {
    for d in [
        1_u32,
        3,
        1000,
        524_287,
        8_388_607,
        1 << 23,
        67_108_863,
        142_605_309,
    ] {
        for value in [0_u64, 1, 2, 3277, 65_534] {
            let boundary = value * 2 * u64::from(d) + u64::from(d);
            // Once as the only denominator and once far below the window's last.
            for (h, last) in [
                (boundary - 1, 0),
                (boundary, 0),
                (boundary - 1, 999),
                (boundary, 999),
            ] {
                let quotient = Quotient::new(h, 17, d);
                let reciprocal = Reciprocal::of(quotient, last);
                let wanted = value + u64::from(h == boundary);
                assert_eq!(u64::from(reciprocal.at(0)), wanted, "{h} / {d}");
                assert_eq!(u64::from(quotient.at(0)), wanted, "{h} / {d}");
                assert_eq!(u64::from(quotient.bit_by_bit(0)), wanted, "{h} / {d}");
                assert_eq!(reciprocal.quotient(), quotient);
            }
        }
    }
}

/// Both ways through a table against the division, at positions before the last entry, and whole tables behind it: falling and
/// rising, steps and fractions of every kind, and entries at the ends of 16 bits.
#[test]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    reason = "15 segments of at most 2^14, entries of 16 bits"
)]
fn both_ways_through_a_table_equal_the_division() {
    let falling: [i16; 16] = core::array::from_fn(|i| (32_767 - (i * i * 291) as i32) as i16);
    let gentle: [i16; 16] = core::array::from_fn(|i| (i * i * 3) as i16 - 300);
    let steep = core::array::from_fn(|i| if i < 8 { i16::MIN } else { i16::MAX });
    let (mut by_bytes, mut differences) = (0, 0);
    for entries in [
        falling,
        falling.map(|e| !e),
        gentle,
        gentle.map(|e| -e),
        steep,
    ] {
        for (step_log2, fraction_bits) in
            (0..=14_u8).flat_map(|step| (0..=6).map(move |bits| (step, bits)))
        {
            let Ok(table) = Table::new(&entries, step_log2, fraction_bits) else {
                assert!(entries.is_empty(), "entries in order are refused");
                continue;
            };
            let step = 1_i64 << step_log2;
            for position in (0..15 * step + 3).step_by((step as usize / 64).max(1) | 1) {
                let at = (position / step).min(14) as usize;
                let part = (position - at as i64 * step).min(step);
                let (from, to) = (i64::from(entries[at]), i64::from(entries[at + 1]));
                let whole = (from * step + (to - from) * part) * 2 + (step << fraction_bits);
                let wanted = whole.div_euclid((step << fraction_bits) * 2) as i16;
                assert_eq!(
                    table.at(position as u32).0,
                    wanted,
                    "{step_log2} {fraction_bits} {position}"
                );
                if position >= 15 * step {
                    continue;
                }
                assert_eq!(
                    table.at_by_words(position as u32).0,
                    wanted,
                    "{step_log2} {fraction_bits} {position}"
                );
                if (1..=8).contains(&step_log2) {
                    by_bytes += 1;
                    assert_eq!(
                        table.at_by_bytes(position as u16).0,
                        wanted,
                        "{step_log2} {fraction_bits} {position}"
                    );
                    differences += u32::from(table.at_by_bytes(position as u16 + 1).0 != wanted);
                }
            }
            assert_eq!(table.at(u32::MAX), table.at(15 << step_log2));
            let gentle = entries != steep;
            assert_eq!(table.is_gentle(), gentle);
            assert_eq!(
                table.suits_bytes(15),
                gentle && (1..=8).contains(&step_log2)
            );
        }
    }
    assert!(
        by_bytes > 10_000 && differences > 1000,
        "{by_bytes} {differences}"
    );
}
