//! Modules far off, constants near their bounds and other circuits: what the kernels make of numbers that no shipped front end has.

use tallyvolt::QuotientConstants;
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::error::CostError;
use tallyvolt_cost::figure::Origin;
use tallyvolt_cost::job::{First, Job};
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{Divider, FrontEnd, Topology};
use tallyvolt_model::rational::whole;

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

/// Reference in microvolts, and the resistors to the cell and to ground in ohms: drawings whose sums carry where those of a front end do not.
const CIRCUITS: [(u32, u32, u32); 6] = [
    (1_024_000, 31_600, 10_000),
    (1_100_000, 33_200, 10_000),
    (1_200_000, 28_700, 9_090),
    (1_250_000, 23_700, 8_660),
    (2_048_000, 12_100, 10_000),
    (2_500_000, 9_310, 9_090),
];

/// The front end with other circuits before its converter, on cores that have a kernel of the drawing; a quotient has none.
///
/// # Errors
/// [`CostError::File`] where the crate refuses one.
pub(super) fn drawings(chip: Chip, subject: &Subject) -> Result<Vec<Subject>, CostError> {
    let front_end = &subject.front_end;
    let Topology::DividedInput(divider) = &front_end.topology else {
        return Ok(Vec::new());
    };
    if !matches!(chip, Chip::Avr | Chip::Avrxt) {
        return Ok(Vec::new());
    }
    let mut found = Vec::new();
    for (number, (microvolts, top, bottom)) in (1..).zip(CIRCUITS) {
        let mut other = FrontEnd {
            name: format!("{}-circuit-{number}", front_end.name),
            topology: Topology::DividedInput(Divider {
                top_ohms: whole(top),
                bottom_ohms: whole(bottom),
                ..divider.clone()
            }),
            thermistor: None,
            limits: None,
            ..front_end.clone()
        };
        other.reference.microvolts = microvolts;
        found.push(Subject::of(&other)?);
    }
    Ok(found)
}

/// Jobs of the kernels with other drawings: their answers are compared, and not shown.
pub(super) fn of_drawing(chip: Chip, subject: &Subject) -> impl Iterator<Item = Job> {
    let sweep = (0, subject.rail, jobs::step(subject.rail, FEW_COUNTS));
    let form = subject.drawn_form();
    let drawn = jobs::of_subject(chip, subject).into_iter().filter(|job| {
        // Of its two ways the one that answers in 16 bits.
        job.origin == Origin::Arch && job.state.is_none() && job.types.1 == "u16"
    });
    drawn.map(move |job| Job {
        sweep,
        answers: jobs::answers(sweep, |count| jobs::reading(&form, count)),
        shown: false,
        ..job
    })
}

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
    use super::{CALIBRATIONS, CIRCUITS, Chip, QUOTIENTS, drawings, of_drawing, others};
    use crate::cost::measure::subjects;

    /// No module is left out unseen.
    #[test]
    fn every_other_module_has_a_record() {
        for (name, quotients) in [
            ("hut-divided-10bit", 0),
            ("hut-divided-12bit", 0),
            ("hut-supply-12bit", QUOTIENTS.len()),
        ] {
            let path = format!("front-ends/{name}.toml");
            let subject = &subjects(&[&path]).expect("describable")[0];
            let found = others(subject).expect("describable").len();
            assert_eq!(found, CALIBRATIONS.len() + quotients, "{name}");
        }
    }

    #[test]
    fn every_other_circuit_is_drawn_where_there_is_a_kernel() {
        for (name, chip, circuits) in [
            ("hut-divided-12bit", Chip::Avr, CIRCUITS.len()),
            ("hut-divided-16bit", Chip::Avrxt, CIRCUITS.len()),
            ("hut-divided-12bit", Chip::CortexM0plus, 0),
            ("hut-supply-12bit", Chip::Avr, 0),
        ] {
            let path = format!("front-ends/{name}.toml");
            let subject = &subjects(&[&path]).expect("describable")[0];
            let found = drawings(chip, subject).expect("describable");
            assert_eq!(found.len(), circuits, "{name}");
            for other in &found {
                assert_eq!(of_drawing(chip, other).count(), 1, "{name}");
            }
        }
    }
}
