//! Any bytes as the CSV files that a user hands over: readings of `fit`, its batch, logs of `replay`, tables of resistances.
//!
//! Reading never panics, keeps a bounded number of complaints, and what it accepts says what the file's text says: every number is the
//! float nearest to the exact decimal, or that decimal itself. The text is read again here, by the csv crate and exact fractions.

#![no_main]

use std::path::Path;
use std::sync::LazyLock;

use crc::{CRC_32_ISCSI, Crc};
use libfuzzer_sys::fuzz_target;
use num_bigint::BigInt;
use num_rational::BigRational;
use tallyvolt_analysis::calibrate::fit::{batch_csv, readings};
use tallyvolt_analysis::calibrate::replay::log::{self, Entry, Largest};
use tallyvolt_analysis::describe::firmware::{Constants, Firmware};
use tallyvolt_analysis::describe::front_end_file::{parse, resistance_table};
use tallyvolt_analysis::files::rows::problem::RowProblem;
use tallyvolt_fuzz::wrong_on_purpose;

/// Largest count of the front end that the batch was fitted for: 12 bits.
const LARGEST: u32 = 4095;

/// Headers of readings and logs: what stands between fields, and the power of ten of the meter's unit.
const READINGS: [(&str, u8, i32); 3] = [
    ("module,meter_mv,count,temp_c\n", b',', 0),
    ("module;Meter [V];count;temperature degC\n", b';', 3),
    ("Module name\tvoltage uV\tcounts\ttemp_c\n", b'\t', -3),
];
const LOGS: [(&str, u8, i32); 3] = [
    ("time,module,count,meter_mv,sensor_count,meter_c\n", b',', 0),
    (
        "time s;module;count;meter V;sensor count;meter C\n",
        b';',
        3,
    ),
    (
        "time\tmodule\tcount\tmeter uV\tsensor_count\tmeter_c\n",
        b'\t',
        -3,
    ),
];

static FIRMWARE: LazyLock<Firmware> = LazyLock::new(|| {
    let text = include_str!("../../host-tests/front-ends/hut-divided-12bit.toml");
    let front_end = parse(Path::new("shipped.toml"), text).expect("a shipped front end");
    Firmware::describe(&front_end).expect("a front end")
});

// The first byte is the reader, the second the header that is written in front of the rest; from `d` on the file has its own.
fuzz_target!(|bytes: &[u8]| {
    let [reader, header, rest @ ..] = bytes else {
        return;
    };
    let headed = |headers: &[(&'static str, u8, i32); 3]| {
        let known = headers.get(usize::from(header.wrapping_sub(b'a'))).copied();
        let text = known.map_or("", |(text, ..)| text);
        let file = [text.as_bytes(), rest].concat();
        // Read again only where no quote, no other line end and no other encoding needs a second reader.
        let plain = !rest.iter().any(|byte| b"\"\r\0".contains(byte)) && rest.is_ascii();
        (file, known.filter(|_| plain))
    };
    match reader {
        b'r' => {
            let (file, known) = headed(&READINGS);
            read_readings(&file, known);
        }
        b'l' => {
            let (file, known) = headed(&LOGS);
            read_log(&file, known);
        }
        b'b' => read_batch(rest),
        _ => read_resistances(rest),
    }
});

/// Rows by their line, as the text has them.
struct Rows<'a> {
    lines: Vec<&'a str>,
    separator: char,
    power: i32,
}

impl<'a> Rows<'a> {
    fn of(file: &'a [u8], (_, separator, power): (&str, u8, i32)) -> Self {
        let text = std::str::from_utf8(file).expect("ASCII");
        Self {
            lines: text.split('\n').collect(),
            separator: separator.into(),
            power,
        }
    }

    fn field(&self, line: u64, at: usize) -> &'a str {
        let line = self.lines[line as usize - 1];
        line.split(self.separator)
            .nth(at)
            .expect("a field")
            .trim_ascii()
    }

    /// Asserts that `value` is the float nearest to the field, in the wanted unit.
    fn check(&self, value: f64, line: u64, at: usize, power: i32) {
        let field = self.field(line, at);
        let Some(exact) = exact(&field.replace(',', "."), power) else {
            return;
        };
        let off = |float: f64| {
            let off = BigRational::from_float(float).expect("finite") - &exact;
            if off < BigRational::from_integer(0.into()) {
                -off
            } else {
                off
            }
        };
        let least = off(value);
        assert!(
            least <= off(value.next_up()) && least <= off(value.next_down()),
            "{value} of {field:?}"
        );
    }

    fn count(&self, count: u32, line: u64, at: usize) {
        let wrong = u32::from(wrong_on_purpose());
        assert_eq!(
            self.field(line, at).parse(),
            Ok(count + wrong),
            "line {line}"
        );
    }
}

/// The exact decimal times a power of ten; none where writing it out would take long.
fn exact(text: &str, power: i32) -> Option<BigRational> {
    let (mantissa, exponent) = text.split_once(['e', 'E']).unwrap_or((text, "0"));
    let (whole, behind) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let digits: BigInt = format!("{whole}{behind}").parse().ok()?;
    let exponent = exponent.parse::<i32>().ok()?.checked_add(power)?;
    let places = i32::try_from(behind.len()).ok()? - exponent;
    if places.abs() > 1000 {
        return None;
    }
    let scale = BigRational::from_integer(BigInt::from(10).pow(places.unsigned_abs()));
    let digits = BigRational::from_integer(digits);
    Some(if places > 0 {
        digits / scale
    } else {
        digits * scale
    })
}

fn complain_well(problems: &[RowProblem], bad_rows: u64, most: usize) {
    assert_eq!(problems.len(), most.min(bad_rows as usize));
    for problem in problems {
        let line = problem.line_text();
        assert!(
            line.starts_with("fuzzed.csv:") && line.len() < 2000,
            "{line:?}"
        );
        assert!(
            problem.row.get(problem.place.clone()).is_some(),
            "{problem:?}"
        );
    }
}

fn read_readings(file: &[u8], known: Option<(&str, u8, i32)>) {
    let Ok(read) = readings::parse("fuzzed.csv", file, LARGEST) else {
        return;
    };
    complain_well(&read.problems, read.bad_rows, readings::PROBLEMS_KEPT);
    let good: usize = read
        .modules
        .iter()
        .map(|module| module.readings.len())
        .sum();
    assert_eq!(read.rows, read.bad_rows + good as u64);
    let Some(known) = known else { return };
    let rows = Rows::of(file, known);
    for module in &read.modules {
        for reading in &module.readings {
            assert_eq!(rows.field(reading.line, 0).trim(), module.name);
            rows.check(reading.meter_mv, reading.line, 1, rows.power);
            rows.count(reading.count, reading.line, 2);
            if let Some(celsius) = reading.temp_c {
                rows.check(celsius, reading.line, 3, 0);
            }
        }
    }
}

fn read_log(file: &[u8], known: Option<(&str, u8, i32)>) {
    let rows = known.map(|known| Rows::of(file, known));
    let largest = Largest {
        cell: LARGEST,
        sensor: Some(LARGEST),
    };
    let mut good = 0;
    let read = log::rows("fuzzed.csv", file, largest, &|| (), &mut |entry: Entry<
        '_,
    >| {
        good += 1;
        let Some(rows) = &rows else { return Ok(()) };
        let line = entry.line;
        assert_eq!(rows.field(line, 1).as_bytes(), entry.module);
        // A time of ISO 8601 has a colon.
        if !rows.field(line, 0).contains(':') {
            rows.check(entry.time_s, line, 0, 0);
        }
        rows.count(entry.count, line, 2);
        if let Some(millivolts) = entry.meter_mv {
            rows.check(millivolts, line, 3, rows.power);
        }
        if let Some(count) = entry.sensor_count {
            rows.count(count, line, 4);
        }
        if let Some(celsius) = entry.meter_c {
            rows.check(celsius, line, 5, 0);
        }
        Ok(())
    });
    if let Ok(end) = read {
        complain_well(&end.problems, end.bad_rows, log::PROBLEMS_KEPT);
        assert_eq!(end.rows, end.bad_rows + good);
    }
}

/// A batch that is accepted: each module's constants are those of its row, and of a record with a right CRC.
fn read_batch(file: &[u8]) {
    let Ok(known) = batch_csv::parse("fuzzed.csv", file, &FIRMWARE) else {
        return;
    };
    // As `fit` writes it: what a spreadsheet made of it is another spelling of the same.
    let other = |byte: &u8| !byte.is_ascii_graphic() && *byte != b'\n' || b"\";#".contains(byte);
    if file.iter().any(other) {
        return;
    }
    let mut rows = csv::Reader::from_reader(file);
    let header = rows.headers().expect("a header").clone();
    for row in rows.records().map_while(Result::ok) {
        let field = |name: &str| {
            let at = header
                .iter()
                .position(|heading| heading.eq_ignore_ascii_case(name));
            row.get(at.expect("a column")).expect("a field")
        };
        let number = |name: &str| field(name).parse::<u128>();
        let Some(module) = known.get(field("module")) else {
            continue;
        };
        let Constants::Line(line) = module.conversion.constants() else {
            panic!("a line's front end");
        };
        assert_eq!(number("first"), Ok(line.first.into()));
        assert_eq!(number("counts"), Ok(line.counts.into()));
        assert_eq!(number("factor"), Ok(line.factor));
        assert_eq!(number("addend"), Ok(line.addend));
        assert_eq!(number("shift"), Ok(line.shift.into()));
        if module.recorded {
            let text = field("record");
            let bytes: Vec<u8> = (0..text.len())
                .step_by(2)
                .map(|at| u8::from_str_radix(&text[at..at + 2], 16).expect("two digits"))
                .collect();
            let (body, crc) = bytes.split_last_chunk().expect("a CRC");
            let right = Crc::<u32>::new(&CRC_32_ISCSI).checksum(body);
            assert_eq!(
                u32::from_le_bytes(*crc),
                right + u32::from(wrong_on_purpose())
            );
        }
    }
}

/// A table that is accepted: its temperatures rise, and each number is the text's.
fn read_resistances(file: &[u8]) {
    let text = String::from_utf8_lossy(file);
    let points = match resistance_table::points(&text) {
        Ok(points) => points,
        Err((line, rule)) => {
            assert!(
                line >= 1 && !rule.is_empty() && rule.len() < 500,
                "{rule:?}"
            );
            return;
        }
    };
    assert!(points.is_sorted_by(|before, after| before.0 < after.0));
    let rows = text
        .lines()
        .filter(|line| !line.trim().is_empty() && !line.starts_with('#'))
        .skip(1);
    assert_eq!(rows.clone().count(), points.len());
    for ((celsius, ohms), row) in points.iter().zip(rows) {
        let mut numbers = row
            .split(',')
            .map(|cell| exact(&cell.trim().replace('_', ""), 0));
        assert_eq!(numbers.next(), Some(Some(celsius.clone())), "{row:?}");
        let ohms = ohms + BigRational::from_integer(u8::from(wrong_on_purpose()).into());
        assert_eq!(numbers.next(), Some(Some(ohms)), "{row:?}");
    }
}
