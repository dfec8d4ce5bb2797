//! Descriptions and modules that nobody listed, for the properties of every stage.
//!
//! What once failed is kept beside each file, in `NAME.regressions`, and tried first.

use proptest::prelude::*;
use proptest::test_runner::FileFailurePersistence;
use tallyvolt::{Acquisition, CodeCentre, FullScale, OutputUnit, ShiftRounding};
use tallyvolt_model::front_end::Topology;
use tallyvolt_model::outcome::Outcome;

pub fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: Some(Box::new(FileFailurePersistence::WithSource("regressions"))),
        ..ProptestConfig::default()
    }
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
    let model = super::described::model(topology, acquisition, reference_uv, unit);
    [1, model.largest_count() - 1]
        .iter()
        .any(|count| matches!(model.outcome(*count), Outcome::Units(_)))
}
