//! What needs cross compilers and simulators: images that keep the rules, controls that break them, and a whole firmware.
//!
//! `cargo test -p tallyvolt-host --test emitted small_cores -- --ignored`, after `cores/ci.sh` or its list of packages.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::elf::Image;
use tallyvolt_cost::error::CostError;
use tallyvolt_cost::figure::Origin;
use tallyvolt_cost::images::{Objects, Wanted, firmware};
use tallyvolt_cost::runner::{self, Runner};
use tallyvolt_cost::toolchain::{Choice, Toolchain, require};
use tallyvolt_host::cost::measure::measure;
use tallyvolt_host::cost::subject::Subject;
use tallyvolt_host::cost::{channel, source};
use tallyvolt_model::channel::{ChannelModel, PlainChannel, SensorOutcome};
use tallyvolt_model::outcome::Outcome;

/// As `cores/ci.sh` uses it, so that nothing is built twice.
fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/cost")
}

fn toolchain(chip: Chip) -> Toolchain {
    require(chip, Choice::Debian).expect("the packages that cores/ci.sh installs")
}

fn subject(path: &str) -> Subject {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    Subject::of(&front_end_file::read(&path).expect("a good file")).expect("describable")
}

fn board(name: &str) -> Subject {
    subject(&format!("cores/front-ends/{name}.toml"))
}

/// Paths of the library, as the names of their functions end: a load with what follows it, and what runs at every reading.
const LOADS: [&str; 2] = ["_load", "_limit"];
const READINGS: [&str; 6] = [
    "_constant_outcome",
    "_calibrated_outcome",
    "_temperature_outcome",
    "_calibrated",
    "_start",
    "_reading",
];

/// Those of a module with a table of reciprocals.
const TABLED: [&str; 3] = ["_tabled_load", "_tabled_outcome", "_tabled"];

/// Every path of the library links nothing that panics, proves, divides more than 64 bits, computes in floats, allocates or keeps
/// static RAM, on every core; and each control breaks the rule that it is named for.
#[test]
#[ignore = "needs cross compilers"]
fn images_of_the_library_keep_the_rules_and_controls_break_them() {
    let subjects = ["hut-divided-thermistor", "hut-supply-thermistor"]
        .map(|name| subject(&format!("front-ends/{name}.toml")));
    let tabled = subject("front-ends/hut-supply-12bit.toml");
    let described = [&subjects[..], std::slice::from_ref(&tabled)].concat();
    for chip in Chip::ALL.into_iter().chain([Chip::CortexM4]) {
        let source = source::images(&described).expect("they pass their checks");
        let mut checked = 0;
        let kernels = [Wanted::Kernels, Wanted::SmallKernels].into_iter();
        let kernels = kernels.filter(|_| chip.has_kernels());
        for wanted in [Wanted::Speed, Wanted::Size].into_iter().chain(kernels) {
            let objects = Objects::compile(chip, &toolchain(chip), wanted, &source, &folder())
                .expect("images");
            let broken = |symbol: &str| {
                let image = match objects.link("rules", &[symbol.to_owned()], false) {
                    Ok(linked) => Image::read(&linked).expect("an image"),
                    Err(error) => return error.to_string(),
                };
                if image.flash == 0 {
                    return "not linked".to_owned();
                }
                [image.broken_rules(), image.broken_load_rules()]
                    .concat()
                    .join("; ")
            };
            for (control, rule) in [
                ("control_panics", "can panic"),
                ("control_floats", "soft-float"),
                ("control_keeps_state", "static RAM"),
                ("control_allocates", "heap"),
                ("control_divides", "divides more than 64 bits"),
                ("control_proves", "proves"),
            ] {
                // Elsewhere the compiler writes a long division out, and no symbol tells of it.
                if control == "control_divides" && !chip.is_avr() {
                    continue;
                }
                let found = broken(control);
                // Long divisions and proofs do not even fit the smallest chip.
                let too_large = chip == Chip::Avr25 && found.contains("will not fit");
                assert!(
                    found.contains(rule) || too_large,
                    "{} {wanted:?}: {control}: {found}",
                    chip.word()
                );
            }
            for subject in &subjects {
                for path in LOADS.into_iter().chain(READINGS) {
                    // The set-up of a start, and its table, are constants: on AVR these stand in RAM.
                    if path == "_start" && chip.is_avr() {
                        continue;
                    }
                    let symbol = format!("{}{path}", subject.names.lower);
                    assert_eq!(broken(&symbol), "", "{} {wanted:?}: {symbol}", chip.word());
                    checked += 1;
                }
            }
            assert_eq!(broken("no_such_path"), "not linked");
            let of_tables = TABLED.map(|path| format!("{}{path}", tabled.names.lower));
            let stages = ["sliding_sum_16", "median_of_5", "trimmed_sum", "alarm_step"];
            for path in stages.map(str::to_owned).iter().chain(&of_tables) {
                assert_eq!(broken(path), "", "{} {wanted:?}: {path}", chip.word());
                checked += 1;
            }
        }
        println!(
            "{}: {checked} paths keep the rules, and every control breaks its own",
            chip.word()
        );
    }
}

/// Asked for kernels of a core without any, the program does not say that all answers were right.
#[test]
#[ignore = "needs cross compilers"]
fn ways_that_a_core_has_none_of_are_an_error() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends/hut-divided-12bit.toml");
    let front_end = front_end_file::read(&file).expect("shipped");
    let found = measure(
        Chip::Rv32e,
        Choice::Debian,
        Some(&front_end),
        &[Origin::Arch],
        &folder(),
    );
    assert!(matches!(found, Err(CostError::Nothing)));
}

/// What the simulated converter gives: floor(mV * 1023 / reference).
fn sample_of(signal_mv: u32, reference_mv: u32) -> u16 {
    (signal_mv * 1023 / reference_mv).min(1023) as u16
}

/// The lines of a channel that reads the same inputs twice.
fn lines(name: &str, model: &ChannelModel, cell: u16, sensor: u16) -> [String; 2] {
    let mut channel = PlainChannel::new(model);
    [(); 2].map(|()| {
        channel.samples(&[cell; 16]);
        let reading = channel.reading(Some(4 * u32::from(sensor)), false);
        let reading = reading.expect("sixteen samples are a window");
        let voltage = match reading.voltage {
            Outcome::Units(mv) => mv.to_string(),
            Outcome::Fault(_) => "-".to_owned(),
        };
        let temperature = match reading.temperature {
            Some(SensorOutcome::Tenths(tenths)) => tenths.to_string(),
            _ => "-".to_owned(),
        };
        let alarms = reading.alarms.iter().rev();
        let alarms = alarms.fold(0, |sum, alarm| 2 * sum + u32::from(*alarm));
        format!(
            "{name} {voltage} {temperature} alarms {alarms} faults {}",
            reading.faults
        )
    })
}

/// Cell voltages from 1.9 V to 4.3 V in steps of 5 mV and sensor voltages from short to open, through converter registers,
/// windows, conversions, tables, limits and UART: each millivolt, tenth of a degree, alarm and fault, twice for the debounce.
#[test]
#[ignore = "needs avr-gcc and libsimavr"]
fn every_line_that_the_firmware_sends_is_the_models() {
    let (supply_board, divided_board) = (board("board-supply"), board("board-divided"));
    let build = |supply: Subject| {
        let source =
            source::firmware(&[supply, divided_board.clone()]).expect("they pass their checks");
        firmware(&toolchain(Chip::Avr), &source, &folder()).expect("a firmware")
    };
    let program = runner::build(Chip::Avr, &folder()).expect("a simulator");

    // With an erased EEPROM it says so, and goes on as drawn.
    let blank = Subject {
        record: [0xFF; tallyvolt::RECORD_BYTES],
        ..supply_board.clone()
    };
    let mut runner = Runner::start(&program, &build(blank)).expect("the image starts");
    let sent = runner.system(3300, &[(0, 825), (1, 1650), (2, 550)], 2, 8_000_000);
    let sent = sent.expect("a run");
    let uncalibrated = channel::model(&supply_board, false);
    let drawn = lines(
        "supply",
        &uncalibrated,
        sample_of(1100, 3300),
        sample_of(1650, 3300),
    );
    assert_eq!(sent, ["no calibration", &drawn[0]]);

    let image = build(supply_board.clone());
    let mut runner = Runner::start(&program, &image).expect("the image starts");
    let supply = channel::model(&supply_board, true);
    let divided = channel::model(&divided_board, false);
    let (mut readings, mut mismatches, mut noticed) = (0, Vec::new(), 0);
    let (mut faults, mut alarms) = (BTreeSet::new(), BTreeSet::new());
    for (place, cell_mv) in (0_u32..).zip((1900..=4300).step_by(5)) {
        // 30 kOhm over 10 kOhm; the simulator takes whole millivolts.
        let cell_pin = cell_mv / 4;
        // Shorted and open now and then; between them the sensors go over their whole range, out of step with the cell.
        let part = match place % 20 {
            0 => 0,
            1 => 1000,
            _ => place * 37 % 1001,
        };
        let (sensor_1, sensor_2) = (cell_mv * part / 1000, 1100 * (1000 - part) / 1000);
        let pins = [(0, cell_pin), (1, sensor_1), (2, sensor_2)];
        let sent = runner.system(cell_mv, &pins, 4, 8_000_000).expect("a run");
        let (cell, sensor) = (sample_of(1100, cell_mv), sample_of(sensor_1, cell_mv));
        let [first, third] = lines("supply", &supply, cell, sensor);
        let [second, fourth] = lines(
            "divided",
            &divided,
            sample_of(cell_pin, 1100),
            sample_of(sensor_2, 1100),
        );
        // Negative control: another module's calibration must not pass.
        noticed +=
            usize::from(sent.first() != Some(&lines("supply", &uncalibrated, cell, sensor)[0]));
        for line in &sent {
            let mut words = line.split(' ').rev();
            faults.extend(words.next().and_then(|word| word.parse::<u16>().ok()));
            alarms.extend(words.nth(1).and_then(|word| word.parse::<u16>().ok()));
        }
        readings += sent.len();
        let wanted = [first, second, third, fourth];
        if sent != wanted {
            mismatches.push((cell_mv, sent, wanted));
        }
    }
    println!(
        "{readings} readings of 481 cell voltages, {} mismatches; alarms {alarms:?}, faults {faults:?}",
        mismatches.len()
    );
    assert_eq!(mismatches, []);
    assert_eq!(readings, 4 * 481);
    assert!(
        noticed > 400,
        "only {noticed} readings tell the calibration from none"
    );
    // Each alarm and each fault of a sensor was among them.
    for alarm in [1, 2, 4, 8] {
        assert!(alarms.iter().any(|bits| bits & alarm != 0), "alarm {alarm}");
    }
    for fault in [1 << 5, 1 << 6, 1 << 7] {
        assert!(faults.iter().any(|bits| bits & fault != 0), "fault {fault}");
    }
}
