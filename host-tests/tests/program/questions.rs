//! The pages of the documentation: what they show of the program is what it prints, their links lead somewhere, and their tables are
//! whole. `TRYCMD=overwrite cargo test -p tallyvolt-host --test questions` renews what is shown; figures in sentences are the writer's.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn page(name: &str) -> String {
    fs::read_to_string(repository().join("docs").join(name)).expect("a page")
}

/// Every file of a folder and of those in it, copied.
fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a new folder");
    for entry in fs::read_dir(from).expect("a folder") {
        let path = entry.expect("an entry").path();
        let copy = to.join(path.file_name().expect("a name"));
        if path.is_dir() {
            copied(&path, &copy);
        } else {
            fs::copy(&path, &copy).expect("a file");
        }
    }
}

/// The record of hut-01 that the page on calibration shows, as bytes.
fn shown_record() -> Vec<u8> {
    let text = page("calibration.md");
    let digits = text
        .split_whitespace()
        .find(|word| word.len() == 64 && word.bytes().all(|byte| byte.is_ascii_hexdigit()))
        .expect("a record");
    (0..64)
        .step_by(2)
        .map(|at| u8::from_str_radix(&digits[at..at + 2], 16).expect("two digits"))
        .collect()
}

/// A header from before its front-end file changed, as the page on emitted text has it.
fn stale_header(folder: &Path) {
    let plain = folder.join("host-tests/front-ends/hut-divided-12bit.toml");
    fs::copy(plain, folder.join("hut.toml")).expect("a copy");
    let made = Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(["emit", "hut.toml", "--lang", "c", "--out", "hut.h"])
        .current_dir(folder)
        .output()
        .expect("the program runs");
    assert!(made.status.success());
    let header = fs::read_to_string(folder.join("hut.h")).expect("written");
    let stale = header.replacen("34202", "34203", 1);
    fs::write(folder.join("hut.h"), stale).expect("writable");
}

/// Commands on a page are given as from the repository's top. They run in a folder that has the front ends and readings at the same
/// place, so what they write is nobody's.
#[test]
fn pages_show_what_the_program_prints() {
    let folder = tempfile::tempdir().expect("a new folder");
    for part in ["host-tests/front-ends", "host-tests/readings"] {
        copied(&repository().join(part), &folder.path().join(part));
    }
    // Read back from a chip: what is behind the record is erased.
    let record = shown_record();
    let read_back = [record.as_slice(), &[0xFF; 32]].concat();
    fs::write(folder.path().join("hut-01-read.bin"), read_back).expect("writable");
    stale_header(folder.path());

    let docs = repository()
        .canonicalize()
        .expect("it is there")
        .join("docs");
    std::env::set_current_dir(folder.path()).expect("it is there");
    let cases = trycmd::TestCases::new();
    cases.case(docs.join("questions/*.md"));
    cases.case(docs.join("*.md"));
    cases.run();

    // What the page on calibration says of hut-01 without a command: its record, and how far its constants lie from the fit.
    let written = fs::read(folder.path().join("records/hut-01.bin")).expect("fit wrote it");
    assert_eq!(written, record);
    let batch = fs::read_to_string(folder.path().join("batch.csv")).expect("fit wrote it");
    let mut rows = batch
        .lines()
        .map(|line| line.split(',').collect::<Vec<_>>());
    let columns = rows.next().expect("a header");
    let column = columns
        .iter()
        .position(|name| *name == "distance_mv")
        .expect("it");
    let row = rows.find(|row| row[0] == "hut-01").expect("a row");
    let distance: f64 = row[column].parse().expect("a number");
    let words = format!("within {distance:.4} mV of the fit");
    assert!(page("calibration.md").contains(&words), "{words}");
    std::env::set_current_dir(repository()).expect("it is there");
}

/// Pages that show commands do so in blocks that the test above runs.
#[test]
fn commands_with_a_prompt_are_run() {
    let top = repository();
    let mut pages = markdown(&top.join("docs"));
    pages.extend(markdown(&top.join("docs/questions")));
    let mut run = 0;
    for page in pages {
        let text = fs::read_to_string(&page).expect("a page");
        let mut block = "";
        for line in text.lines() {
            if let Some(kind) = line.strip_prefix("```") {
                block = kind;
            } else if line.starts_with("$ ") {
                assert_eq!(block, "console", "{}: {line}", page.display());
                run += 1;
            }
        }
    }
    assert!(run > 15, "{run}");
}

/// Rows of a page's tables that have not as many cells as their heading.
fn ragged(text: &str) -> Vec<&str> {
    let cells = |row: &str| row.replace("\\|", "").matches('|').count();
    let (mut fenced, mut heading) = (false, None);
    let mut found = Vec::new();
    for line in text.lines() {
        fenced ^= line.trim_start().starts_with("```");
        if fenced || !line.starts_with('|') {
            heading = None;
        } else if *heading.get_or_insert(cells(line)) != cells(line) {
            found.push(line);
        }
    }
    found
}

#[test]
fn tables_are_whole() {
    for page in pages() {
        let text = fs::read_to_string(&page).expect("a page");
        assert_eq!(ragged(&text), [""; 0], "{}", page.display());
    }
    // The control.
    assert_eq!(
        ragged("| a | b |\n|---|---|\n| 1 | 2 |\n| 1 | 2 | 3 |\n"),
        ["| 1 | 2 | 3 |"]
    );
}

fn markdown(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).expect("a folder of pages");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    paths
        .filter(|path| path.extension().is_some_and(|extension| extension == "md"))
        .collect()
}

/// Targets in a page that are not there.
fn broken(page: &Path, text: &str) -> Vec<String> {
    let folder = page.parent().expect("a page lies in a folder");
    text.split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
        .filter(|target| !target.starts_with("https://") && !target.starts_with('#'))
        .filter_map(|target| target.split('#').next())
        .filter(|target| !folder.join(target).exists())
        .map(str::to_owned)
        .collect()
}

/// Every page that a reader is sent to.
fn pages() -> Vec<PathBuf> {
    let top = repository();
    let mut pages = vec![
        top.join("README.md"),
        top.join("DEVELOPERS.md"),
        top.join("host-tests/embedding/README.md"),
    ];
    pages.extend(markdown(&top.join("docs")));
    pages.extend(markdown(&top.join("docs/questions")));
    assert!(pages.len() > 18, "{}", pages.len());
    pages
}

#[test]
fn links_lead_somewhere() {
    for page in pages() {
        let text = fs::read_to_string(&page).expect("a page");
        assert_eq!(broken(&page, &text), [""; 0], "{}", page.display());
    }
    // The control.
    let page = repository().join("docs/README.md");
    assert_eq!(broken(&page, "[x](no-such.md#here)"), ["no-such.md"]);
}

#[test]
fn every_question_is_on_the_map_and_starts_with_its_answer() {
    let map = fs::read_to_string(repository().join("docs/README.md")).expect("the map");
    let pages = markdown(&repository().join("docs/questions"));
    assert_eq!(pages.len(), 5);
    for page in pages {
        let name = page
            .file_name()
            .and_then(|name| name.to_str())
            .expect("text");
        assert!(map.contains(&format!("questions/{name}")), "{name}");
        let text = fs::read_to_string(&page).expect("a page");
        let first = text.lines().nth(2).expect("a third line");
        assert!(first.starts_with("**"), "{name}: the answer comes first");
    }
}
