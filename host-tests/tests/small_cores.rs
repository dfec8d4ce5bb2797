//! What needs cross compilers and simulators: images that keep the rules, controls that break them, and a whole firmware.
//!
//! `cargo test -p tallyvolt-host --test small_cores -- --ignored`, after `cores/ci.sh` or its list of packages.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use tallyvolt_host::cost::channel;
use tallyvolt_host::cost::channel_source;
use tallyvolt_host::cost::chip::Chip;
use tallyvolt_host::cost::elf::Image;
use tallyvolt_host::cost::images::{Objects, constants, firmware};
use tallyvolt_host::cost::runner::{self, Runner};
use tallyvolt_host::cost::toolchain::{Choice, Toolchain, require};
use tallyvolt_host::front_end::FrontEnd;
use tallyvolt_host::front_end_file;
use tallyvolt_host::model::channel::{ChannelModel, PlainChannel, SensorOutcome};
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
            "temperature_outcome",
            "median_of_5",
        ] {
            assert_eq!(broken(path), "", "{}: {path}", chip.word());
        }
    }
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
    let mut source =
        constants(&[supply_board.clone(), divided_board.clone()]).expect("describable");
    source += &channel_source::setup(&supply_board, true).expect("a table");
    source += &channel_source::setup(&divided_board, false).expect("a table");
    let image = firmware(&toolchain(Chip::Avr), &source, &folder()).expect("a firmware");
    let program = runner::build(Chip::Avr, &folder()).expect("a simulator");
    let mut runner = Runner::start(&program, &image).expect("the image starts");

    let supply = channel::model(&supply_board, true).expect("a table");
    let divided = channel::model(&divided_board, false).expect("a table");
    let uncalibrated = channel::model(&supply_board, false).expect("a table");
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
