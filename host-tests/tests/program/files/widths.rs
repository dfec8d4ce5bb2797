//! Every command on every shipped file keeps to 100 columns.

use std::fs;

use super::{FRONT_END, LOG, READINGS, at, err, front_ends, host_tests, out, tallyvolt, text};

const COLUMNS: usize = 100;

/// Lines that are too long, each with its command.
fn too_long(command: &[&str]) -> Vec<String> {
    let output = tallyvolt(command);
    let text = out(&output) + &err(&output);
    assert!(!text.is_empty(), "{command:?}");
    text.lines()
        .filter(|line| line.chars().count() > COLUMNS)
        .map(|line| format!("{command:?}: {line}"))
        .collect()
}

#[test]
fn every_command_on_every_shipped_file_fits() {
    let mut long = Vec::new();
    let all: Vec<String> = front_ends()
        .iter()
        .map(|path| {
            let inside = path.strip_prefix(host_tests()).expect("shipped here");
            text(inside).to_owned()
        })
        .collect();
    assert!(all.len() >= 12);
    let trials = ["--trials", "10000"];
    for file in &all {
        long.extend(too_long(&["check", file]));
        long.extend(too_long(&["divider", file]));
        long.extend(too_long(&[&["budget", file][..], &trials].concat()));
        // Another front end's readings: bad rows and suspects are shown as well.
        long.extend(too_long(&["fit", file, READINGS]));
        for log in [LOG, "readings/hut-night-sensors.csv"] {
            long.extend(too_long(&["replay", file, log, "--limit-mv", "5"]));
        }
    }
    let every: Vec<&str> = all.iter().map(String::as_str).collect();
    long.extend(too_long(&[&["check"][..], &every].concat()));
    for number in [2, 8, every.len()] {
        let some = every.get(..number).expect("so many");
        long.extend(too_long(&[&["compare"][..], some, &trials].concat()));
    }
    for topology in ["divided-input", "supply-reference"] {
        long.extend(too_long(&["example", topology]));
    }
    long.extend(too_long(&["cost", "--recorded"]));
    for command in [
        "", "example", "check", "table", "budget", "compare", "divider", "emit", "fit", "replay",
        "cost", "report", "plot",
    ] {
        let command: Vec<&str> = command.split_whitespace().chain(["--help"]).collect();
        long.extend(too_long(&command));
    }
    assert!(
        long.is_empty(),
        "{} lines:\n{}",
        long.len(),
        long.join("\n")
    );
}

#[test]
fn bad_files_fit_too() {
    let folder = host_tests().join("tests/data/bad");
    let mut long = Vec::new();
    let mut files = 0;
    for path in tallyvolt_harness::cases::shipped::toml_files(&folder) {
        let inside = path.strip_prefix(host_tests()).expect("shipped here");
        long.extend(too_long(&["check", text(inside)]));
        files += 1;
    }
    assert!(files >= 50);
    assert!(long.is_empty(), "{}", long.join("\n"));
}

/// The control: a name that is longer than the page is a line that is too long.
#[test]
fn a_line_that_is_too_long_is_seen() {
    let folder = tempfile::tempdir().expect("a folder");
    let name = format!("{}.toml", "x".repeat(120));
    fs::copy(host_tests().join(FRONT_END), folder.path().join(&name)).expect("copied");
    let output = at(folder.path(), &["check", &name]);
    assert!(
        out(&output)
            .lines()
            .any(|line| line.chars().count() > COLUMNS)
    );
}

#[test]
fn words_are_explained_where_they_stand() {
    let words = |command: &[&str]| {
        let text = out(&tallyvolt(command));
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let fit = words(&["fit", FRONT_END, READINGS]);
    for word in [
        "u: standard uncertainty",
        "r: correlation",
        "next point mV: the voltage",
    ] {
        assert!(fit.contains(word), "{fit}");
    }
    let check = words(&["check", "front-ends/hut-supply-thermistor.toml"]);
    assert!(check.contains("three beyond its largest"), "{check}");
    assert!(
        !check.contains("<< 0") && !check.contains("a tenth"),
        "{check}"
    );
    let budget = words(&["budget", FRONT_END, "--trials", "10000"]);
    assert!(
        budget.contains("u_c: combined standard uncertainty"),
        "{budget}"
    );
}

#[test]
fn the_caution_is_in_the_help_and_in_cost() {
    let joined = |output: &std::process::Output| out(output).replace('\n', " ");
    for command in [&["--help"][..], &["-h"], &["cost", "--recorded"]] {
        let text = joined(&tallyvolt(command));
        assert!(
            text.contains("Lithium cells can burn."),
            "{command:?} {text}"
        );
        assert!(
            text.contains("decide what a pack needs."),
            "{command:?} {text}"
        );
    }
    let json = tallyvolt(&["cost", "--recorded", "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).expect("JSON");
    assert!(
        json["caution"]
            .as_str()
            .is_some_and(|text| text.starts_with("Lithium"))
    );
}
