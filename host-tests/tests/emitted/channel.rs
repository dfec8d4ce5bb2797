//! The emitted channel in C, built as C99 and C++17 without a warning, against the plain channel that the crate's are compared with: any
//! windows, limits passed in single counts, bleeding, stuck, at a rail, acknowledged; as drawn and with a module's constants.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::support::{Numbers, folder, generated, names, run, run_silent, shipped};
use tallyvolt_host::cost::channel::model;
use tallyvolt_host::cost::subject::Subject;
use tallyvolt_host::emit::error::EmitError;
use tallyvolt_host::emit::{Lang, emit_channel_with};
use tallyvolt_model::channel::{ChannelModel, PlainReading, SensorOutcome};
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::outcome::{FaultName, Outcome};
use tallyvolt_stages::runs::{Step, plain_run};

const COMPILERS: [&[&str]; 3] = [
    &[
        "gcc",
        "-std=c99",
        "-fsanitize=address,undefined",
        "-fno-sanitize-recover=all",
    ],
    &["g++", "-xc++", "-std=c++17"],
    &["clang", "-std=c99"],
];
/// Equal counts that are stuck, and readings to settle.
const STUCK: usize = 4;
const SETTLE: usize = 2;
/// Readings of the walk behind the limits.
const WALK: u32 = 1500;

/// A front end whose samples are summed by firmware, with its header.
fn subjects() -> Vec<(FrontEnd, String)> {
    let front_ends = shipped().into_iter().chain(
        generated(3, Lang::C)
            .into_iter()
            .map(|(front_end, _)| front_end),
    );
    front_ends
        .filter(|front_end| {
            front_end.converter.right_shift == 0 && front_end.converter.samples <= 64
        })
        .map(|front_end| {
            let header = emit_channel_with(&front_end, "as the test does", &|_| {});
            let header = header.expect("it passes its check");
            (front_end, header)
        })
        .collect()
}

/// The counts at which the header's alarms change: of the cell, and of the sensor.
fn ends(header: &str) -> [Vec<u32>; 2] {
    let mut ends = [vec![], vec![]];
    for line in header.lines() {
        let Some((name, rest)) = line.split_once(" UINT32_C(") else {
            continue;
        };
        if ["_TRIP", "_HOLD", "supply_minimum ="]
            .iter()
            .any(|end| name.ends_with(end))
        {
            let digits = rest.split(')').next().expect("a number");
            let of_sensor = usize::from(name.contains("_TEMPERATURE_"));
            ends[of_sensor].push(digits.parse().expect("a number"));
        }
    }
    ends
}

/// A window of samples with this sum, as even as can be.
fn window(front_end: &FrontEnd, count: u32) -> Vec<u16> {
    let samples = front_end.converter.samples;
    let top = (1_u32 << front_end.converter.bits) - 1;
    (0..samples)
        .map(|place| ((count + place) / samples).min(top) as u16)
        .collect()
}

fn steps(front_end: &FrontEnd, header: &str, seed: u64) -> Vec<Step> {
    let mut numbers = Numbers(seed);
    let top = (1 << front_end.converter.bits) - 1;
    let rail = top * front_end.converter.samples;
    let sensor_rail = front_end.thermistor.as_ref().map_or(100, |thermistor| {
        (top * thermistor.samples) >> thermistor.right_shift
    });
    let [cell, sensor] = ends(header);
    let mut steps = Vec::new();
    let mut read = |samples, sensor, bleeding| {
        steps.push(Step::Samples(samples));
        steps.push(Step::Reading(sensor, bleeding));
    };
    // Past every end by single counts, up and down; each thrice, for the debounce.
    for (ends, of_sensor) in [(&cell, false), (&sensor, true)] {
        for end in ends {
            for offset in (0..=12_u32).chain((0..12).rev()) {
                let count = (end + offset).saturating_sub(6);
                for _ in 0..3 {
                    if of_sensor {
                        read(window(front_end, rail / 2), Some(count), false);
                    } else {
                        read(window(front_end, count.min(rail)), None, false);
                    }
                }
            }
        }
    }
    for level in (0..=200).chain((0..200).rev()) {
        let (cell, sensor) = (rail / 200 * level, sensor_rail / 200 * level);
        read(window(front_end, cell), Some(sensor), false);
    }
    let (mut level, mut at, mut bleeding) = (rail / 2, sensor_rail / 2, false);
    for _ in 0..WALK {
        let near = |ends: &[u32], rail: u32, numbers: &mut Numbers| match ends.len() {
            0 => numbers.within(0, rail),
            ends_here => {
                let end = ends[numbers.within(0, ends_here as u32 - 1) as usize];
                let width = (rail / 60).max(2);
                (end + numbers.within(0, 2 * width))
                    .saturating_sub(width)
                    .min(rail)
            }
        };
        match numbers.within(0, 9) {
            0..=3 => level = near(&cell, rail, &mut numbers),
            4 => level = numbers.within(0, rail),
            _ => {}
        }
        match numbers.within(0, 9) {
            0..=2 => at = near(&sensor, sensor_rail, &mut numbers),
            3 => at = numbers.within(0, sensor_rail + 20),
            _ => {}
        }
        bleeding ^= numbers.within(0, if bleeding { 3 } else { 30 }) == 0;
        let mut samples = window(front_end, level);
        if numbers.within(0, 25) == 0 {
            let place = numbers.within(0, front_end.converter.samples - 1) as usize;
            samples[place] = [0, top as u16, u16::MAX][numbers.within(0, 2) as usize];
        }
        let sensor = (numbers.within(0, 15) > 0).then_some(at);
        steps.push(Step::Samples(samples));
        steps.push(Step::Reading(sensor, bleeding));
        if numbers.within(0, 40) == 0 {
            steps.push(Step::Acknowledge);
        }
    }
    steps
}

/// The steps as the program of `channel.c` reads them.
fn file(record: &[u8; 32], steps: &[Step]) -> Vec<u8> {
    let mut bytes = record.to_vec();
    for step in steps {
        match step {
            Step::Samples(samples) => {
                bytes.push(0);
                bytes.extend(samples.iter().flat_map(|sample| sample.to_le_bytes()));
            }
            Step::Reading(sensor, bleeding) => {
                bytes.push(u8::from(sensor.is_some()));
                bytes.extend(sensor.unwrap_or(0).to_le_bytes());
                bytes.push(u8::from(*bleeding));
            }
            Step::Acknowledge => bytes.push(1),
        }
    }
    bytes
}

/// A reading as the program prints it.
fn line(reading: &PlainReading, outside: u32) -> String {
    let (fault, voltage) = match reading.voltage {
        Outcome::Units(units) => (0, units),
        Outcome::Fault(FaultName::ZeroCount) => (1, 0),
        Outcome::Fault(FaultName::Rail) => (2, 0),
        Outcome::Fault(FaultName::BelowRange) => (3, 0),
        Outcome::Fault(FaultName::AboveRange) => (4, 0),
    };
    let (tenths, sensor_fault) = match reading.temperature {
        None => (0, 0),
        Some(SensorOutcome::Tenths(tenths)) => (tenths, 0),
        Some(SensorOutcome::Open) => (0, 5),
        Some(SensorOutcome::Short) => (0, 6),
        Some(SensorOutcome::OutOfTable) => (0, outside),
    };
    let alarms = reading.alarms.iter().rev();
    let alarms = alarms.fold(0, |bits, alarm| bits << 1 | u32::from(*alarm));
    format!(
        "{fault} {voltage} {tenths} {sensor_fault} {} {} {alarms}",
        u8::from(reading.temperature.is_some()),
        reading.faults
    )
}

/// The readings that the model gives. Outside the table the plain one does not say on which side; the count does.
fn wanted(model: &ChannelModel, steps: &[Step]) -> Vec<String> {
    let sensors = steps.iter().filter_map(|step| match step {
        Step::Reading(sensor, _) => Some(*sensor),
        _ => None,
    });
    plain_run(model, steps)
        .iter()
        .zip(sensors)
        .map(|(reading, sensor)| {
            let side = model
                .table
                .as_ref()
                .zip(sensor)
                .map_or(7, |(table, count)| {
                    let rises = table.entries.first() < table.entries.last();
                    if (count < table.first) == rises { 7 } else { 8 }
                });
            line(&reading.expect("a whole window each time"), side)
        })
        .collect()
}

fn compiled(folder: &Path, front_end: &FrontEnd, header: &str, compiler: &[&str]) -> PathBuf {
    let name = names(front_end).lower;
    fs::write(folder.join(format!("{name}.h")), header).expect("written");
    let program = include_str!("channel.c")
        .replace(
            "front_end_samples",
            &front_end.converter.samples.to_string(),
        )
        .replace("front_end", &name);
    let mut text = String::new();
    // As on an 8-bit core, where the header knows the choice.
    let upper = names(front_end).upper;
    if compiler[0] != "gcc" && header.contains(&format!("#ifdef {upper}_PRODUCTS_16")) {
        let _ = writeln!(text, "#define {upper}_PRODUCTS_16");
    }
    let _ = write!(
        text,
        "#define {upper}_STUCK_READINGS {STUCK}\n#define {upper}_SETTLE_READINGS {SETTLE}\n{limits}#include \"{name}.h\"\n{program}",
        limits = [
            ("#define HAS_LIMITS\n", "_channel_acknowledge("),
            ("#define HAS_DRAWN\n", "_drawn("),
        ]
        .map(|(text, name)| if header.contains(name) { text } else { "" })
        .concat(),
    );
    let source = folder.join(format!("{name}.c"));
    fs::write(&source, text).expect("written");
    let built = folder.join(&name);
    let mut command = Command::new(compiler[0]);
    command
        .args(&compiler[1..])
        .args([
            "-O1",
            "-Wall",
            "-Wextra",
            "-Wconversion",
            "-Werror",
            "-pedantic",
            "-o",
        ])
        .arg(&built)
        .arg(&source);
    run_silent(&mut command, compiler[0]);
    built
}

/// Readings compared, and those that differ.
fn compared(
    folder: &Path,
    front_end: &FrontEnd,
    header: &str,
    compiler: &[&str],
) -> (usize, usize) {
    let program = compiled(folder, front_end, header, compiler);
    let subject = Subject::of(front_end).expect("it has constants");
    let (mut compared, mut differ) = (0, 0);
    let has_drawn = header.contains("_drawn(");
    let ways = [
        (false, [0; 32]),
        (false, [u8::from(has_drawn); 32]),
        (true, subject.record),
    ];
    for (calibrated, record) in ways {
        let model = ChannelModel {
            stuck_readings: STUCK,
            settle_readings: SETTLE,
            ..model(&subject, calibrated)
        };
        let steps = steps(front_end, header, 7);
        let input = folder.join("steps");
        fs::write(&input, file(&record, &steps)).expect("written");
        let output = run(Command::new(&program).arg(&input), compiler[0]);
        // 4: a limit cannot be read with the module's constants, which it says.
        if calibrated && output.status.code() == Some(4) {
            continue;
        }
        assert!(output.status.success(), "{} {output:?}", front_end.name);
        let said = String::from_utf8(output.stdout).expect("text");
        let wanted = wanted(&model, &steps);
        assert_eq!(said.lines().count(), wanted.len(), "{}", front_end.name);
        for (place, (line, wanted)) in said.lines().zip(&wanted).enumerate() {
            if line != wanted {
                if differ == 0 {
                    eprintln!(
                        "{} {calibrated} reading {place}: {line} and not {wanted}",
                        front_end.name
                    );
                }
                differ += 1;
            }
        }
        compared += wanted.len();
    }
    (compared, differ)
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn a_channel_in_c_equals_the_plain_one_at_every_reading() {
    let subjects = subjects();
    assert!(subjects.len() > 20, "{} front ends", subjects.len());
    let folder = folder("emit-channel");
    let (mut total, mut wrong) = (0, 0);
    for (index, (front_end, header)) in subjects.iter().enumerate() {
        let (compared, differ) = compared(
            &folder,
            front_end,
            header,
            COMPILERS[index % COMPILERS.len()],
        );
        total += compared;
        wrong += differ;
    }
    eprintln!("{} front ends, {total} readings", subjects.len());
    assert!(total > 50_000, "{total} readings");
    assert_eq!(wrong, 0);
}

/// Negative control: a rule changed in the header is found.
#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn a_changed_rule_is_found() {
    let subjects = subjects();
    let folder = folder("emit-channel-wrong");
    for (name, right, wrong) in [
        ("hut-divided-thermistor", "(hold + 1)", "hold"),
        ("hut-divided-thermistor", "~trip;", "(~trip - 1);"),
        ("hut-supply-thermistor", "(one - 1u) >=", "(one - 1u) >"),
        ("hut-supply-thermistor", "equal < 255", "equal < 2"),
        ("hut-supply-thermistor", "settling--", "settling = 0"),
        (
            "hut-supply-thermistor",
            "count > channel->supply_minimum",
            "count > channel->supply_minimum + 1",
        ),
    ] {
        let (front_end, header) = subjects
            .iter()
            .find(|(front_end, _)| front_end.name == name)
            .expect("it is shipped");
        assert!(header.contains(right), "{right}");
        let changed = header.replace(right, wrong);
        let (_, differ) = compared(&folder, front_end, &changed, COMPILERS[2]);
        assert!(differ > 0, "{name}: {wrong}");
    }
}

#[test]
fn a_shift_by_hardware_has_no_channel() {
    let mut front_end = shipped().remove(0);
    front_end.converter.samples = 16;
    front_end.converter.right_shift = 2;
    let refused = emit_channel_with(&front_end, "as the test does", &|_| {});
    assert!(
        matches!(refused, Err(EmitError::ChannelShift { right_shift: 2 })),
        "{refused:?}"
    );
}
