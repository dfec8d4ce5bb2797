//! Every stage of the firmware crate has a test of its name, and every file of tests is part of a program that runs.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The rooms that hold stages; `arch` is measured on simulators, `emitted/small_cores.rs`.
const ROOMS: [&str; 5] = ["convert", "describe", "keep", "sense", "watch"];

fn host_tests() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("a folder above the crate's")
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).expect("a folder of the project");
    let paths = entries.map(|entry| entry.expect("readable").path());
    let mut files: Vec<PathBuf> = paths
        .filter(|path| path.extension().is_some_and(|kind| kind == "rs"))
        .collect();
    files.sort();
    files
}

fn stem(path: &Path) -> String {
    path.file_stem()
        .and_then(|name| name.to_str())
        .unwrap_or_default()
        .to_owned()
}

/// The stages that have something public.
fn stages() -> Vec<String> {
    let rooms = ROOMS.map(|room| host_tests().join("../core/src").join(room));
    let files = rooms.iter().flat_map(|room| rust_files(room));
    files
        .filter(|file| stem(file) != "mod")
        .filter(|file| {
            let text = fs::read_to_string(file).expect("readable");
            text.lines().any(|line| {
                line.starts_with("pub struct ")
                    || line.starts_with("pub enum ")
                    || line.starts_with("pub trait ")
                    || line.starts_with("    pub const fn ")
                    || line.starts_with("    pub fn ")
            })
        })
        .map(|file| stem(&file))
        .collect()
}

/// What stands in `names` for no stage of its own.
fn without_test<'a>(stages: &'a [String], names: &BTreeSet<String>) -> Vec<&'a str> {
    let missing = stages.iter().filter(|stage| !names.contains(*stage));
    missing.map(String::as_str).collect()
}

fn tests() -> BTreeSet<String> {
    let files = rust_files(&host_tests().join("tests/stages"));
    files.iter().map(|file| stem(file)).collect()
}

#[test]
fn every_stage_has_a_test_of_its_name() {
    let stages = stages();
    assert!(stages.len() >= 24, "{stages:?}");
    assert_eq!(without_test(&stages, &tests()), Vec::<&str>::new());
}

/// The control: a test that is taken away is missed.
#[test]
fn a_stage_without_a_test_is_noticed() {
    let mut fewer = tests();
    assert!(fewer.remove("window"));
    assert_eq!(without_test(&stages(), &fewer), ["window"]);
}

/// Programs of tests are named in two manifests, so a file that none of them declares would never run.
#[test]
fn every_file_of_tests_runs() {
    let tests = host_tests().join("tests");
    let manifests = [("Cargo.toml", ""), ("analysis/Cargo.toml", "../")].map(|(file, way)| {
        let text = fs::read_to_string(host_tests().join(file)).expect("there");
        (text, way)
    });
    let named = |file: &Path| {
        let from = file.strip_prefix(host_tests()).expect("below it");
        manifests
            .iter()
            .any(|(text, way)| text.contains(&format!("path = \"{way}{}\"", from.display())))
    };
    let mut looked = 0;
    let mut folders = vec![tests];
    while let Some(folder) = folders.pop() {
        let parents = ["main.rs", "mod.rs"].map(|name| folder.join(name));
        let declared: String = parents
            .iter()
            .filter_map(|parent| fs::read_to_string(parent).ok())
            .collect();
        for file in rust_files(&folder) {
            let name = stem(&file);
            let runs = named(&file)
                || name == "mod"
                || declared.contains(&format!("mod {name};"))
                || name == "core_sources";
            assert!(runs, "no program of tests has {}", file.display());
            looked += 1;
        }
        for entry in fs::read_dir(&folder).expect("readable") {
            let path = entry.expect("readable").path();
            if path.is_dir() && !path.ends_with("node_modules") {
                folders.push(path);
            }
        }
    }
    assert!(looked > 60, "{looked}");
}
