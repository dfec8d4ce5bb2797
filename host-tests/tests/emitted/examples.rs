//! The example firmware of `cores/examples`: the committed module is current, the header is emitted anew, and both build and answer as the exact
//! model does.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use super::support::{folder, run, run_silent};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::toolchain::{Choice, require};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::outcome::{FaultName, Outcome};

fn host() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn model(file: &str) -> Model {
    let front_end = front_end_file::read(&host().join(file)).expect("it reads");
    Model::new(&front_end, CalibrationModel::identity())
}

/// Runs `tallyvolt emit` in this folder.
#[track_caller]
fn emitted(file: &str, lang: &str, out: &Path, option: &str) {
    let output = Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(["emit", file, "--lang", lang, "--out"])
        .arg(out)
        .arg(option)
        .current_dir(host())
        .output()
        .expect("the program runs");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn the_emitted_module_is_current() {
    let module = Path::new("cores/examples/rust/src/hut_divided_12bit.rs");
    emitted(
        "front-ends/hut-divided-12bit.toml",
        "rust",
        module,
        "--check",
    );
}

/// A runner's lines after its greeting.
fn asked(
    folder: &Path,
    runner: &str,
    libraries: &[&str],
    package: &str,
    image: &Path,
    requests: &str,
) -> Vec<String> {
    let program: PathBuf = folder.join(runner);
    let source = host().join(format!("cores/runners/{runner}.c"));
    run_silent(
        Command::new("cc")
            .args(["-O2", "-o"])
            .arg(&program)
            .arg(source)
            .args(libraries),
        package,
    );
    let mut child = Command::new(&program)
        .arg(image)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the runner was just built");
    let mut input = child.stdin.take().expect("piped");
    input.write_all(requests.as_bytes()).expect("it reads");
    drop(input);
    let output = child.wait_with_output().expect("it ends with its input");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    said.lines().skip(1).map(str::to_owned).collect()
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn the_c_firmware_says_its_supply() {
    let folder = folder("emit-example-c");
    let image = folder.join("hut_supply.elf");
    let header = folder.join("hut_supply.h");
    emitted("cores/examples/c/hut-supply.toml", "c", &header, "--force");
    run_silent(
        Command::new("avr-gcc")
            .args([
                "-mmcu=atmega328p",
                "-Os",
                "-std=c99",
                "-Wall",
                "-Wextra",
                "-Werror",
                "-o",
            ])
            .arg(&image)
            .arg("-I")
            .arg(&folder)
            .arg(host().join("cores/examples/c/main.c")),
        "gcc-avr avr-libc",
    );
    let model = model("cores/examples/c/hut-supply.toml");
    for supply_mv in [1900_u32, 2500, 3200, 3650, 4200] {
        let request = format!("system {supply_mv} 0 1 4000000\n");
        let libraries = ["-lsimavr", "-lelf"];
        let lines = asked(
            &folder,
            "avr_run",
            &libraries,
            "libsimavr-dev libelf-dev",
            &image,
            &request,
        );
        let Outcome::Units(mv) = model.outcome(1100 * 1023 / supply_mv) else {
            panic!("{supply_mv} mV is no fault");
        };
        assert_eq!(lines[0], format!("uart {mv} mV, not calibrated"));
    }
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn the_rust_firmware_answers_as_the_model() {
    let folder = folder("emit-example-rust");
    // As `tallyvolt cost` uses it, for what both build is built once.
    let target = host().join("../target/cost/target");
    let output = run(
        require(Chip::CortexM0plus, Choice::Debian)
            .expect("the packages that cores/ci.sh installs")
            .cargo_build(Chip::CortexM0plus)
            .arg("--locked")
            .env("CARGO_TARGET_DIR", &target)
            .current_dir(host().join("cores/examples/rust")),
        "rustc-web cargo-web rust-web-src lld",
    );
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        output.status.success() && !said.contains("warning"),
        "{said}"
    );
    let image = target.join("thumbv6m-none-eabi/release/hut-firmware");
    let request = "call reading u32 u32=0..4099\n";
    let lines = asked(
        &folder,
        "unicorn_run",
        &["-lunicorn"],
        "libunicorn-dev",
        &image,
        request,
    );
    let model = model("front-ends/hut-divided-12bit.toml");
    for count in 0..=4099_u32 {
        let exact = match model.outcome(count) {
            Outcome::Units(units) => units,
            Outcome::Fault(FaultName::ZeroCount) => 1 << 16,
            Outcome::Fault(FaultName::Rail) => 2 << 16,
            Outcome::Fault(fault) => panic!("{fault} at {count}"),
        };
        let line = &lines[count as usize];
        assert_eq!(
            line.split(' ').next(),
            Some(exact.to_string().as_str()),
            "{count}: {line}"
        );
    }
}
