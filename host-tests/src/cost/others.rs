//! Modules far off, and constants near their bounds: what the kernels make of records that no shipped front end's module has.

use tallyvolt::QuotientConstants;
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::error::CostError;
use tallyvolt_cost::figure::Origin;
use tallyvolt_cost::job::{First, Job};
use tallyvolt_model::calibration::CalibrationModel;

use super::jobs;
use super::subject::Subject;
use tallyvolt_analysis::describe::firmware::Constants;

/// Gains in 2^-24 and offsets in 1/256 counts: so far off that sums carry where those of a module as parts are do not.
const CALIBRATIONS: [(u32, i32); 6] = [
    (16_200_001, 7_919),
    (17_400_003, -5_003),
    (16_000_057, -9_001),
    (17_179_869, 12_289),
    (15_900_007, 20_011),
    (17_600_011, -12_007),
];

/// A module is asked at no more counts than these.
const FEW_COUNTS: u32 = 1 << 12;

/// K and D of quotients near their bounds, at t = 1. K is below 2^16 D there.
const QUOTIENTS: [(u64, u32); 5] = [
    (0x8EFF_FFFF, 57_346),
    (0xE000_FFFF, 57_346),
    (0x3FFF_FFFF, 49_154),
    (0x40FE_FF00, 30_000),
    (0x0001_FFFF, 4),
];

/// The front end with the constants of other modules. Of a divided input they are calibrated ones, because a quotient is none of its.
fn others(subject: &Subject) -> Result<Vec<Subject>, CostError> {
    let mut found = Vec::new();
    for (gain, offset) in CALIBRATIONS {
        let curve = CalibrationModel::from_words(gain, offset);
        found.push(Subject::calibrated(&subject.front_end, &curve)?);
    }
    for (numerator, at_first) in QUOTIENTS {
        let constants = Constants::Quotient(QuotientConstants {
            first: 1,
            counts: (subject.rail - 1).min((u32::from(u16::MAX) - at_first) / 2 + 1),
            numerator,
            at_first,
            step_log2: 1,
        });
        let record = subject.firmware.record(constants, 1).ok();
        let module = record.and_then(|record| subject.firmware.recorded(&record).ok());
        if let Some((record, module)) = record.zip(module) {
            found.push(Subject {
                module,
                record: record.encode(),
                ..subject.clone()
            });
        }
    }
    // An image loads one form.
    found.retain(|other| other.loads_short() == subject.loads_short());
    Ok(found)
}

/// Jobs of the kernels with other modules' records: their answers are compared, and not shown.
///
/// # Errors
/// [`CostError::File`] where the crate refuses the constants.
pub(super) fn of_kernels(chip: Chip, subject: &Subject) -> Result<Vec<Job>, CostError> {
    let mut found = Vec::new();
    for other in others(subject)? {
        let form = other.module_form();
        let sweep = (0, other.rail, jobs::step(other.rail, FEW_COUNTS));
        let of_both = [jobs::of_subject(chip, &other), jobs::tabled(chip, &other)].concat();
        let kernels = of_both.into_iter().filter(|job| {
            job.origin == Origin::Arch
                && job.types.1 == "u16"
                && job.sweep.0 == 0
                && matches!(job.first, First::Load(_))
        });
        found.extend(kernels.map(|job| Job {
            sweep,
            answers: jobs::answers(sweep, |count| jobs::reading(&form, count)),
            shown: false,
            ..job
        }));
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use tallyvolt_analysis::describe::front_end_file;

    use super::{CALIBRATIONS, QUOTIENTS, Subject, others};

    /// No module is left out unseen.
    #[test]
    fn every_other_module_has_a_record() {
        for (name, quotients) in [
            ("hut-divided-10bit", 0),
            ("hut-divided-12bit", 0),
            ("hut-supply-12bit", QUOTIENTS.len()),
        ] {
            let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends");
            let file = front_end_file::read(&folder.join(format!("{name}.toml"))).expect("shipped");
            let subject = Subject::of(&file).expect("describable");
            let found = others(&subject).expect("describable").len();
            assert_eq!(found, CALIBRATIONS.len() + quotients, "{name}");
        }
    }
}
