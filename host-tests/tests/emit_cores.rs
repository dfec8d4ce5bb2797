//! The emitted C on small cores: built by avr-gcc and arm-none-eabi-gcc, run on the simulators of `cores/runners`, compared
//! with the exact model, and its cycles printed.

mod emit_support;

use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use emit_support::{folder, names, run_silent, shipped};
use tallyvolt_host::emit::{Lang, emit};
use tallyvolt_host::front_end::FrontEnd;
use tallyvolt_host::model::Model;
use tallyvolt_host::model::calibration::CalibrationModel;
use tallyvolt_host::model::integer_form::IntegerForm;
use tallyvolt_host::outcome::{FaultName, Outcome};

/// Counts swept on a simulator for each front end, evenly spread.
const SWEPT: u32 = 4099;

/// A core's compiler and runner.
struct Core {
    name: &'static str,
    compiler: &'static [&'static str],
    compiler_package: &'static str,
    runner: &'static str,
    runner_libraries: &'static [&'static str],
    runner_package: &'static str,
}

const CORES: [Core; 2] = [
    Core {
        name: "AVR",
        compiler: &["avr-gcc", "-mmcu=atmega328p", "-Os", "-nostartfiles"],
        compiler_package: "gcc-avr avr-libc",
        runner: "avr_run",
        runner_libraries: &["-lsimavr", "-lelf"],
        runner_package: "libsimavr-dev libelf-dev",
    },
    Core {
        name: "Cortex-M0+",
        compiler: &[
            "arm-none-eabi-gcc",
            "-mcpu=cortex-m0plus",
            "-mthumb",
            "-O2",
            "-nostartfiles",
            "-nostdlib",
        ],
        compiler_package: "gcc-arm-none-eabi",
        runner: "unicorn_run",
        runner_libraries: &["-lunicorn"],
        runner_package: "libunicorn-dev",
    },
];

/// A function for each front end: the outcome of any count as the tests write it, a voltage or 65535 as firmware would take
/// it, and the same for a calibrated module.
fn image(
    core: &Core,
    folder: &Path,
    front_ends: &[FrontEnd],
    change: impl Fn(String) -> String,
) -> PathBuf {
    let mut program = String::new();
    for front_end in front_ends {
        let header = emit(front_end, Lang::C, "as the test does").expect("it passes its check");
        let names = names(front_end);
        let (lower, upper) = (&names.lower, &names.upper);
        fs::write(folder.join(format!("{lower}.h")), change(header)).expect("written");
        // Narrow counts arrive in 16 bits, as the converter's register holds them.
        let count = if rail(front_end) <= 0xFFFF {
            "uint16_t"
        } else {
            "uint32_t"
        };
        let _ = writeln!(
            program,
            "#include \"{lower}.h\"
static {lower}_module {lower}_one;
uint32_t {lower}_outcome(uint32_t count)
{{
    uint16_t voltage = 0;
    const uint32_t fault = (uint32_t){lower}_voltage(count, &voltage);
    return fault << 16 | voltage;
}}
uint16_t {lower}_reading({count} count)
{{
    uint16_t voltage;
    return {lower}_voltage(count, &voltage) == {upper}_NO_FAULT ? voltage : UINT16_MAX;
}}
uint16_t {lower}_prepare(uint32_t gain, uint32_t offset) {{ return (uint16_t){lower}_calibrate(gain, (int32_t)offset, &{lower}_one); }}
uint16_t {lower}_calibrated_reading({count} count)
{{
    uint16_t voltage;
    return {lower}_calibrated_voltage(&{lower}_one, count, &voltage) == {upper}_NO_FAULT ? voltage : UINT16_MAX;
}}"
        );
    }
    let source = folder.join("image.c");
    fs::write(&source, program).expect("written");
    let image = folder.join(format!("{}.elf", core.runner));
    let mut command = Command::new(core.compiler[0]);
    command.args(&core.compiler[1..]).args([
        "-std=c99",
        "-Wall",
        "-Wextra",
        "-Wconversion",
        "-Werror",
        "-pedantic",
    ]);
    let runners = runners();
    if core.runner == "unicorn_run" {
        command.arg("-T").arg(runners.join("self-test/unicorn.ld"));
    }
    command.arg("-o").arg(&image).arg(&source);
    if core.runner == "unicorn_run" {
        command.arg("-lgcc");
    }
    run_silent(&mut command, core.compiler_package);
    image
}

fn runners() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("cores/runners")
}

fn runner(core: &Core, folder: &Path) -> PathBuf {
    let runner = folder.join(core.runner);
    let source = runners().join(format!("{}.c", core.runner));
    run_silent(
        Command::new("cc")
            .arg("-O2")
            .arg("-o")
            .arg(&runner)
            .arg(source)
            .args(core.runner_libraries),
        &format!("gcc {}", core.runner_package),
    );
    runner
}

fn rail(front_end: &FrontEnd) -> u32 {
    Model::new(front_end, CalibrationModel::identity()).largest_count()
}

/// One row of a runner: result and cycles.
type Row = (u64, u64);

/// Asks a runner, and returns the rows of each request.
fn asked(runner: &Path, image: &Path, requests: &[String]) -> Vec<Vec<Row>> {
    let mut child = Command::new(runner)
        .arg(image)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the runner was just built");
    let mut input = child.stdin.take().expect("piped");
    let text = requests.join("\n") + "\n";
    let writer = std::thread::spawn(move || input.write_all(text.as_bytes()));
    let output = child.wait_with_output().expect("it ends with its input");
    writer
        .join()
        .expect("no panic")
        .expect("it reads to the end");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut replies = vec![Vec::new()];
    for line in said.lines().skip(1) {
        assert!(!line.starts_with("error"), "{line}");
        if line.starts_with("end") {
            replies.push(Vec::new());
            continue;
        }
        let mut words = line.split(' ').map(|word| word.parse().expect("a number"));
        let (result, cycles) = (
            words.next().expect("a result"),
            words.next().expect("cycles"),
        );
        replies
            .last_mut()
            .expect("never empty")
            .push((result, cycles));
    }
    replies.pop();
    assert_eq!(replies.len(), requests.len(), "{said}");
    replies
}

fn exact(form: &IntegerForm, count: u32) -> u64 {
    match form.outcome(count) {
        Outcome::Units(units) => units.into(),
        Outcome::Fault(FaultName::ZeroCount) => 1 << 16,
        Outcome::Fault(FaultName::Rail) => 2 << 16,
        Outcome::Fault(FaultName::BelowRange) => 3 << 16,
        Outcome::Fault(FaultName::AboveRange) => 4 << 16,
    }
}

/// Smallest, mean and largest cycles of the rows that are voltages.
fn cycles(rows: &[Row]) -> String {
    let of: Vec<u64> = rows
        .iter()
        .filter(|row| row.0 != 0xFFFF)
        .map(|row| row.1)
        .collect();
    let (least, most) = (
        of.iter().min().expect("some"),
        of.iter().max().expect("some"),
    );
    format!(
        "{least}/{}/{most}",
        of.iter().sum::<u64>() / of.len() as u64
    )
}

/// Compares one core over the front ends; the number of wrong answers.
fn wrong_on(core: &Core, runner: &Path, image: &Path, front_ends: &[FrontEnd]) -> usize {
    let mut wrong = 0;
    for front_end in front_ends {
        let lower = names(front_end).lower;
        let rail = rail(front_end);
        let step = (rail + 3).div_ceil(SWEPT).max(1);
        let count = if rail <= 0xFFFF { "u16" } else { "u32" };
        let last = rail.min(if count == "u16" { 0xFFFF } else { u32::MAX });
        let (gain, offset) = (16_843_886_u32, 320_i32);
        let replies = asked(
            runner,
            image,
            &[
                format!("call {lower}_outcome u32 u32=0..{}/{step}", rail + 3),
                format!("call {lower}_reading u16 {count}=0..{last}/{step}"),
                format!("call {lower}_prepare u16 u32={gain} u32={offset}"),
                format!("call {lower}_calibrated_reading u16 {count}=0..{last}/{step}"),
            ],
        );
        let as_drawn = IntegerForm::of(&Model::new(front_end, CalibrationModel::identity()));
        let calibrated = IntegerForm::of(&Model::new(
            front_end,
            CalibrationModel::from_words(gain, offset),
        ));
        let counts = || (0..=rail + 3).step_by(step as usize);
        let short = |exact: u64| if exact > 0xFFFF { 0xFFFF } else { exact };
        wrong += counts()
            .zip(&replies[0])
            .filter(|(count, row)| row.0 != exact(&as_drawn, *count))
            .count();
        wrong += counts()
            .zip(&replies[1])
            .filter(|(count, row)| row.0 != short(exact(&as_drawn, *count)))
            .count();
        wrong += counts()
            .zip(&replies[3])
            .filter(|(count, row)| row.0 != short(exact(&calibrated, *count)))
            .count();
        assert_eq!(replies[2][0].0, 0, "accepted");
        eprintln!(
            "{:<11} {:<24} {:>5} counts  as drawn {:<14} calibrated {:<14} calibrate {}",
            core.name,
            front_end.name,
            replies[0].len(),
            cycles(&replies[1]),
            cycles(&replies[3]),
            replies[2][0].1
        );
    }
    wrong
}

#[test]
fn emitted_c_is_exact_on_small_cores() {
    let front_ends = shipped();
    for core in &CORES {
        let folder = folder(&format!("emit-cores-{}", core.runner));
        let image = image(core, &folder, &front_ends, |header| header);
        let runner = runner(core, &folder);
        assert_eq!(
            wrong_on(core, &runner, &image, &front_ends),
            0,
            "{}",
            core.name
        );
    }
}

/// Negative control: one digit of a constant is found on either core.
#[test]
fn a_wrong_digit_is_found() {
    let front_ends: Vec<FrontEnd> = shipped()
        .into_iter()
        .filter(|one| one.name == "hut-divided-12bit")
        .collect();
    for core in &CORES {
        let folder = folder(&format!("emit-cores-wrong-{}", core.runner));
        let image = image(core, &folder, &front_ends, |header| {
            assert!(header.contains("UINT32_C(68404)"));
            header.replace("UINT32_C(68404)", "UINT32_C(68405)")
        });
        let runner = runner(core, &folder);
        assert!(
            wrong_on(core, &runner, &image, &front_ends) > 0,
            "{}",
            core.name
        );
    }
}
