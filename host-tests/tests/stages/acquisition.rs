//! Counts as the converter makes them: the largest one of every description that is taken, against the model's.

use tallyvolt::{
    Acquisition, CellRange, CodeCentre, ConfigError, FullScale, OutputUnit, ShiftRounding,
    SupplyDescription, SupplyReference,
};
use tallyvolt_model::acquisition::AcquisitionModel;
use tallyvolt_model::front_end::Converter;

fn described(acquisition: Acquisition) -> Result<SupplyReference, ConfigError> {
    SupplyReference::new(SupplyDescription {
        acquisition,
        reference_uv: 1_200_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::Millivolt,
    })
}

#[test]
fn the_largest_count_is_the_models_for_every_width_sum_and_shift() {
    let (mut taken, mut refused) = (0, 0);
    for bits in 8..=16_u8 {
        for samples in (0..=10).map(|power| 1_u16 << power) {
            for right_shift in 0..=8_u8 {
                let acquisition = Acquisition {
                    right_shift,
                    ..Acquisition::summed(bits, samples)
                };
                let model = AcquisitionModel::new(&Converter {
                    samples: samples.into(),
                    right_shift: right_shift.into(),
                    ..Converter::single(bits.into())
                });
                match described(acquisition) {
                    Ok(supply) => {
                        let summing = supply.summing();
                        assert_eq!(summing.rail().0, model.largest_count(), "{acquisition:?}");
                        assert_eq!(
                            (summing.samples(), summing.right_shift()),
                            (samples, right_shift)
                        );
                        taken += 1;
                    }
                    Err(error) => {
                        // A shift that leaves fewer bits than a sample has, or fewer counts than a cell needs.
                        assert!(!error.fix().is_empty(), "{acquisition:?}");
                        refused += 1;
                    }
                }
            }
        }
    }
    assert_eq!((taken + refused, taken > 600), (891, true), "{taken} taken");
}

#[test]
fn what_no_converter_does_is_refused() {
    let good = Acquisition {
        bits: 12,
        full_scale: FullScale::PowerOfTwo,
        code_centre: CodeCentre::Half,
        samples: 16,
        right_shift: 2,
        shift_rounding: ShiftRounding::Truncate,
    };
    assert!(described(good).is_ok());
    for wrong in [
        Acquisition { bits: 7, ..good },
        Acquisition { bits: 17, ..good },
        Acquisition { samples: 0, ..good },
        Acquisition {
            samples: 12,
            ..good
        },
        Acquisition {
            samples: 2048,
            ..good
        },
        Acquisition {
            right_shift: 9,
            ..good
        },
    ] {
        assert!(described(wrong).is_err(), "{wrong:?}");
    }
}

/// A shift that leaves the largest count 0 or 1 leaves no count between zero and the rail; 2 leaves one.
#[test]
fn a_shift_leaves_a_largest_count_of_two_or_is_refused() {
    for (samples, shift_rounding, largest_count) in [
        (1, ShiftRounding::Truncate, 0),
        (1, ShiftRounding::Nearest, 1),
        (2, ShiftRounding::Truncate, 1),
        (2, ShiftRounding::Nearest, 2),
    ] {
        let acquisition = Acquisition {
            right_shift: 8,
            shift_rounding,
            ..Acquisition::summed(8, samples)
        };
        let refused = ConfigError::ShiftTooLarge {
            right_shift: 8,
            largest_count,
        };
        match described(acquisition) {
            Ok(supply) => assert_eq!((supply.summing().rail().0, largest_count), (2, 2)),
            Err(error) => assert_eq!((error, largest_count < 2), (refused, true)),
        }
    }
}
