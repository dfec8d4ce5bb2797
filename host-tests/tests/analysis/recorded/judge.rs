//! Records that stand at a rule's edge, made by hand: every reason against one, and none on the right side of the edge.

use tallyvolt_analysis::calibrate::recorded::judge::{Judge, Judged};
use tallyvolt_analysis::describe::firmware::Conversion;
use tallyvolt_harness::simulated::front_end;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::outcome::Outcome;

/// Bits 0 to 31 of the constants, and bits 32 to 47 of the first one, or of both of a divided input.
struct Words {
    shift: u8,
    first: u32,
    counts: u32,
    high: [u32; 2],
    low: [u16; 2],
}

/// A record by the table of layout 2, under a right CRC.
fn bytes(front_end: &FrontEnd, words: &Words) -> Vec<u8> {
    let fingerprint = judge(front_end).fingerprint();
    let mut bytes = vec![0xB2, words.shift, 7, 0];
    for word in [
        fingerprint,
        words.first,
        words.counts,
        words.high[0],
        words.high[1],
    ] {
        bytes.extend(word.to_le_bytes());
    }
    for half in words.low {
        bytes.extend(half.to_le_bytes());
    }
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&bytes);
    bytes.extend(crc.to_le_bytes());
    bytes
}

/// `(factor (count - first) + addend) / 2^32`, the two in 48 bits.
fn line(first: u32, counts: u32, factor: u64, addend: u64) -> Words {
    let low = |value: u64| u16::try_from(value & 0xFFFF).expect("16 bits");
    let high = |value: u64| u32::try_from(value >> 16).expect("48 bits");
    Words {
        shift: 32,
        first,
        counts,
        high: [high(factor), high(addend)],
        low: [low(factor), low(addend)],
    }
}

/// `numerator / (4 (count - first) + at_first)`.
fn quotient(first: u32, counts: u32, numerator: u32, at_first: u32) -> Words {
    Words {
        shift: 2,
        first,
        counts,
        high: [numerator, at_first],
        low: [0, 0],
    }
}

fn judge(front_end: &FrontEnd) -> Judge<'_> {
    Judge::new(front_end).expect("shipped")
}

fn judged(front_end: &FrontEnd, bytes: &[u8]) -> Judged {
    let subject = |conversion: &Conversion, count| conversion.outcome(count);
    judge(front_end).judge(bytes, &subject, &|_| ())
}

/// The reasons, each up to its fix, which every reason has.
fn reasons(front_end: &FrontEnd, words: &Words) -> Vec<String> {
    let judged = judged(front_end, &bytes(front_end, words));
    assert!(judged.module.is_some(), "{:?}", judged.reasons);
    let cut = |reason: &String| reason.rsplit_once("; ").expect("a fix").0.to_owned();
    judged.reasons.iter().map(cut).collect()
}

/// What is sound with the words as they are, and has these reasons with one of them changed.
fn edge(front_end: &FrontEnd, sound: &Words, beyond: &Words, why: &[&str]) {
    assert_eq!(reasons(front_end, sound), [""; 0]);
    assert_eq!(reasons(front_end, beyond), why);
}

/// As drawn: 1200 mV * 4096 / (count + 1/2), of which 75 is the first count below 65.5 V.
const K: u32 = 4 * 1200 * 4096;

#[test]
fn a_gain_of_a_half_and_of_two_may_be_stored() {
    let mut supply = front_end("hut-supply-12bit");
    let at = |first: u32, numerator| quotient(first, 4095 - first, numerator, 4 * first + 2);
    edge(
        &supply,
        &at(38, K / 2),
        &at(38, K / 2 - 1),
        &["gain 0.50000, stored are 0.5 to 2"],
    );
    // Twice what is drawn, 2401 mV at the last count.
    supply.cell.min_uv = 2_500_000;
    edge(
        &supply,
        &at(150, 2 * K),
        &at(150, 2 * K + 1),
        &["gain 2.00000, stored are 0.5 to 2"],
    );
}

#[test]
fn an_offset_of_4096_counts_may_be_stored() {
    // A step of 0.1 mV a count, where 0.065 are drawn.
    let fine = front_end("hut-divided-16bit-100uv");
    let (step, quarter) = (1_u64 << 32, 1_u64 << 30);
    // Zero at 4095.5 counts, and the first voltage there: -0.5 is rounded up.
    edge(
        &fine,
        &line(4095, 61_440, step, 0),
        &line(4096, 61_439, step, 3 * quarter),
        &["offset +4096.25 counts, stored are up to 4096"],
    );
    // Zero at -4096.5 counts: the first count stands at 4097.5 steps, and a half more rounds.
    edge(
        &fine,
        &line(1, 61_438, step, 4098 * step),
        &line(1, 61_438, step, 4098 * step + quarter),
        &["offset -4096.25 counts, stored are up to 4096"],
    );
}

#[test]
fn a_quotients_offset_is_told_in_counts_of_one_sample() {
    let supply = front_end("hut-supply-12bit");
    // 4096 counts before the first one, and a half more; at most 1200 mV are read there.
    let at = |more: u32| quotient(1, 4094, K, 4 + 2 + 4 * 4096 + more);
    let full = |high: f64| {
        format!("the fullest cell, 3650 mV, is not read: the highest voltage is {high:.1} mV")
    };
    assert_eq!(reasons(&supply, &at(0)), [full(1200.0)]);
    let offset = "offset -4096.50 counts, stored are up to 4096";
    assert_eq!(reasons(&supply, &at(2)), [offset.into(), full(1199.0)]);
    // Sums of sixteen: 1200 mV * 2^16 / (sum + 8) as drawn, and 4800 sums are 300 counts.
    let summed = front_end("hut-supply-12bit-x16");
    let words = Words {
        shift: 1,
        ..quotient(1, 27_959, 2 * (1200 << 16), 2 * (1 + 8 + 4800))
    };
    let judged = judged(&summed, &bytes(&summed, &words));
    let module = judged.module.expect("constants within their limits");
    assert_eq!((module.gain, module.offset), (1.0, Some(-300.0)));
}

#[test]
fn the_cell_stands_within_the_voltages() {
    let supply = front_end("hut-supply-12bit");
    let at = |first: u32, last: u32| quotient(first, last + 1 - first, K, 4 * first + 2);
    // 2000.08 mV at 2457, 2000.90 at 2456; 3650.35 mV at 1346, 3647.64 at 1347.
    let left_out = "the window leaves out count 2473, which the constants give a voltage";
    assert_eq!(reasons(&supply, &at(75, 2457)), [left_out]);
    let left_out = "the window leaves out count 2472, which the constants give a voltage";
    let empty = "the emptiest cell, 2000 mV, is not read: the lowest voltage is 2001.0 mV";
    assert_eq!(reasons(&supply, &at(75, 2456)), [left_out, empty]);
    let left_out = "the window leaves out count 1330, which the constants give a voltage";
    assert_eq!(reasons(&supply, &at(1346, 4094)), [left_out]);
    let left_out = "the window leaves out count 1331, which the constants give a voltage";
    let full = "the fullest cell, 3650 mV, is not read: the highest voltage is 3648.0 mV";
    assert_eq!(reasons(&supply, &at(1347, 4094)), [left_out, full]);
    // In steps of 0.1 mV, as drawn: 1225 mV * 3.49 / 2^16 a count, and 2000.01 mV at 30 658.
    let fine = front_end("hut-divided-16bit-100uv");
    let step = 12_250 * 349 * 65_536 / 100;
    let at = |first: u32| {
        let addend = step * u64::from(first) + step / 2 + (1 << 31);
        line(first, 65_535 - first, step, addend)
    };
    let left_out = "the window leaves out count 30402, which the constants give a voltage";
    assert_eq!(reasons(&fine, &at(30_658)), [left_out]);
    let left_out = "the window leaves out count 30403, which the constants give a voltage";
    let empty = "the emptiest cell, 2000 mV, is not read: the lowest voltage is 2000.1 mV";
    assert_eq!(reasons(&fine, &at(30_659)), [left_out, empty]);
}

#[test]
fn a_fit_cuts_off_one_count_in_256_at_either_end() {
    let divided = front_end("hut-divided-12bit");
    // As drawn at 32 bits: 1.044 mV a count.
    let slope = 34_202_u64 << 17;
    let at = |first: u32, last: u32| {
        let addend = slope * u64::from(first) + (33_492 << 17);
        line(first, last + 1 - first, slope, addend)
    };
    edge(
        &divided,
        &at(16, 4094),
        &at(17, 4094),
        &["the window leaves out count 1, which the constants give a voltage"],
    );
    edge(
        &divided,
        &at(1, 4079),
        &at(1, 4078),
        &["the window leaves out count 4094, which the constants give a voltage"],
    );
}

#[test]
fn counts_with_a_wrong_answer_are_told_and_the_lowest_is_shown() {
    let divided = front_end("hut-divided-12bit");
    let judge = judge(&divided);
    assert_eq!(judge.counts(), 4096);
    let slope = 34_202_u64 << 17;
    let drawn = line(1, 4094, slope, slope + (33_492 << 17));
    let wrong = |conversion: &Conversion, count| match conversion.outcome(count) {
        Outcome::Units(units) if [700, 701, 3000].contains(&count) => Outcome::Units(units + 1),
        right => right,
    };
    let judged = judge.judge(&bytes(&divided, &drawn), &wrong, &|_| ());
    assert_eq!(
        judged.reasons,
        [
            "3 of 4096 counts are not the exact rational of the constants: count 700 gives 732 and not 731; fit the module again"
        ]
    );
    assert!(!judged.is_sound());
}

#[test]
fn a_refused_record_is_told_with_its_fix() {
    let divided = front_end("hut-divided-12bit");
    let slope = 34_202_u64 << 17;
    let drawn = bytes(&divided, &line(1, 4094, slope, slope + (33_492 << 17)));
    let with = |at: usize, byte: u8| {
        let mut bytes = drawn.clone();
        bytes[at] = byte;
        bytes
    };
    // This front end is 0x92d0b380.
    let mut others = drawn.clone();
    others[4] ^= 1;
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&others[..28]);
    others[28..].copy_from_slice(&crc.to_le_bytes());
    let refused = bytes(&divided, &line(1, 4095, slope, slope + (33_492 << 17)));
    for (bytes, head, blank, why) in [
        (
            drawn[..31].to_vec(),
            false,
            false,
            "31 bytes, a record has 32; read the memory again",
        ),
        (
            vec![0xFF; 32],
            false,
            true,
            "erased, nothing was written; the module converts as drawn: write its record",
        ),
        (
            with(0, 0x12),
            false,
            false,
            "something other than a calibration record; look for the record's address",
        ),
        (
            with(0, 0xB3),
            true,
            false,
            "layout version 3, known is 2; write the record again",
        ),
        (
            with(20, 0),
            true,
            false,
            "damaged: the CRC is not that of the bytes; read it again, and write it again if that does not help",
        ),
        (
            others,
            true,
            false,
            "made for another front end, 0x92d0b381; give the front-end file that it was fitted with, or fit the module with this one",
        ),
        (
            refused,
            true,
            false,
            "constants that the type of conversion refuses; a chip refuses them: take constants from `fit` or a self-calibration",
        ),
    ] {
        let judged = judged(&divided, &bytes);
        assert_eq!(judged.reasons, [why]);
        assert_eq!((judged.head.is_some(), judged.blank), (head, blank));
        assert!(judged.module.is_none());
    }
    assert!(judged(&divided, &drawn).is_sound());
}
