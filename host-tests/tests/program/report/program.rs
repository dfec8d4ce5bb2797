//! `tallyvolt report` and `tallyvolt plot` as they are called.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

const FILE: &str = "front-ends/hut-divided-12bit.toml";

fn at(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap()
}

fn tallyvolt(arguments: &[&str]) -> Output {
    at(Path::new(env!("CARGO_MANIFEST_DIR")), arguments)
}

#[track_caller]
fn ends(output: &Output, code: i32) -> String {
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(code), "{said}");
    said
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

#[test]
fn a_page_is_the_same_on_any_number_of_threads_and_in_any_place() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("page.html");
    let with = |threads: &str, out: &str| {
        Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
            .args([
                "report",
                "front-ends/candidates/hut-b-supply-12bit.toml",
                FILE,
            ])
            .args(["--trials", "20000", "--out", out])
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .env("RAYON_NUM_THREADS", threads)
            .output()
            .unwrap()
    };
    let printed = with("1", "-");
    ends(&printed, 0);
    assert_eq!(printed.stdout, with("3", "-").stdout);
    ends(&with("2", text(&file)), 0);
    // Printed, it names files as they were typed; written, by their last part, or by the way there where both lie in one place, as
    // a checkout in a temporary folder does. Nothing else differs.
    let page = String::from_utf8(printed.stdout).unwrap();
    let written = fs::read_to_string(&file).unwrap();
    let way = pathdiff::diff_paths(env!("CARGO_MANIFEST_DIR"), folder.path()).unwrap();
    let last_parts = |page: &str| {
        page.replace(&format!("{}/", text(&way)), "")
            .replace("front-ends/candidates/", "")
            .replace("front-ends/", "")
    };
    assert_eq!(last_parts(&page), last_parts(&written));
    for page in [page, written] {
        assert!(
            page.contains("hut-divided-12bit.toml") && !page.contains(env!("CARGO_MANIFEST_DIR"))
        );
    }
}

#[test]
fn another_file_is_replaced_only_by_force() {
    let folder = tempfile::tempdir().unwrap();
    for (name, arguments) in [
        ("page.html", vec!["report", FILE, "--trials", "10000"]),
        ("step.svg", vec!["plot", FILE, "--of", "step"]),
    ] {
        let file = folder.path().join(name);
        let call = |more: &[&str]| {
            let all: Vec<&str> = arguments.iter().chain(more).copied().collect();
            tallyvolt(&[&all[..], &["--out", text(&file), "--json"]].concat())
        };
        let outcome = |output: &Output| {
            let made: Value = serde_json::from_slice(&output.stdout).unwrap();
            made["outcome"].as_str().unwrap().to_owned()
        };
        assert_eq!(outcome(&call(&[])), "written");
        assert_eq!(outcome(&call(&[])), "unchanged");
        fs::write(&file, "mine\n").unwrap();
        let said = ends(&call(&[]), 2);
        assert!(said.contains("give --force to replace it"), "{said}");
        assert_eq!(fs::read_to_string(&file).unwrap(), "mine\n");
        assert_eq!(outcome(&call(&["--force"])), "written");
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
}

#[test]
fn nothing_is_written_when_anything_is_wrong() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("out");
    let out = text(&file);
    for arguments in [
        &[
            "report",
            FILE,
            "tests/data/bad/seven-bits.toml",
            "--out",
            out,
        ][..],
        &["report", FILE, "nowhere.toml", "--out", out],
        &[
            "report",
            FILE,
            "--trials",
            "10000",
            "--out",
            "nowhere/at/all.html",
        ],
        &["report", "--out", out],
        &["plot", FILE, "--of", "temperature", "--out", out],
        &[
            "plot",
            FILE,
            "--of",
            "over-voltage",
            "--trials",
            "10000",
            "--out",
            out,
        ],
        &["plot", FILE, "--of", "nothing", "--out", out],
        &["plot", FILE, "--out", out],
    ] {
        let output = tallyvolt(arguments);
        ends(&output, 2);
        assert!(output.stdout.is_empty());
        assert_eq!(
            fs::read_dir(folder.path()).unwrap().count(),
            0,
            "{arguments:?}"
        );
    }
}

/// A front end that fails its check has a page that says so, and exit code 1.
#[test]
fn a_failing_front_end_is_reported_as_one() {
    let output = tallyvolt(&["report", "tests/data/does-not-fit.toml"]);
    ends(&output, 1);
    let page = String::from_utf8(output.stdout).unwrap();
    assert!(
        page.contains("DOES NOT MEET ITS FILE")
            && page.contains("NO: the fullest cell is not read")
    );
}

#[test]
fn json_holds_the_numbers_of_the_page() {
    let file = "front-ends/hut-supply-thermistor.toml";
    let output = tallyvolt(&["report", file, "--json", "--trials", "10000"]);
    ends(&output, 0);
    let made: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(made["holds"], true);
    let front_end = &made["front_ends"][0];
    assert_eq!(front_end["check"]["wrong_counts"], 0);
    for (at, length) in [
        ("/transfer/points", 129),
        ("/steps", 129),
        ("/rounding/columns", 256),
        ("/sensor/points", 129),
        ("/sensor/errors", 256),
        ("/limits", 4),
        ("/budget/states", 6),
    ] {
        let found = front_end.pointer(at).and_then(Value::as_array);
        assert_eq!(found.unwrap().len(), length, "{at}");
    }
    assert!(made["caution"].as_str().unwrap().contains("Lithium"));
}

/// The commands of a page of the documentation that draw its pictures.
fn drawn_in(page: &str) -> Vec<Vec<&str>> {
    let commands = page.lines().map(|line| line.split_whitespace().collect());
    commands
        .filter(|words: &Vec<&str>| words.starts_with(&["tallyvolt", "plot"]))
        .collect()
}

/// Every picture of the documentation is what its command draws today, is shown on the page that gives the command, and none
/// is left over.
#[test]
fn pictures_of_the_documentation_are_current() {
    let docs = repository().join("docs");
    let mut drawn: Vec<PathBuf> = Vec::new();
    for entry in fs::read_dir(&docs).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "md") {
            continue;
        }
        let page = fs::read_to_string(&path).unwrap();
        for words in drawn_in(&page) {
            let (arguments, out) = match words.as_slice() {
                ["tallyvolt", arguments @ .., "--out", out] => (arguments, *out),
                other => panic!("{}: {other:?} does not end in --out FILE", path.display()),
            };
            // A picture of the reader's own.
            let Some(shown) = out.strip_prefix("docs/") else {
                continue;
            };
            assert!(page.contains(&format!("({shown})")) || page.contains(&format!("\"{shown}\"")));
            let output = at(&repository(), arguments);
            ends(&output, 0);
            let committed = fs::read(repository().join(out)).unwrap();
            assert!(
                committed == output.stdout,
                "{out} is stale; draw it again: {} --force",
                words.join(" ")
            );
            drawn.push(repository().join(out));
        }
    }
    assert!(drawn.len() >= 5, "{drawn:?}");
    drawn.sort();
    let mut there: Vec<PathBuf> = fs::read_dir(docs.join("plots"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    there.sort();
    let names = |paths: &[PathBuf]| -> Vec<_> {
        paths
            .iter()
            .map(|path| path.file_name().unwrap().to_owned())
            .collect()
    };
    assert_eq!(names(&drawn), names(&there));
}
