//! Examined records in words and as JSON.

use std::fmt::Write as _;

use serde::Serialize;
use tallyvolt_model::front_end::FrontEnd;

use crate::words::formulas::constants_formula;
use crate::words::numbers::{counted, grouped, told};
use crate::words::wrapping::wrapped;
use tallyvolt_analysis::calibrate::recorded::bytes::Format;
use tallyvolt_analysis::calibrate::recorded::judge::{Judge, Judged};

/// Columns of labels and of the page.
const INDENT: usize = 24;
const WIDTH: usize = 110;

/// What was found in files of records.
#[derive(Debug, Serialize)]
pub struct Examined {
    pub sound: bool,
    name: String,
    front_end: String,
    pub files: Vec<File>,
    bad_files: Vec<String>,
}

/// A file with what was found in it.
#[derive(Debug, Serialize)]
pub struct File {
    file: String,
    format: Format,
    bytes: usize,
    /// Whether there is a sound record, and nothing beside it but sound ones and erased places.
    sound: bool,
    /// Every place, by address; at least one.
    records: Vec<Found>,
}

/// A place with what was found there.
#[derive(Debug, Serialize)]
pub struct Found {
    /// Of its first byte.
    address: u64,
    behind: String,
    sound: bool,
    blank: bool,
    /// Of a store's two places, whether a chip loads this one, with a type of conversion that takes both.
    loaded_by_store: Option<bool>,
    reasons: Vec<String>,
    front_end: Option<String>,
    sequence: Option<u16>,
    crc: Option<String>,
    right_crc: Option<String>,
    #[serde(flatten)]
    module: Option<Swept>,
}

/// A record's conversion, swept.
#[derive(Debug, Serialize)]
struct Swept {
    gain: f64,
    offset: Option<f64>,
    constants: String,
    range_mv: Option<(f64, f64)>,
    valid_counts: Option<(u32, u32)>,
    counts_swept: u64,
    wrong_counts: u64,
    largest_rounding_error_units: f64,
}

impl Examined {
    /// `bad` are the files that could not be read.
    pub fn of(front_end: &FrontEnd, judge: &Judge<'_>, files: Vec<File>, bad: &[String]) -> Self {
        Self {
            sound: bad.is_empty() && files.iter().all(|file| file.sound),
            name: front_end.name.clone(),
            front_end: hex(judge.fingerprint()),
            files,
            bad_files: bad.to_vec(),
        }
    }

    /// For people.
    pub fn text(&self) -> String {
        let mut text = format!("{}  front end {}\n", self.name, self.front_end);
        for file in &self.files {
            let verdict = if file.sound { "sound" } else { "NOT SOUND" };
            let _ = writeln!(text, "\n{}  {verdict}", file.file);
            let places = match file.records.len() {
                1 => String::new(),
                places => format!(", {places} places"),
            };
            let read = format!("{}, {} bytes{places}", file.format.words(), file.bytes);
            row(&mut text, "read", &read);
            for found in &file.records {
                found.rows(&mut text, &self.front_end, &file.records);
            }
        }
        let not = self.files.iter().filter(|file| !file.sound).count();
        let _ = writeln!(
            text,
            "\n{}, {} sound, {not} not sound",
            counted(self.files.len(), "file"),
            self.files.len() - not
        );
        text
    }
}

impl File {
    /// With its places, by address.
    pub fn of(file: String, format: Format, bytes: usize, mut records: Vec<Found>) -> Self {
        let places = records.len();
        let sound = records.iter_mut().filter(|found| found.sound);
        match &mut sound.collect::<Vec<_>>()[..] {
            [first, second] => {
                // Sequence numbers go round; of two equal ones the store takes the first.
                let is_newer = match (first.sequence, second.sequence) {
                    (Some(earlier), Some(later)) => {
                        (1..1 << 15).contains(&later.wrapping_sub(earlier))
                    }
                    _ => false,
                };
                first.loaded_by_store = Some(!is_newer);
                second.loaded_by_store = Some(is_newer);
            }
            [only] if places == 2 => only.loaded_by_store = Some(true),
            _ => {}
        }
        Self {
            file,
            format,
            bytes,
            sound: records.iter().any(|found| found.sound)
                && records.iter().all(|found| found.sound || found.blank),
            records,
        }
    }
}

impl Found {
    /// At an address; `behind` says what lies there beyond the record.
    pub fn of(address: u64, behind: String, judged: Judged) -> Self {
        let head = judged.head;
        Self {
            address,
            behind,
            sound: judged.is_sound(),
            blank: judged.blank,
            loaded_by_store: None,
            reasons: judged.reasons,
            front_end: head.map(|fields| hex(fields.front_end())),
            sequence: head.map(|fields| fields.sequence()),
            crc: head.map(|fields| hex(fields.crc().0)),
            right_crc: head.map(|fields| hex(fields.crc().1)),
            module: judged.module.map(|module| Swept {
                gain: module.gain,
                offset: module.offset,
                constants: constants_formula(&module.constants),
                range_mv: module.range_mv,
                valid_counts: module.sweep.valid,
                counts_swept: module.sweep.counts,
                wrong_counts: module.sweep.wrong,
                largest_rounding_error_units: module.sweep.largest_error,
            }),
        }
    }

    fn verdict(&self, all: &[Self]) -> &'static str {
        let mut others = all
            .iter()
            .filter(|other| other.sound && other.address != self.address);
        match (self.sound, self.loaded_by_store, others.next_back()) {
            (false, ..) if self.blank => "blank",
            (false, ..) => "NOT SOUND",
            (true, None, _) => "sound",
            (true, Some(true), None) => "sound: a chip's store loads it",
            (true, Some(loaded), Some(other)) if other.sequence == self.sequence => match loaded {
                true => "sound, with the other's sequence number: a chip's store loads this one",
                false => "sound, with the other's sequence number",
            },
            (true, Some(true), _) => "sound, the newer: a chip's store loads it",
            (true, Some(false), _) => "sound, the older",
        }
    }

    fn rows(&self, text: &mut String, own: &str, all: &[Self]) {
        let verdict = format!("{}; behind it: {}", self.verdict(all), self.behind);
        row(text, &format!("at {:#x}", self.address), &verdict);
        if let Some(front_end) = &self.front_end {
            let whose = if front_end == own {
                "this one"
            } else {
                "ANOTHER"
            };
            row(text, "front end", &format!("{front_end}, {whose}"));
        }
        if let Some(sequence) = self.sequence {
            row(text, "sequence", &sequence.to_string());
        }
        if let (Some(crc), Some(right_crc)) = (&self.crc, &self.right_crc) {
            let crc = if crc == right_crc {
                format!("{crc}, right")
            } else {
                format!("{crc}, WRONG: that of the bytes is {right_crc}")
            };
            row(text, "CRC-32C", &crc);
        }
        if let Some(module) = &self.module {
            module.rows(text);
        }
        for reason in &self.reasons {
            row(text, if self.blank { "blank" } else { "refused" }, reason);
        }
    }
}

impl Swept {
    fn rows(&self, text: &mut String) {
        let offset = told(self.offset, "none", |offset| {
            format!("{offset:+.4} counts of a sample")
        });
        row(text, "gain", &format!("{:.7} on the voltage", self.gain));
        row(text, "offset", &offset);
        row(text, "constants", &self.constants);
        if let (Some((low, high)), Some((first, last))) = (self.range_mv, self.valid_counts) {
            let reads = format!("{low:.1} to {high:.1} mV, counts {first} to {last}");
            row(text, "reads", &reads);
        }
        let swept = format!(
            "{} counts, {} wrong, largest error {:.6} output steps",
            grouped(self.counts_swept),
            grouped(self.wrong_counts),
            self.largest_rounding_error_units
        );
        row(text, "swept", &swept);
    }
}

fn row(text: &mut String, label: &str, value: &str) {
    let _ = writeln!(text, "  {label:<21} {}", wrapped(value, INDENT, WIDTH));
}

fn hex(word: u32) -> String {
    format!("{word:08x}")
}
