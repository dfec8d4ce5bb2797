// The library's own source files, compiled once more inside a test crate that brings its own `rounding` (and, for one
// mutant, its own `floor_sum`). They ask for `crate::rounding`, so they get the mutant's. Not `core/src/lib.rs` itself: a
// crate's root cannot be a module.

#[path = "../../../core/src/acquisition.rs"]
pub mod acquisition;
#[path = "../../../core/src/bounds.rs"]
pub mod bounds;
#[path = "../../../core/src/calibration.rs"]
mod calibration;
#[path = "../../../core/src/cell.rs"]
mod cell;
#[path = "../../../core/src/decimate.rs"]
pub mod decimate;
#[path = "../../../core/src/divided_input.rs"]
pub mod divided_input;
#[path = "../../../core/src/error.rs"]
mod error;
#[path = "../../../core/src/factor.rs"]
mod factor;
#[path = "../../../core/src/fingerprint.rs"]
mod fingerprint;
#[path = "../../../core/src/reciprocal.rs"]
pub mod reciprocal;
#[path = "../../../core/src/straight_line.rs"]
pub mod straight_line;
#[path = "../../../core/src/supply_reference.rs"]
pub mod supply_reference;
#[path = "../../../core/src/units.rs"]
mod units;
#[path = "../../../core/src/window.rs"]
mod window;

pub use acquisition::{Acquisition, CodeCentre, CountScale, FullScale, ShiftRounding};
pub use calibration::Calibration;
pub use cell::CellRange;
pub use decimate::{BlockSum, SlidingSum, SumAndShift};
pub use divided_input::{DividedConversion, DividedDescription, DividedInput};
pub use error::{ConfigError, Field};
pub use fingerprint::Fingerprint;
pub use straight_line::Multiplier;
pub use supply_reference::{SupplyConversion, SupplyDescription, SupplyReference};
pub use units::{Count, Fault, OutputUnit, Sample, Voltage};
pub use window::Window;

// The harness's adapter. It asks for `tallyvolt`, and the test crate bears that name to itself.
#[path = "../../src/firmware.rs"]
mod firmware;
use tallyvolt_host::{front_end, outcome};

/// What the harness finds over a set of front ends.
#[derive(Debug, Default)]
struct Found {
    counts: u64,
    wrong: u64,
    /// Front ends with a wrong count.
    caught: u32,
    /// Front ends that the mutant's own proof refused.
    refused: u32,
}

/// Sweeps the mutant over shipped and generated front ends of one topology.
fn found(topology: &str) -> Found {
    use tallyvolt_host::cases::{front_ends, shipped};
    use tallyvolt_host::model::{Model, calibration::CalibrationModel, integer_form::IntegerForm};
    use tallyvolt_host::sweep::Sweep;

    let mut found = Found::default();
    let front_ends = shipped::front_ends()
        .into_iter()
        .chain(front_ends::generated(5, 60, 14));
    for front_end in front_ends.filter(|front_end| front_end.topology.word() == topology) {
        let described = firmware::Firmware::describe(&front_end).expect("a valid front end");
        let Ok(conversion) = described.conversion(Calibration::IDENTITY) else {
            found.refused += 1;
            continue;
        };
        let model = Model::new(&front_end, CalibrationModel::identity());
        let sweep = Sweep::run(
            &IntegerForm::of(&model),
            model.largest_count(),
            |count| conversion.outcome(count),
            |_| {},
        );
        found.counts += sweep.counts;
        found.wrong += sweep.wrong;
        found.caught += u32::from(sweep.wrong > 0);
    }
    println!("{topology}: {found:?}");
    found
}

/// Counts of a sum-and-shift decimator that differ from the model, over one stream.
fn wrong_decimations() -> usize {
    use tallyvolt_host::cases::random::Random;
    use tallyvolt_host::model::decimate::sums_and_shifts;

    let mut random = Random::new(9);
    let stream: Vec<u16> = (0..4096).map(|_| random.word() as u16 & 0x0FFF).collect();
    let mut decimator = SumAndShift::new(2).expect("two extra bits");
    let counts = stream.iter().filter_map(|sample| decimator.push(Sample(*sample)));
    let exact = sums_and_shifts(&stream, 2);
    counts
        .zip(exact)
        .filter(|(count, exact)| u64::from(count.0) != *exact)
        .count()
}
