// The library's own source files, compiled once more inside a test crate that brings its own `rounding`. They ask for
// `crate::rounding`, so they get the mutant's. Not `core/src/lib.rs` itself: a crate's root cannot be a module.

#[path = "../../../core/src/arch/mod.rs"]
mod arch;
#[path = "../../../core/src/bounds.rs"]
pub mod bounds;
#[path = "../../../core/src/convert/mod.rs"]
pub mod convert;
#[path = "../../../core/src/describe/mod.rs"]
pub mod describe;
#[path = "../../../core/src/error.rs"]
mod error;
#[path = "../../../core/src/field.rs"]
mod field;
#[path = "../../../core/src/refused.rs"]
mod refused;
#[path = "../../../core/src/text.rs"]
mod text;
#[path = "../../../core/src/keep/mod.rs"]
pub mod keep;
#[path = "../../../core/src/sense/mod.rs"]
pub mod sense;
#[path = "../../../core/src/units.rs"]
mod units;
#[path = "../../../core/src/watch/mod.rs"]
pub mod watch;

pub use convert::cell_conversion::CellConversion;
pub use convert::constants::{LineConstants, QuotientConstants};
pub use convert::line::DividedConversion;
pub use convert::quotient::SupplyConversion;
pub use convert::window::{Summing, Window};
pub use describe::acquisition::{Acquisition, CodeCentre, FullScale, ShiftRounding};
pub use describe::cell::CellRange;
pub use describe::divided_input::{DividedDescription, DividedInput};
pub use describe::fingerprint::Fingerprint;
pub use describe::supply_reference::{SupplyDescription, SupplyReference};
pub use error::ConfigError;
pub use field::Field;
pub use keep::record::{Record, RecordError};
pub use sense::decimate::SumAndShift;
pub use units::{Count, Fault, Microvolts, OutputUnit, Sample, Voltage};
pub use watch::alarm::{AlarmRule, Limit};
pub use watch::count_limit::CountLimit;
pub use watch::limits::{LimitSide, VoltageLimits};

// The harness's adapter. It asks for `tallyvolt`, and the test crate bears that name to itself.
#[path = "../../analysis/src/describe/firmware/mod.rs"]
mod firmware;

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
    use tallyvolt_harness::cases::{front_ends, shipped};
    use tallyvolt_model::{Model, calibration::CalibrationModel, integer_form::IntegerForm};
    use tallyvolt_analysis::prove::sweep::Sweep;

    let mut found = Found::default();
    let front_ends = shipped::front_ends()
        .into_iter()
        .chain(front_ends::generated(5, 60, 14));
    for front_end in front_ends.filter(|front_end| front_end.topology.word() == topology) {
        let described = firmware::Firmware::describe(&front_end).expect("a valid front end");
        let Ok(conversion) = described.conversion() else {
            found.refused += 1;
            continue;
        };
        let model = Model::new(&front_end, CalibrationModel::identity());
        let sweep = Sweep::run(
            &IntegerForm::of(&model),
            model.largest_count(),
            &|count| conversion.outcome(count),
            &|_| {},
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
    use tallyvolt_harness::cases::random::Random;
    use tallyvolt_model::decimate::sums_and_shifts;

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
