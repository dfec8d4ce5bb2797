//! Files in, files out: nothing is destroyed, what benches write is read, what is wrong is said, and every page fits.

mod clear;
mod destroy;
mod example;
mod formats;
mod places;
mod widths;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const FRONT_END: &str = "front-ends/hut-divided-12bit.toml";
const READINGS: &str = "readings/hut-16-modules.csv";
const LOG: &str = "readings/hut-evening-log.csv";

fn host_tests() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The program, run in a folder.
fn at(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("the program runs")
}

fn tallyvolt(arguments: &[&str]) -> Output {
    at(host_tests(), arguments)
}

fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn text(path: &Path) -> &str {
    path.to_str().expect("temporary paths are text")
}

/// Asserts the exit code and gives what was said.
#[track_caller]
fn ends(output: &Output, code: i32) -> String {
    let said = err(output);
    assert_eq!(output.status.code(), Some(code), "{said}{}", out(output));
    assert!(!said.contains("panicked"), "{said}");
    said
}

fn shipped(name: &str) -> String {
    fs::read_to_string(host_tests().join(name)).expect("shipped")
}

/// All front-end files that are shipped.
fn front_ends() -> Vec<PathBuf> {
    let mut files = tallyvolt_harness::cases::shipped::files();
    files.sort();
    files
}
