//! Front-end files: TOML text to a [`FrontEnd`], every rule checked, every problem reported at once.
//!
//! Limits come from `tallyvolt::bounds` and the rules between values from the crate's own constructors, so a file that
//! reads without a problem is one that firmware can be built from.

mod bench_tables;
mod circuit_tables;
mod decimal;
pub mod example;
mod limits;
pub mod problem;
mod reader;
pub mod resistance_table;
mod rules;
mod thermistor;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use tallyvolt_model::front_end::{FrontEnd, SensorLaw, Topology};
use toml::de::DeTable;

use crate::files::input_file;
use circuit_tables::{cell, converter, divider, energy, environment, output, reference};
use example::Example;
use problem::{FileError, Problem};
use reader::{LINE_BYTES_MAX, Notes, Read, TableReader};

/// Bytes of a front-end file; the shipped ones have about 1000, the fullest example about 8000.
pub const FILE_BYTES_MAX: u64 = 1 << 16;

/// Reads a front-end file.
///
/// # Errors
/// [`FileError`] when the file cannot be read or breaks any rule; it lists every problem found.
pub fn read(path: &Path) -> Result<FrontEnd, FileError> {
    parse(path, &text(path)?)
}

/// Reads a front-end file whose values need not go together: each is within its own limits, but the rules between values
/// are not applied, so firmware may be impossible to build from it. For telling what is wrong with a candidate.
///
/// # Errors
/// [`FileError`] when the file cannot be read or a value breaks its own rule.
pub fn read_candidate(path: &Path) -> Result<FrontEnd, FileError> {
    parse_with(path, &text(path)?, |_, _| (), &Notes::default())
}

/// A problem at a key of a file that was read before, with other keys that take part.
///
/// # Errors
/// Always: the problem as a [`FileError`], or that the file cannot be read any more.
pub fn problem_at(
    path: &Path,
    key: (&str, &str),
    others: &[(&str, &str)],
    rule: String,
    fix: String,
) -> Result<(), FileError> {
    let report = |root: &mut TableReader<'_>, _: &FrontEnd| root.report_at(key, others, rule, fix);
    parse_with(path, &text(path)?, report, &Notes::default()).map(drop)
}

fn text(path: &Path) -> Result<String, FileError> {
    input_file::text(path, FILE_BYTES_MAX, LINE_BYTES_MAX).map_err(|error| FileError::Unreadable {
        file: path.display().to_string(),
        reason: error.to_string(),
    })
}

/// Every file that a front end was read from: its own, and a maker's table beside it.
pub fn inputs(path: &Path, front_end: &FrontEnd) -> Vec<PathBuf> {
    let mut inputs = vec![path.to_owned()];
    if let Some(SensorLaw::Table { file, .. }) = front_end.thermistor.as_ref().map(|t| &t.law) {
        inputs.push(thermistor::beside(path, file));
    }
    inputs
}

/// Reads the text of a front-end file; `path` serves messages only.
///
/// # Errors
/// [`FileError::Problems`] with every broken rule.
pub fn parse(path: &Path, text: &str) -> Result<FrontEnd, FileError> {
    parse_with(path, text, rules::check, &Notes::default())
}

fn parse_with(
    path: &Path,
    text: &str,
    rules: impl FnOnce(&mut TableReader<'_>, &FrontEnd),
    notes: &Notes,
) -> Result<FrontEnd, FileError> {
    let (document, syntax) = DeTable::parse_recoverable(text);
    for error in syntax {
        let span = error.span().unwrap_or(0..0);
        let (key, rule, fix) = match error.message() {
            "duplicate key" => {
                let key = text.get(span.clone()).unwrap_or_default().trim();
                (key, "stands twice", "remove one of the two")
            }
            other => ("", other, "fix the TOML syntax (https://toml.io)"),
        };
        let key = key.escape_debug().to_string();
        notes.note(Problem::new(key, span, rule.to_owned(), fix.to_owned()));
    }
    let front_end = if notes.problems.borrow().is_empty() {
        let root = TableReader::root(text, document.get_ref(), notes);
        front_end(root, path, rules)
    } else {
        None
    };
    match (front_end, notes.problems.take()) {
        (Some(front_end), problems) if problems.is_empty() => Ok(front_end),
        (_, problems) => Err(FileError::new(path, text, problems)),
    }
}

/// Every key that is read, as `table.key`, or as `key` outside of tables.
pub fn keys() -> BTreeSet<String> {
    let notes = Notes::default();
    let read = |text: &str| {
        // Only the keys that were asked for matter here, and they are noted either way.
        let _ = parse_with(Path::new(""), text, |_, _| (), &notes);
    };
    for example in Example::ALL {
        read(example.text());
    }
    // Tables without a key of a kind ask for all of that kind.
    read("[thermistor]\n[measured]\n");
    notes.keys.take()
}

#[derive(Clone, Copy, PartialEq)]
enum TopologyWord {
    DividedInput,
    SupplyReference,
}

fn front_end(
    mut root: TableReader<'_>,
    path: &Path,
    rules: impl FnOnce(&mut TableReader<'_>, &FrontEnd),
) -> Option<FrontEnd> {
    let name = root.text("name").and_then(|name| identifier(&root, name));
    let word = root.choice(
        "topology",
        &[
            ("divided-input", TopologyWord::DividedInput),
            ("supply-reference", TopologyWord::SupplyReference),
        ],
    );
    let cell = root.required_table("cell").map(cell);
    let converter = root.required_table("converter").map(converter);
    let reference = root.required_table("reference").map(reference);
    let topology = match word {
        Some(word) => topology(&mut root, word),
        // The word was reported. A divider may belong to the right one, so only its own problems count.
        None => root.table("divider").and_then(divider).and(None),
    };
    let unit_uv = match root.table("output") {
        Some(table) => output(table),
        None => Some(1000),
    };
    let environment = root.table("environment").map(environment);
    let thermistor = root
        .table("thermistor")
        .map(|table| thermistor::read(table, path));
    let unit = unit_uv.unwrap_or(1000);
    let limits = root.table("limits").map(|table| limits::read(table, unit));
    let meter = root.table("meter").map(bench_tables::meter);
    let calibration = root.table("calibration").map(bench_tables::calibration);
    let measured = root.table("measured").map(bench_tables::measured);
    let energy = root.table("energy").map(energy);
    let front_end = (|| {
        let (cell, asks) = cell??;
        Some(FrontEnd {
            name: name?,
            topology: topology?,
            cell,
            converter: converter??,
            reference: reference??,
            unit_uv: unit_uv?,
            asks,
            environment: complete(environment)?,
            thermistor: complete(thermistor)?,
            meter: complete(meter)?,
            calibration: complete(calibration)?.unwrap_or_default(),
            limits: complete(limits)?,
            measured: complete(measured)?,
            energy: complete(energy)?,
        })
    })();
    if let Some(front_end) = &front_end {
        bench_tables::rules(&root, front_end);
        rules(&mut root, front_end);
    }
    root.finish();
    front_end
}

/// An optional table: absent, or read without a problem; `None` where it is there and broken.
fn complete<T>(table: Option<Option<T>>) -> Option<Option<T>> {
    match table {
        Some(read) => read.map(Some),
        None => Some(None),
    }
}

fn identifier(root: &TableReader<'_>, name: Read<String>) -> Option<String> {
    let text = &name.value;
    let legal = text.len() <= 64
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && text
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if legal {
        return Some(name.value);
    }
    root.report(
        "name",
        name.span,
        "must be 1 to 64 of a-z, 0-9 and '-', a letter first".to_owned(),
        "C and Rust identifiers derive from it: write it like hut-bank-a".to_owned(),
    );
    None
}

fn topology(root: &mut TableReader<'_>, word: Read<TopologyWord>) -> Option<Topology> {
    match word.value {
        TopologyWord::DividedInput => root
            .required_table("divider")
            .and_then(divider)
            .map(Topology::DividedInput),
        TopologyWord::SupplyReference => {
            if root.table("divider").is_some() {
                root.report(
                    "topology",
                    word.span,
                    "has no [divider]: the cell itself is the converter's reference".to_owned(),
                    "remove [divider], or write topology = \"divided-input\"".to_owned(),
                );
                return None;
            }
            Some(Topology::SupplyReference)
        }
    }
}
