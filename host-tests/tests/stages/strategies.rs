//! Descriptions and modules that nobody listed, for the properties of every stage.
//!
//! What once failed is kept beside each file, in `NAME.regressions`, and tried first.

use proptest::prelude::*;
use proptest::test_runner::FileFailurePersistence;
use tallyvolt::{Acquisition, CodeCentre, FullScale, OutputUnit, ShiftRounding};
use tallyvolt_harness::cases::{Case, front_ends};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{self, Cell, Converter, FrontEnd, Reference, Topology};
use tallyvolt_model::outcome::Outcome;

pub fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: Some(Box::new(FileFailurePersistence::WithSource("regressions"))),
        ..ProptestConfig::default()
    }
}

/// A valid module: any front end, with as many counts as there can be, and any calibration.
pub fn case() -> impl Strategy<Value = Case> {
    (
        any::<u64>(),
        0..36_u32,
        10..=26_u32,
        1_u32 << 23..=1 << 25,
        -(1_i32 << 20)..=1 << 20,
    )
        .prop_map(|(seed, index, count_bits, gain, offset)| Case {
            front_end: front_ends::generated(seed, index + 1, count_bits)
                .pop()
                .expect("at least one"),
            curve: Some((gain, offset)),
        })
}

/// Any description at all, most of them refused.
pub fn acquisition() -> impl Strategy<Value = Acquisition> {
    (
        any::<u8>(),
        any::<[bool; 3]>(),
        any::<u16>(),
        any::<u8>(),
        any::<bool>(),
    )
        .prop_map(
            |(bits, [top_code, edge, nearest], samples, right_shift, likely)| Acquisition {
                bits: if likely { 8 + bits % 9 } else { bits },
                full_scale: if top_code {
                    FullScale::TopCode
                } else {
                    FullScale::PowerOfTwo
                },
                code_centre: if edge {
                    CodeCentre::Edge
                } else {
                    CodeCentre::Half
                },
                samples: if likely { 1 << (samples % 11) } else { samples },
                right_shift: if likely { right_shift % 9 } else { right_shift },
                shift_rounding: if nearest {
                    ShiftRounding::Nearest
                } else {
                    ShiftRounding::Truncate
                },
            },
        )
}

pub fn unit() -> impl Strategy<Value = OutputUnit> {
    prop_oneof![
        Just(OutputUnit::Millivolt),
        Just(OutputUnit::TenthMillivolt)
    ]
}

/// Any `u32`, and as often one within the limits of the library.
pub fn number(likely: std::ops::RangeInclusive<u32>) -> impl Strategy<Value = u32> {
    prop_oneof![3 => likely, 1 => any::<u32>()]
}

/// Whether the exact model of a described circuit has a voltage at any count. Voltages rise or fall with the count, and none is below the
/// output's range, so an end of the counts has one if any has.
pub fn reads(
    topology: Topology,
    acquisition: Acquisition,
    reference_uv: u32,
    unit: OutputUnit,
) -> bool {
    let converter = Converter {
        full_scale: if acquisition.full_scale == FullScale::TopCode {
            front_end::FullScale::TopCode
        } else {
            front_end::FullScale::PowerOfTwo
        },
        code_centre: if acquisition.code_centre == CodeCentre::Edge {
            front_end::CodeCentre::Edge
        } else {
            front_end::CodeCentre::Half
        },
        samples: acquisition.samples.into(),
        right_shift: acquisition.right_shift.into(),
        shift_rounding: if acquisition.shift_rounding == ShiftRounding::Nearest {
            front_end::ShiftRounding::Nearest
        } else {
            front_end::ShiftRounding::Truncate
        },
        ..Converter::single(acquisition.bits.into())
    };
    // A cell decides nothing here.
    let cell = Cell {
        chemistry: String::new(),
        min_uv: 0,
        nominal_uv: 0,
        max_uv: 0,
    };
    let reference = Reference::nominal(reference_uv);
    let front_end = FrontEnd::bare(
        String::new(),
        topology,
        cell,
        converter,
        reference,
        unit.step_uv(),
    );
    let model = Model::new(&front_end, CalibrationModel::identity());
    [1, model.largest_count() - 1]
        .iter()
        .any(|count| matches!(model.outcome(*count), Outcome::Units(_)))
}
