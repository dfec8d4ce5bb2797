//! The calibration record: its bytes, its CRC, and what it refuses.

use std::collections::HashMap;

use crc::{Algorithm, CRC_32_ISCSI, Crc, NoTable};
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt::{
    Acquisition, CellRange, ConfigError, Count, DividedConversion, DividedDescription,
    DividedInput, DividedModule, Fingerprint, LineConstants, OutputUnit, QuotientConstants,
    RECORD_BYTES, RECORD_VERSION, Record, RecordError, SupplyDescription, SupplyReference,
};

const BITS: usize = 8 * RECORD_BYTES;
/// Bytes under the CRC.
const BODY: usize = RECORD_BYTES - 4;

const DIVIDED: DividedDescription = DividedDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_225_000,
    top_ohms: 24_900,
    bottom_ohms: 10_000,
    cell: CellRange {
        min_uv: 2_000_000,
        max_uv: 3_650_000,
    },
    unit: OutputUnit::Millivolt,
};

fn input() -> DividedInput {
    DividedInput::new(DIVIDED).expect("legal")
}

fn reference() -> SupplyReference {
    SupplyReference::new(SupplyDescription {
        acquisition: DIVIDED.acquisition,
        reference_uv: 1_200_000,
        cell: DIVIDED.cell,
        unit: DIVIDED.unit,
    })
    .expect("legal")
}

fn front_end() -> Fingerprint {
    input().fingerprint()
}

/// Constants in the short form, of a module with a gain of 1.004 or so.
const LINE: LineConstants = LineConstants {
    first: 1,
    counts: 4094,
    factor: 34_340,
    addend: 67_900,
    shift: 15,
};

fn module(constants: LineConstants) -> DividedConversion<12> {
    input().module(constants).expect("within limits")
}

fn sample() -> Record {
    input().record(&module(LINE), 7)
}

fn resealed(mut bytes: [u8; RECORD_BYTES]) -> [u8; RECORD_BYTES] {
    let crc = Crc::<u32, NoTable>::new(&CRC_32_ISCSI).checksum(&bytes[..BODY]);
    bytes[BODY..].copy_from_slice(&crc.to_le_bytes());
    bytes
}

fn flipped(mut bytes: [u8; RECORD_BYTES], bit: usize) -> [u8; RECORD_BYTES] {
    bytes[bit / 8] ^= 1 << (bit % 8);
    bytes
}

/// RevEng catalogue, CRC-32/ISCSI: 0xE3069283 over "123456789". The record's CRC is that of its first 28 bytes.
#[test]
fn the_crc_is_crc_32c() {
    let published = Crc::<u32, NoTable>::new(&CRC_32_ISCSI);
    assert_eq!(published.checksum(b"123456789"), 0xE306_9283);
    let bytes = sample().encode();
    let stored = u32::from_le_bytes(bytes[BODY..].try_into().expect("four bytes"));
    assert_eq!(stored, published.checksum(&bytes[..BODY]));
}

/// The two columns of the table in `core/src/keep/record.rs`, in all forms.
#[test]
fn every_byte_stands_where_the_layout_says() {
    let bytes = sample().encode();
    assert_eq!(bytes[..4], [0xB2, 15, 7, 0]);
    assert_eq!(bytes[4..8], front_end().0.to_le_bytes());
    let words = |bytes: &[u8]| -> Vec<u32> {
        bytes
            .chunks(4)
            .map(|word| u32::from_le_bytes(word.try_into().expect("four bytes")))
            .collect()
    };
    assert_eq!(words(&bytes[8..28]), [1, 4094, 34_340, 67_900, 0]);

    let long = LineConstants {
        factor: 0x0001_0B34_5678,
        addend: 0x0002_1112_9ABC,
        shift: 32,
        ..LINE
    };
    let bytes = input().record(&module(long), 0x0102).encode();
    assert_eq!(bytes[..4], [0xB2, 32, 0x02, 0x01]);
    assert_eq!(words(&bytes[8..24]), [1, 4094, 0x0001_0B34, 0x0002_1112]);
    assert_eq!(bytes[24..28], [0x78, 0x56, 0xBC, 0x9A]);

    let quotient = QuotientConstants {
        first: 75,
        counts: 4020,
        numerator: 0x01_2345_6789,
        at_first: 75 << 10,
        step_log2: 10,
    };
    let reference = reference();
    let module = reference.module(quotient).expect("within limits");
    let bytes = reference.record(&module, 1).encode();
    assert_eq!(bytes[1], 10);
    assert_eq!(words(&bytes[8..24]), [75, 4020, 0x2345_6789, 75 << 10]);
    assert_eq!(bytes[24..28], [1, 0, 0, 0]);
    assert_eq!(reference.load(&bytes), Ok(module));
}

/// 32-bit remainders of every single-bit change: a CRC is linear, so a set of changes goes unnoticed exactly when the
/// exclusive or of its remainders is zero, whatever the record holds.
fn remainders(crc: &Crc<u32, NoTable>) -> Vec<u32> {
    let of = |bytes: &[u8; RECORD_BYTES]| {
        let stored = u32::from_le_bytes(bytes[BODY..].try_into().expect("four bytes"));
        crc.checksum(&bytes[..BODY]) ^ stored
    };
    let clean = of(&[0; RECORD_BYTES]);
    (0..BITS)
        .map(|bit| of(&flipped([0; RECORD_BYTES], bit)) ^ clean)
        .collect()
}

/// How many sets of 1 to 5 changes go unnoticed, at least (0 means none): pairs are looked up among singles, pairs and
/// triples, so every set of up to 5 is met.
fn unnoticed(remainders: &[u32]) -> u64 {
    let mut found = 0;
    let mut pairs: HashMap<u32, ()> = HashMap::new();
    let singles: HashMap<u32, ()> = remainders.iter().map(|r| (*r, ())).collect();
    found += u64::from(singles.contains_key(&0)) + u64::from(singles.len() < remainders.len());
    for (i, a) in remainders.iter().enumerate() {
        for b in &remainders[..i] {
            found += u64::from(singles.contains_key(&(a ^ b)));
            // Two pairs alike: a set of four.
            found += u64::from(pairs.insert(a ^ b, ()).is_some());
        }
    }
    for (i, a) in remainders.iter().enumerate() {
        for (j, b) in remainders[..i].iter().enumerate() {
            for c in &remainders[..j] {
                // A triple equal to a disjoint pair: a set of five. Sharing a bit, it is a pair equal to a single.
                found += u64::from(pairs.contains_key(&(a ^ b ^ c)));
            }
        }
    }
    found
}

#[test]
fn every_change_of_1_to_5_bits_is_noticed_by_linearity() {
    let published = Crc::<u32, NoTable>::new(&CRC_32_ISCSI);
    assert_eq!(unnoticed(&remainders(&published)), 0);
}

/// Negative control: a generator polynomial of x^32 + 1 only folds words together.
#[test]
fn a_broken_crc_is_caught_by_the_same_test() {
    static FOLD: Algorithm<u32> = Algorithm {
        poly: 1,
        ..CRC_32_ISCSI
    };
    assert!(unnoticed(&remainders(&Crc::<u32, NoTable>::new(&FOLD))) > 0);
}

#[test]
fn linearity_holds_for_the_records_crc() {
    let published = Crc::<u32, NoTable>::new(&CRC_32_ISCSI);
    let remainders = remainders(&published);
    let mut random = ChaCha8Rng::seed_from_u64(5);
    for _ in 0..10_000 {
        let record = sample().with_sequence(random.random());
        let (mut bytes, mut expected) = (record.encode(), 0);
        for _ in 0..random.random_range(1..40) {
            let bit = random.random_range(0..BITS);
            bytes = flipped(bytes, bit);
            expected ^= remainders[bit];
        }
        let stored = u32::from_le_bytes(bytes[BODY..].try_into().expect("four bytes"));
        assert_eq!(published.checksum(&bytes[..BODY]) ^ stored, expected);
    }
}

/// Through `decode` itself, exhaustively: 256 + 32 640 changes.
#[test]
fn decode_refuses_every_change_of_one_and_two_bits() {
    let clean = sample().encode();
    let mut decoded = 0;
    for one in 0..BITS {
        let first = flipped(clean, one);
        assert!(Record::decode(&first, front_end()).is_err(), "bit {one}");
        decoded += 1;
        for two in 0..one {
            assert!(
                Record::decode(&flipped(first, two), front_end()).is_err(),
                "bits {one}, {two}"
            );
            decoded += 1;
        }
    }
    assert_eq!(decoded, 256 + 32_640);
}

#[test]
fn refusals_have_names() {
    let clean = sample().encode();
    let decode = |bytes: &[u8]| Record::decode(bytes, front_end());
    assert_eq!(decode(&clean), Ok(sample()));
    for bytes in [0, 1, 3, 4, 24, 31, 33, 256] {
        assert_eq!(decode(&vec![7; bytes]), Err(RecordError::Length { bytes }));
    }
    assert_eq!(decode(&[0xFF; RECORD_BYTES]), Err(RecordError::Blank));
    assert_eq!(decode(&[0; RECORD_BYTES]), Err(RecordError::Blank));
    assert_eq!(decode(&[7; RECORD_BYTES]), Err(RecordError::NotARecord));
    let mut later = clean;
    later[0] = 0xB0 | (RECORD_VERSION + 1);
    assert_eq!(
        decode(&resealed(later)),
        Err(RecordError::Version { version: 3 })
    );
    assert_eq!(decode(&flipped(clean, 100)), Err(RecordError::Damaged));
    assert_eq!(
        Record::decode(&clean, Fingerprint(1)),
        Err(RecordError::OtherFrontEnd {
            made_for: front_end()
        })
    );
}

/// Loads with all forms, and sees that a chip that has the short form alone takes just what is in it, and refuses the rest by the same name.
fn load(bytes: &[u8]) -> Result<DividedConversion<12>, RecordError> {
    let module: Result<DividedConversion<12>, _> = input().load(bytes);
    let short: Result<DividedModule<12>, _> = input().load(bytes);
    let wanted = module.and_then(|module| module.short().ok_or(RecordError::Constants));
    assert_eq!(short, wanted);
    module
}

/// Constants under a right CRC that would wrap, leave the output's range, or reach beyond the counts: each is refused, and what stands
/// just within its limit is taken.
#[test]
fn constants_beyond_their_limits_are_refused_whatever_the_crc_says() {
    let clean = sample().encode();
    let with = |at: usize, value: u32| {
        let mut bytes = clean;
        bytes[at..at + 4].copy_from_slice(&value.to_le_bytes());
        load(&resealed(bytes))
    };
    let refused = Err(RecordError::Constants);
    // first, counts: 1 + 4094 is the rail of 4095.
    assert_eq!(with(8, 0), refused);
    assert_eq!(with(8, 2), refused);
    assert_eq!(with(8, u32::MAX), refused);
    assert_eq!(with(12, 0), refused);
    assert_eq!(with(12, 4095), refused);
    assert_eq!(with(12, u32::MAX), refused);
    assert!(with(12, 1).is_ok());
    // M of 16 bits; the sum at the last count below 2^31, as its value is below 2^16 at S = 15.
    let last = 4093;
    let most = (1_u32 << 31) - 1 - 67_900;
    assert!(with(16, most / last).is_ok() == (most / last <= 0xFFFF));
    assert_eq!(with(16, 0x1_0000), refused);
    assert_eq!(with(16, u32::MAX), refused);
    let most = (1_u32 << 31) - 1 - LINE.factor as u32 * last;
    assert!(with(20, most).is_ok());
    assert_eq!(with(20, most + 1), refused);
    assert_eq!(with(20, u32::MAX), refused);
    // S is that of the short form or 32.
    for shift in (0..=255_u8).filter(|shift| ![15, 32].contains(shift)) {
        let mut bytes = clean;
        bytes[1] = shift;
        assert_eq!(load(&resealed(bytes)), refused, "S = {shift}");
    }
    // The long form: the whole below 2^48.
    let long = |factor: u64, addend: u64| {
        let mut bytes = clean;
        bytes[1] = 32;
        bytes[16..20].copy_from_slice(&((factor >> 16) as u32).to_le_bytes());
        bytes[20..24].copy_from_slice(&((addend >> 16) as u32).to_le_bytes());
        bytes[24..26].copy_from_slice(&(factor as u16).to_le_bytes());
        bytes[26..28].copy_from_slice(&(addend as u16).to_le_bytes());
        load(&resealed(bytes))
    };
    let end = 1_u64 << 48;
    for factor in [
        0,
        1,
        0xFFFF,
        0x1_0000,
        0x0001_0B34_5678,
        (end - 1) / u64::from(last),
    ] {
        let most = end - 1 - factor * u64::from(last);
        let taken = long(factor, most).expect("just within");
        assert_eq!(
            taken.voltage(Count(4094)).map(|voltage| voltage.0),
            Ok(u16::MAX)
        );
        if most + 1 < end {
            assert_eq!(long(factor, most + 1), refused, "{factor} {most}");
        }
    }
    assert_eq!(long((end - 1) / u64::from(last) + 1, 0), refused);
    assert_eq!(long(end - 1, end - 1), refused);
}

/// The same for a quotient.
#[test]
fn quotients_beyond_their_limits_are_refused() {
    let reference = reference();
    let good = QuotientConstants {
        first: 75,
        counts: 4020,
        numerator: 314_572_800,
        at_first: 4832,
        step_log2: 6,
    };
    let taken = |change: fn(&mut QuotientConstants)| {
        let mut constants = good;
        change(&mut constants);
        reference.module(constants)
    };
    let refused = Err(ConfigError::Constants);
    assert!(taken(|_| ()).is_ok());
    assert_eq!(taken(|q| q.first = 0), refused);
    assert_eq!(taken(|q| q.first = 76), refused);
    assert_eq!(taken(|q| q.counts = 0), refused);
    assert_eq!(taken(|q| q.counts = u32::MAX), refused);
    assert_eq!(taken(|q| q.at_first = 0), refused);
    assert_eq!(taken(|q| q.at_first = 4833), refused, "odd");
    assert_eq!(taken(|q| q.at_first = u32::MAX - 1), refused);
    assert_eq!(taken(|q| q.step_log2 = 0), refused);
    assert_eq!(taken(|q| q.step_log2 = 29), refused);
    assert_eq!(taken(|q| q.step_log2 = 255), refused);
    assert_eq!(taken(|q| q.step_log2 = 28), refused, "D beyond its end");
    assert_eq!(taken(|q| q.numerator = u64::MAX), refused);
    // The value at the first count is below 2^16: K + D/2 below 2^16 D.
    assert!(taken(|q| q.numerator = (4832 << 16) - 2416 - 1).is_ok());
    assert_eq!(taken(|q| q.numerator = (4832 << 16) - 2416), refused);
}

#[test]
fn newer_is_told_across_the_wrap() {
    let at = |sequence| sample().with_sequence(sequence);
    for (newer, older) in [(1, 0), (0, u16::MAX), (5, u16::MAX - 5), (1 << 14, 0)] {
        assert!(at(newer).is_newer_than(&at(older)), "{newer} {older}");
        assert!(!at(older).is_newer_than(&at(newer)), "{newer} {older}");
    }
    assert!(!at(9).is_newer_than(&at(9)));
    assert!(!at(1 << 15).is_newer_than(&at(0)) && !at(0).is_newer_than(&at(1 << 15)));
}

proptest! {
    /// Whatever is taken comes back from its record, and gives every count the constants' own rational.
    #[test]
    fn what_was_encoded_is_loaded(
        first in 1_u32..40, missing in 0_u32..40, factor in 0_u64..1 << 36, addend in 0_u64..1 << 40, short: bool, sequence: u16,
    ) {
        let constants = LineConstants {
            first,
            counts: 4095 - first - missing,
            factor: if short { u128::from(factor & 0xFFFF) } else { u128::from(factor) },
            addend: if short { u128::from(addend & 0x3FFF_FFFF) } else { u128::from(addend) },
            shift: if short { 15 } else { 32 },
        };
        let input = input();
        if let Ok(module) = input.module::<12>(constants) {
            let record = input.record(&module, sequence);
            let bytes = record.encode();
            prop_assert_eq!(Record::decode(&bytes, input.fingerprint()), Ok(record));
            prop_assert_eq!((record.front_end(), record.sequence()), (input.fingerprint(), sequence));
            prop_assert_eq!(input.load(&bytes), Ok(module));
            for count in first..4095 - missing {
                let sum = constants.factor * u128::from(count - first) + constants.addend;
                let wanted = u16::try_from(sum >> constants.shift).expect("checked");
                prop_assert_eq!(module.voltage(Count(count)).map(|voltage| voltage.0), Ok(wanted));
            }
        }
    }

    #[test]
    fn any_bytes_are_a_record_or_a_refusal(bytes in prop::collection::vec(any::<u8>(), 0..64)) {
        prop_assert!(Record::decode(&bytes, front_end()).is_err());
    }

    /// Any constants at all under a right CRC are a refusal or a conversion that is total.
    #[test]
    fn any_constants_under_a_right_crc_are_safe(body in prop::array::uniform20(any::<u8>()), shift: u8, likely: bool, count: u32) {
        let mut bytes = sample().encode();
        bytes[1] = if likely { if shift & 1 == 0 { 15 } else { 32 } } else { shift };
        bytes[8..28].copy_from_slice(&body);
        if likely {
            bytes[8..12].copy_from_slice(&1_u32.to_le_bytes());
            bytes[12..16].copy_from_slice(&4094_u32.to_le_bytes());
            bytes[18..20].copy_from_slice(&[body[10] & 1, 0]);
            bytes[23] = 0;
        }
        if let Ok(module) = load(&resealed(bytes)) {
            for count in [count, 0, 1, 2, 4093, 4094, 4095, u32::MAX] {
                let _ = module.voltage(Count(count));
            }
        }
    }
}
