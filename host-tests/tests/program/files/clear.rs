//! What is wrong with a CSV file is said: file, line, the row as it is, the field underlined.

use std::fs;

use super::{FRONT_END, LOG, READINGS, at, ends, shipped, text};

/// A folder with `hut.toml` and a file; what a command says of it, and its exit code.
fn said(content: &[u8], command: &[&str]) -> (String, Option<i32>) {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    fs::write(folder.join("hut.toml"), shipped(FRONT_END)).expect("written");
    fs::write(folder.join("log.csv"), shipped(LOG)).expect("written");
    fs::write(folder.join("bench.csv"), shipped(READINGS)).expect("written");
    fs::write(folder.join("given.csv"), content).expect("written");
    let output = at(folder, command);
    let said = super::err(&output);
    assert!(!said.contains("panicked"), "{said}");
    assert!(
        !said.contains(text(folder)),
        "no path but what was typed: {said}"
    );
    (said, output.status.code())
}

const FIT: [&str; 3] = ["fit", "hut.toml", "given.csv"];
const REPLAY: [&str; 3] = ["replay", "hut.toml", "given.csv"];
const CALIBRATION: [&str; 5] = [
    "replay",
    "hut.toml",
    "log.csv",
    "--calibration",
    "given.csv",
];

#[test]
fn a_quote_that_is_not_closed_spoils_its_row_and_is_said() {
    let text = "module,meter_mv,count\na,2200,2107\na,3200,3065\na,3600,\"3448\nb,3200,3065\n";
    let (said, code) = said(text.as_bytes(), &FIT);
    assert_eq!(code, Some(2), "{said}");
    assert!(
        said.contains("given.csv:4: a quote is not closed"),
        "{said}"
    );
    // The last row is no different, and its reading does not count as good.
    let text = "module,meter_mv,count\na,2200,2107\na,3200,\"3065";
    let (said, code) = self::said(text.as_bytes(), &FIT);
    assert_eq!(code, Some(2), "{said}");
    assert!(
        said.contains("given.csv:3: a quote is not closed"),
        "{said}"
    );
}

#[test]
fn empty_files_and_files_without_rows_say_so() {
    for (content, command, words) in [
        ("", &FIT[..], "given.csv:1: the file is empty"),
        ("\n\n# nothing\n", &FIT, "the file is empty"),
        (
            "module,meter_mv,count\n",
            &FIT,
            "a header and no row below it",
        ),
        ("", &REPLAY, "the file is empty"),
        (
            "time,module,count\n",
            &REPLAY,
            "a header and no row below it",
        ),
        ("", &CALIBRATION, "the file is empty"),
        (
            "module,verdict\n",
            &CALIBRATION,
            "a header and no module below it",
        ),
        (
            "module,meter_mv,count\na,3200,3065\n",
            &CALIBRATION,
            "fit --csv",
        ),
    ] {
        let (said, code) = said(content.as_bytes(), command);
        assert_eq!(code, Some(2), "{content:?} {said}");
        assert!(said.contains(words), "{content:?} {said}");
    }
}

#[test]
fn names_that_differ_in_capitals_only_are_said() {
    let readings = "module,meter_mv,count\nHut-1,2200,2107\nhut-1,3200,3065\n";
    let log = "time,module,count\n0,Hut-1,2107\n1,hut-1,3065\n";
    for (content, command) in [(readings, FIT), (log, REPLAY)] {
        let (said, code) = said(content.as_bytes(), &command);
        assert_eq!(code, Some(2), "{said}");
        let joined: String = said
            .split_whitespace()
            .filter(|word| *word != "│")
            .collect::<Vec<_>>()
            .join(" ");
        assert!(
            joined.contains(
                "given.csv:3: module `hut-1` differs in capitals only from `Hut-1` of line 2"
            ),
            "{said}"
        );
    }
}

#[test]
fn the_row_is_shown_as_it_is_and_the_field_underlined() {
    let text =
        "module;meter_mv;count;note\n\"a\";2200,5;2107;\nb; 3200,5 ;3O65;\"as \"\"found\"\"\"\n";
    let (said, code) = said(text.as_bytes(), &FIT);
    assert_eq!(code, Some(2), "{said}");
    let lines: Vec<&str> = said.lines().collect();
    let row = lines
        .iter()
        .position(|line| line.contains("3 │ b; 3200,5 ;3O65;\"as \"\"found\"\"\""))
        .unwrap_or_else(|| panic!("{said}"));
    let start = lines[row]
        .chars()
        .position(|c| c == 'O')
        .expect("the field");
    let marks: Vec<char> = lines[row + 1].chars().collect();
    assert_eq!(
        marks.iter().filter(|c| "─┬".contains(**c)).count(),
        4,
        "{said}"
    );
    assert!("─┬".contains(marks[start]), "{said}");
    assert!(
        said.contains("count = 3O65: not a whole number from 0 to 4095"),
        "{said}"
    );
}

/// Whatever the row, an error is a line's worth.
#[test]
fn errors_quote_a_line_at_most() {
    let long = "x".repeat(10_000);
    for (content, command) in [
        (format!("module,meter_mv,count\n{long},3200,3065\n"), FIT),
        (format!("module,meter_mv,count\na,{long},3065\n"), FIT),
        (format!("module,meter_mv,count\na,3200,{long}\n"), FIT),
        (format!("module,meter_mv,count\na,3200,3065,{long}\n"), FIT),
        (format!("module,meter_mv,{long}\na,3200,3065\n"), FIT),
        (format!("{long}\na,3200,3065\n"), FIT),
        (format!("time,module,count\n{long},a,3065\n"), REPLAY),
        (
            format!("time,module,count\n0,a,3065,{long}{long}\n"),
            REPLAY,
        ),
    ] {
        let (said, code) = said(content.as_bytes(), &command);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.len() < 1500, "{} bytes: {said}", said.len());
        assert!(
            said.lines().all(|line| line.chars().count() <= 110),
            "{said}"
        );
    }
}

#[test]
fn a_front_end_file_with_many_or_long_problems_is_answered_shortly() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    for content in [
        (0..8000).map(|at| format!("k{at}=1\n")).collect::<String>(),
        "a=1\n".repeat(16_000),
        format!("name = \"{}\"", "x".repeat(280)),
        format!("name = {}", "9".repeat(280)),
        format!("name = \"\"\"{}", "x\n".repeat(30_000)),
        format!("a = {}", "[".repeat(280)),
    ] {
        fs::write(folder.join("bad.toml"), &content).expect("written");
        let said = ends(&at(folder, &["check", "bad.toml"]), 2);
        assert!(
            said.len() < 10_000,
            "{}: {}",
            said.len(),
            said.get(..2000).unwrap_or(&said)
        );
    }
    for (content, words) in [
        ("# long\n".repeat(20_000), "longer than 65536 bytes"),
        (
            format!("#{}\n", "x".repeat(1000)),
            "line 1 has 1001 bytes, at most 300",
        ),
    ] {
        fs::write(folder.join("bad.toml"), content).expect("written");
        let said = ends(&at(folder, &["check", "bad.toml"]), 2);
        assert!(said.replace("\n  │", "").contains(words), "{said}");
    }
}
