//! Every file of `data/bad` breaks a rule, and is refused with its line, its fix and an underlined reason.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::front_end_file::problem::FileError;
use tallyvolt_harness::cases::shipped;

fn bad_files() -> Vec<PathBuf> {
    let files = shipped::toml_files(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/bad"));
    assert!(files.len() >= 50, "{}", files.len());
    files
}

fn tallyvolt(arguments: &[&str], file: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .arg(file)
        .output()
        .expect("the program runs")
}

#[test]
fn the_library_names_file_line_rule_and_fix() {
    for file in bad_files() {
        let error = front_end_file::read(&file).expect_err("a bad file");
        assert!(matches!(error, FileError::Problems { .. }), "{error}");
        let lines = error.lines();
        assert!(!lines.is_empty(), "{}", file.display());
        let text = std::fs::read_to_string(&file).expect("a bad file is text");
        for line in lines {
            let place = line
                .strip_prefix(&format!("{}:", file.display()))
                .and_then(|rest| rest.split_once(": "))
                .unwrap_or_else(|| panic!("no place: {line}"));
            let number: usize = place.0.parse().expect("a line number");
            assert!(
                (1..=text.lines().count().max(1)).contains(&number),
                "{line}"
            );
            let fix = line.rsplit_once('(').expect("a fix in parentheses").1;
            assert!(fix.len() > "()".len(), "{line}");
        }
    }
}

#[test]
fn check_and_table_exit_with_2_underline_the_reason_and_print_nothing() {
    for file in bad_files() {
        for command in [&["check"][..], &["table"], &["table", "--json"]] {
            let output = tallyvolt(command, &file);
            let reason = String::from_utf8(output.stderr).expect("text");
            assert_eq!(output.status.code(), Some(2), "{command:?} {reason}");
            assert!(output.stdout.is_empty(), "{command:?} {}", file.display());
            let underlined = ["┬", "▲"].iter().any(|mark| reason.contains(mark));
            assert!(
                underlined && reason.contains("here"),
                "{command:?} {reason}"
            );
            assert!(reason.contains("help: "), "{command:?} {reason}");
            assert!(!reason.contains("panicked"), "{reason}");
        }
    }
}

/// For machines the reasons stand in the JSON, and no front end does.
#[test]
fn check_as_json_lists_the_problems() {
    for file in bad_files() {
        let output = tallyvolt(&["check", "--json"], &file);
        assert_eq!(output.status.code(), Some(2));
        let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        assert_eq!(json["holds"], false);
        assert_eq!(json["front_ends"].as_array().map(Vec::len), Some(0));
        let problems = json["bad_files"][0].as_array().map(Vec::len);
        assert!(problems >= Some(1), "{}", file.display());
    }
}

/// A good file beside a bad one is still checked; the exit code tells of the bad one.
#[test]
fn a_good_file_beside_a_bad_one_is_checked_and_the_exit_code_is_2() {
    let good = &shipped::files()[0];
    let output = tallyvolt(&["check", &good.display().to_string()], &bad_files()[0]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stdout).contains("0 wrong counts"));
    assert!(String::from_utf8_lossy(&output.stderr).contains("help: "));
}

/// Only the rule that a file was made to break is reported, so nobody is sent after a second, imagined one.
#[test]
fn one_broken_rule_is_one_problem() {
    let several = ["several", "empty", "only-a-comment", "duplicate-table"];
    for file in bad_files() {
        let name = file
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let problems = front_end_file::read(&file).expect_err("a bad file").lines();
        assert_eq!(
            problems.len() > 1,
            several.contains(&&*name),
            "{problems:#?}"
        );
    }
}

/// What is not text, not there, or far too long is refused too; there is no line to underline.
#[test]
fn what_cannot_be_read_is_said_and_exits_with_2() {
    let directory = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let binary = directory.join("not-text.toml");
    std::fs::write(&binary, [0xFF, 0xFE, 0x00, 0x80]).expect("a temporary file");
    let long = directory.join("far-too-long.toml");
    std::fs::write(&long, vec![b'#'; (1 << 20) + 1]).expect("a temporary file");
    for file in [
        &binary,
        &long,
        &directory.join("not-there.toml"),
        &directory.to_path_buf(),
    ] {
        for command in ["check", "table"] {
            let output = tallyvolt(&[command], file);
            assert_eq!(output.status.code(), Some(2), "{}", file.display());
            assert!(output.stdout.is_empty());
            let reason = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!(reason.contains("cannot be read"), "{reason}");
            assert!(reason.contains("help: "), "{reason}");
        }
    }
}
