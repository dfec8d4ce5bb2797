//! Rules between values: the crate's own constructors decide, this file says where in the text the values stand.

use tallyvolt::{ConfigError, Field};

use super::reader::TableReader;
use crate::firmware::{DescribeError, Firmware};
use crate::front_end::FrontEnd;

/// Builds the firmware's front end; a refusal is reported at the key to change, with the other values that took part.
pub(super) fn check(root: &mut TableReader<'_>, front_end: &FrontEnd) {
    let Err(error) = Firmware::describe(front_end) else {
        return;
    };
    let (main, others) = places(&error);
    root.report_at(
        main,
        others,
        error.to_string(),
        match &error {
            DescribeError::Config(error) => error.mend().to_owned(),
            DescribeError::Digits { .. } => {
                "give both resistances with fewer digits: their ratio must be one of whole numbers up to 10 000 000"
                    .to_owned()
            }
        },
    );
}

type Place = (&'static str, &'static str);

fn places(error: &DescribeError) -> (Place, &'static [Place]) {
    const MAX: Place = ("cell", "max_mv");
    const MIN: Place = ("cell", "min_mv");
    const REFERENCE: Place = ("reference", "microvolts");
    const TOP: Place = ("divider", "top_ohms");
    const BOTTOM: Place = ("divider", "bottom_ohms");
    const SAMPLES: Place = ("converter", "samples");
    const SHIFT: Place = ("converter", "right_shift");
    match error {
        DescribeError::Digits { .. } => (TOP, &[BOTTOM]),
        DescribeError::Config(error) => match error {
            ConfigError::SamplesNotPowerOfTwo { .. } => (SAMPLES, &[]),
            ConfigError::ShiftTooLarge { .. } => (SHIFT, &[("converter", "bits")]),
            ConfigError::CellRangeEmpty { .. } => (MIN, &[MAX]),
            ConfigError::CellAboveOutput { .. } => (MAX, &[("output", "unit_uv")]),
            ConfigError::DividerAboveReference { .. } => (TOP, &[BOTTOM, MAX, REFERENCE]),
            ConfigError::ReferenceNotBelowCell { .. } => (REFERENCE, &[MIN]),
            ConfigError::OutOfBounds { field, .. } => match field {
                Field::Bits => (("converter", "bits"), &[]),
                Field::Samples => (SAMPLES, &[]),
                Field::RightShift => (SHIFT, &[]),
                Field::ReferenceUv => (REFERENCE, &[]),
                Field::CellUv => (MIN, &[MAX]),
                _ => (TOP, &[BOTTOM]),
            },
            _ => (("converter", "bits"), &[]),
        },
    }
}
