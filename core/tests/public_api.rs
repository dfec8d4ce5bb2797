//! What every public item has: one path, text for a log, text for a person where it is an error.

#![allow(clippy::expect_used, clippy::panic, reason = "a test may panic")]

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// The text of each file.
fn sources() -> Vec<String> {
    let (mut found, mut open) = (
        Vec::new(),
        vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")],
    );
    while let Some(path) = open.pop() {
        if path.is_dir() {
            let entries = std::fs::read_dir(&path).expect("a directory");
            open.extend(entries.map(|entry| entry.expect("an entry").path()));
        } else {
            found.push(std::fs::read_to_string(&path).expect("a text"));
        }
    }
    found
}

/// The public types of a text, which are lines that begin with `pub struct` or `pub enum`, each with the attributes and comments right above it.
fn types(text: &str) -> Vec<(&str, String)> {
    let (mut above, mut found) = (String::new(), Vec::new());
    for line in text.lines() {
        let declared = ["pub struct ", "pub enum "];
        if let Some(rest) = declared.iter().find_map(|head| line.strip_prefix(head)) {
            let end = rest.find(|sign: char| !sign.is_ascii_alphanumeric());
            found.push((&rest[..end.unwrap_or(rest.len())], above.clone()));
        }
        above.push_str(line);
        if line.is_empty() {
            above.clear();
        }
    }
    found
}

/// Public types of a text that a log cannot show.
fn without_format(text: &str) -> Vec<&str> {
    let derived = "#[cfg_attr(feature = \"defmt\", derive(defmt::Format))]";
    let written = |name| {
        text.lines().any(|line| {
            let target = line.split_once(" defmt::Format for ").map(|(_, rest)| rest);
            let name_of = target.and_then(|rest| rest.split(['<', ' ']).next());
            line.starts_with("impl") && name_of == Some(name)
        })
    };
    let types = types(text).into_iter();
    types
        .filter(|(name, above)| !above.contains(derived) && !written(name))
        .map(|(name, _)| name)
        .collect()
}

#[test]
fn every_public_type_goes_into_a_log() {
    let sources = sources();
    let number: usize = sources.iter().map(|text| types(text).len()).sum();
    assert!(number >= 55, "{number} public types are found");
    for text in &sources {
        assert_eq!(without_format(text), Vec::<&str>::new());
    }
}

/// The control: without either form it is noticed, one type's form does not do for another.
#[test]
fn a_type_that_no_log_shows_is_noticed() {
    let derived = "#[cfg_attr(feature = \"defmt\", derive(defmt::Format))]\npub enum One {}\n\n";
    let written = "pub struct Two<T>(T);\n\nimpl<T> defmt::Format for Two<T> {\n";
    let without = "pub struct Tw(u8);\n\n";
    assert_eq!(without_format(derived), Vec::<&str>::new());
    assert_eq!(without_format(written), Vec::<&str>::new());
    assert_eq!(
        without_format(&[derived, written, without].concat()),
        ["Tw"]
    );
}

/// Every path by which users reach a name: those of `pub use`, and of public modules.
fn paths(root: &str) -> BTreeMap<String, Vec<String>> {
    let mut found = BTreeMap::<String, Vec<String>>::new();
    let code: String = root
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect();
    for item in code.split(';') {
        if let Some((_, used)) = item.split_once("pub use ") {
            let (base, names) = used.rsplit_once("::").unwrap_or(("", used));
            for name in names.trim_matches(['{', '}']).split(',') {
                let name = name.trim();
                if !name.is_empty() {
                    found
                        .entry(name.to_owned())
                        .or_default()
                        .push(base.to_owned());
                }
            }
        } else if let Some((_, module)) = item.split_once("pub mod ") {
            found
                .entry(module.to_owned())
                .or_default()
                .push(String::new());
        }
    }
    found
}

/// Names that are reached twice: used twice, or used out of a module that is public itself.
fn twice(root: &str) -> Vec<String> {
    let paths = paths(root);
    let public = |base: &str| {
        let room = base.split("::").next().unwrap_or_default();
        paths
            .get(room)
            .is_some_and(|bases| bases.iter().any(String::is_empty))
    };
    let several = paths.iter().filter(|(_, bases)| {
        bases.len() > 1 || bases.iter().any(|base| !base.is_empty() && public(base))
    });
    several.map(|(name, _)| name.clone()).collect()
}

#[test]
fn every_public_item_has_one_path() {
    let root = include_str!("../src/lib.rs");
    assert!(paths(root).len() >= 55, "{:?}", paths(root));
    assert_eq!(twice(root), Vec::<String>::new());
}

/// The control: a module that is public as well, and a name that is used twice.
#[test]
fn a_second_path_is_noticed() {
    let private = "mod convert;\npub use convert::line::{DividedConversion, LineConstants};\n";
    assert_eq!(twice(private), Vec::<String>::new());
    let public = format!("pub {private}");
    assert_eq!(twice(&public), ["DividedConversion", "LineConstants"]);
    let again = format!("{private}pub use convert::line::LineConstants;\n");
    assert_eq!(twice(&again), ["LineConstants"]);
}

/// Each error and each fault is one for `?` and for a person, without the standard library; whose name says that it is one is left out
/// by nobody.
#[test]
fn errors_and_faults_are_errors() {
    fn name<E: core::error::Error + core::fmt::Display + Send + Sync + 'static>() -> String {
        let path = core::any::type_name::<E>();
        path.rsplit("::").next().unwrap_or(path).to_owned()
    }
    let errors = BTreeSet::from([
        name::<tallyvolt::ConfigError>(),
        name::<tallyvolt::Fault>(),
        name::<tallyvolt::TemperatureFault>(),
        name::<tallyvolt::RecordError>(),
        #[cfg(feature = "store")]
        name::<tallyvolt::StoreError>(),
        #[cfg(not(feature = "store"))]
        "StoreError".to_owned(),
    ]);
    let sources = sources();
    let named = sources.iter().flat_map(|text| types(text));
    let named = named.filter(|(name, _)| name.ends_with("Error") || name.ends_with("Fault"));
    let named: BTreeSet<String> = named.map(|(name, _)| name.to_owned()).collect();
    assert_eq!(named, errors);
}
