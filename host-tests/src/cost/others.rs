//! Modules far off, constants near their bounds and other circuits: what the kernels make of numbers that no shipped front end has.

use tallyvolt::QuotientConstants;
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::error::CostError;
use tallyvolt_cost::figure::Origin;
use tallyvolt_cost::job::{First, Job};
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{Divider, FrontEnd, Topology};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::rational::whole;

use self::line_constants::{OF_8, OF_12, OF_16};
use super::jobs;
use super::subject::Subject;
use tallyvolt_analysis::calibrate::fit::stored::form;
use tallyvolt_analysis::describe::firmware::Constants;

/// The lines that are built into the images.
#[path = "../../cores/images/src/line_constants.rs"]
mod line_constants;

/// Gains in 2^-24 and offsets in 1/256 counts: so far off that sums carry where those of a module as parts are do not.
const CALIBRATIONS: [(u32, i32); 6] = [
    (16_200_001, 7_919),
    (17_400_003, -5_003),
    (16_000_057, -9_001),
    (17_179_869, 12_289),
    (15_900_007, 20_011),
    (17_600_011, -12_007),
];

/// The sequence number of a subject's record.
const SEQUENCE: u32 = 1;

/// A module is asked at no more counts than these.
const FEW_COUNTS: u32 = 1 << 12;

/// K and D of quotients near their bounds, at t = 1. K is below 2^16 D there. The last one's values turn from 1 to 0,
/// which shows an estimate that is a little too large.
const QUOTIENTS: [(u64, u32); 6] = [
    (0x8EFF_FFFF, 57_346),
    (0xE000_FFFF, 57_346),
    (0x3FFF_FFFF, 49_154),
    (0x40FE_FF00, 30_000),
    (0x0001_FFFF, 4),
    (30_836, 61_672),
];

/// Bits, reference in microvolts, and the resistors to the cell and to ground in ohms: drawings of every form, whose sums carry where those of
/// shipped front ends do not.
const CIRCUITS: [(u32, u32, u32, u32); 12] = [
    (8, 1_100_000, 33_200, 10_000),
    (8, 1_225_000, 24_900, 10_000),
    (10, 1_200_000, 28_700, 9_090),
    (10, 1_225_000, 24_900, 10_000),
    (12, 1_024_000, 31_600, 10_000),
    (12, 2_500_000, 9_310, 9_090),
    (13, 1_250_000, 80_900, 14_300),
    (13, 1_225_000, 164_300, 30_100),
    (14, 1_100_000, 81_200, 15_400),
    (15, 1_225_000, 52_700, 8_660),
    (16, 1_250_000, 46_400, 10_000),
    (16, 2_048_000, 33_600, 30_100),
];

/// Drawings and lines are asked at no more counts than these.
const MANY_COUNTS: u32 = 1 << 14;

/// Other circuits and converters than a divided front end's; none of a quotient.
///
/// # Errors
/// [`CostError::File`] where the crate refuses one.
pub(super) fn circuits(subject: &Subject) -> Result<Vec<Subject>, CostError> {
    let front_end = &subject.front_end;
    let Topology::DividedInput(divider) = &front_end.topology else {
        return Ok(Vec::new());
    };
    let mut found = Vec::new();
    for (number, (bits, microvolts, top, bottom)) in (1..).zip(CIRCUITS) {
        let mut other = FrontEnd {
            name: format!("circuit-{number}"),
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
        let converter = &mut other.converter;
        (converter.bits, converter.samples, converter.right_shift) = (bits, 1, 0);
        found.push(Subject::of(&other)?);
    }
    Ok(found)
}

/// Jobs of another circuit: as drawn, by a constant and by a type; and a record made from its loaded module. Their answers are compared, and not
/// shown.
pub(super) fn of_circuit(chip: Chip, subject: &Subject) -> Vec<Job> {
    let form = subject.drawn_form();
    let job = |way: &str, origin| {
        let symbol = format!("{}_{way}", subject.names.lower);
        hidden(origin, symbol, &form, subject.rail)
    };
    let types = of_types(chip).iter().map(|origin| job("drawn", *origin));
    let constant = job("constant", Origin::Portable);
    let kept = of_types(chip).iter().map(|origin| kept(*origin, subject));
    types.chain([constant]).chain(kept).collect()
}

/// The checksum of the record that a chip makes from the module it loaded.
fn kept(origin: Origin, subject: &Subject) -> Job {
    let [.., a, b, c, d] = subject.record;
    let symbol = format!("{}_kept", subject.names.lower);
    Job {
        types: ("u32", "u32"),
        sweep: (SEQUENCE, SEQUENCE, 1),
        state: Some(format!("{}_MODULE", subject.names.upper)),
        first: First::Load(jobs::load(subject, "load")),
        answers: vec![u32::from_le_bytes([a, b, c, d]).into()],
        shown: false,
        ..jobs::plain(&symbol, "kept", origin, &symbol)
    }
}

/// Whose code converts by a type: a core with a kernel converts without it as well where firmware does not ask for it.
fn of_types(chip: Chip) -> &'static [Origin] {
    match chip {
        Chip::Avr | Chip::Avrxt => &[Origin::Portable, Origin::Arch],
        _ => &[Origin::Portable],
    }
}

fn hidden(origin: Origin, symbol: String, form: &IntegerForm, rail: u32) -> Job {
    let sweep = (0, rail, jobs::step(rail, MANY_COUNTS));
    Job {
        types: ("u16", "u16"),
        sweep,
        answers: jobs::answers(sweep, |count| jobs::reading(form, count)),
        shown: false,
        ..jobs::plain(&symbol, "divided", origin, &symbol)
    }
}

/// Jobs of the lines near their bounds, as types: their answers are compared, and not shown.
pub(super) fn of_bounds(chip: Chip) -> Vec<Job> {
    let mut found = Vec::new();
    for (bits, lines) in [(8, &OF_8[..]), (12, &OF_12), (16, &OF_16)] {
        let rail = (1 << bits) - 1;
        for (index, line) in lines.iter().enumerate() {
            let form = form(&Constants::Line(*line), rail);
            let symbol = format!("line_{bits}_{index}");
            for origin in of_types(chip) {
                found.push(hidden(*origin, symbol.clone(), &form, rail));
            }
        }
    }
    found
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
    use tallyvolt_analysis::describe::firmware::Constants;
    use tallyvolt_cost::chip::Chip;

    use super::{
        CALIBRATIONS, CIRCUITS, MANY_COUNTS, QUOTIENTS, Subject, circuits, of_bounds, of_circuit,
        of_types, others,
    };
    use crate::cost::measure::subjects;

    fn shipped(name: &str) -> Subject {
        let path = format!("front-ends/{name}.toml");
        subjects(&[&path]).expect("describable").remove(0)
    }

    /// No module is left out unseen.
    #[test]
    fn every_other_module_has_a_record() {
        for (name, quotients) in [
            ("hut-divided-10bit", 0),
            ("hut-divided-12bit", 0),
            ("hut-supply-12bit", QUOTIENTS.len()),
        ] {
            let found = others(&shipped(name)).expect("describable").len();
            assert_eq!(found, CALIBRATIONS.len() + quotients, "{name}");
        }
    }

    /// No circuit and no line is left out unseen, and they have every form.
    #[test]
    fn every_circuit_and_line_is_asked() {
        let found = circuits(&shipped("hut-divided-12bit")).expect("describable");
        assert_eq!(found.len(), CIRCUITS.len());
        for (chip, ways) in [(Chip::Avr, 2), (Chip::Avr25, 1)] {
            assert_eq!(of_types(chip).len(), ways);
            assert_eq!(of_bounds(chip).len(), 14 * ways);
            for circuit in &found {
                let jobs = of_circuit(chip, circuit);
                assert_eq!(jobs.len(), 1 + 2 * ways);
                let least = circuit.rail.min(MANY_COUNTS) as usize * 2 / 3;
                let mut converting = jobs.iter().filter(|job| job.task != "kept");
                assert!(converting.all(|job| job.answers.len() > least));
            }
        }
        // S and the bits of M: short forms, whose S is the bits of a count and 3 more, and full ones.
        let forms = found.iter().map(|circuit| {
            let conversion = circuit.firmware.conversion().expect("proven");
            let Constants::Line(line) = conversion.constants() else {
                panic!("a divided input converts by a line");
            };
            (line.shift, 128 - line.factor.leading_zeros())
        });
        let (short, full): (Vec<_>, Vec<_>) = forms.partition(|(_, bits)| *bits <= 16);
        assert_eq!(
            short,
            [(11, 16), (11, 16), (13, 16), (15, 16), (17, 16), (19, 16)]
        );
        assert_eq!(
            full,
            [(16, 19), (24, 25), (24, 25), (24, 24), (32, 31), (32, 29)]
        );
    }
}
