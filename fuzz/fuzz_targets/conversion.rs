//! Any description, shifts included, any self-calibration of it, any counts: the crate's answers against the exact model as drawn, and
//! against the exact rational of its constants once it is scaled.

#![no_main]

use arbitrary::Arbitrary;
use libfuzzer_sys::fuzz_target;
use num_rational::BigRational;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{ConfigError, DividedInput};
use tallyvolt_analysis::calibrate::fit::stored::form;
use tallyvolt_analysis::describe::firmware::width::{AtWidth, at_width};
use tallyvolt_analysis::describe::firmware::{Constants, Conversion, DescribeError, Firmware};
use tallyvolt_fuzz::wrong_on_purpose;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{
    Cell, CodeCentre, Converter, Divider, FrontEnd, FullScale, Reference, ShiftRounding, Topology,
};
use tallyvolt_model::outcome::Outcome;

/// Most counts taken from one input, so that no input is slow.
const COUNTS: usize = 32;

#[derive(Debug, Arbitrary)]
struct Case {
    bits: u8,
    top_code: bool,
    edge: bool,
    samples_log2: u8,
    right_shift: u8,
    nearest: bool,
    reference_uv: u32,
    divider: Option<(u32, u32)>,
    min_uv: u32,
    max_uv: u32,
    tenth: bool,
    gain: u32,
    offset: i32,
    counts: Vec<u32>,
}

/// `value` folded into `low ..= high + 1`: mostly legal, sometimes just beyond.
fn folded(value: u32, low: u32, high: u32) -> u32 {
    low + value % (high - low + 2)
}

impl Case {
    fn front_end(&self) -> FrontEnd {
        let ohms = |value: u32| BigRational::from_integer(folded(value, 1, 10_000_000).into());
        let min_uv = folded(self.min_uv, 1, 65_535_000);
        FrontEnd::bare(
            "fuzzed".to_owned(),
            self.divider
                .map_or(Topology::SupplyReference, |(top, bottom)| {
                    Topology::DividedInput(Divider::nominal(ohms(top), ohms(bottom)))
                }),
            Cell {
                chemistry: "LFP".to_owned(),
                min_uv,
                nominal_uv: min_uv,
                max_uv: folded(self.max_uv, 1, 65_535_000),
            },
            Converter {
                full_scale: if self.top_code {
                    FullScale::TopCode
                } else {
                    FullScale::PowerOfTwo
                },
                code_centre: if self.edge {
                    CodeCentre::Edge
                } else {
                    CodeCentre::Half
                },
                samples: 1 << (self.samples_log2 % 12),
                right_shift: folded(self.right_shift.into(), 0, 8),
                shift_rounding: if self.nearest {
                    ShiftRounding::Nearest
                } else {
                    ShiftRounding::Truncate
                },
                ..Converter::single(folded(self.bits.into(), 8, 16))
            },
            Reference::nominal(folded(self.reference_uv, 100_000, 8_000_000)),
            if self.tenth { 100 } else { 1000 },
        )
    }

    fn words(&self) -> (u32, i32) {
        let gain = folded(self.gain, 1 << 23, 1 << 25);
        // -4096 to 4096 counts, and one step beyond either.
        let offset = self.offset.rem_euclid((1 << 21) + 3) - (1 << 20) - 1;
        (gain, offset)
    }
}

/// A divided input's conversion, scaled, at its width.
struct Scaled<'a>(&'a DividedInput, U8F24, I24F8);

impl AtWidth for Scaled<'_> {
    type Answer = Result<Constants, ConfigError>;

    fn at<const BITS: u32>(self) -> Self::Answer {
        let drawn = self.0.conversion::<BITS>()?;
        let scaled = drawn.scaled(self.1, self.2)?;
        Ok(Constants::Line(scaled.constants()))
    }
}

fn scaled(firmware: &Firmware, gain: u32, offset: i32) -> Result<Constants, ConfigError> {
    let (gain, offset) = (U8F24::from_bits(gain), I24F8::from_bits(offset));
    match firmware {
        Firmware::Divided(input) => {
            at_width(firmware.summing().rail().0, Scaled(input, gain, offset))
        }
        Firmware::Supply(reference) => {
            let scaled = reference.conversion()?.scaled(gain, offset)?;
            Ok(Constants::Quotient(scaled.constants()))
        }
    }
}

/// Both ends of the window from both sides, then whatever the fuzzer thinks of.
fn compare(case: &Case, conversion: &Conversion, right: impl Fn(u32) -> Outcome) {
    let window = conversion.window();
    let (first, behind, rail) = (
        window.first().0,
        window.first().0 + window.counts(),
        window.rail().0,
    );
    let within = case
        .counts
        .iter()
        .take(COUNTS)
        .map(|count| count % (rail + 2));
    let ends = [0, 1, first - 1, first, behind - 1, behind, rail - 1, rail];
    let off = u32::from(wrong_on_purpose());
    for count in ends.into_iter().chain(within).chain([u32::MAX]) {
        let answer = conversion.outcome(count.saturating_add(off));
        assert_eq!(answer, right(count), "count {count}, {case:?}");
    }
}

fuzz_target!(|case: Case| {
    let front_end = case.front_end();
    let firmware = match Firmware::describe(&front_end) {
        Ok(firmware) => firmware,
        Err(DescribeError::Config(error)) => return assert!(!error.fix().is_empty()),
        Err(error) => panic!("whole resistances have too many digits: {error}"),
    };
    let model = Model::new(&front_end, CalibrationModel::identity());
    let rail = model.largest_count();
    let conversion = match firmware.conversion() {
        Ok(conversion) => conversion,
        Err(ConfigError::Unproven { .. }) => return,
        // So coarse that no count is a voltage: the lowest is at one of the ends.
        Err(ConfigError::Constants) => {
            for count in [1, rail - 1] {
                let answer = model.outcome(count);
                assert!(matches!(answer, Outcome::Fault(_)), "{front_end:?}");
            }
            return;
        }
        Err(error) => panic!("a checked description has no conversion: {error}, {front_end:?}"),
    };
    assert_eq!(conversion.window().rail().0, rail);
    compare(&case, &conversion, |count| model.outcome(count));

    let (gain, offset) = case.words();
    let legal = gain <= 1 << 25 && offset.abs() <= 1 << 20;
    match scaled(&firmware, gain, offset) {
        Ok(constants) => {
            assert!(legal, "{gain} {offset}");
            let scaled = firmware.module(constants).expect("constants that it gave");
            let form = form(&constants, rail);
            compare(&case, &scaled, |count| form.outcome(count));
            let record = firmware.record(constants, 1).expect("the same");
            let loaded = firmware.recorded(&record).expect("just made");
            assert_eq!(loaded.constants(), scaled.constants());
        }
        Err(ConfigError::OutOfBounds { .. }) => assert!(!legal, "{gain} {offset}"),
        // No count is left that is a voltage.
        Err(error) => assert_eq!(error, ConfigError::Constants),
    }
});
