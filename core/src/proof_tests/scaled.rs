//! Conversions scaled on a chip against exact arithmetic of 128 bits.

use crate::convert::constants::{LineConstants, QuotientConstants};
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
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

pub(super) const fn summing(rail: u32, samples: u16) -> Summing {
    Summing {
        rail,
        samples,
        right_shift: 0,
        unit: OutputUnit::Millivolt,
    }
}

pub(super) const fn line(
    first: u32,
    counts: u32,
    factor: u128,
    addend: u128,
    shift: u8,
) -> LineConstants {
    LineConstants {
        first,
        counts,
        factor,
        addend,
        shift,
    }
}

pub(super) const fn quotient(
    first: u32,
    counts: u32,
    numerator: u64,
    at_first: u32,
    step_log2: u8,
) -> QuotientConstants {
    QuotientConstants {
        first,
        counts,
        numerator,
        at_first,
        step_log2,
    }
}

/// Quotients up to the rail: samples in a count, and what is drawn. The first three have a short form.
pub(super) fn quotients() -> [Option<(QuotientConstants, SupplyConversion)>; 6] {
    [
        (1023, 1, 25, 80_281_600, 1608, 6),
        (4095, 1, 100, 80_281_600, 1608, 4),
        (65_520, 16, 700, 40_000_000, 1400, 1),
        (65_520, 16, 2000, 1 << 43, 1 << 28, 11),
        (65_535, 1, 2000, 1 << 43, 1 << 28, 1),
        (67_107_840, 1024, 2_000_000, 160_000_000_000, 4_000_000, 1),
    ]
    .map(
        |(rail, samples, first, numerator, at_first, t): (u32, _, _, _, _, _)| {
            let constants = quotient(first, rail.abs_diff(first), numerator, at_first, t);
            let drawn = SupplyConversion::of(constants, summing(rail, samples));
            assert!(drawn.is_some(), "{constants:?} are no conversion");
            Some((constants, drawn?))
        },
    )
}

/// Each gain with each offset.
pub(super) fn scales() -> impl Iterator<Item = (U8F24, I24F8)> {
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
        let Ok(scaled) = drawn.times(gain, offset) else {
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
    for (constants, drawn) in quotients().into_iter().flatten() {
        let QuotientConstants {
            first,
            numerator,
            at_first,
            step_log2: t,
            ..
        } = constants;
        let (rail, samples) = (drawn.summing().rail, drawn.summing().samples);
        for (gain, offset) in scales() {
            let Ok(scaled) = drawn.times(gain, offset) else {
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
    let answered = |scaled: Option<bool>, allowed, constants: &dyn core::fmt::Debug| {
        assert!(scaled.is_some(), "{constants:?} are no conversion");
        assert!(allowed || scaled == Some(false), "{constants:?}");
        u32::from(scaled == Some(true))
    };
    let (mut lines, mut quotients) = (0, 0);
    for (gain, offset) in gains
        .into_iter()
        .flat_map(|gain| offsets.map(move |offset| (gain, offset)))
    {
        let allowed = (1 << 23..=1 << 25).contains(&gain) && offset.unsigned_abs() <= 1 << 20;
        let (gain, offset) = (U8F24::from_bits(gain), I24F8::from_bits(offset));
        for line in [
            line(1, 67_107_838, 1_175_112_345_678_901, 1 << 63, 64),
            line(1, 67_107_838, 0, 0, 64),
            line(1, 67_107_838, 0, (1_u128 << 80) - 1, 64),
            line(67_107_838, 1, (1 << 80) - 1, (1 << 80) - 1, 64),
            line(1, 1, (1 << 80) - 1, 0, 64),
        ] {
            let made = DividedConversion::<26>::of(line, summing(67_107_840, 1024));
            let scaled = made.map(|drawn| drawn.times(gain, offset).is_ok());
            lines += answered(scaled, allowed, &line);
        }
        for quotient in [
            quotient(1, 67_107_839, 0, 2, 1),
            quotient(67_107_839, 1, (1 << 44) - 1, (1 << 29) - 2, 28),
            quotient(67_107_838, 2, 1 << 16, 2, 28),
            quotient(1, 1, 0, 2, 28),
        ] {
            let made = SupplyConversion::of(quotient, summing(67_107_840, 1024));
            let scaled = made.map(|drawn| drawn.times(gain, offset).is_ok());
            quotients += answered(scaled, allowed, &quotient);
        }
    }
    assert!(lines > 0 && quotients > 0, "{lines} {quotients}");
}

/// An offset is in counts of a sample: sixteen that are summed and shifted by four move as much as one.
#[test]
fn a_shifted_sum_moves_as_a_sample() {
    let shifted = Summing {
        right_shift: 4,
        ..summing(4095, 16)
    };
    let drawn = line(1, 4094, 34_202, 67_687, 15);
    let lines = [summing(4095, 1), shifted]
        .map(|summing| DividedConversion::<12>::of(drawn, summing).ok_or(drawn));
    let drawn = quotient(100, 3995, 80_281_600, 1608, 4);
    let quotients = [summing(4095, 1), shifted]
        .map(|summing| SupplyConversion::of(drawn, summing).ok_or(drawn));
    for (gain, offset) in scales() {
        let [one, sixteen] =
            lines.map(|line| line.map(|line| line.times(gain, offset).map(|of| of.constants())));
        assert!(one.is_ok() && one == sixteen, "{gain} {offset}");
        let [one, sixteen] =
            quotients.map(|of| of.map(|of| of.times(gain, offset).map(|of| of.constants())));
        assert!(one.is_ok() && one == sixteen, "{gain} {offset}");
    }
}
