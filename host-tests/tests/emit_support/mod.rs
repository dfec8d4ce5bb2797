//! What the tests of `emit` share: front ends, and what firmware must answer for them, as words that a C program can read.
#![allow(dead_code, reason = "each test binary uses a part of it")]

pub mod sensing;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use num_rational::BigRational;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{Calibration, Record, RecordError};
use tallyvolt_host::emit::{Lang, emit, names::Names};
use tallyvolt_host::firmware::{Conversion, Firmware};
use tallyvolt_host::front_end::{
    Cell, CodeCentre, Converter, Divider, FrontEnd, FullScale, Reference, ShiftRounding, Topology,
};
use tallyvolt_host::front_end_file;
use tallyvolt_host::model::Model;
use tallyvolt_host::model::calibration::CalibrationModel;
use tallyvolt_host::model::integer_form::IntegerForm;
use tallyvolt_host::outcome::{FaultName, Outcome};

/// Generated front ends beside the shipped ones.
pub const GENERATED: u32 = 110;
/// Calibrations compared for each front end.
const CALIBRATIONS: usize = 24;
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

/// What core derives from calibrations, with outcomes at the ends of the window and within; then records.
pub fn calibrated_words(front_end: &FrontEnd, seed: u64) -> Vec<u32> {
    let firmware = Firmware::describe(front_end).expect("it was emitted");
    let mut numbers = Numbers(seed);
    let mut words = Vec::new();
    let calibrations = calibrations(seed);
    words.push(u32::try_from(calibrations.len()).expect("few"));
    for (gain, offset) in &calibrations {
        let stored = Calibration::new(U8F24::from_bits(*gain), I24F8::from_bits(*offset))
            .expect("within bounds");
        words.extend([*gain, offset.cast_unsigned()]);
        let conversion = firmware.conversion(stored);
        words.push(if conversion.is_ok() { 0 } else { 8 });
        let Ok(conversion) = conversion else {
            continue;
        };
        let derived = derived(&conversion);
        for value in derived {
            words.extend([
                u32::try_from(value & 0xFFFF_FFFF).expect("masked"),
                u32::try_from(value >> 32).expect("shifted"),
            ]);
        }
        let [first, counts] = [derived[0], derived[1]].map(|v| u32::try_from(v).expect("a count"));
        let mut spots = vec![0, first.saturating_sub(1), first, first + counts / 2];
        spots.extend([(first + counts).saturating_sub(1), first + counts, u32::MAX]);
        spots.extend((0..32).map(|_| first + numbers.within(0, counts)));
        let spots: Vec<u32> = spots
            .iter()
            .flat_map(|count| [*count, number(conversion.outcome(*count))])
            .collect();
        push_list(&mut words, &spots, 2);
        words.extend(sensing::calibrated_words(
            front_end,
            &conversion,
            &mut numbers,
        ));
    }
    let records = records(&firmware, &mut numbers);
    push_list(&mut words, &records, RECORD_WORDS);
    words
}

/// The window and the constants behind it, in the order of the C structures.
fn derived(conversion: &Conversion) -> [u64; 8] {
    match conversion {
        Conversion::Divided(conversion) => {
            let window = conversion.window();
            let multiplier = conversion.multiplier();
            // The narrow product is scaled by 2^32 and split at bit 16, the wide one by 2^80 and at bit 32.
            let narrow = multiplier.shift() <= 32 && window.counts() <= 1 << 16;
            let (scale, split) = if narrow { (32, 16) } else { (80, 32) };
            let halves = |whole: u128| {
                let whole = whole << (scale - multiplier.shift());
                [whole >> split, whole & ((1 << split) - 1)]
                    .map(|half| u64::try_from(half).expect("at most 64 bits"))
            };
            let (m, b) = (halves(multiplier.multiplier()), halves(multiplier.addend()));
            [
                window.first().0.into(),
                window.counts().into(),
                u64::from(!narrow),
                0,
                m[0],
                m[1],
                b[0],
                b[1],
            ]
        }
        Conversion::Supply(conversion) => {
            let (window, quotient) = (conversion.window(), conversion.quotient());
            [
                window.first().0.into(),
                window.counts().into(),
                quotient.doubled_numerator(),
                quotient.step_log2().into(),
                quotient.at_first().into(),
                0,
                0,
                0,
            ]
        }
    }
}

/// Six words of bytes, the refusal, gain, offset and sequence number.
const RECORD_WORDS: usize = 10;

/// Records of core: good ones, and one with each byte damaged in turn, blank ones, and ones of another front end.
fn records(firmware: &Firmware, numbers: &mut Numbers) -> Vec<u32> {
    let front_end = firmware.fingerprint();
    let mut stored = Vec::new();
    for (gain, offset) in calibrations(7).iter().take(6) {
        let calibration = Calibration::new(U8F24::from_bits(*gain), I24F8::from_bits(*offset))
            .expect("within bounds");
        let record = Record {
            front_end,
            calibration,
            sequence: numbers.within(0, u32::MAX),
        };
        stored.push(record.encode());
    }
    let good = stored[5];
    for byte in 0..good.len() {
        let mut damaged = good;
        damaged[byte] ^= 1 << numbers.within(0, 7);
        stored.push(damaged);
    }
    stored.extend([[0; 24], [0xFF; 24]]);
    let other = Record {
        front_end: tallyvolt::Fingerprint(front_end.0 ^ 1),
        calibration: Calibration::IDENTITY,
        sequence: 0,
    };
    stored.push(other.encode());
    // Undamaged, and beyond the limits of gain or offset.
    for (gain, offset) in [
        (UNITY * 2 + 1, 0),
        (UNITY, OFFSET + 1),
        (UNITY, -OFFSET - 1),
        (0, 0),
    ] {
        let mut bytes = good;
        bytes[8..12].copy_from_slice(&u32::to_le_bytes(gain));
        bytes[12..16].copy_from_slice(&i32::to_le_bytes(offset));
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&bytes[..20]);
        bytes[20..].copy_from_slice(&crc.to_le_bytes());
        stored.push(bytes);
    }
    let mut words = Vec::new();
    for bytes in stored {
        words.extend(
            bytes
                .chunks(4)
                .map(|word| u32::from_le_bytes(word.try_into().expect("a record is whole words"))),
        );
        words.extend(match Record::decode(&bytes, front_end) {
            Ok(Record {
                calibration,
                sequence,
                ..
            }) => [
                0,
                calibration.gain().to_bits(),
                calibration.offset().to_bits().cast_unsigned(),
                sequence,
            ],
            Err(error) => [refusal(error), 0, 0, 0],
        });
    }
    words
}

/// A refusal's number in the emitted C.
fn refusal(error: RecordError) -> u32 {
    use tallyvolt::{ConfigError, Field};
    match error {
        RecordError::Blank => 1,
        RecordError::NotARecord => 2,
        RecordError::Version { .. } => 3,
        RecordError::Damaged { .. } => 4,
        RecordError::OtherFrontEnd { .. } => 5,
        RecordError::Calibration(ConfigError::OutOfBounds {
            field: Field::Gain, ..
        }) => 6,
        RecordError::Calibration(ConfigError::OutOfBounds {
            field: Field::Offset,
            ..
        }) => 7,
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
