//! What a chip loads, against the conversion with all forms.
#![expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    reason = "numbers of tests"
)]

use super::scaled::summing;
use crate::convert::constants::Words;
use crate::convert::divided_module::DividedModule;
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::supply_module::SupplyModule;
use crate::units::{Count, Fault, Voltage};

/// A module against the conversion with all forms at every count up to the rail, with those beyond it; how many are voltages.
macro_rules! compared {
    ($module:ty, $conversion:ty, $shift:expr, $words:expr, $rail:expr) => {{
        let general = <$conversion>::from_words($shift, $words, summing($rail, 1));
        let module = <$module>::from_words($shift, $words, summing($rail, 1));
        assert_eq!(module, general.and_then(|general| general.short()));
        let (general, module) = (general?, module?);
        assert_eq!(module.constants(), general.constants());
        assert_eq!(
            (module.window(), module.summing(), module.words()),
            (general.window(), general.summing(), general.words())
        );
        let counts = (0..=$rail + 2).chain([1 << 16, (1 << 16) + 1, u32::MAX]);
        Some(equal(counts.map(|count| {
            let answer = module.voltage(Count(count));
            let units = <$module>::units(count, &module);
            assert_eq!(
                units,
                answer.map_or(u32::MAX, |Voltage(units)| units.into())
            );
            (answer, general.voltage(Count(count)))
        })))
    }};
}

fn line<const BITS: u32>(words: &Words) -> Option<u32> {
    let (shift, rail) = (BITS as u8 + 3, (1 << BITS) - 1);
    compared!(
        DividedModule<BITS>,
        DividedConversion<BITS>,
        shift,
        words,
        rail
    )
}

fn quotient(t: u8, words: &Words, rail: u32) -> Option<u32> {
    compared!(SupplyModule, SupplyConversion, t, words, rail)
}

fn equal(answers: impl Iterator<Item = (Result<Voltage, Fault>, Result<Voltage, Fault>)>) -> u32 {
    let mut voltages = 0;
    for (module, general) in answers {
        assert_eq!(module, general);
        voltages += u32::from(module.is_ok());
    }
    voltages
}

#[test]
fn a_short_module_answers_every_count_as_its_conversion() {
    assert_eq!(line::<8>(&[1, 254, 40_000, 7000, 0]), Some(254));
    assert_eq!(line::<10>(&[1, 1022, 34_202, 67_687, 0]), Some(1022));
    assert_eq!(line::<12>(&[1, 4094, 34_202, 67_687, 0]), Some(4094));
    assert_eq!(line::<12>(&[4094, 1, u16::MAX.into(), 0, 0]), Some(1));
    // M and B have eight bits in common that are 0: S stays that of the width.
    assert_eq!(line::<12>(&[1, 4094, 134 << 8, 264 << 8, 0]), Some(4094));
    assert_eq!(line::<13>(&[9, 8000, 34_202, 4, 0]), Some(8000));
    assert_eq!(line::<16>(&[1, 65_534, 34_202, 270_000, 0]), Some(65_534));
    assert_eq!(
        quotient(6, &[20, 1002, 80_281_600, 1280, 0], 1023),
        Some(1002)
    );
    assert_eq!(
        quotient(4, &[100, 3995, 80_281_600, 1608, 0], 4095),
        Some(3995)
    );
    assert_eq!(
        quotient(1, &[900, 32_000 - 134, 60_000_000, 1802, 0], 32_766),
        Some(31_866)
    );
    assert_eq!(quotient(7, &[1, 1, 0, 2, 0], 2), Some(1));
}

/// The largest sum or divisor, and one more.
#[test]
fn modules_end_where_a_sum_or_a_divisor_would() {
    // 12 bits: values below 2^16, so sums below 2^31. 16 bits: sums below 2^32, which is less than 2^35.
    for (factor, last, end) in [(34_202, 4093, 1_u32 << 31), (65_535, 1, 1 << 31)] {
        let most = end - 1 - factor * last;
        assert!(line::<12>(&[1, last + 1, factor, most, 0]).is_some());
        assert_eq!(line::<12>(&[1, last + 1, factor, most + 1, 0]), None);
    }
    assert!(line::<16>(&[1, 65_534, 65_535, u32::MAX - 65_533 * 65_535, 0]).is_some());
    assert_eq!(
        line::<16>(&[1, 65_534, 65_535, u32::MAX - 65_533 * 65_535 + 1, 0]),
        None
    );
    // D at most 2^16 - 2, and the first value below 2^16: K + D / 2 below 2^16 D there.
    for (at_first, is_short) in [(65_534 - 1600, true), (65_536 - 1600, false)] {
        let first_value = (at_first << 16) - 1 - at_first / 2;
        let take = |numerator| {
            let words = [1, 101, numerator, at_first, 0];
            assert_eq!(
                quotient(4, &words, 4095).is_some(),
                is_short && numerator <= first_value
            );
        };
        take(first_value);
        take(first_value + 1);
        take(u32::MAX);
    }
}

/// Each word that is out of its place alone.
#[test]
fn words_of_another_form_are_no_module() {
    let line = |shift, words: Words, rail| {
        DividedModule::<12>::from_words(shift, &words, summing(rail, 1)).is_some()
    };
    let quotient =
        |t, words: Words, rail| SupplyModule::from_words(t, &words, summing(rail, 1)).is_some();
    let each = |good: Words, wrongs: &[(usize, u32)], take: &dyn Fn(Words) -> bool| {
        assert!(take(good));
        for (index, wrong) in wrongs {
            let mut words = good;
            if let Some(word) = words.get_mut(*index) {
                *word = *wrong;
            }
            assert!(!take(words), "{index} {wrong}");
        }
    };
    let good = [1, 4094, 34_202, 67_687, 0];
    assert!(!line(32, good, 4095) && !line(14, good, 4095) && !line(15, good, 4094));
    let wrongs = [(0, 0), (0, 2), (1, 0), (1, 4095), (2, 1 << 16), (4, 1)];
    each(good, &wrongs, &|words| line(15, words, 4095));
    let good = [100, 3995, 80_281_600, 1608, 0];
    assert!(!quotient(0, good, 4095) && !quotient(8, good, 4095) && !quotient(4, good, 4094));
    let first = [(0, 0), (0, 101), (1, 0), (1, 3996), (2, u32::MAX)];
    each(good, &first, &|words| quotient(4, words, 4095));
    let others = [(3, 1609), (3, 0), (3, 1 << 16), (4, 1)];
    each(good, &others, &|words| quotient(4, words, 4095));
}

/// The lowest bit above a word's 16.
const HIGH: u32 = 1 << 16;

/// What lies above 16 bits is never left out: one bit there, and any two at the same place of different words.
#[test]
fn nothing_above_sixteen_bits_is_left_out() {
    let line = |words: Words, rail| {
        DividedModule::<12>::from_words(15, &words, summing(rail, 1)).is_some()
    };
    let quotient =
        |words: Words, rail| SupplyModule::from_words(4, &words, summing(rail, 1)).is_some();
    let conversion = |words: Words, rail| {
        DividedConversion::<12>::from_words(15, &words, summing(rail, 1)).is_some()
    };
    refuses([1, 4094, 34_202, 67_687, 0], [(2, HIGH), (4, 2)], &line);
    refuses(
        [1, 4094, 34_202, 67_687, 0],
        [(2, HIGH), (4, 2)],
        &conversion,
    );
    refuses(
        [100, 3995, 80_281_600, 1608, 0],
        [(3, HIGH), (3, 1)],
        &quotient,
    );
}

/// What is none of a short form, in two other places and in those of both: above first, counts and rail, and in the last word.
fn refuses(good: Words, others: [(usize, u32); 2], takes: &dyn Fn(Words, u32) -> bool) {
    let [one, other] = others;
    let rail = good.len();
    let places = [
        (0, HIGH),
        (1, HIGH),
        one,
        other,
        (4, 1),
        (4, HIGH),
        (rail, HIGH),
    ];
    assert!(takes(good, 4095));
    for one in &places {
        for other in &places {
            let (mut words, mut rail) = (good, 4095);
            for (place, bit) in [one, other] {
                match words.get_mut(*place) {
                    Some(word) => *word |= bit,
                    None => rail |= bit,
                }
            }
            assert!(!takes(words, rail), "{one:?} {other:?}");
        }
    }
}
