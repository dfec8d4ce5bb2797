//! The emitted C on small cores: built by avr-gcc and arm-none-eabi-gcc, run on the simulators of `cores/runners`, compared
//! with the exact model, and its cycles printed.

mod emit_support;

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use emit_support::{folder, names, run_silent, sensing, shipped};
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

/// One function of a front end's header, as an image of its own: each is inlined into its only caller, as in firmware.
const TASKS: [(&str, &str); 6] = [
    // The outcome of any count, as the tests write it.
    (
        "outcome",
        "uint32_t outcome(uint32_t count)
{
    uint16_t voltage = 0;
    const uint32_t fault = (uint32_t)front_end_voltage(count, &voltage);
    return fault << 16 | voltage;
}",
    ),
    // A voltage or 65535, as firmware would take it.
    (
        "reading",
        "uint16_t reading(count_type count)
{
    uint16_t voltage;
    return front_end_voltage(count, &voltage) == FRONT_END_NO_FAULT ? voltage : UINT16_MAX;
}",
    ),
    (
        "calibrate",
        "front_end_module one;
uint16_t calibrate(uint32_t gain, uint32_t offset) { return (uint16_t)front_end_calibrate(gain, (int32_t)offset, &one); }
uint16_t calibrated(count_type count)
{
    uint16_t voltage;
    return front_end_calibrated_voltage(&one, count, &voltage) == FRONT_END_NO_FAULT ? voltage : UINT16_MAX;
}",
    ),
    // The outcome of any count of the sensor, and what firmware does with it.
    (
        "sensor",
        "uint32_t sensor(uint32_t count)
{
    int16_t tenths = 0;
    const uint32_t fault = (uint32_t)front_end_temperature(count, &tenths);
    return fault << 16 | (uint16_t)tenths;
}
uint16_t temperature(sensor_type count)
{
    int16_t tenths;
    return front_end_temperature(count, &tenths) == FRONT_END_NO_FAULT ? (uint16_t)tenths : UINT16_MAX;
}",
    ),
    (
        "alarm",
        "static front_end_alarm one;
uint16_t clear(uint16_t state) { one.state = (uint8_t)state; return 0; }
uint16_t alarm(sensor_type count) { return (uint16_t)front_end_over_temperature(&one, count); }",
    ),
    // What the simulated image lacks and firmware has: copying, for the compiler's own use.
    ("", COPIES),
];

const COPIES: &str = "#include <stddef.h>
void *memcpy(void *restrict to, const void *restrict from, size_t bytes);
void *memmove(void *to, const void *from, size_t bytes);
void *memset(void *to, int value, size_t bytes);
void *memcpy(void *restrict to, const void *restrict from, size_t bytes)
{
    volatile unsigned char *t = to;
    const unsigned char *f = from;
    while (bytes-- > 0)
        *t++ = *f++;
    return to;
}
/* Only whole equal objects are moved, or separate ones. */
void *memmove(void *to, const void *from, size_t bytes)
{
    return memcpy(to, from, bytes);
}
void *memset(void *to, int value, size_t bytes)
{
    volatile unsigned char *t = to;
    while (bytes-- > 0)
        *t++ = (unsigned char)value;
    return to;
}";

/// Builds one task of a front end.
fn image(
    core: &Core,
    folder: &Path,
    front_end: &FrontEnd,
    task: &str,
    change: impl Fn(String) -> String,
) -> PathBuf {
    let header = emit(front_end, Lang::C, "as the test does").expect("it passes its check");
    let names = names(front_end);
    fs::write(folder.join(format!("{}.h", names.lower)), change(header)).expect("written");
    // Narrow counts arrive in 16 bits, as the converter's register holds them.
    let count = if rail(front_end) <= 0xFFFF {
        "uint16_t"
    } else {
        "uint32_t"
    };
    let sensor = match sensor_rail(front_end) {
        0..=0xFFFF => "uint16_t",
        _ => "uint32_t",
    };
    let mut program = format!("#include \"{}.h\"\n", names.lower);
    for (name, text) in TASKS {
        if name == task || (name.is_empty() && core.runner == "unicorn_run") {
            program += &names.put_into(
                &text
                    .replace("count_type", count)
                    .replace("sensor_type", sensor),
            );
            program.push('\n');
        }
    }
    let source = folder.join(format!("{}_{task}.c", names.lower));
    fs::write(&source, program).expect("written");
    let image = source.with_extension("elf");
    let mut command = Command::new(core.compiler[0]);
    command.args(&core.compiler[1..]).args([
        "-std=c99",
        "-Wall",
        "-Wextra",
        "-Wconversion",
        "-Werror",
        "-pedantic",
    ]);
    if core.runner == "unicorn_run" {
        command
            .arg("-T")
            .arg(runners().join("self-test/unicorn.ld"));
    }
    command.arg("-o").arg(&image).arg(&source).arg("-lgcc");
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

/// The largest count of the sensor, or 0.
fn sensor_rail(front_end: &FrontEnd) -> u32 {
    let drawn = front_end.thermistor.as_ref();
    drawn.map_or(0, |drawn| sensing::sensor_rail(front_end, drawn))
}

/// Compares sensor and alarm on a core; the number of wrong answers.
fn wrong_sensing(
    front_end: &FrontEnd,
    name: &str,
    ask: impl Fn(&str, &[String]) -> Vec<Vec<Row>>,
) -> usize {
    let rail = sensor_rail(front_end);
    let step = (rail + 3).div_ceil(SWEPT).max(1);
    let count = if rail <= 0xFFFF { "u16" } else { "u32" };
    let outcomes = ask(
        "sensor",
        &[
            format!("call sensor u32 u32=0..{}/{step}", rail + 3),
            format!("call temperature u16 {count}=0..{rail}/{step}"),
        ],
    );
    let alarm = ask(
        "alarm",
        &[
            "call clear u16 u16=0".to_owned(),
            format!("call alarm u16 {count}=0..{rail}/{step}"),
        ],
    );
    let counts: Vec<u32> = (0..=rail + 3).step_by(step as usize).collect();
    let exact = sensing::swept(front_end, &counts);
    eprintln!(
        "{name:<11} {:<24} {:>5} counts  temperature {:<14} alarm {}",
        front_end.name,
        outcomes[0].len(),
        cycles(&outcomes[1]),
        cycles(&alarm[1])
    );
    assert!(exact.iter().any(|(_, active)| *active));
    assert_eq!(outcomes[0].len(), exact.len());
    outcomes[0]
        .iter()
        .zip(&exact)
        .filter(|(row, exact)| row.0 != u64::from(exact.0))
        .count()
        + alarm[1]
            .iter()
            .zip(&exact)
            .filter(|(row, exact)| row.0 != u64::from(exact.1))
            .count()
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

/// Compares a front end on a core; the number of wrong answers.
fn wrong_on(
    core: &Core,
    runner: &Path,
    folder: &Path,
    front_end: &FrontEnd,
    change: impl Fn(String) -> String + Copy,
) -> usize {
    let rail = rail(front_end);
    let step = (rail + 3).div_ceil(SWEPT).max(1);
    let count = if rail <= 0xFFFF { "u16" } else { "u32" };
    let (gain, offset) = (16_843_886_u32, 320_i32);
    let ask = |task: &str, requests: &[String]| {
        let image = image(core, folder, front_end, task, change);
        asked(runner, &image, requests)
    };
    let outcomes = ask(
        "outcome",
        &[format!("call outcome u32 u32=0..{}/{step}", rail + 3)],
    );
    let readings = ask(
        "reading",
        &[format!("call reading u16 {count}=0..{rail}/{step}")],
    );
    let calibrated = ask(
        "calibrate",
        &[
            format!("call calibrate u16 u32={gain} u32={offset}"),
            format!("call calibrated u16 {count}=0..{rail}/{step}"),
        ],
    );
    assert_eq!(calibrated[0][0].0, 0, "accepted");
    let form = |calibration| IntegerForm::of(&Model::new(front_end, calibration));
    let as_drawn = form(CalibrationModel::identity());
    let stored = form(CalibrationModel::from_words(gain, offset));
    let short = |exact: u64| exact.min(0xFFFF);
    let wrong = |rows: &[Row], form: &IntegerForm, shown: &dyn Fn(u64) -> u64| {
        (0..=rail + 3)
            .step_by(step as usize)
            .zip(rows)
            .filter(|(count, row)| row.0 != shown(exact(form, *count)))
            .count()
    };
    eprintln!(
        "{:<11} {:<24} {:>5} counts  as drawn {:<14} calibrated {:<14} calibrate {}",
        core.name,
        front_end.name,
        outcomes[0].len(),
        cycles(&readings[0]),
        cycles(&calibrated[1]),
        calibrated[0][0].1
    );
    let of_sensing = if front_end.thermistor.is_some() {
        wrong_sensing(front_end, core.name, ask)
    } else {
        0
    };
    of_sensing
        + wrong(&outcomes[0], &as_drawn, &|exact| exact)
        + wrong(&readings[0], &as_drawn, &short)
        + wrong(&calibrated[1], &stored, &short)
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn emitted_c_is_exact_on_small_cores() {
    for core in &CORES {
        let folder = folder(&format!("emit-cores-{}", core.runner));
        let runner = runner(core, &folder);
        for front_end in &shipped() {
            let wrong = wrong_on(core, &runner, &folder, front_end, |header| header);
            assert_eq!(wrong, 0, "{} {}", core.name, front_end.name);
        }
    }
}

/// Negative control: one digit of a constant is found on either core.
#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn a_wrong_digit_is_found() {
    let front_ends = shipped();
    for (name, right, wrong) in [
        ("hut-divided-12bit", "UINT32_C(68404)", "UINT32_C(68405)"),
        ("hut-divided-thermistor", " 539, ", " 540, "),
        ("hut-divided-thermistor", "UINT32_C(4481)", "UINT32_C(4441)"),
    ] {
        let front_end = front_ends
            .iter()
            .find(|front_end| front_end.name == name)
            .expect("it is shipped");
        for core in &CORES {
            let folder = folder(&format!("emit-cores-wrong-{}", core.runner));
            let runner = runner(core, &folder);
            let found = wrong_on(core, &runner, &folder, front_end, |header| {
                assert!(header.contains(right));
                header.replace(right, wrong)
            });
            assert!(found > 0, "{} {name} {wrong}", core.name);
        }
    }
}
