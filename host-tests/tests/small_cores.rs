//! What needs cross compilers and simulators: images that keep the rules, controls that break them, and a whole firmware.
//!
//! `cargo test -p tallyvolt-host --test small_cores -- --ignored`, after `cores/ci.sh` or its list of packages.

use std::path::{Path, PathBuf};

use tallyvolt_host::cost::chip::Chip;
use tallyvolt_host::cost::elf::Image;
use tallyvolt_host::cost::images::{Objects, constants, firmware};
use tallyvolt_host::cost::jobs::calibrated;
use tallyvolt_host::cost::runner::{self, Runner};
use tallyvolt_host::cost::toolchain::{Choice, Toolchain, require};
use tallyvolt_host::front_end::FrontEnd;
use tallyvolt_host::front_end_file;
use tallyvolt_host::model::Model;
use tallyvolt_host::model::calibration::CalibrationModel;
use tallyvolt_host::outcome::Outcome;

/// As `cores/ci.sh` uses it, so that nothing is built twice.
fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/cost")
}

fn toolchain(chip: Chip) -> Toolchain {
    require(chip, Choice::Debian).expect("the packages that cores/ci.sh installs")
}

fn board(name: &str) -> FrontEnd {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("cores/front-ends/{name}.toml"));
    front_end_file::read(&path).expect("a good file")
}

/// Each control breaks one rule, on every core, and is named for it; a function of the library in the same archive breaks none.
#[test]
#[ignore = "needs cross compilers"]
fn negative_controls_break_the_rule_that_they_are_for() {
    let source = constants(&[board("board-divided")]).expect("describable");
    for chip in Chip::ALL {
        let objects = Objects::compile(chip, &toolchain(chip), &source, &folder()).expect("images");
        let broken = |symbol: &str| {
            let image = objects
                .link(symbol, &[symbol.to_owned()], false)
                .expect("linked");
            Image::read(&image)
                .expect("an image")
                .broken_rules()
                .join("; ")
        };
        for (control, rule) in [
            ("control_panics", "can panic"),
            ("control_floats", "soft-float"),
            ("control_keeps_state", "static RAM"),
            ("control_allocates", "heap"),
        ] {
            let found = broken(control);
            assert!(found.contains(rule), "{}: {control}: {found}", chip.word());
        }
        for path in [
            "divided_outcome",
            "supply_outcome",
            "supply_arch_outcome",
            "sliding_sum_16",
        ] {
            assert_eq!(broken(path), "", "{}: {path}", chip.word());
        }
    }
}

/// What the simulated converter gives: sixteen times floor(mV * 1023 / reference).
fn count_of(signal_mv: u32, reference_mv: u32) -> u32 {
    16 * (signal_mv * 1023 / reference_mv).min(1023)
}

fn verdict(outcome: Outcome) -> String {
    match outcome {
        Outcome::Units(mv) if mv < 2500 => format!("{mv} low"),
        Outcome::Units(mv) if mv <= 3600 => format!("{mv} ok"),
        Outcome::Units(mv) => format!("{mv} high"),
        Outcome::Fault(_) => "fault".to_owned(),
    }
}

/// Cell voltages from 1.9 V to 4.3 V in steps of 5 mV, through converter registers, sum, conversion, limits and UART.
#[test]
#[ignore = "needs avr-gcc and libsimavr"]
fn every_millivolt_that_the_firmware_sends_is_the_models() {
    let (supply_board, divided_board) = (board("board-supply"), board("board-divided"));
    let source = constants(&[supply_board.clone(), divided_board.clone()]).expect("describable");
    let image = firmware(&toolchain(Chip::Avr), &source, &folder()).expect("a firmware");
    let program = runner::build(Chip::Avr, &folder()).expect("a simulator");
    let mut runner = Runner::start(&program, &image).expect("the image starts");

    let supply = calibrated(&supply_board);
    let divided = Model::new(&divided_board, CalibrationModel::identity());
    let uncalibrated = Model::new(&supply_board, CalibrationModel::identity());
    let (mut readings, mut mismatches, mut noticed) = (0, Vec::new(), 0);
    for cell_mv in (1900..=4300).step_by(5) {
        // 30 kOhm over 10 kOhm; the simulator takes whole millivolts.
        let pin_mv = cell_mv / 4;
        let lines = runner.system(cell_mv, pin_mv, 2, 2_000_000).expect("a run");
        let supply_count = count_of(1100, cell_mv);
        let wanted = [
            format!("supply {}", verdict(supply.outcome(supply_count))),
            format!(
                "divided {}",
                verdict(divided.outcome(count_of(pin_mv, 1100)))
            ),
        ];
        readings += lines.len();
        if lines != wanted {
            mismatches.push((cell_mv, lines.clone(), wanted));
        }
        // Negative control: another module's calibration must not pass.
        noticed += usize::from(
            lines[0] != format!("supply {}", verdict(uncalibrated.outcome(supply_count))),
        );
    }
    println!(
        "{readings} readings of 481 cell voltages, {} mismatches",
        mismatches.len()
    );
    assert_eq!(mismatches, []);
    assert_eq!(readings, 2 * 481);
    assert!(
        noticed > 400,
        "only {noticed} readings tell the calibration from none"
    );
}
