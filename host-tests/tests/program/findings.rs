//! One verdict: what a front-end file asks for and the front end does not meet is found by five commands, in the same words.

#![expect(clippy::unwrap_used, reason = "a test may end this way")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// Tables and keys that make a defect of the sound front end, and the finding that names it.
type Defect = (&'static str, &'static [(&'static str, &'static str)]);

const SENSOR: &str = "side = \"low\"\nfixed_ohms = 10000\nmin_c = -20\nmax_c = 60\nmax_error_mc = 900\nr25_ohms = 10000\n\
                      b25_85_k = 3434\ndissipation_uw_per_k = 1000\nself_heating_max_mk = 5\n";

/// Read 3 K too warm at 25 degC, where its parts allow a few tenths.
const WRONG_OFFSET: &str = "side = \"low\"\nfixed_ohms = 10000\nmin_c = -20\nmax_c = 60\nmax_error_mc = 900\nr25_ohms = 10000\n\
                            b25_85_k = 3434\nr25_tolerance_ppm = 10000\nb_tolerance_ppm = 10000\ncalibrated_at_c = 25\n\
                            calibrated_count = 482\n";

const DEFECTS: [Defect; 15] = [
    ("divider drain", &[("divider", "drain_max_ua = 50")]),
    ("reference settling", &[("reference", "wait_us = 20")]),
    ("filter capacitor", &[("divider", "filter_nf = 1")]),
    ("acceptance zone", &[("limits", "under_voltage_mv = 3720")]),
    ("thermistor self-heating", &[("thermistor", SENSOR)]),
    ("source resistance", &[("converter", "sampling_ns = 500")]),
    (
        "source resistance, stated",
        &[("converter", "source_max_ohms = 5000")],
    ),
    (
        "converter's supply, emptiest cell",
        &[("converter", "supply_min_mv = 2700")],
    ),
    (
        "converter's supply, fullest cell",
        &[("converter", "supply_max_mv = 3600")],
    ),
    (
        "reference's supply, emptiest cell",
        &[("reference", "supply_min_mv = 2300")],
    ),
    (
        "reference below the emptiest cell",
        &[("reference", "dropout_mv = 900")],
    ),
    (
        "sampling the reference",
        &[("reference", "sampling_min_ns = 20000")],
    ),
    ("headroom, high end", &[("cell", "headroom_mv = 700")]),
    ("error of a reading", &[("cell", "max_error_mv = 10")]),
    ("sensor's offset", &[("thermistor", WRONG_OFFSET)]),
];

fn sound() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("front-ends/candidates/hut-a-divided-10bit.toml");
    std::fs::read_to_string(path).unwrap()
}

/// The text with keys put into a table instead of those that stand there.
fn with(text: &str, table: &str, keys: &str) -> String {
    let header = format!("[{table}]");
    if !text.lines().any(|line| line == header) {
        return format!("{text}\n{header}\n{keys}\n");
    }
    let key = keys.split(' ').next().unwrap();
    let mut inside = false;
    let mut out = String::new();
    for line in text.lines() {
        if line.starts_with('[') {
            inside = line == header;
        }
        if !(inside && line.split(' ').next() == Some(key)) {
            out.push_str(line);
            out.push('\n');
        }
        if line == header {
            out.push_str(keys);
            out.push('\n');
        }
    }
    out
}

fn file(name: &str, text: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("findings-{name}.toml"));
    std::fs::write(&path, text).unwrap();
    path
}

fn run(command: &str, path: &Path, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .arg(command)
        .arg(path)
        .args(more)
        .output()
        .unwrap()
}

/// The commands, whether they take trials, and where their JSON holds the findings.
const COMMANDS: [(&str, bool, &str); 5] = [
    ("check", false, "/front_ends/0/findings"),
    ("budget", true, "/findings"),
    ("compare", true, "/candidates/0/findings"),
    ("divider", false, "/findings"),
    ("report", true, "/front_ends/0/check/findings"),
];

fn options(trials: bool) -> Vec<&'static str> {
    if trials {
        vec!["--trials", "10000"]
    } else {
        Vec::new()
    }
}

/// What every command finds, its exit code, and its text on one line.
fn found(path: &Path) -> Vec<(&'static str, Value, i32, String)> {
    COMMANDS
        .iter()
        .map(|(command, trials, place)| {
            let mut options = options(*trials);
            let text = run(command, path, &options);
            options.push("--json");
            let json = run(command, path, &options);
            let made: Value = serde_json::from_slice(&json.stdout).unwrap_or_else(|error| {
                panic!(
                    "{command}: {error}: {}",
                    String::from_utf8_lossy(&json.stderr)
                )
            });
            let findings = made.pointer(place).unwrap().clone();
            let words = String::from_utf8(text.stdout).unwrap();
            let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
            assert_eq!(text.status.code(), json.status.code());
            (*command, findings, json.status.code().unwrap(), words)
        })
        .collect()
}

fn line(finding: &Value) -> String {
    let word = |key: &str| finding[key].as_str().unwrap();
    let line = format!(
        "{}: {}; rule: {}",
        word("what"),
        word("found"),
        word("rule")
    );
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn broken(findings: &Value) -> Vec<String> {
    let findings = findings.as_array().unwrap().iter();
    let broken = findings.filter(|finding| finding["holds"] == Value::Bool(false));
    broken.map(line).collect()
}

/// Each defect by each command: the same findings, the same words, and an exit code that says so.
#[test]
fn five_commands_find_the_same() {
    for (place, (what, keys)) in DEFECTS.iter().enumerate() {
        let text = keys
            .iter()
            .fold(sound(), |text, (table, keys)| with(&text, table, keys));
        let found = found(&file(&place.to_string(), &text));
        let (_, first, _, _) = &found[0];
        let lines = broken(first);
        assert!(
            lines
                .iter()
                .any(|line| line.starts_with(&format!("{what}: "))),
            "{what}: {lines:?}"
        );
        for (command, findings, exit, words) in &found {
            assert_eq!(findings, first, "{what} by {command}");
            for line in &lines {
                // A page escapes what HTML would take as a tag.
                let words = words.replace("&gt;", ">").replace("&lt;", "<");
                assert!(
                    words.contains(line.as_str()),
                    "{command} does not say: {line}"
                );
            }
            // A divider may be found with which the front end meets its file.
            if *command != "divider" {
                assert_eq!(*exit, 1, "{what} by {command}");
            }
        }
    }
}

/// The control: the sound front end breaks nothing, by any command.
#[test]
fn a_sound_front_end_meets_its_file() {
    for (command, findings, exit, words) in found(&file("sound", &sound())) {
        assert_eq!(broken(&findings), [""; 0], "{command}");
        assert_eq!(exit, 0, "{command}");
        assert!(!words.contains("not met"), "{command}");
    }
}

/// 11 k over 16 k, 2.5 V within 1 %, a cell up to 4200 mV: a board with a reference 1 % low is at the rail from 4172 mV on,
/// and every command says so. The arithmetic is exact all the same.
#[test]
fn a_reference_one_percent_low() {
    let text = "name = \"tight\"\ntopology = \"divided-input\"\n[cell]\nchemistry = \"NMC\"\nmin_mv = 2600\nnominal_mv = 3600\n\
                max_mv = 4200\n[converter]\nbits = 10\n[reference]\nmicrovolts = 2_500_000\ntolerance_ppm = 10000\n\
                [divider]\ntop_ohms = 11000\nbottom_ohms = 16000\n[calibration]\npoints = 2\n[limits]\n\
                over_voltage_mv = 4190\n";
    let path = file("tight", text);
    for (command, findings, exit, words) in found(&path) {
        let lines = broken(&findings);
        assert_eq!(
            lines,
            [
                "headroom, high end: every board within its limits reads up to 4172.5 mV: headroom -27.5 mV; rule: the fullest \
                 cell, 4200 mV, with 0 mV of headroom (cell.headroom_mv)"
            ],
            "{command}"
        );
        assert!(words.contains(&lines[0]), "{command}");
        if command != "divider" {
            assert_eq!(exit, 1, "{command}");
        }
    }
    let checked: Value = serde_json::from_slice(&run("check", &path, &["--json"]).stdout).unwrap();
    let checked = &checked["front_ends"][0];
    assert_eq!(
        (&checked["exact"], &checked["meets"]),
        (&true.into(), &false.into())
    );
}
