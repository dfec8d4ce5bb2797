//! `tallyvolt emit` as it is called: what it prints and writes, its exit codes, and what it leaves alone.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const DIVIDED: &str = "front-ends/hut-divided-12bit.toml";

fn tallyvolt(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("the program runs")
}

/// A path of its own for each test.
fn file(name: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join(name);
    (folder, file)
}

#[track_caller]
fn ends(output: &Output, code: i32) {
    assert_eq!(
        output.status.code(),
        Some(code),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn text(path: &Path) -> &str {
    path.to_str().expect("temporary paths are text")
}

#[test]
fn the_same_text_is_printed_twice_and_by_the_library() {
    for (lang, language) in [
        ("c", tallyvolt_host::emit::Lang::C),
        ("rust", tallyvolt_host::emit::Lang::Rust),
    ] {
        let arguments = ["emit", DIVIDED, "--lang", lang, "--out", "-"];
        let (one, other) = (tallyvolt(&arguments), tallyvolt(&arguments));
        ends(&one, 0);
        assert_eq!(one.stdout, other.stdout);
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(DIVIDED);
        let front_end = tallyvolt_analysis::describe::front_end_file::read(&path).expect("shipped");
        let command = format!("tallyvolt {}", arguments.join(" "));
        let library = tallyvolt_host::emit::emit(&front_end, language, &command).expect("holds");
        assert_eq!(String::from_utf8_lossy(&one.stdout), library);
        // No path but those that were typed.
        assert!(!library.contains(env!("CARGO_MANIFEST_DIR")), "{library}");
        assert!(library.contains(&command), "{library}");
    }
}

#[test]
fn check_notices_one_changed_digit() {
    for lang in ["c", "rust"] {
        let (_folder, path) = file("front_end");
        let arguments = ["emit", DIVIDED, "--lang", lang, "--out", text(&path)];
        let check: Vec<&str> = arguments.iter().copied().chain(["--check"]).collect();
        ends(&tallyvolt(&check), 2);
        ends(&tallyvolt(&arguments), 0);
        ends(&tallyvolt(&check), 0);
        let emitted = fs::read_to_string(&path).expect("written");
        let changed = emitted.replacen("34202 *", "34203 *", 1);
        assert_ne!(emitted, changed);
        fs::write(&path, &changed).expect("written");
        let stale = tallyvolt(&check);
        ends(&stale, 1);
        let said = said(&stale);
        assert!(said.contains("is stale: line 10 is"), "{said}");
        assert!(said.contains("34203") && said.contains("34202"), "{said}");
        assert_eq!(
            fs::read_to_string(&path).expect("there"),
            changed,
            "checking writes nothing"
        );
    }
}

#[test]
fn another_file_is_replaced_only_by_force() {
    let (folder, path) = file("front_end.h");
    fs::write(&path, "mine\n").expect("written");
    let arguments = ["emit", DIVIDED, "--lang", "c", "--out", text(&path)];
    let refused = tallyvolt(&arguments);
    ends(&refused, 2);
    assert!(
        said(&refused).contains("give --force"),
        "{}",
        said(&refused)
    );
    assert_eq!(fs::read_to_string(&path).expect("there"), "mine\n");
    let forced: Vec<&str> = arguments.iter().copied().chain(["--force"]).collect();
    ends(&tallyvolt(&forced), 0);
    // The same content needs none.
    ends(&tallyvolt(&arguments), 0);
    assert_eq!(fs::read_dir(folder.path()).expect("there").count(), 1);
}

#[test]
fn json_says_what_was_done() {
    let (_folder, path) = file("front_end.h");
    let arguments = ["emit", DIVIDED, "--lang", "c", "--json", "--out"];
    let outcome = |more: &[&str]| {
        let all: Vec<&str> = arguments
            .iter()
            .copied()
            .chain(more.iter().copied())
            .collect();
        let output = tallyvolt(&all);
        let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        assert_eq!(value["front_end"], "hut-divided-12bit");
        value["outcome"].as_str().expect("text").to_owned()
    };
    assert_eq!(outcome(&[text(&path)]), "written");
    assert_eq!(outcome(&[text(&path)]), "unchanged");
    assert_eq!(outcome(&[text(&path), "--check"]), "current");
    fs::write(&path, "mine\n").expect("written");
    assert_eq!(outcome(&[text(&path), "--check"]), "stale");
    assert_eq!(outcome(&["-"]), "printed");
}

#[test]
fn nothing_is_written_when_anything_is_wrong() {
    let (folder, path) = file("front_end.h");
    let front_end = folder.path().join("bad.toml");
    let shipped =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(DIVIDED)).expect("there");
    for (right, wrong, code, sign) in [
        // A key that is not known; a divider that puts the fullest cell above the reference.
        ("bits = 12", "bits = 12\nbitz = 12", 2, "bitz"),
        (
            "top_ohms = 24900",
            "top_ohms = 9900",
            2,
            "above the reference",
        ),
        // The fullest cell stands in the converter's last step, the rail: described, and not fit for use.
        (
            "max_mv = 3650",
            "max_mv = 4275",
            1,
            "NO: the fullest cell is not read",
        ),
    ] {
        assert!(shipped.contains(right));
        fs::write(&front_end, shipped.replace(right, wrong)).expect("written");
        let output = tallyvolt(&[
            "emit",
            text(&front_end),
            "--lang",
            "c",
            "--out",
            text(&path),
        ]);
        ends(&output, code);
        assert!(said(&output).contains(sign), "{}", said(&output));
        assert!(!path.exists());
    }
    ends(&tallyvolt(&["emit", DIVIDED, "--lang", "c", "--check"]), 2);
    ends(&tallyvolt(&["emit", DIVIDED]), 2);
    let nowhere = folder.path().join("none/front_end.h");
    ends(
        &tallyvolt(&["emit", DIVIDED, "--lang", "c", "--out", text(&nowhere)]),
        2,
    );
}
