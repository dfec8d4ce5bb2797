//! Paths in what is written hold from any folder.

use std::fs;
use std::path::Path;

use super::{FRONT_END, at, ends, out, shipped, text};

fn project() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    for inside in ["drawings", "firmware/src", "elsewhere"] {
        fs::create_dir_all(folder.path().join(inside)).expect("made");
    }
    let file = folder.path().join("drawings/hut.toml");
    fs::write(file, shipped(FRONT_END)).expect("written");
    folder
}

#[test]
fn an_emitted_file_is_checked_from_any_folder() {
    let project = project();
    let root = project.path();
    let emit = |from: &str, file: &str, to: &str, more: &[&str]| {
        let command = ["emit", file, "--lang", "c", "--out", to];
        at(&root.join(from), &[&command[..], more].concat())
    };
    ends(&emit("", "drawings/hut.toml", "firmware/src/hut.h", &[]), 0);
    let written = fs::read_to_string(root.join("firmware/src/hut.h")).expect("written");
    let command = "tallyvolt emit ../../drawings/hut.toml --lang c --out hut.h";
    assert!(written.contains(command), "{written}");
    assert!(!written.contains(text(root)), "{written}");
    let absolute = [
        root.join("drawings/hut.toml"),
        root.join("firmware/src/hut.h"),
    ];
    for (from, file, to) in [
        ("", "drawings/hut.toml", "firmware/src/hut.h"),
        ("firmware/src", "../../drawings/hut.toml", "hut.h"),
        ("elsewhere", "../drawings/hut.toml", "../firmware/src/hut.h"),
        ("elsewhere", text(&absolute[0]), text(&absolute[1])),
    ] {
        ends(&emit(from, file, to, &["--check"]), 0);
        // And it is written again without a change.
        ends(&emit(from, file, to, &[]), 0);
    }
    // The control: a drawing that stands elsewhere is another command.
    fs::copy(
        root.join("drawings/hut.toml"),
        root.join("elsewhere/hut.toml"),
    )
    .expect("copied");
    ends(
        &emit("", "elsewhere/hut.toml", "firmware/src/hut.h", &["--check"]),
        1,
    );
}

#[test]
fn a_page_names_its_drawing_from_where_it_stands() {
    let project = project();
    let root = project.path();
    let report = |from: &Path, file: &str, to: &str| {
        let command = ["report", file, "--trials", "10000", "--out", to];
        ends(&at(from, &command), 0);
    };
    report(root, "drawings/hut.toml", "elsewhere/page.html");
    let page = fs::read_to_string(root.join("elsewhere/page.html")).expect("written");
    assert!(page.contains("../drawings/hut.toml") && !page.contains(text(root)));
    report(
        &root.join("firmware"),
        "../drawings/hut.toml",
        "../elsewhere/page.html",
    );
    // Unrelated places share no folder: the file's name is all that tells something.
    let printed = at(root, &["emit", "drawings/hut.toml", "--lang", "c"]);
    assert!(out(&printed).contains("tallyvolt emit drawings/hut.toml --lang c --out -"));
}
