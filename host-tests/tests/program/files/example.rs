//! `tallyvolt example`: a file that passes `check` and has every key, and a page that documents each.

use std::collections::BTreeSet;
use std::fs;

use super::{at, ends, host_tests, out, tallyvolt};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::front_end_file::example::Example;

/// Keys that the reader asks for, tables left out.
fn known() -> BTreeSet<String> {
    let keys = front_end_file::keys();
    let is_table = |key: &String| {
        keys.iter()
            .any(|other| other.starts_with(&format!("{key}.")))
    };
    let known: BTreeSet<String> = keys.iter().filter(|key| !is_table(key)).cloned().collect();
    assert!(known.len() > 80, "{known:?}");
    known
}

/// Keys of a TOML text, those in comments as well.
fn written(text: &str) -> BTreeSet<String> {
    let mut table = String::new();
    let mut keys = BTreeSet::new();
    for line in text.lines() {
        let line = line.strip_prefix("# ").unwrap_or(line);
        if let Some((name, _)) = line.strip_prefix('[').and_then(|rest| rest.split_once(']')) {
            table = format!("{name}.");
        } else if let Some((key, _)) = line.split_once(" = ")
            && key
                .bytes()
                .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'_')
        {
            keys.insert(format!("{table}{key}"));
        }
    }
    keys
}

/// Keys that the page's tables name in their first column, below a heading with the table's name.
fn documented(page: &str) -> BTreeSet<String> {
    let mut table = String::new();
    let mut keys = BTreeSet::new();
    for line in page.lines() {
        if let Some(heading) = line.strip_prefix("### ") {
            table = heading
                .strip_prefix("`[")
                .and_then(|rest| rest.split_once("]`"))
                .map_or(String::new(), |(name, _)| format!("{name}."));
        }
        if line.starts_with("## ") && line != "## Keys" && !keys.is_empty() {
            break;
        }
        if let Some(row) = line.strip_prefix("| `") {
            let first = row.split('|').next().unwrap_or_default();
            let names = format!("`{first}");
            keys.extend(
                names
                    .split('`')
                    .skip(1)
                    .step_by(2)
                    .map(|key| format!("{table}{key}")),
            );
        }
    }
    keys
}

#[test]
fn every_key_is_in_an_example_and_on_the_page() {
    let known = known();
    let examples: Vec<BTreeSet<String>> =
        Example::ALL.map(|example| written(example.text())).to_vec();
    let all: BTreeSet<String> = examples.iter().flatten().cloned().collect();
    assert_eq!(all, known);
    for (example, written) in Example::ALL.iter().zip(&examples) {
        let lacking: Vec<_> = known.difference(written).collect();
        let divider = lacking.iter().all(|key| key.starts_with("divider."));
        assert!(divider, "{example:?} lacks {lacking:?}");
    }
    let page = fs::read_to_string(host_tests().join("../docs/front-end-file.md")).expect("there");
    assert_eq!(documented(&page), known);
}

/// The control: a key that is taken out of either is missed.
#[test]
fn a_key_that_is_left_out_is_noticed() {
    let text = Example::DividedInput.text();
    assert_ne!(
        written(text),
        written(&text.replace("miss_ppm", "miss ppm"))
    );
    let page = fs::read_to_string(host_tests().join("../docs/front-end-file.md")).expect("there");
    assert_ne!(
        documented(&page),
        documented(&page.replace("`miss_ppm`", "miss_ppm"))
    );
}

#[test]
fn what_is_printed_passes_check_and_budget() {
    let folder = tempfile::tempdir().expect("a folder");
    for topology in ["divided-input", "supply-reference"] {
        let printed = tallyvolt(&["example", topology]);
        ends(&printed, 0);
        let file = format!("{topology}.toml");
        fs::write(folder.path().join(&file), out(&printed)).expect("written");
        ends(&at(folder.path(), &["check", &file]), 0);
        ends(
            &at(folder.path(), &["budget", &file, "--trials", "10000"]),
            0,
        );
        let json = tallyvolt(&["example", topology, "--json"]);
        let json: serde_json::Value = serde_json::from_slice(&json.stdout).expect("JSON");
        assert_eq!(json["text"], out(&printed));
    }
    ends(&tallyvolt(&["example", "resistor"]), 2);
    ends(&tallyvolt(&["example"]), 2);
}

/// What stands in comments as an alternative is legal too.
#[test]
fn the_alternatives_read() {
    let text = Example::DividedInput.text();
    let law = |from: &str, to: &str| {
        let plain = text
            .replace("r25_ohms = ", "# r25_ohms = ")
            .replace("b25_85_k = ", "# b25_85_k = ");
        let changed = plain.replace(from, to);
        assert_ne!(plain, changed);
        changed
    };
    for changed in [
        law("# steinhart_hart_", "steinhart_hart_"),
        law("# platinum_ohms = 1000 ", "platinum_ohms = 1000 "),
        text.replace("# [measured]", "[measured]")
            .replace("# core", "core")
            .replace("# cycles", "cycles")
            .replace("# flash_bytes", "flash_bytes"),
        text.replace("# at_mv", "at_mv")
            .replace("points = 2", "points = 1"),
        text.replace("# sampling_min_ns", "sampling_min_ns"),
    ] {
        assert_ne!(changed, text);
        let path = std::path::Path::new("hut.toml");
        // A platinum sensor needs another resistor to be exact enough; its key is read all the same.
        match front_end_file::parse(path, &changed) {
            Ok(_) => {}
            Err(error) => {
                let lines = error.lines().join("\n");
                assert!(
                    lines.contains("max_error_mc") && changed.contains("\nplatinum_ohms"),
                    "{lines}"
                );
            }
        }
    }
}
