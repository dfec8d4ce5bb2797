//! Front-end files: TOML text to a [`FrontEnd`], every rule checked, every problem reported at once.
//!
//! Limits come from `tallyvolt::bounds` and the rules between values from the crate's own constructors, so a file that
//! reads without a problem is one that firmware can be built from.

mod bench_tables;
mod decimal;
pub mod example;
mod limits;
pub mod problem;
mod reader;
mod resistance_table;
mod rules;
mod thermistor;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::bounds::{BITS, CELL_UV, REFERENCE_UV, RESISTANCE, RIGHT_SHIFT, SAMPLES};
use tallyvolt_model::front_end::{
    Accuracy, Asks, Cell, CodeCentre, Converter, Divider, Drift, Energy, Environment, FrontEnd,
    FullScale, Reference, Sampling, SensorLaw, ShiftRounding, Tolerance, Topology,
};
use toml::de::DeTable;

use crate::files::input_file;
use example::Example;
use problem::{FileError, Problem};
use reader::{LINE_BYTES_MAX, Notes, Read, TableReader, within};

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
    parse_with(path, &text(path)?, |_, _| ())
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
    parse_with(path, &text(path)?, |root, _| {
        root.report_at(key, others, rule, fix);
    })
    .map(|_| ())
}

fn text(path: &Path) -> Result<String, FileError> {
    input_file::text(path, FILE_BYTES_MAX, LINE_BYTES_MAX).map_err(|error| FileError::Unreadable {
        file: path.display().to_string(),
        reason: error.to_string(),
    })
}

/// Every file that a front end was read from: its own, and a maker's table beside it.
#[must_use]
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
    parse_with(path, text, rules::check)
}

fn parse_with(
    path: &Path,
    text: &str,
    rules: impl FnOnce(&mut TableReader<'_>, &FrontEnd),
) -> Result<FrontEnd, FileError> {
    parse_noting(path, text, rules, &Notes::default())
}

fn parse_noting(
    path: &Path,
    text: &str,
    rules: impl FnOnce(&mut TableReader<'_>, &FrontEnd),
    notes: &Notes,
) -> Result<FrontEnd, FileError> {
    let (document, syntax) = DeTable::parse_recoverable(text);
    for error in syntax {
        notes.problems.borrow_mut().push(Problem {
            span: error.span().unwrap_or(0..0),
            key: String::new(),
            value: String::new(),
            rule: error.message().to_owned(),
            fix: "fix the TOML syntax (https://toml.io)".to_owned(),
            others: Vec::new(),
        });
    }
    let front_end = if notes.problems.borrow().is_empty() {
        let root = TableReader::new(text, "", 0..0, document.get_ref(), notes);
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
#[must_use]
pub fn keys() -> BTreeSet<String> {
    let notes = Notes::default();
    let read = |text: &str| {
        // Only the keys that were asked for matter here, and they are noted either way.
        let _ = parse_noting(Path::new(""), text, |_, _| (), &notes);
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

fn cell(mut table: TableReader<'_>) -> Option<(Cell, Asks)> {
    let millivolts = 1..=CELL_UV.max / 1000;
    let chemistry = table.text("chemistry");
    let min = table.whole("min_mv", millivolts.clone(), 1000, " mV");
    let nominal = table.whole("nominal_mv", millivolts.clone(), 1000, " mV");
    let max = table.whole("max_mv", millivolts, 1000, " mV");
    let asks = Asks {
        headroom_uv: table
            .optional_whole("headroom_mv", 0..=10_000, 1000, " mV")
            .unwrap_or(0),
        max_error_uv: table.optional_whole("max_error_mv", 0..=10_000, 1000, " mV"),
    };
    if let (Some(min), Some(nominal), Some(max)) = (&min, &nominal, &max)
        && !(min.value < nominal.value && nominal.value < max.value)
    {
        table.report(
            "nominal_mv",
            nominal.span.clone(),
            "must lie between min_mv and max_mv".to_owned(),
            "take the three voltages from the cell maker's data sheet".to_owned(),
        );
        table.finish();
        return None;
    }
    table.finish();
    let cell = Cell {
        chemistry: chemistry?.value,
        min_uv: min?.value,
        nominal_uv: nominal?.value,
        max_uv: max?.value,
    };
    Some((cell, asks))
}

fn converter(mut table: TableReader<'_>) -> Option<Converter> {
    let bits = table.whole("bits", within(BITS), 1, "");
    let full_scale = table.choice_or(
        "full_scale",
        &[
            ("2^n", FullScale::PowerOfTwo),
            ("2^n-1", FullScale::TopCode),
        ],
        FullScale::PowerOfTwo,
    );
    let code_centre = table.choice_or(
        "code_centre",
        &[("half", CodeCentre::Half), ("edge", CodeCentre::Edge)],
        CodeCentre::Half,
    );
    let samples = table.whole_or("samples", within(SAMPLES), "", 1);
    let right_shift = table.whole_or("right_shift", within(RIGHT_SHIFT), "", 0);
    let shift_rounding = table.choice_or(
        "shift_rounding",
        &[
            ("truncate", ShiftRounding::Truncate),
            ("nearest", ShiftRounding::Nearest),
        ],
        ShiftRounding::Truncate,
    );
    let supply_min_uv = table.optional_whole("supply_min_mv", 1..=10_000, 1000, " mV");
    let supply_max_uv = table.optional_whole("supply_max_mv", 1..=10_000, 1000, " mV");
    let noise_readings = table.optional_whole("noise_readings", 2..=1_000_000, 1, " readings");
    let sampling = Sampling {
        picofarads: table.optional_decimal("sampling_pf", 0..=1000, " pF"),
        switch_ohms: table.optional_decimal("sampling_ohms", 0..=100_000, " ohm"),
        nanoseconds: table.optional_decimal("sampling_ns", 1..=1_000_000_000, " ns"),
        source_max_ohms: table.optional_decimal("source_max_ohms", 1..=10_000_000, " ohm"),
        leakage_na: table.optional_decimal("leakage_na", 0..=100_000, " nA"),
    };
    let mut lsb = |key| table.optional_decimal(key, 0..=1000, " steps");
    let accuracy = Accuracy {
        noise_readings,
        offset_lsb: lsb("offset_lsb"),
        gain_lsb: lsb("gain_lsb"),
        inl_lsb: lsb("inl_lsb"),
        noise_rms_lsb: lsb("noise_rms_lsb"),
    };
    table.finish();
    Some(Converter {
        bits: bits?.value,
        full_scale: full_scale?,
        code_centre: code_centre?,
        samples: samples?,
        right_shift: right_shift?,
        shift_rounding: shift_rounding?,
        supply_min_uv,
        supply_max_uv,
        accuracy,
        sampling,
    })
}

fn reference(mut table: TableReader<'_>) -> Option<Reference> {
    let microvolts = table.whole("microvolts", within(REFERENCE_UV), 1, " uV");
    let tolerance = tolerance(&mut table);
    let drift = table.choice_or(
        "drift",
        &[("slope", Drift::Slope), ("box", Drift::Box)],
        Drift::Slope,
    );
    let ageing_ppm = table.optional_decimal("ageing_ppm", 0..=100_000, " ppm");
    let supply_min_uv = table.optional_whole("supply_min_mv", 1..=10_000, 1000, " mV");
    let dropout_uv = table.optional_whole("dropout_mv", 0..=10_000, 1000, " mV");
    let mut microseconds = |key| table.optional_decimal(key, 0..=10_000_000, " us");
    let (settling_us, wait_us) = (microseconds("settling_us"), microseconds("wait_us"));
    let sampling_min_ns = table.optional_decimal("sampling_min_ns", 1..=1_000_000_000, " ns");
    table.finish();
    Some(Reference {
        microvolts: microvolts?.value,
        tolerance,
        drift: drift?,
        ageing_ppm,
        supply_min_uv,
        dropout_uv,
        settling_us,
        wait_us,
        sampling_min_ns,
    })
}

fn divider(mut table: TableReader<'_>) -> Option<Divider> {
    let mut ohms = |key| {
        // A resistance of zero is a wire, not a divider; 1 to 10 000 000 ohms.
        table.decimal(key, within(RESISTANCE), " ohm")
    };
    let (top, bottom) = (ohms("top_ohms"), ohms("bottom_ohms"));
    let tolerance = tolerance(&mut table);
    let correlation = table.optional_decimal("correlation", 0..=1, "");
    let filter_nf = table.optional_decimal("filter_nf", 0..=1_000_000, " nF");
    let drain_max_ua = table.optional_decimal("drain_max_ua", 0..=1_000_000, " uA");
    table.finish();
    Some(Divider {
        top_ohms: top?.value,
        bottom_ohms: bottom?.value,
        tolerance,
        correlation,
        filter_nf,
        drain_max_ua,
    })
}

fn tolerance(table: &mut TableReader<'_>) -> Tolerance {
    Tolerance {
        ppm: table.optional_decimal("tolerance_ppm", 0..=500_000, " ppm"),
        ppm_per_k: table.optional_decimal("tempco_ppm_per_k", 0..=10_000, " ppm/K"),
    }
}

fn output(mut table: TableReader<'_>) -> Option<u32> {
    let unit = table.whole("unit_uv", 100..=1000, 1, " uV");
    let unit = unit.filter(|unit| {
        let legal = unit.value == 1000 || unit.value == 100;
        if !legal {
            table.report(
                "unit_uv",
                unit.span.clone(),
                "must be 1000 (1 mV) or 100 (0.1 mV)".to_owned(),
                "write unit_uv = 1000".to_owned(),
            );
        }
        legal
    });
    table.finish();
    unit.map(|unit| unit.value)
}

fn environment(mut table: TableReader<'_>) -> Option<Environment> {
    let calibrated_at = table.decimal("calibrated_at_c", -60..=200, " degC");
    let min = table.decimal("min_c", -60..=200, " degC");
    let max = table.decimal("max_c", -60..=200, " degC");
    if let (Some(min), Some(max)) = (&min, &max)
        && min.value >= max.value
    {
        table.report(
            "min_c",
            min.span.clone(),
            "must be below max_c".to_owned(),
            "swap or correct the two temperatures".to_owned(),
        );
        table.finish();
        return None;
    }
    table.finish();
    Some(Environment {
        calibrated_at_c: calibrated_at?.value,
        min_c: min?.value,
        max_c: max?.value,
    })
}

fn energy(mut table: TableReader<'_>) -> Option<Energy> {
    let clock = table.decimal("clock_hz", 1..=1_000_000_000, " Hz");
    let active = table.decimal("active_ua", 0..=1_000_000, " uA");
    let samples = table.decimal("samples_per_second", 0..=1_000_000, " a second");
    let sleep = table.optional_decimal("sleep_ua", 0..=1_000_000, " uA");
    table.finish();
    // Currents are printed to a few digits, never compared: here a float is no loss.
    let number = |value: &BigRational| value.to_f64();
    Some(Energy {
        clock_hz: number(&clock?.value)?,
        active_ua: number(&active?.value)?,
        samples_per_second: number(&samples?.value)?,
        sleep_ua: sleep.as_ref().and_then(number),
    })
}
