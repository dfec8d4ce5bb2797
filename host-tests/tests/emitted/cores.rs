//! The emitted C on small cores, every shipped front end: built by avr-gcc and arm-none-eabi-gcc, run on the simulators of
//! `cores/runners`, compared with the exact model, as `tallyvolt cost` does.

use std::path::Path;

use super::support::{folder, shipped};
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::figure::Costs;
use tallyvolt_cost::runner;
use tallyvolt_host::cost::emitted::{Emitted, Parts};
use tallyvolt_host::cost::subject::{Subject, emitted};
use tallyvolt_host::emit::Lang;
use tallyvolt_host::words::cost::table;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::FrontEnd;

/// Counts swept for each function, evenly spread; `tallyvolt cost` takes all of them for some front ends.
const SWEPT: u32 = 4099;

const CORES: [Chip; 5] = [
    Chip::Avr25,
    Chip::Avr,
    Chip::CortexM0plus,
    Chip::Rv32e,
    Chip::Rv32imc,
];

/// Gain and offset of the modules, others than those of `tallyvolt cost`.
const WORDS: (u32, i32) = (16_792_649, 1359);

/// Everything that a front end's header has, with its assembly or without, after a change of its text.
fn costs(
    chip: Chip,
    front_ends: &[&FrontEnd],
    folder: &Path,
    portable: bool,
    change: impl Fn(String) -> String,
) -> Costs {
    let simulator = runner::build(chip, folder).expect("what host-tests/cores/ci.sh installs");
    let mut costs = Costs::none(chip, "no Rust".to_owned());
    for front_end in front_ends {
        let header = change(emitted(front_end, Lang::C).expect("it passes its check"));
        let curve = CalibrationModel::from_words(WORDS.0, WORDS.1);
        let subject = Subject::calibrated(front_end, &curve).expect("it has constants");
        let emitted = Emitted {
            chip,
            subject: &subject,
            header: &header,
            counts: SWEPT,
            portable,
        };
        for parts in [Parts::Voltages, Parts::Sensing] {
            emitted
                .measure(&mut costs, parts, &simulator, folder)
                .expect("it is built and run");
        }
    }
    costs
}

fn holds(portable: bool) {
    let front_ends = shipped();
    let front_ends: Vec<&FrontEnd> = front_ends.iter().collect();
    for chip in CORES {
        let folder = folder(&format!("emit-cores-{}-{portable}", chip.word()));
        let costs = costs(chip, &front_ends, &folder, portable, |header| header);
        println!("{}", table(&costs));
        assert!(costs.figures.len() > 3 * front_ends.len());
        assert!(costs.checked_besides.0 > 4000);
        let wrong: u64 = costs.figures.iter().map(|figure| figure.wrong).sum();
        assert_eq!((wrong, costs.checked_besides.1), (0, 0), "{}", chip.word());
        // Without assembly AVR's tables stand in RAM, which breaks a rule: so it is noticed that there really was none.
        let kept = !(portable && chip.is_avr());
        assert_eq!(costs.hold(), kept, "{}", chip.word());
    }
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn emitted_c_is_exact_on_small_cores() {
    holds(false);
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn emitted_c_without_its_assembly_is_exact_on_small_cores() {
    holds(true);
}

/// Negative control: one digit of a constant is found on either core, and the figures do not hold.
#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn a_wrong_digit_is_found() {
    let front_ends = shipped();
    for (name, right, wrong, task) in [
        (
            "hut-divided-12bit",
            "_COUNTS UINT32_C(4094)",
            "_COUNTS UINT32_C(4093)",
            "divided",
        ),
        ("hut-divided-thermistor", " 539, ", " 540, ", "temperature"),
        (
            "hut-divided-thermistor",
            "OVER_VOLTAGE_TRIP UINT32_C(55",
            "OVER_VOLTAGE_TRIP UINT32_C(56",
            "alarm",
        ),
    ] {
        let front_end = front_ends
            .iter()
            .find(|front_end| front_end.name == name)
            .expect("it is shipped");
        for chip in CORES {
            let folder = folder(&format!("emit-cores-wrong-{}", chip.word()));
            let costs = costs(chip, &[front_end], &folder, false, |header| {
                assert!(header.contains(right), "{right}");
                header.replace(right, wrong)
            });
            let wrong: Vec<(&str, u64)> = costs
                .figures
                .iter()
                .filter(|figure| figure.wrong > 0)
                .map(|figure| (&*figure.task, figure.wrong))
                .collect();
            assert!(!costs.hold(), "{} {name} {right}", chip.word());
            assert!(wrong.iter().all(|(of, _)| *of == task), "{wrong:?}");
            assert_eq!(wrong.len(), 1, "{wrong:?}");
        }
    }
}
