//! Tests of the proofs' inner parts.
//!
//! Apart from the files they test, because the mutants of `host-tests` compile those files with a wrong rounding.

use crate::convert::table::Table;

mod division {
    use crate::arch::portable::{refined, steps};
    use crate::convert::division::{divide, sixteen_steps};

    /// The numerators nearest a rounding boundary, for every short D and a spaced set of the others.
    #[test]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "D below 2^29 and k below 2^16"
    )]
    fn the_steps_equal_the_division() {
        let mut compared = 0_u32;
        let mut k = 1_u64;
        let mut denominator = 2_u32;
        while denominator < 1 << 29 {
            // Spread over 0 .. 65 534, as a full-period generator modulo 2^16 gives it.
            k = (k * 25_173 + 13_849) & 0xFFFF;
            let value = k.min(65_534);
            let wide = u64::from(denominator);
            let boundary = value * wide + wide / 2;
            for (numerator, wanted) in [(boundary - 1, value), (boundary, value + 1)] {
                let (low, high) = (numerator as u32, (numerator >> 32) as u16);
                assert_eq!(u64::from(sixteen_steps(low, high, denominator)), wanted);
                assert_eq!(u64::from(divide(low, high, denominator)), wanted);
                if let (Ok(short), true) = (u32::try_from(numerator), denominator < 1 << 17)
                    && let Some(sum) = short.checked_add(denominator >> 1)
                {
                    let half = (denominator >> 1) as u16;
                    assert_eq!(u64::from(refined::<16>(sum >> 1, half.into())), wanted);
                    compared += 1;
                    if half >> 15 == 0 {
                        assert_eq!(u64::from(steps(sum, half)), wanted);
                        assert_eq!(u64::from(refined::<15>(sum >> 1, half.into())), wanted);
                    }
                }
            }
            denominator += if denominator < 1 << 18 { 2 } else { 2_022 };
        }
        assert_eq!(compared, 110_704, "short numerators compared");
    }
}

mod rounding {
    use crate::rounding::{divide_floor_u32, divide_floor_u64};

    /// A division that the compiler must not give a panic to answers something where there is no quotient.
    #[test]
    fn a_quotient_of_nothing_is_the_largest_number() {
        for numerator in [0, 1, u32::MAX] {
            assert_eq!(divide_floor_u32(numerator, 0), u32::MAX);
            assert_eq!(divide_floor_u64(numerator.into(), 0), u64::MAX);
        }
        assert_eq!((divide_floor_u32(29, 10), divide_floor_u64(29, 10)), (2, 2));
    }
}

mod window {
    use crate::convert::window::{Window, is_window};

    /// Every small range: the window is the counts of it that are above zero and below the rail.
    #[test]
    fn a_window_is_what_is_left_of_a_range_below_the_rail() {
        let mut windows = 0_u32;
        for rail in 2..9_u32 {
            for low in -3..12_i128 {
                for high in -3..12_i128 {
                    let range = low..=high;
                    let mut inside = (1..rail).filter(|count| range.contains(&i128::from(*count)));
                    let found = Window::between(low, high, rail);
                    let first = inside.next();
                    assert_eq!(found.map(|of| of.first().0), first, "{low} {high} {rail}");
                    if let (Some(found), Some(first)) = (found, first) {
                        assert_eq!(found.last().0, inside.next_back().unwrap_or(first));
                        assert_eq!(found.rail().0, rail);
                        windows += 1;
                    }
                }
            }
        }
        assert_eq!(windows, 560, "windows compared");
    }

    /// Both checks of a window against its rule, in numbers that cannot wrap.
    #[test]
    fn counts_are_a_window_where_they_end_below_the_rail() {
        let ends = [0, 1, 2, 3, 100, 254, 255, 256, u16::MAX];
        for rail in ends {
            for first in ends {
                for counts in ends {
                    let end = u64::from(first).saturating_add(counts.into());
                    let wanted = first > 0 && counts > 0 && end <= u64::from(rail);
                    assert_eq!(
                        is_window(first, counts, rail),
                        wanted,
                        "{first} {counts} {rail}"
                    );
                    let wide = Window::new(first.into(), counts.into(), rail.into());
                    assert_eq!(wide.is_some(), wanted, "{first} {counts} {rail}");
                }
            }
        }
        // What is left to a rail of 32 bits wraps too.
        assert!(Window::new(9, 1, 5).is_none() && Window::new(u32::MAX, 2, 1 << 26).is_none());
    }

    /// One count in 256 may be missing at either end, and at least one.
    #[test]
    fn a_window_leaves_another_up_to_one_count_in_256() {
        for (rail, cut) in [
            (255, 1),
            (256, 2),
            (511, 2),
            (512, 3),
            (4_095, 16),
            (65_520, 256),
        ] {
            let whole = Window::between(300, 400, 1_000).map(|of| Window { rail, ..of });
            let part = |first: u32, last: u32| {
                let part = Window::between(first.into(), last.into(), 1_000);
                part.map(|of| Window { rail, ..of })
            };
            for short in 0..=60_u32.min(cut * 3) {
                let leaves = short <= cut;
                let (late, early) = (part(300 + short, 400), part(300, 400 - short));
                for part in [late, early] {
                    let answer = part.zip(whole).map(|(part, whole)| part.leaves(&whole));
                    assert_eq!(answer, Some(leaves), "{short} of {cut}");
                }
            }
            let more = part(290, 410)
                .zip(whole)
                .map(|(part, whole)| part.leaves(&whole));
            assert_eq!(more, Some(true), "counts beyond are none that are missing");
        }
    }
}

mod floor_sum {
    use crate::describe::floor_sum::floor_sum;

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "the cases below stay under 2^110"
    )]
    fn walked(terms: u128, slope: u128, intercept: u128, denominator: u128) -> u128 {
        (0..terms)
            .map(|k| (slope * k + intercept) / denominator)
            .sum()
    }

    #[test]
    fn equals_the_walked_sum_for_every_small_line() {
        for denominator in 1..12 {
            for slope in 0..30 {
                for intercept in 0..15 {
                    for terms in 0..10 {
                        assert_eq!(
                            floor_sum(terms, slope, intercept, denominator),
                            walked(terms, slope, intercept, denominator),
                            "{terms} {slope} {intercept} {denominator}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn equals_the_walked_sum_at_the_widths_of_a_calibrated_divider() {
        let (slope, intercept, denominator) = (
            (1_u128 << 92) - 12_345_678_901,
            (1_u128 << 91) + 97,
            (1_u128 << 92) - 59,
        );
        assert_eq!(
            floor_sum(70_000, slope, intercept, denominator),
            walked(70_000, slope, intercept, denominator)
        );
    }
}

mod straight_line {
    use crate::describe::straight_line::ExactLine;

    #[expect(clippy::arithmetic_side_effects, reason = "the cases stay below 2^100")]
    fn differs(line: &ExactLine, factor: u128, addend: u128, shift: u32) -> bool {
        (0..u128::from(line.terms)).any(|k| {
            (factor * k + addend) >> shift != (line.slope * k + line.intercept) / line.denominator
        })
    }

    /// Against every addend there is, for small lines at every small shift: found exactly when there is one.
    #[test]
    fn the_search_of_the_addend_is_complete() {
        let (mut found, mut none) = (0, 0);
        for denominator in 1..14_u128 {
            for slope in 0..17 {
                for intercept in 0..denominator + 3 {
                    for terms in [1, 2, 5, 9, 14] {
                        let line = ExactLine {
                            terms,
                            slope,
                            intercept,
                            denominator,
                        };
                        for shift in 0..6 {
                            let above = (slope << shift).div_ceil(denominator);
                            let some = (0..(intercept + 20) << shift).any(|addend| {
                                !differs(&line, above, addend, shift)
                                    || above > 0 && !differs(&line, above - 1, addend, shift)
                            });
                            match line.multiplier(shift) {
                                Some(m) => {
                                    assert!(
                                        !differs(&line, m.factor, m.addend, shift),
                                        "{line:?} {shift}"
                                    );
                                    found += 1;
                                }
                                None => {
                                    assert!(!some, "{line:?} {shift}");
                                    none += 1;
                                }
                            }
                        }
                    }
                }
            }
        }
        assert_eq!((found, none), (51_976, 14_324));
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
            assert_eq!(table.interpolation.gentle, gentle);
            assert_eq!(
                table.interpolation.suits_bytes(15),
                gentle && (1..=8).contains(&step_log2)
            );
        }
    }
    assert!(
        by_bytes > 10_000 && differences > 1000,
        "{by_bytes} {differences}"
    );
}

mod scaled;
mod scaled_ends;
mod short;

mod modules;
mod reciprocal;

/// What both kernels of sums take.
mod samples {
    use crate::arch::samples::fours;

    #[test]
    fn a_sum_is_of_4_to_256_samples_and_as_many_places() {
        let (mut samples, mut places) = (&[1; 260][..], &[0; 260][..]);
        let mut taken = 0;
        for number in (0..=260_u16).rev() {
            let wanted = number % 4 == 0 && (4..=256).contains(&number);
            assert_eq!(fours(samples, places), wanted.then_some(number / 4));
            assert_eq!(fours(samples, &[0; 261]), None);
            taken += u32::from(wanted);
            samples = samples.split_last().map_or(samples, |(_, others)| others);
            places = places.split_last().map_or(places, |(_, others)| others);
        }
        assert_eq!(taken, 64);
    }
}
