//! The calibration record: its bytes, its CRC, and what it refuses.

use std::collections::HashMap;

use crc::{Algorithm, CRC_32_ISCSI, Crc, NoTable};
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt::bounds::{GAIN_BITS, OFFSET_BITS};
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::record::{RECORD_BYTES, RECORD_VERSION};
use tallyvolt::{
    Acquisition, Calibration, CellRange, CodeCentre, DividedDescription, DividedInput, Fingerprint,
    FullScale, OutputUnit, Record, RecordError, ShiftRounding, SupplyDescription, SupplyReference,
};

const FRONT_END: Fingerprint = Fingerprint(0x1234_5678);
const BITS: usize = 8 * RECORD_BYTES;

fn calibration(gain: u32, offset: i32) -> Calibration {
    Calibration::new(U8F24::from_bits(gain), I24F8::from_bits(offset)).expect("within bounds")
}

fn sample() -> Record {
    Record {
        front_end: FRONT_END,
        calibration: calibration(16_843_886, -320),
        sequence: 7,
    }
}

fn flipped(mut bytes: [u8; RECORD_BYTES], bit: usize) -> [u8; RECORD_BYTES] {
    bytes[bit / 8] ^= 1 << (bit % 8);
    bytes
}

/// RevEng catalogue, CRC-32/ISCSI: 0xE3069283 over "123456789". The record's CRC is that of its first 20 bytes.
#[test]
fn the_crc_is_crc_32c() {
    let published = Crc::<u32, NoTable>::new(&CRC_32_ISCSI);
    assert_eq!(published.checksum(b"123456789"), 0xE306_9283);
    let bytes = sample().encode();
    let stored = u32::from_le_bytes(bytes[20..].try_into().expect("four bytes"));
    assert_eq!(stored, published.checksum(&bytes[..20]));
}

#[test]
fn every_byte_stands_where_the_layout_says() {
    let bytes = sample().encode();
    assert_eq!(bytes[..4], [b'T', b'v', b'C', 1]);
    assert_eq!(bytes[4..8], [0x78, 0x56, 0x34, 0x12]);
    assert_eq!(bytes[8..12], 16_843_886_u32.to_le_bytes());
    assert_eq!(bytes[12..16], (-320_i32).to_le_bytes());
    assert_eq!(bytes[16..20], [7, 0, 0, 0]);
}

/// 32-bit remainders of every single-bit change: a CRC is linear, so a set of changes goes unnoticed exactly when the
/// exclusive or of its remainders is zero, whatever the record holds.
fn remainders(crc: &Crc<u32, NoTable>) -> Vec<u32> {
    let of = |bytes: &[u8; RECORD_BYTES]| {
        let stored = u32::from_le_bytes(bytes[20..].try_into().expect("four bytes"));
        crc.checksum(&bytes[..20]) ^ stored
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
        let record = Record {
            front_end: Fingerprint(random.random()),
            calibration: calibration(
                random.random_range(1 << 23..=1 << 25),
                random.random_range(-1 << 20..=1 << 20),
            ),
            sequence: random.random(),
        };
        let (mut bytes, mut expected) = (record.encode(), 0);
        for _ in 0..random.random_range(1..40) {
            let bit = random.random_range(0..BITS);
            bytes = flipped(bytes, bit);
            expected ^= remainders[bit];
        }
        let stored = u32::from_le_bytes(bytes[20..].try_into().expect("four bytes"));
        assert_eq!(published.checksum(&bytes[..20]) ^ stored, expected);
    }
}

/// Through `decode` itself, exhaustively: 192 + 18 336 changes.
#[test]
fn decode_refuses_every_change_of_one_and_two_bits() {
    let clean = sample().encode();
    let mut decoded = 0;
    for one in 0..BITS {
        let first = flipped(clean, one);
        assert!(Record::decode(&first, FRONT_END).is_err(), "bit {one}");
        decoded += 1;
        for two in 0..one {
            assert!(
                Record::decode(&flipped(first, two), FRONT_END).is_err(),
                "bits {one}, {two}"
            );
            decoded += 1;
        }
    }
    assert_eq!(decoded, 192 + 18_336);
}

#[test]
fn refusals_have_names() {
    let clean = sample().encode();
    let decode = |bytes: &[u8]| Record::decode(bytes, FRONT_END);
    let resealed = |mut bytes: [u8; RECORD_BYTES]| {
        let crc = Crc::<u32, NoTable>::new(&CRC_32_ISCSI).checksum(&bytes[..20]);
        bytes[20..].copy_from_slice(&crc.to_le_bytes());
        bytes
    };
    assert_eq!(decode(&clean), Ok(sample()));
    for bytes in [0, 1, 3, 4, 23, 25, 28, 192] {
        assert_eq!(decode(&vec![7; bytes]), Err(RecordError::Length { bytes }));
    }
    assert_eq!(decode(&[0xFF; RECORD_BYTES]), Err(RecordError::Blank));
    assert_eq!(decode(&[0; RECORD_BYTES]), Err(RecordError::Blank));
    assert_eq!(decode(&[7; RECORD_BYTES]), Err(RecordError::NotARecord));
    let mut later = clean;
    later[3] = RECORD_VERSION + 1;
    assert_eq!(
        decode(&resealed(later)),
        Err(RecordError::Version { version: 2 })
    );
    assert!(matches!(
        decode(&flipped(clean, 100)),
        Err(RecordError::Damaged { .. })
    ));
    assert_eq!(
        Record::decode(&clean, Fingerprint(1)),
        Err(RecordError::OtherFrontEnd {
            made_for: FRONT_END
        })
    );
    let mut wild = clean;
    wild[8..12].copy_from_slice(&u32::MAX.to_le_bytes());
    assert!(matches!(
        decode(&resealed(wild)),
        Err(RecordError::Calibration(_))
    ));
}

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

fn fingerprint(description: DividedDescription) -> Fingerprint {
    DividedInput::new(description).expect("legal").fingerprint()
}

/// The bytes of the table in `core/src/fingerprint.rs`, written out.
#[test]
fn a_fingerprint_is_the_crc_of_the_documented_bytes() {
    let mut bytes = vec![1, 12, 0, 1, 1, 0, 0, 0];
    bytes.extend_from_slice(&1000_u16.to_le_bytes());
    for word in [1_225_000_u32, 249, 100] {
        bytes.extend_from_slice(&word.to_le_bytes());
    }
    let crc = Crc::<u32, NoTable>::new(&CRC_32_ISCSI).checksum(&bytes);
    assert_eq!(fingerprint(DIVIDED), Fingerprint(crc));
}

#[test]
fn a_fingerprint_follows_what_a_conversion_depends_on_and_nothing_else() {
    let same = [
        DividedDescription {
            top_ohms: 249,
            bottom_ohms: 100,
            ..DIVIDED
        },
        DividedDescription {
            cell: CellRange {
                min_uv: 2_500_000,
                max_uv: 3_600_000,
            },
            ..DIVIDED
        },
        DividedDescription {
            acquisition: Acquisition {
                shift_rounding: ShiftRounding::Nearest,
                ..DIVIDED.acquisition
            },
            ..DIVIDED
        },
    ];
    for description in same {
        assert_eq!(
            fingerprint(description),
            fingerprint(DIVIDED),
            "{description:?}"
        );
    }
    let acquisition = DIVIDED.acquisition;
    let shifted = Acquisition {
        samples: 16,
        right_shift: 2,
        ..acquisition
    };
    let mut different = vec![
        fingerprint(DIVIDED),
        fingerprint(DividedDescription {
            reference_uv: 1_225_001,
            ..DIVIDED
        }),
        fingerprint(DividedDescription {
            top_ohms: 24_901,
            ..DIVIDED
        }),
        fingerprint(DividedDescription {
            unit: OutputUnit::TenthMillivolt,
            ..DIVIDED
        }),
        SupplyReference::new(SupplyDescription {
            acquisition,
            reference_uv: 1_225_000,
            cell: DIVIDED.cell,
            unit: DIVIDED.unit,
        })
        .expect("legal")
        .fingerprint(),
    ];
    for acquisition in [
        Acquisition {
            bits: 13,
            ..acquisition
        },
        Acquisition {
            full_scale: FullScale::TopCode,
            ..acquisition
        },
        Acquisition {
            code_centre: CodeCentre::Edge,
            ..acquisition
        },
        Acquisition {
            samples: 2,
            ..acquisition
        },
        shifted,
        Acquisition {
            shift_rounding: ShiftRounding::Nearest,
            ..shifted
        },
        Acquisition {
            right_shift: 1,
            ..acquisition
        },
    ] {
        different.push(fingerprint(DividedDescription {
            acquisition,
            ..DIVIDED
        }));
    }
    let count = different.len();
    different.sort_by_key(|fingerprint| fingerprint.0);
    different.dedup();
    assert_eq!(different.len(), count);
}

#[test]
fn newer_is_told_across_the_wrap() {
    let at = |sequence| Record {
        sequence,
        ..sample()
    };
    for (newer, older) in [(1, 0), (0, u32::MAX), (5, u32::MAX - 5), (1 << 30, 0)] {
        assert!(at(newer).is_newer_than(&at(older)), "{newer} {older}");
        assert!(!at(older).is_newer_than(&at(newer)), "{newer} {older}");
    }
    assert!(!at(9).is_newer_than(&at(9)));
}

proptest! {
    #[test]
    fn what_was_encoded_is_decoded(
        gain in GAIN_BITS.min..=GAIN_BITS.max, offset in OFFSET_BITS.min..=OFFSET_BITS.max, sequence: u32, front_end: u32,
    ) {
        let record = Record {
            front_end: Fingerprint(front_end),
            calibration: calibration(u32::try_from(gain).expect("positive"), i32::try_from(offset).expect("small")),
            sequence,
        };
        prop_assert_eq!(Record::decode(&record.encode(), record.front_end), Ok(record));
    }

    #[test]
    fn any_bytes_are_a_record_or_a_refusal(bytes in prop::collection::vec(any::<u8>(), 0..64)) {
        prop_assert!(Record::decode(&bytes, FRONT_END).is_err());
    }
}
