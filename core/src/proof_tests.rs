//! Tests of the proofs' inner parts.
//!
//! Apart from the files they test, because the mutants of `host-tests` compile those files with a wrong rounding.

use crate::convert::table::Table;

mod division {
    use crate::convert::division::{divide, divide_short, sixteen_steps};

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
                if let (Ok(short), true) = (u32::try_from(numerator), denominator < 1 << 16) {
                    assert_eq!(u64::from(divide_short(short, denominator)), wanted);
                    compared += 1;
                }
            }
            denominator += if denominator < 1 << 18 { 2 } else { 2_022 };
        }
        assert_eq!(compared, 65_534, "short numerators compared");
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

/// Conversions scaled on a chip against exact arithmetic of 128 bits.
mod scaled {
    use crate::convert::line::{DividedConversion, LineConstants};
    use crate::convert::quotient::{QuotientConstants, SupplyConversion};
    use crate::convert::window::Summing;
    use crate::units::{Count, OutputUnit};
    use fixed::types::{I24F8, U8F24};

    /// From half to double, with the neighbours of 1.
    const GAINS: [u32; 7] = [
        1 << 23,
        16_500_001,
        (1 << 24) - 1,
        1 << 24,
        (1 << 24) + 1,
        17_100_123,
        1 << 25,
    ];
    /// In 2^-8 of a sample's count, from the least to the largest.
    const OFFSETS: [i32; 9] = [-(1 << 20), -65_537, -771, -1, 0, 1, 640, 65_537, 1 << 20];

    const fn summing(rail: u32, samples: u16) -> Summing {
        Summing {
            rail,
            samples,
            right_shift: 0,
            unit: OutputUnit::Millivolt,
        }
    }

    /// Each gain with each offset.
    fn scales() -> impl Iterator<Item = (U8F24, I24F8)> {
        GAINS.into_iter().flat_map(|gain| {
            let gain = U8F24::from_bits(gain);
            OFFSETS
                .into_iter()
                .map(move |offset| (gain, I24F8::from_bits(offset)))
        })
    }

    /// The greatest distance from the exact line in 2^-32 of an output step, over a set of a window's counts, and how many
    /// scales give a conversion. Its window must hold every count that is a voltage.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "M and B below 2^81, products below 2^120"
    )]
    fn farthest<const BITS: u32>(
        constants: LineConstants,
        summing: Summing,
        every: usize,
    ) -> (i128, u32) {
        let Some(drawn) = DividedConversion::<BITS>::of(constants, summing) else {
            return (i128::MAX, 0);
        };
        let (mut farthest, mut given) = (0, 0);
        for (gain, offset) in scales() {
            let Ok(scaled) = drawn.scaled(gain, offset) else {
                continue;
            };
            given += 1;
            let line = scaled.constants();
            let whole = |part: u128| (part << (64 - line.shift) >> 32).cast_signed();
            let (m, b) = (whole(line.factor), whole(line.addend));
            let at = |count: u32| m * (i128::from(count) - i128::from(line.first)) + b;
            let window = line.first..line.first + line.counts;
            for outside in [window.start - 1, window.end] {
                let is_count = 0 < outside && outside < summing.rail;
                assert!(
                    !is_count || !(0..1 << 48).contains(&at(outside)),
                    "{gain} {offset}: {outside} would be a voltage"
                );
            }
            let shift = u32::from(constants.shift);
            let off = i128::from(offset.to_bits()) * i128::from(summing.samples);
            for count in window.step_by(every) {
                assert_eq!(
                    scaled.voltage(Count(count)).ok().map(|v| i128::from(v.0)),
                    Some(at(count) >> 32)
                );
                let from_first = (i128::from(count) - i128::from(constants.first)) * 256 - off;
                let b = constants.addend.cast_signed() * 2 - (1 << shift);
                let exact = (constants.factor.cast_signed() * from_first * 2 + b * 256)
                    * i128::from(gain.to_bits());
                // Over 2^(shift + 33), of which 2^33 are the gain's and the offset's fractions and the doubling.
                let distance = ((at(count) - (1 << 31)) << (shift + 1)) - exact;
                farthest = farthest.max(distance.abs() >> (shift + 1));
            }
        }
        (farthest, given)
    }

    #[test]
    fn a_scaled_line_is_the_nearest_at_every_count() {
        let line = |first, counts, factor, addend, shift| LineConstants {
            first,
            counts,
            factor,
            addend,
            shift,
        };
        let narrow = 1 << 16;
        for (name, (distance, given), promised) in [
            (
                "10 bits",
                farthest::<10>(line(1, 1022, 34_202, 67_687, 13), summing(1023, 1), 1),
                narrow,
            ),
            (
                "12 bits",
                farthest::<12>(line(1, 4094, 34_202, 67_687, 15), summing(4095, 1), 1),
                narrow,
            ),
            (
                "12 bits, long",
                farthest::<12>(line(5, 4000, 4_482_861_123, 0, 32), summing(4095, 1), 1),
                narrow,
            ),
            (
                "16 bits",
                farthest::<16>(line(1, 65_519, 34_211, 270_000, 19), summing(65_520, 16), 7),
                narrow,
            ),
            (
                "16 bits, long",
                farthest::<16>(
                    line(900, 64_000, 280_246_789, 1 << 40, 32),
                    summing(65_520, 16),
                    7,
                ),
                narrow,
            ),
            (
                "26 bits",
                farthest::<26>(
                    line(1, 67_107_838, (273_603 << 32) - 1, 1 << 63, 64),
                    summing(67_107_840, 1024),
                    40_009,
                ),
                1 << 26,
            ),
        ] {
            assert!(given >= 35, "{name}: only {given} scales give a conversion");
            assert!(distance <= promised, "{name}: {distance} of {promised}");
        }
    }

    /// K and D of what is scaled against exact ones, which differ by a power of two: so at all counts at once.
    #[test]
    fn a_scaled_quotient_is_the_nearest() {
        let mut given = 0;
        for (rail, samples, first, numerator, at_first, t) in [
            (1023, 1, 25, 80_281_600, 1608, 6),
            (4095, 1, 100, 80_281_600, 1608, 4),
            (65_520, 16, 700, 40_000_000, 1400, 1),
            (65_520, 16, 2000, 1 << 43, 1 << 28, 11),
            (65_535, 1, 2000, 1 << 43, 1 << 28, 1),
            (67_107_840, 1024, 2_000_000, 160_000_000_000, 4_000_000, 1),
        ] {
            let constants = QuotientConstants {
                first,
                counts: rail - first,
                numerator,
                at_first,
                step_log2: t,
            };
            let Some(drawn) = SupplyConversion::of(constants, summing(rail, samples)) else {
                assert_eq!(rail, 0, "{constants:?} are no conversion");
                continue;
            };
            for (gain, offset) in scales() {
                let Ok(scaled) = drawn.scaled(gain, offset) else {
                    continue;
                };
                given += 1;
                let quotient = scaled.constants();
                let places = u32::from(quotient.step_log2 - t);
                let wanted = (i128::from(numerator) << places) * i128::from(gain.to_bits());
                let distance = (i128::from(quotient.numerator) << 24) - wanted;
                assert!(
                    distance.abs() <= 1 << 23,
                    "{constants:?} {gain}: K off by {distance}"
                );
                // D at count 0, in 2^-8.
                let zero = |at_first: u32, first: u32, step| {
                    (i128::from(at_first) - (i128::from(first) << step)) << 8
                };
                let off = (i128::from(offset.to_bits()) * i128::from(samples)) << t;
                let wanted = (zero(at_first, first, t) - off) << places;
                let distance: i128 =
                    zero(quotient.at_first, quotient.first, quotient.step_log2) - wanted;
                assert!(
                    distance.abs() <= 1 << 8,
                    "{constants:?} {offset}: D off by {distance}"
                );
                for count in (0..=rail).step_by(1 + rail as usize / 5000) {
                    let position = i128::from(count) - i128::from(quotient.first);
                    let d = (position << quotient.step_log2) + i128::from(quotient.at_first);
                    let value = (d > 1).then(|| (i128::from(quotient.numerator) + d / 2) / d);
                    let wanted = value.filter(|v| *v < 1 << 16 && 0 < count && count < rail);
                    let voltage = scaled.voltage(Count(count)).ok();
                    assert_eq!(
                        voltage.map(|v| i128::from(v.0)),
                        wanted,
                        "{gain} {offset} {count}"
                    );
                }
            }
        }
        assert!(given >= 150, "only {given} scales give a conversion");
    }

    /// Gains and offsets at and beyond their limits are answered, whatever the constants, and beyond them refused.
    #[test]
    fn extremes_are_errors() {
        let gains = [
            0,
            1,
            (1 << 23) - 1,
            1 << 23,
            1 << 25,
            (1 << 25) + 1,
            u32::MAX,
        ];
        let offsets = [
            i32::MIN,
            -(1 << 20) - 1,
            -(1 << 20),
            1 << 20,
            (1 << 20) + 1,
            i32::MAX,
        ];
        let (mut lines, mut quotients) = (0, 0);
        for (gain, offset) in gains
            .into_iter()
            .flat_map(|gain| offsets.map(move |offset| (gain, offset)))
        {
            let allowed = (1 << 23..=1 << 25).contains(&gain) && offset.unsigned_abs() <= 1 << 20;
            let (gain, offset) = (U8F24::from_bits(gain), I24F8::from_bits(offset));
            for (first, counts, factor, addend, shift) in [
                (1, 67_107_838, 1_175_112_345_678_901, 1 << 63, 64),
                (1, 67_107_838, 0, 0, 64),
                (1, 67_107_838, 0, (1_u128 << 80) - 1, 64),
                (67_107_838, 1, (1 << 80) - 1, (1 << 80) - 1, 64),
                (1, 1, (1 << 80) - 1, 0, 64),
            ] {
                let line = LineConstants {
                    first,
                    counts,
                    factor,
                    addend,
                    shift,
                };
                let made = DividedConversion::<26>::of(line, summing(67_107_840, 1024));
                let scaled = made.map(|drawn| drawn.scaled(gain, offset));
                assert!(scaled.is_some(), "{line:?} is no conversion");
                assert!(
                    allowed || scaled.is_some_and(|s| s.is_err()),
                    "{line:?} {gain} {offset}"
                );
                lines += u32::from(scaled.is_some_and(|s| s.is_ok()));
            }
            for (first, counts, numerator, at_first, step_log2) in [
                (1, 67_107_839, 0, 2, 1),
                (67_107_839, 1, (1 << 44) - 1, (1 << 29) - 2, 28),
                (67_107_838, 2, 1 << 16, 2, 28),
                (1, 1, 0, 2, 28),
            ] {
                let quotient = QuotientConstants {
                    first,
                    counts,
                    numerator,
                    at_first,
                    step_log2,
                };
                let made = SupplyConversion::of(quotient, summing(67_107_840, 1024));
                let scaled = made.map(|drawn| drawn.scaled(gain, offset));
                assert!(scaled.is_some(), "{quotient:?} is no conversion");
                assert!(
                    allowed || scaled.is_some_and(|s| s.is_err()),
                    "{quotient:?} {gain} {offset}"
                );
                quotients += u32::from(scaled.is_some_and(|s| s.is_ok()));
            }
        }
        assert!(lines > 0 && quotients > 0, "{lines} {quotients}");
    }
}

/// The kernels' names on this target: the portable methods under them.
#[cfg(feature = "arch")]
mod arch {
    use crate::arch::samples::fours;
    use crate::arch::{divided, supply, temperature};
    use crate::convert::line::{DividedConversion, LineConstants};
    use crate::convert::quotient::{QuotientConstants, SupplyConversion};
    use crate::convert::table::Table;
    use crate::convert::thermistor::{SensorSide, Thermistor, ThermistorDescription};
    use crate::convert::window::Summing;
    use crate::units::{Count, OutputUnit, Sample};

    const SUMMING: Summing = Summing {
        rail: 4095,
        samples: 1,
        right_shift: 0,
        unit: OutputUnit::Millivolt,
    };

    #[test]
    fn every_reading_is_that_of_the_portable_method() {
        let line = LineConstants {
            first: 1,
            counts: 4094,
            factor: 34_202,
            addend: 67_687,
            shift: 15,
        };
        let quotient = QuotientConstants {
            first: 100,
            counts: 3995,
            numerator: 80_281_600,
            at_first: 1608,
            step_log2: 4,
        };
        let mut entries = [900; 17];
        for (entry, steps) in entries.iter_mut().zip(0..) {
            *entry -= 61 * steps;
        }
        let sensor = Table::new(&entries, 7, 0).and_then(|table| {
            Thermistor::new(ThermistorDescription {
                first: Count(300),
                table,
                counts: 2048,
                low_wire: Count(100),
                high_wire: Count(4000),
                side: SensorSide::Low,
            })
        });
        let (line, quotient) = (
            DividedConversion::<12>::of(line, SUMMING),
            SupplyConversion::of(quotient, SUMMING),
        );
        let (Some(line), Some(quotient), Ok(sensor)) = (line, quotient, sensor) else {
            assert!(entries.is_empty(), "a conversion is none");
            return;
        };
        let (mut volts, mut degrees) = (0, 0);
        for count in (0..=4200).chain([u32::MAX]).map(Count) {
            assert_eq!(divided(&line, count), line.voltage(count));
            assert_eq!(supply(&quotient, count), quotient.voltage(count));
            assert_eq!(temperature(&sensor, count), sensor.temperature(count));
            volts += u32::from(divided(&line, count).is_ok());
            degrees += u32::from(temperature(&sensor, count).is_ok());
        }
        assert_eq!((volts, degrees), (4094, 2048));
    }

    #[test]
    fn a_sum_is_of_4_to_256_samples_and_as_many_places() {
        let (mut samples, mut places) = (&[Sample(1); 260][..], &[0; 260][..]);
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
