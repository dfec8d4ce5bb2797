//! The header's calibrated part: the exact factor as constants, and the proof of `core/src/straight_line.rs` or the numerator
//! of `core/src/supply_reference.rs` in C.

use num_bigint::BigInt;
use num_rational::BigRational;

use super::description::Description;
use crate::front_end::{CodeCentre, Converter, FrontEnd, FullScale, ShiftRounding, Topology};
use crate::model::rational::whole;

/// Record, constants, search and conversion.
pub(super) fn part(description: &Description<'_>) -> String {
    let (module, calibrate) = match description.front_end.topology {
        Topology::DividedInput(_) => (
            include_str!("c/divided_module.h"),
            include_str!("c/divided_calibrate.h"),
        ),
        Topology::SupplyReference => (
            include_str!("c/supply_module.h"),
            include_str!("c/supply_calibrate.h"),
        ),
    };
    [
        include_str!("c/refusals.h"),
        module,
        include_str!("c/calibrated_voltage.h"),
        include_str!("c/wide.h"),
        &constants(description.front_end),
        calibrate,
        include_str!("c/record.h"),
    ]
    .join("\n")
}

/// The front end in half-steps, halves of one single-sample step inside the sum (`core/src/acquisition.rs`).
fn constants(front_end: &FrontEnd) -> String {
    let converter = &front_end.converter;
    let factor = factor(front_end);
    format!(
        "/* {unit}: 2^{step_log2} half-steps of a sample a count, codes {centre} half-steps up. */
#define FRONT_END_FACTOR_NUMERATOR UINT64_C({numerator})
#define FRONT_END_FACTOR_DENOMINATOR UINT64_C({denominator})
#define FRONT_END_STEP_LOG2 {step_log2}
#define FRONT_END_CENTRE_256 INT64_C({centre_256})
#define FRONT_END_OFFSET_WEIGHT INT64_C({weight})
",
        unit = match front_end.topology {
            Topology::DividedInput(_) => "Output units a half-step",
            Topology::SupplyReference => "Output units times half-steps",
        },
        numerator = factor.numer(),
        denominator = factor.denom(),
        step_log2 = converter.right_shift + 1,
        centre = centre(converter),
        centre_256 = centre(converter) * 256,
        weight = 2 * converter.samples,
    )
}

/// How many half-steps a code's centre lies above the code.
fn centre(converter: &Converter) -> u32 {
    let (samples, shift) = (converter.samples, converter.right_shift);
    match (converter.code_centre, converter.shift_rounding) {
        (CodeCentre::Edge, _) => 0,
        (CodeCentre::Half, ShiftRounding::Truncate) => samples + (1 << shift) - 1,
        (CodeCentre::Half, ShiftRounding::Nearest) if shift == 0 => samples,
        (CodeCentre::Half, ShiftRounding::Nearest) => samples - 1,
    }
}

fn factor(front_end: &FrontEnd) -> BigRational {
    let converter = &front_end.converter;
    let codes = match converter.full_scale {
        FullScale::PowerOfTwo => 1_u32 << converter.bits,
        FullScale::TopCode => (1 << converter.bits) - 1,
    };
    let full_scale = BigRational::from_integer(BigInt::from(2 * converter.samples) * codes);
    let reference_units = whole(front_end.reference.microvolts) / whole(front_end.unit_uv);
    match &front_end.topology {
        Topology::DividedInput(divider) => {
            reference_units * (&divider.top_ohms + &divider.bottom_ohms)
                / &divider.bottom_ohms
                / full_scale
        }
        Topology::SupplyReference => reference_units * full_scale,
    }
}
