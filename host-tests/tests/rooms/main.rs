//! One-way doors. A room imports only from rooms above it, the files of a house go round in no circle, and the exact model depends
//! on no other crate of the project.

mod imports;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

use imports::{Imports, Module, imports, read};

/// The rooms of what is computed, the first on top.
const ANALYSIS: [&[&str]; 5] = [
    &["files"],
    &["describe"],
    &["choose"],
    &["prove"],
    &["calibrate"],
];

/// The rooms of the program, which stands upon that crate.
const PROGRAM: [&[&str]; 5] = [&["words"], &["emit"], &["cost"], &["picture"], &["cli"]];

/// The rooms of the library.
const CORE: [&[&str]; 7] = [
    &[
        "units", "bounds", "rounding", "text", "field", "error", "refused",
    ],
    &["arch"],
    &["convert"],
    &["describe"],
    &["watch"],
    &["sense"],
    &["keep"],
];

/// Imports of the library that go up all the same, and those that close a circle: each of them is there, and no other.
const CORE_EXCEPTIONS: [(&str, &str); 7] = [
    ("arch::avr::temperature", "convert::thermistor"),
    ("arch::cortex_m0plus::module", "convert::divided_module"),
    ("arch::cortex_m0plus::module", "convert::supply_module"),
    ("arch::flash", "convert::interpolation"),
    ("arch::flash", "convert::sensor_as_drawn"),
    ("arch::portable", "convert::sensor_as_drawn"),
    ("arch::portable", "convert::thermistor"),
];

/// An import, from file to file.
type Import = (String, String);

/// Imports from a room to one that is not above it.
fn uphill(imports: &Imports, rooms: &[&[&str]]) -> BTreeSet<Import> {
    let floor = |module: &Module| {
        let room = module.first()?;
        rooms
            .iter()
            .position(|names| names.contains(&room.as_str()))
    };
    let mut found = BTreeSet::new();
    for (from, into) in imports {
        for to in into {
            if floor(from) < floor(to) {
                found.insert((from.join("::"), to.join("::")));
            }
        }
    }
    found
}

/// Imports between files that reach each other.
fn circles(imports: &Imports) -> BTreeSet<Import> {
    let reached = |from: &Module| {
        let mut seen: BTreeSet<&Module> = BTreeSet::new();
        let mut open: Vec<&Module> = imports[from].iter().collect();
        while let Some(next) = open.pop() {
            if seen.insert(next) {
                open.extend(&imports[next]);
            }
        }
        seen
    };
    let reached: BTreeMap<&Module, _> = imports.keys().map(|from| (from, reached(from))).collect();
    let mut found = BTreeSet::new();
    for (from, into) in imports {
        for to in into.iter().filter(|to| reached[to].contains(from)) {
            found.insert((from.join("::"), to.join("::")));
        }
    }
    found
}

fn source(folder: &str) -> Imports {
    let found = imports(&read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)));
    let edges: usize = found.values().map(BTreeSet::len).sum();
    println!("{folder}: {} files, {edges} imports", found.len());
    assert!(edges > 0, "no import was found");
    found
}

#[test]
fn doors_of_the_program_are_one_way() {
    for (folder, rooms) in [("analysis/src", ANALYSIS), ("src", PROGRAM)] {
        let imports = source(folder);
        for module in imports.keys() {
            let room = module.first().expect("a name");
            assert!(
                rooms.iter().any(|names| names.contains(&room.as_str())),
                "{room} is no room"
            );
        }
        assert_eq!(uphill(&imports, &rooms), BTreeSet::new());
        assert_eq!(circles(&imports), BTreeSet::new(), "{folder}");
    }
    for folder in ["model/src", "cost/src", "harness/src", "stages/src"] {
        assert_eq!(circles(&source(folder)), BTreeSet::new(), "{folder}");
    }
}

#[test]
fn doors_of_the_library_are_one_way_with_known_exceptions() {
    let imports = source("../core/src");
    let found = &uphill(&imports, &CORE) | &circles(&imports);
    let known = CORE_EXCEPTIONS.map(|(from, to)| (from.to_owned(), to.to_owned()));
    assert_eq!(
        found,
        BTreeSet::from(known),
        "what is on the right only is no exception any more"
    );
}

/// The control: wrong doors in every form in which a path can be written, and right ones beside them.
#[test]
fn wrong_doors_are_noticed() {
    let house = |low: &str, high: &str| {
        let module = |path: &str, text: &str| {
            (
                path.split("::").map(str::to_owned).collect(),
                text.to_owned(),
            )
        };
        let files = BTreeMap::from([
            module("describe", "pub mod low;\nmod other;"),
            module("describe::low", low),
            module("describe::other", ""),
            module("prove", "pub mod high;"),
            module("prove::high", high),
        ]);
        let imports = imports(&files);
        (uphill(&imports, &ANALYSIS).len(), circles(&imports).len())
    };
    let right = "use crate::describe::low::Item;\n#[cfg(test)]\nmod tests {\n}\n";
    assert_eq!(house("", right), (0, 0));
    for wrong in [
        "use crate::prove::high::Item;",
        "use crate::{describe::other, prove::high};",
        "use crate::prove::{high::{self, Item}};",
        "fn f() -> u8 { crate::prove::high::item() }",
        "use super::super::prove::high;",
    ] {
        assert_eq!(house(wrong, ""), (1, 0), "{wrong}");
        assert_eq!(house(wrong, right), (1, 2), "{wrong}");
    }
    for harmless in [
        "// crate::prove::high",
        "const TEXT: &str = \"crate::prove::high\";",
    ] {
        assert_eq!(house(harmless, right), (0, 0), "{harmless}");
    }
    // A file and the one that declares it.
    assert_eq!(house("use super::Item;", right), (0, 0));
    let files = BTreeMap::from([
        (vec!["a".to_owned()], "mod b;\nuse b::Item;".to_owned()),
        (
            vec!["a".to_owned(), "b".to_owned()],
            "use super::Other;".to_owned(),
        ),
    ]);
    assert_eq!(circles(&imports(&files)).len(), 2);
}

/// The crates of this project that a crate depends on, directly or not.
fn own_dependencies(metadata: &serde_json::Value, name: &str) -> BTreeSet<String> {
    let packages = metadata["packages"].as_array().expect("packages");
    let dependencies = |name: &str| -> Vec<String> {
        let package = packages.iter().find(|package| package["name"] == name);
        let of = package.expect("a crate of the workspace")["dependencies"].as_array();
        let own = of
            .expect("a list")
            .iter()
            .filter(|one| one["path"].is_string());
        own.map(|one| one["name"].as_str().expect("a name").to_owned())
            .collect()
    };
    let (mut found, mut open) = (BTreeSet::new(), dependencies(name));
    while let Some(next) = open.pop() {
        if found.insert(next.clone()) {
            open.extend(dependencies(&next));
        }
    }
    found
}

/// Not even for its tests. The control: the same way finds core behind the program, and behind the harness.
#[test]
fn the_model_depends_on_no_crate_of_the_project() {
    let output = Command::new(env!("CARGO"))
        .args([
            "metadata",
            "--offline",
            "--no-deps",
            "--format-version",
            "1",
        ])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    let metadata = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(
        own_dependencies(&metadata, "tallyvolt-model"),
        BTreeSet::new()
    );
    assert!(!own_dependencies(&metadata, "tallyvolt-cost").contains("tallyvolt"));
    let analysis = own_dependencies(&metadata, "tallyvolt-analysis");
    assert!(!analysis.contains("tallyvolt-host"));
    for name in ["tallyvolt-host", "tallyvolt-harness"] {
        assert!(
            own_dependencies(&metadata, name).contains("tallyvolt"),
            "{name}"
        );
    }
}
