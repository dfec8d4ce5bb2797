//! Fingerprints: the bytes that are documented, and one for each description that converts otherwise.

use crc::{CRC_32_ISCSI, Crc, NoTable};
use tallyvolt::{
    Acquisition, CellRange, CodeCentre, DividedDescription, DividedInput, Fingerprint, FullScale,
    OutputUnit, ShiftRounding, SupplyDescription, SupplyReference,
};

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

/// The bytes of the table in `core/src/describe/fingerprint.rs`, written out.
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
