//! What the tests of `emit` share: front ends, and what firmware must answer for them, as words that a C program can read.
#![allow(dead_code, reason = "each test binary uses a part of it")]

pub mod sensing;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use num_rational::BigRational;
use tallyvolt::{Record, RecordError};
use tallyvolt_analysis::calibrate::fit::{constants::choose, stored::form};
use tallyvolt_analysis::describe::firmware::Firmware;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_host::emit::{Lang, emit, names::Names};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{
    Cell, CodeCentre, Converter, Divider, FrontEnd, FullScale, Reference, ShiftRounding, Topology,
};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::{FaultName, Outcome};

/// Generated front ends beside the shipped ones.
pub const GENERATED: u32 = 110;
/// Calibrations compared for each front end.
const CALIBRATIONS: usize = 24;
/// Random sets of constants under a right CRC, for each front end.
const RANDOM: usize = 200;
/// Pairs of sequence numbers, for each front end.
const SEQUENCES: usize = 40;
/// Largest calibration offset, 4096 counts in steps of 1/256.
const OFFSET: i32 = 1 << 20;
/// Gain 1 in steps of 2^-24.
const UNITY: u32 = 1 << 24;

/// Numbers from a seed: SplitMix64 (Steele, Lea, Flood: "Fast splittable pseudorandom number generators", 2014).
pub struct Numbers(pub u64);

impl Numbers {
    /// A number from `low` to `high`.
    pub fn within(&mut self, low: u32, high: u32) -> u32 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut word = self.0;
        word = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        let width = u64::from(high - low) + 1;
        low + u32::try_from((word ^ (word >> 31)) % width).expect("below 2^32")
    }
}

/// The shipped front ends.
pub fn shipped() -> Vec<FrontEnd> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder is there")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect();
    files.sort();
    assert!(files.len() >= 8, "{files:?}");
    files
        .iter()
        .map(|file| front_end_file::read(file).expect("shipped files read"))
        .collect()
}

/// A front end and what is emitted for it.
pub type Emitted = (FrontEnd, String);

/// The shipped front ends, emitted.
pub fn shipped_emitted(lang: Lang) -> Vec<Emitted> {
    shipped()
        .into_iter()
        .map(|front_end| {
            let text = emit(&front_end, lang, "as the test does").expect("it passes its check");
            (front_end, text)
        })
        .collect()
}

/// [`GENERATED`] front ends that pass their check, emitted: every width, full scale, centre and shift, both topologies in turn,
/// each with a sensor and limits.
pub fn generated(seed: u64, lang: Lang) -> Vec<Emitted> {
    let mut numbers = Numbers(seed);
    let mut found = Vec::new();
    let mut index = 0;
    while found.len() < GENERATED as usize {
        let mut front_end = one(index, &mut numbers);
        index += 1;
        assert!(index < 20 * GENERATED, "too few pass their check");
        if !sensing::add(&mut front_end, &mut numbers) {
            continue;
        }
        if let Ok(text) = emit(&front_end, lang, "as the test does") {
            found.push((front_end, text));
        }
    }
    found
}

fn one(index: u32, numbers: &mut Numbers) -> FrontEnd {
    let cells = [(1500, 2400, 2850), (2000, 3200, 3650), (2500, 3600, 4200)];
    let (min, nominal, max) = cells[numbers.within(0, 2) as usize];
    let bits = 8 + index / 2 % 9;
    let samples_log2 = numbers.within(0, 10.min(18 - bits.min(18) + 6));
    // At most 17 bits are left, so that every count is swept in good time; ten times in a hundred 20.
    let widest = if numbers.within(0, 9) == 0 { 20 } else { 17 };
    let right_shift = (bits + samples_log2)
        .saturating_sub(widest)
        .max(numbers.within(0, 2))
        .min(8);
    let unit_uv = [1000, 1000, 100][numbers.within(0, 2) as usize];
    let supply = index % 2 == 1;
    let microvolts = if supply {
        numbers.within(400_000, min * 1000 - 200_000)
    } else {
        numbers.within(600_000, 5_000_000)
    };
    let bottom = numbers.within(100, 100_000);
    let needed = u64::from(bottom) * u64::from(max * 1000) * 103 / 100 / u64::from(microvolts);
    let top = u32::try_from(needed)
        .expect("below 2^24")
        .saturating_sub(bottom)
        .max(1)
        + numbers.within(0, bottom / 4);
    let ohms = |value: u32, numbers: &mut Numbers| {
        BigRational::new(
            (value * 10 + numbers.within(0, 9) * (index / 4 % 2)).into(),
            10.into(),
        )
    };
    FrontEnd::bare(
        format!("generated-{index}"),
        if supply {
            Topology::SupplyReference
        } else {
            let top_ohms = ohms(top, numbers);
            Topology::DividedInput(Divider::nominal(top_ohms, ohms(bottom, numbers)))
        },
        Cell {
            chemistry: "invented */ #error \\".to_owned(),
            min_uv: min * 1000,
            nominal_uv: nominal * 1000,
            max_uv: max * 1000,
        },
        Converter {
            full_scale: [FullScale::PowerOfTwo, FullScale::TopCode][numbers.within(0, 1) as usize],
            code_centre: [CodeCentre::Half, CodeCentre::Edge][numbers.within(0, 1) as usize],
            samples: 1 << samples_log2,
            right_shift,
            shift_rounding: [ShiftRounding::Truncate, ShiftRounding::Nearest]
                [numbers.within(0, 1) as usize],
            ..Converter::single(bits)
        },
        Reference::nominal(microvolts),
        unit_uv,
    )
}

/// Stored gain and offset words: both ends of each, and as many near identity as anywhere in the range.
pub fn calibrations(seed: u64) -> Vec<(u32, i32)> {
    let mut numbers = Numbers(seed);
    let mut words = vec![(UNITY, 0), (UNITY - 1, 0), (UNITY, -1)];
    for gain in [UNITY / 2, UNITY * 2] {
        words.extend([(gain, -OFFSET), (gain, OFFSET)]);
    }
    let offset = |most: i32, numbers: &mut Numbers| {
        i32::try_from(numbers.within(0, 2 * most.unsigned_abs())).expect("below 2^22") - most
    };
    while words.len() < CALIBRATIONS {
        words.push((
            numbers.within(UNITY - UNITY / 50, UNITY + UNITY / 50),
            offset(2048, &mut numbers),
        ));
        words.push((
            numbers.within(UNITY / 2, UNITY * 2),
            offset(OFFSET, &mut numbers),
        ));
    }
    words
}

/// A fault's number in the emitted C.
pub fn number(outcome: Outcome) -> u32 {
    match outcome {
        Outcome::Units(units) => units,
        Outcome::Fault(FaultName::ZeroCount) => 1 << 16,
        Outcome::Fault(FaultName::Rail) => 2 << 16,
        Outcome::Fault(FaultName::BelowRange) => 3 << 16,
        Outcome::Fault(FaultName::AboveRange) => 4 << 16,
    }
}

/// A list with its length.
pub fn push_list(words: &mut Vec<u32>, list: &[u32], entry: usize) {
    words.push(u32::try_from(list.len() / entry).expect("a short list"));
    words.extend(list);
}

/// The exact outcome of every count up to the rail and three beyond it, as words.
pub fn as_drawn_words(front_end: &FrontEnd) -> Vec<u32> {
    let model = Model::new(front_end, CalibrationModel::identity());
    let form = IntegerForm::of(&model);
    let rail = model.largest_count();
    let mut words = Vec::new();
    let every: Vec<u32> = (0..=rail + 3).map(|c| number(form.outcome(c))).collect();
    push_list(&mut words, &every, 1);
    let beyond = [1 << 31, u32::MAX - 1, u32::MAX];
    let beyond: Vec<u32> = beyond
        .iter()
        .flat_map(|count| [*count, number(model.outcome(*count))])
        .collect();
    push_list(&mut words, &beyond, 2);
    words
}

/// Records of a front end, and what firmware must answer to each: the module constants of calibrations, damaged bytes, and constants at
/// and beyond their limits under a right CRC. Then sequence numbers.
pub fn record_words(front_end: &FrontEnd, seed: u64) -> Vec<u32> {
    let firmware = Firmware::describe(front_end).expect("it was emitted");
    let largest = firmware.summing().rail().0;
    let mut numbers = Numbers(seed);
    let mut records = Vec::new();
    for (gain, offset) in calibrations(seed) {
        let curve = CalibrationModel::from_words(gain, offset);
        // Some leave no count of the cell's range a voltage.
        if let Ok(chosen) = choose(front_end, &firmware, &curve) {
            let sequence = u16::try_from(numbers.within(0, 0xFFFF)).expect("16 bits");
            let record = firmware
                .record(chosen.constants, sequence)
                .expect("what was chosen can be stored");
            records.push(record.encode());
        }
    }
    let chosen = records.len();
    let good = *records.first().expect("as drawn has constants");
    records.extend(damaged(&good, &mut numbers));
    for _ in 0..RANDOM {
        records.push(random(good, &firmware, largest, &mut numbers));
    }
    let mut words = vec![u32::try_from(records.len()).expect("few")];
    for (index, bytes) in records.iter().enumerate() {
        words.extend(bytes.chunks(4).map(word));
        words.extend(answers(
            front_end,
            &firmware,
            bytes,
            index == 0,
            index < chosen,
            &mut numbers,
        ));
    }
    let mut newer = Vec::new();
    for _ in 0..SEQUENCES {
        let one = numbers.within(0, 0xFFFF);
        let other = [
            one,
            one ^ 0x8000,
            (one + 1) & 0xFFFF,
            numbers.within(0, 0xFFFF),
        ][numbers.within(0, 3) as usize];
        let ahead = (one + 0x1_0000 - other) & 0xFFFF;
        newer.extend([one, other, u32::from(ahead != 0 && ahead < 0x8000)]);
    }
    push_list(&mut words, &newer, 3);
    words
}
/// Bytes of a record.
type Bytes = [u8; tallyvolt::RECORD_BYTES];

fn word(bytes: &[u8]) -> u32 {
    u32::from_le_bytes(bytes.try_into().expect("four bytes"))
}

fn with_crc(mut bytes: Bytes) -> Bytes {
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&bytes[..28]);
    bytes[28..].copy_from_slice(&crc.to_le_bytes());
    bytes
}

/// A record with each byte damaged in turn, with and without a CRC to match, blank ones, and bytes that are anything.
fn damaged(good: &Bytes, numbers: &mut Numbers) -> Vec<Bytes> {
    let mut records = vec![[0; 32], [0xFF; 32]];
    for byte in 0..good.len() {
        let mut one = *good;
        one[byte] ^= 1 << numbers.within(0, 7);
        records.push(one);
        records.push(with_crc(one));
        let mut blank = [[0; 32], [0xFF; 32]][byte % 2];
        blank[byte] ^= 1 << numbers.within(0, 7);
        records.push(blank);
        records.push(with_crc(blank));
    }
    records
}

/// Any number, but often small, near a power of two, or near another number.
fn number_near(numbers: &mut Numbers, other: u64) -> u64 {
    let bits = numbers.within(0, 47);
    let any = u64::from(numbers.within(0, u32::MAX)) << 16 | u64::from(numbers.within(0, 0xFFFF));
    let small = u64::from(numbers.within(0, 4));
    match numbers.within(0, 5) {
        0 => any >> bits,
        1 => (1 << bits) + small,
        2 => (1_u64 << bits).saturating_sub(small),
        _ => (other + small).saturating_sub(2),
    }
}

/// Constants at their limits and beyond, under a right CRC.
fn random(good: Bytes, firmware: &Firmware, largest: u32, numbers: &mut Numbers) -> Bytes {
    let mut bytes = good;
    let largest = u64::from(largest);
    let first = match numbers.within(0, 3) {
        0 => number_near(numbers, largest),
        _ => u64::from(numbers.within(1, 200)).min(largest - 1),
    };
    let counts = match numbers.within(0, 3) {
        0 => number_near(numbers, largest),
        _ => number_near(numbers, largest.saturating_sub(first)),
    };
    let last = counts.saturating_sub(1).clamp(1, largest);
    let bits = firmware.count_bits();
    let shift;
    let (upper, lower, low, lowest);
    match firmware {
        Firmware::Divided(_) => {
            shift = match numbers.within(0, 9) {
                0 => number_near(numbers, 32),
                1..=4 => 32,
                _ => u64::from(bits + 3),
            };
            let is_short = shift != 32;
            let end = 1_u64 << (16 + shift.min(32));
            let m = match numbers.within(0, 4) {
                0 => number_near(numbers, 0xFFFF),
                1 => u64::from(numbers.within(0, 15)),
                _ => number_near(numbers, end / last),
            };
            let rest = |end: u64| end.saturating_sub(m.saturating_mul(last));
            let b = match numbers.within(0, 3) {
                0 => number_near(numbers, 0xFFFF_FFFF),
                // Where a sum of 32 bits wraps.
                1 => number_near(numbers, rest(1 << 32)),
                _ => number_near(numbers, rest(end)),
            };
            let places = if is_short { 0 } else { 16 };
            (upper, lower) = (m >> places, b >> places);
            let mask = if is_short && numbers.within(0, 9) > 0 {
                0
            } else {
                0xFFFF
            };
            (low, lowest) = (m & mask, b & mask);
        }
        Firmware::Supply(_) => {
            shift = number_near(numbers, u64::from(29 - bits.min(28)));
            let end = 1_u64 << 29;
            let d = number_near(numbers, end.saturating_sub(last << shift.min(20)))
                & !u64::from(numbers.within(0, 9) > 0);
            let k = number_near(numbers, (d << 16).saturating_sub(d / 2));
            (upper, lower) = (k, d);
            (low, lowest) = (k >> 32, u64::from(numbers.within(0, 9) == 0));
        }
    }
    bytes[1] = shift.to_le_bytes()[0];
    for (at, value, length) in [
        (8, first, 4),
        (12, counts, 4),
        (16, upper, 4),
        (20, lower, 4),
        (24, low, 2),
        (26, lowest, 2),
    ] {
        bytes[at..at + length].copy_from_slice(&value.to_le_bytes()[..length]);
    }
    with_crc(bytes)
}

/// The refusal of a record, or its conversion's outcomes, at every count or at some, and its limits.
///
/// Within the window outcomes are those of the exact rational of the constants.
fn answers(
    front_end: &FrontEnd,
    firmware: &Firmware,
    bytes: &Bytes,
    every_count: bool,
    fitted: bool,
    numbers: &mut Numbers,
) -> Vec<u32> {
    let loaded =
        Record::decode(bytes, firmware.fingerprint()).and_then(|record| firmware.recorded(&record));
    let conversion = match loaded {
        Ok(conversion) => conversion,
        Err(error) => return vec![refusal(error)],
    };
    let largest = firmware.summing().rail().0;
    let exact = form(&conversion.constants(), largest);
    let window = conversion.window();
    let (first, last) = (window.first().0, window.last().0);
    let answer = |count: u32| {
        let outcome = conversion.outcome(count);
        if fitted || (first..=last).contains(&count) {
            assert_eq!(outcome, exact.outcome(count), "{} {count}", front_end.name);
        }
        number(outcome)
    };
    let mut words = vec![0];
    let every: Vec<u32> = if every_count {
        (0..=largest + 3).map(answer).collect()
    } else {
        Vec::new()
    };
    push_list(&mut words, &every, 1);
    let mut spots = vec![0, first - 1, first, first.midpoint(last), last, last + 1];
    spots.extend([largest, largest + 1, 1 << 16, u32::MAX]);
    spots.extend((0..16).map(|_| numbers.within(first, last)));
    let spots: Vec<u32> = spots
        .iter()
        .flat_map(|count| [*count, answer(*count)])
        .collect();
    push_list(&mut words, &spots, 2);
    words.extend(sensing::calibrated_words(front_end, &conversion, numbers));
    words
}

/// A refusal's number in the emitted C.
fn refusal(error: RecordError) -> u32 {
    match error {
        RecordError::Blank => 1,
        RecordError::NotARecord => 2,
        RecordError::Version { .. } => 3,
        RecordError::Damaged => 4,
        RecordError::OtherFrontEnd { .. } => 5,
        RecordError::Constants => 6,
        other => panic!("{other:?} has no number"),
    }
}

/// Words as bytes for a file.
pub fn bytes(words: &[u32]) -> Vec<u8> {
    words.iter().flat_map(|word| word.to_le_bytes()).collect()
}

/// The identifiers of a front end.
pub fn names(front_end: &FrontEnd) -> Names {
    Names::of(&front_end.name)
}

/// A fresh folder of a test.
pub fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    // What an earlier run left may be of other front ends.
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    folder
}

/// Runs a program, or says which package it is in.
pub fn run(command: &mut Command, package: &str) -> Output {
    command.output().unwrap_or_else(|error| {
        let program = command.get_program().display();
        panic!("{program} is needed by this test: install the package {package} ({error})")
    })
}

/// The same, and it must succeed without a word.
pub fn run_silent(command: &mut Command, package: &str) {
    let output = run(command, package);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        output.status.success() && said.is_empty(),
        "{command:?}\n{said}"
    );
}
