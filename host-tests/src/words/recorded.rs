//! Examined records in words and as JSON.

use std::fmt::Write as _;

use serde::Serialize;
use tallyvolt_model::front_end::FrontEnd;

use crate::words::formulas::constants_formula;
use crate::words::numbers::{counted, grouped, told};
use crate::words::wrapping::wrapped;
use tallyvolt_analysis::calibrate::recorded::bytes::Format;
use tallyvolt_analysis::calibrate::recorded::judge::{Judge, Judged, Module};

/// Columns of labels and of the page.
const INDENT: usize = 24;
const WIDTH: usize = 110;

/// A file with what was found in it.
#[derive(Debug)]
pub struct Examined {
    pub file: String,
    pub format: Format,
    /// Bytes read.
    pub length: usize,
    /// Every place, by address; at least one.
    pub slots: Vec<Slot>,
}

/// A place with what was found there.
#[derive(Debug)]
pub struct Slot {
    /// Of its first byte.
    pub address: u64,
    pub behind: String,
    pub judged: Judged,
}

impl Examined {
    /// Whether there is a sound record, and nothing beside it but sound ones and erased places.
    pub fn is_sound(&self) -> bool {
        let sound = |slot: &Slot| slot.judged.is_sound();
        let mut slots = self.slots.iter();
        self.slots.iter().any(sound) && slots.all(|slot| sound(slot) || slot.judged.blank)
    }

    /// The address of the newer of two sound records, which a chip's store loads, and whether it is newer by its number.
    fn newer(&self) -> Option<(u64, bool)> {
        let sound = self.slots.iter().filter(|slot| slot.judged.is_sound());
        let sound = sound.filter_map(|slot| Some((slot.address, slot.judged.head?.sequence())));
        let sound: Vec<(u64, u16)> = sound.collect();
        let [(first, earlier), (second, later)] = sound[..] else {
            return None;
        };
        let ahead = later.wrapping_sub(earlier);
        let is_newer = ahead != 0 && ahead < 1 << 15;
        let newer = if is_newer { second } else { first };
        Some((newer, ahead != 0))
    }
}

/// For people.
pub fn text(front_end: &FrontEnd, judge: &Judge<'_>, files: &[Examined]) -> String {
    let mut text = format!(
        "{}  front end {:08x}\n",
        front_end.name,
        judge.fingerprint()
    );
    for file in files {
        let verdict = if file.is_sound() {
            "sound"
        } else {
            "NOT SOUND"
        };
        let _ = writeln!(text, "\n{}  {verdict}", file.file);
        let slots = match file.slots.len() {
            1 => String::new(),
            places => format!(", {places} places"),
        };
        let read = format!("{}, {} bytes{slots}", file.format.words(), file.length);
        row(&mut text, "read", &read);
        for slot in &file.slots {
            slot_rows(&mut text, judge, slot, file.newer());
        }
    }
    let not = files.iter().filter(|file| !file.is_sound()).count();
    let _ = writeln!(
        text,
        "\n{}, {} sound, {not} not sound",
        counted(files.len(), "file"),
        files.len() - not
    );
    text
}

fn row(text: &mut String, label: &str, value: &str) {
    let _ = writeln!(text, "  {label:<21} {}", wrapped(value, INDENT, WIDTH));
}

fn slot_rows(text: &mut String, judge: &Judge<'_>, slot: &Slot, newer: Option<(u64, bool)>) {
    let judged = &slot.judged;
    let verdict = match (judged.is_sound(), judged.blank, newer) {
        (true, _, None) => "sound",
        (true, _, Some((newer, differ))) => match (newer == slot.address, differ) {
            (true, true) => "sound, the newer: a chip's store loads it",
            (true, false) => {
                "sound, with the other's sequence number: a chip's store loads this one"
            }
            (false, true) => "sound, the older",
            (false, false) => "sound, with the other's sequence number",
        },
        (false, true, _) => "blank",
        (false, false, _) => "NOT SOUND",
    };
    let behind = format!("{verdict}; behind it: {}", slot.behind);
    row(text, &format!("at {:#x}", slot.address), &behind);
    if let Some(fields) = judged.head {
        let (front_end, (crc, right_crc)) = (fields.front_end(), fields.crc());
        let own = if front_end == judge.fingerprint() {
            "this one"
        } else {
            "ANOTHER"
        };
        row(text, "front end", &format!("{front_end:08x}, {own}"));
        row(text, "sequence", &fields.sequence().to_string());
        let crc = if crc == right_crc {
            format!("{crc:08x}, right")
        } else {
            format!("{crc:08x}, WRONG: that of the bytes is {right_crc:08x}")
        };
        row(text, "CRC-32C", &crc);
    }
    if let Some(module) = &judged.module {
        module_rows(text, module);
    }
    for reason in &judged.reasons {
        row(text, if judged.blank { "blank" } else { "refused" }, reason);
    }
}

fn module_rows(text: &mut String, module: &Module) {
    let offset = told(module.offset, "none", |offset| {
        format!("{offset:+.4} counts of a sample")
    });
    row(text, "gain", &format!("{:.7} on the voltage", module.gain));
    row(text, "offset", &offset);
    row(text, "constants", &constants_formula(&module.constants));
    if let (Some((low, high)), Some((first, last))) = (module.range_mv, module.sweep.valid) {
        let reads = format!("{low:.1} to {high:.1} mV, counts {first} to {last}");
        row(text, "reads", &reads);
    }
    let swept = format!(
        "{} counts, {} wrong, largest error {:.6} output steps",
        grouped(module.sweep.counts),
        grouped(module.sweep.wrong),
        module.sweep.largest_error
    );
    row(text, "swept", &swept);
}

/// For machines.
#[derive(Debug, Serialize)]
pub struct Json {
    sound: bool,
    name: String,
    front_end: String,
    files: Vec<JsonFile>,
    bad_files: Vec<String>,
}

#[derive(Debug, Serialize)]
struct JsonFile {
    file: String,
    format: Format,
    bytes: usize,
    sound: bool,
    records: Vec<JsonRecord>,
}

#[derive(Debug, Serialize)]
struct JsonRecord {
    address: u64,
    behind: String,
    sound: bool,
    blank: bool,
    loaded_by_store: Option<bool>,
    reasons: Vec<String>,
    front_end: Option<String>,
    sequence: Option<u16>,
    crc: Option<String>,
    right_crc: Option<String>,
    #[serde(flatten)]
    module: Option<JsonModule>,
}

#[derive(Debug, Serialize)]
struct JsonModule {
    gain: f64,
    offset: Option<f64>,
    constants: String,
    range_mv: Option<(f64, f64)>,
    valid_counts: Option<(u32, u32)>,
    counts_swept: u64,
    wrong_counts: u64,
    largest_rounding_error_units: f64,
}

/// The result for machines; `bad` are the files that could not be read.
pub fn json(front_end: &FrontEnd, judge: &Judge<'_>, files: &[Examined], bad: &[String]) -> Json {
    Json {
        sound: bad.is_empty() && files.iter().all(Examined::is_sound),
        name: front_end.name.clone(),
        front_end: hex(judge.fingerprint()),
        files: files.iter().map(json_file).collect(),
        bad_files: bad.to_vec(),
    }
}

fn hex(word: u32) -> String {
    format!("{word:08x}")
}

fn json_file(file: &Examined) -> JsonFile {
    JsonFile {
        file: file.file.clone(),
        format: file.format,
        bytes: file.length,
        sound: file.is_sound(),
        records: file
            .slots
            .iter()
            .map(|slot| json_record(slot, file.newer()))
            .collect(),
    }
}

fn json_record(slot: &Slot, newer: Option<(u64, bool)>) -> JsonRecord {
    let judged = &slot.judged;
    let fields = judged.head;
    JsonRecord {
        address: slot.address,
        behind: slot.behind.clone(),
        sound: judged.is_sound(),
        blank: judged.blank,
        loaded_by_store: newer.map(|(newer, _)| newer == slot.address),
        reasons: judged.reasons.clone(),
        front_end: fields.map(|fields| hex(fields.front_end())),
        sequence: fields.map(|fields| fields.sequence()),
        crc: fields.map(|fields| hex(fields.crc().0)),
        right_crc: fields.map(|fields| hex(fields.crc().1)),
        module: judged.module.as_ref().map(|module| JsonModule {
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
