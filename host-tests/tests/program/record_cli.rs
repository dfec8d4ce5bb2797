//! `tallyvolt record`: records as written and as read back, sound and not, in every format.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{DividedConversion, Record};
use tallyvolt_analysis::calibrate::recorded::judge::{Judge, Judged};
use tallyvolt_analysis::describe::firmware::{Conversion, Firmware};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::outcome::Outcome;

const DIVIDED: &str = "front-ends/hut-divided-12bit.toml";
const SUPPLY: &str = "front-ends/hut-supply-12bit-x16.toml";
/// 1.004 and 1.25 counts, as their fixed-point types hold them.
const GAIN: f64 = 16_844_325.0 / 16_777_216.0;
const OFFSET: f64 = 1.25;

fn host_tests() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn front_end(file: &str) -> FrontEnd {
    front_end_file::read(&host_tests().join(file)).expect("shipped")
}

/// The record of a self-calibrated module.
fn record(file: &str, sequence: u16) -> Record {
    let (gain, offset) = (U8F24::from_num(GAIN), I24F8::from_num(OFFSET));
    match Firmware::describe(&front_end(file)).expect("shipped") {
        Firmware::Divided(input) => {
            let drawn: DividedConversion<12> = input.conversion().expect("proven");
            input.record(&drawn.scaled(gain, offset).expect("legal"), sequence)
        }
        Firmware::Supply(reference) => {
            let drawn = reference.conversion().expect("proven");
            reference.record(&drawn.scaled(gain, offset).expect("legal"), sequence)
        }
    }
}

/// Bytes with another field, under a right CRC.
fn forged(record: &Record, at: usize, field: &[u8]) -> Vec<u8> {
    let mut bytes = record.encode().to_vec();
    bytes[at..at + field.len()].copy_from_slice(field);
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&bytes[..28]);
    bytes[28..].copy_from_slice(&crc.to_le_bytes());
    bytes
}

fn intel_hex(pieces: &[(u16, &[u8])]) -> String {
    let mut lines = vec![ihex::Record::ExtendedLinearAddress(0x0800)];
    for (offset, bytes) in pieces {
        for (at, value) in (0..).step_by(16).zip(bytes.chunks(16)) {
            lines.push(ihex::Record::Data {
                offset: offset + at,
                value: value.to_vec(),
            });
        }
    }
    lines.push(ihex::Record::EndOfFile);
    ihex::create_object_file_representation(&lines).expect("legal")
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x} ")).collect()
}

fn file(name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("record");
    fs::create_dir_all(&folder).expect("temporary");
    let path = folder.join(name);
    fs::write(&path, bytes).expect("temporary");
    path
}

fn run(front_end: &str, records: &[&Path], json: bool) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(["record", front_end])
        .args(records)
        .args(json.then_some("--json"))
        .current_dir(host_tests())
        .output()
        .expect("the program runs")
}

/// Exit code and the one file's JSON.
fn examined(front_end: &str, path: &Path) -> (Option<i32>, Value) {
    let output = run(front_end, &[path], true);
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(json["sound"], output.status.code() == Some(0));
    (output.status.code(), json["files"][0].clone())
}

fn reasons(record: &Value) -> String {
    let reasons = record["reasons"].as_array().expect("a list");
    let reasons: Vec<_> = reasons.iter().filter_map(Value::as_str).collect();
    reasons.join("\n")
}

/// A file with one record that is refused: why.
fn refused(front_end: &str, name: &str, bytes: impl AsRef<[u8]>) -> String {
    let path = file(name, bytes);
    let (code, found) = examined(front_end, &path);
    assert_eq!(code, Some(1), "{name}: {found}");
    let text = run(front_end, &[&path], false);
    assert_eq!(text.status.code(), Some(1), "{name}");
    let text = String::from_utf8(text.stdout).expect("text");
    assert!(text.contains("1 file, 0 sound, 1 not sound"), "{text}");
    let why = reasons(&found["records"][0]);
    assert!(why.contains("; "), "{name}: {why} without a fix");
    why
}

#[test]
fn a_sound_record_in_every_format_says_what_it_does() {
    for (front_end, counts) in [(DIVIDED, 4096), (SUPPLY, 65_521)] {
        let bytes = record(front_end, 7).encode();
        let files = [
            file("sound.bin", bytes),
            file("sound.hex", intel_hex(&[(0x1F00, &bytes)])),
            file("sound.txt", hexadecimal(&bytes)),
        ];
        for (path, format) in files.iter().zip(["binary", "intel-hex", "hexadecimal"]) {
            let (code, found) = examined(front_end, path);
            assert_eq!(code, Some(0), "{found}");
            assert_eq!(found["format"], format);
            let one = &found["records"][0];
            let at = if format == "intel-hex" {
                0x0800_1F00
            } else {
                0
            };
            assert_eq!(one["address"], at);
            assert_eq!(one["sequence"], 7);
            assert_eq!(one["counts_swept"], counts);
            assert_eq!(one["wrong_counts"], 0);
            assert_eq!(one["crc"], one["right_crc"]);
            let (gain, offset) = (
                one["gain"].as_f64().expect("a number"),
                one["offset"].as_f64().expect("a number"),
            );
            // The short form lies up to a twentieth of a step of 1 mV beside gain and offset, over cells from 2000 mV on.
            assert!((gain - GAIN).abs() < 0.05 / 2000.0, "{gain}");
            assert!((offset - OFFSET).abs() < 0.05, "{offset}");
        }
    }
}

#[test]
fn the_text_says_it_for_people() {
    let path = file("people.bin", record(DIVIDED, 7).encode());
    let output = run(DIVIDED, &[&path], false);
    assert_eq!(output.status.code(), Some(0));
    let text = String::from_utf8(output.stdout).expect("text");
    for line in [
        "read                  binary, 32 bytes",
        "at 0x0                sound; behind it: nothing",
        "sequence              7",
        // 1.004 and 1.25 in the short form: 34339 / 34202 of the drawing's slope, and where that line crosses zero.
        "gain                  1.0040056 on the voltage",
        "offset                +1.2612 counts of a sample",
        "swept                 4,096 counts, 0 wrong, largest error 0.4",
        ">> 15",
        "this one",
        ", right",
        "Lithium cells can burn.",
    ] {
        assert!(text.contains(line), "{line} in\n{text}");
    }
}

#[test]
fn a_padded_read_says_what_lies_behind() {
    let bytes = record(DIVIDED, 1).encode();
    for (length, fill, said) in [
        (64, 0xFF, "32 erased bytes (0xff)"),
        (4096, 0x00, "4064 bytes of 0x00"),
        (4096, 0x3C, "4064 other bytes"),
    ] {
        let mut page = bytes.to_vec();
        page.resize(length, fill);
        let (code, found) = examined(DIVIDED, &file("padded.bin", &page));
        assert_eq!(code, Some(0), "{found}");
        assert_eq!(found["bytes"], length);
        assert_eq!(found["records"].as_array().map(Vec::len), Some(1));
        assert_eq!(found["records"][0]["behind"], said);
    }
    // In the middle of a firmware image.
    let image = intel_hex(&[(0x0100, &[0x3C; 100]), (0x1F02, &bytes)]);
    let (code, found) = examined(DIVIDED, &file("image.hex", image));
    assert_eq!(code, Some(0), "{found}");
    assert_eq!(found["records"][0]["address"], 0x0800_1F02);
}

#[test]
fn both_slots_of_a_store_are_told_and_the_newer_is_named() {
    let slots = |first: &[u8], second: &[u8]| {
        let mut memory = vec![0xFF; 256];
        memory[..first.len()].copy_from_slice(first);
        memory[128..128 + second.len()].copy_from_slice(second);
        let path = file("slots.bin", memory);
        examined(DIVIDED, &path)
    };
    let of = |sequence| record(DIVIDED, sequence).encode();
    // 0 comes after 65 535.
    for (first, second, newer) in [(3, 4, 1), (4, 3, 0), (0xFFFF, 0, 1)] {
        let (code, found) = slots(&of(first), &of(second));
        assert_eq!(code, Some(0), "{found}");
        let records = found["records"].as_array().expect("a list");
        assert_eq!(records.len(), 2);
        for (place, record) in records.iter().enumerate() {
            assert_eq!(record["address"], 128 * place);
            assert_eq!(record["loaded_by_store"], place == newer);
        }
    }
    // One slot not written yet.
    for (first, second, places) in [(of(3), [0xFF; 32], 1), ([0xFF; 32], of(3), 2)] {
        let (code, found) = slots(&first, &second);
        assert_eq!(code, Some(0), "{found}");
        assert_eq!(found["records"].as_array().map(Vec::len), Some(places));
    }
    // One slot half written: the other holds, and the file is not all sound.
    let mut cut = of(4);
    cut[20..].fill(0xFF);
    let (code, found) = slots(&of(3), &cut);
    assert_eq!(code, Some(1), "{found}");
    assert_eq!(found["records"][0]["sound"], true);
    assert_eq!(found["records"][0]["loaded_by_store"], true);
    assert_eq!(found["records"][1]["loaded_by_store"], Value::Null);
    assert!(reasons(&found["records"][1]).contains("damaged"), "{found}");
    // What people read, place by place.
    for (second, words) in [
        (
            of(3),
            [
                "sound, with the other's sequence number: a chip's store loads this one",
                "sound, with the other's sequence number",
            ],
        ),
        (
            of(2),
            [
                "sound, the newer: a chip's store loads it",
                "sound, the older",
            ],
        ),
        (
            of(4),
            [
                "sound, the older",
                "sound, the newer: a chip's store loads it",
            ],
        ),
        (cut, ["sound: a chip's store loads it", "NOT SOUND"]),
        ([0xFF; 32], ["sound", ""]),
    ] {
        slots(&of(3), &second);
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("record/slots.bin");
        let said = run(DIVIDED, &[&path], false);
        let text = String::from_utf8_lossy(&said.stdout);
        let verdicts: Vec<&str> = text
            .lines()
            .filter(|line| line.contains(" at 0x"))
            .filter_map(|line| line.get(24..)?.split(';').next())
            .collect();
        assert_eq!(
            verdicts,
            words
                .into_iter()
                .filter(|word| !word.is_empty())
                .collect::<Vec<_>>(),
            "{text}"
        );
    }
}

#[test]
fn every_damaged_byte_is_refused() {
    let bytes = record(DIVIDED, 1).encode();
    let paths: Vec<PathBuf> = (0..bytes.len())
        .map(|at| {
            let mut damaged = bytes;
            damaged[at] ^= 0x10;
            file(&format!("damaged-{at}.bin"), damaged)
        })
        .collect();
    let paths: Vec<&Path> = paths.iter().map(PathBuf::as_path).collect();
    let output = run(DIVIDED, &paths, true);
    assert_eq!(output.status.code(), Some(1));
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let files = json["files"].as_array().expect("a list");
    assert_eq!(files.len(), 32);
    for (at, file) in files.iter().enumerate() {
        assert_eq!(file["sound"], false, "byte {at}");
        let why = reasons(&file["records"][0]);
        let wanted = if at == 0 {
            "something other than"
        } else {
            "damaged: the CRC"
        };
        assert!(why.contains(wanted), "byte {at}: {why}");
    }
}

#[test]
fn what_a_chip_refuses_is_refused_with_its_reason() {
    let own = record(DIVIDED, 1);
    let refused = |name, bytes: Vec<u8>, said: &str| {
        let why = refused(DIVIDED, name, bytes);
        assert!(why.contains(said), "{name}: {why}");
    };
    refused(
        "other.bin",
        record(SUPPLY, 1).encode().to_vec(),
        "made for another front end",
    );
    refused("blank.bin", vec![0xFF; 32], "erased, nothing was written");
    refused(
        "blank-page.bin",
        vec![0xFF; 4096],
        "erased, nothing was written",
    );
    refused("zero.bin", vec![0; 32], "erased, nothing was written");
    refused(
        "short.bin",
        own.encode()[..31].to_vec(),
        "31 bytes, a record has 32",
    );
    refused("version.bin", forged(&own, 0, &[0xB3]), "layout version 3");
    // M so large that the last count leaves the output's range; no count; a window beyond the rail; S of no form.
    for (name, at, field) in [
        ("factor.bin", 16, u32::MAX),
        ("none.bin", 12, 0),
        ("window.bin", 12, 5000),
        ("first.bin", 8, 0),
    ] {
        let bytes = forged(&own, at, &field.to_le_bytes());
        refused(name, bytes, "constants that the type of conversion refuses");
    }
    refused(
        "shift.bin",
        forged(&own, 1, &[14]),
        "constants that the type of conversion refuses",
    );
}

/// What a chip takes, because it wraps nowhere, and no fit would write.
#[test]
fn what_a_chip_takes_and_nobody_should_is_refused_as_well() {
    let own = record(DIVIDED, 1);
    let refused = |name, bytes: Vec<u8>, said: &str| {
        let why = refused(DIVIDED, name, bytes);
        assert!(why.contains(said), "{name}: {why}");
    };
    refused(
        "window-short.bin",
        forged(&own, 12, &3900_u32.to_le_bytes()),
        "the window leaves out count",
    );
    let mut flat = forged(&own, 16, &[0; 4]);
    flat[24..26].fill(0);
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&flat[..28]);
    flat[28..].copy_from_slice(&crc.to_le_bytes());
    refused("flat.bin", flat, "every count gives the same voltage");
    let factor = u32::from_le_bytes(own.encode()[16..20].try_into().expect("four"));
    refused(
        "half.bin",
        forged(&own, 16, &(factor / 3).to_le_bytes()),
        "gain 0.334",
    );
    refused(
        "half-full.bin",
        forged(&own, 16, &(factor * 4 / 5).to_le_bytes()),
        "the fullest cell, 3650 mV, is not read",
    );
}

#[test]
fn files_that_cannot_be_read_are_bad_input() {
    let sound = file("beside.bin", record(DIVIDED, 1).encode());
    for (name, bytes, said) in [
        ("empty.bin", Vec::new(), "no bytes"),
        ("text.txt", b"b2 zz".to_vec(), "line 1: \"zz\" is no byte"),
        (
            "cut.hex",
            b":020000040800F2\n".to_vec(),
            "no end-of-file line",
        ),
        (
            "large.bin",
            vec![0xB2; (4 << 20) + 1],
            "more than 4194304 bytes",
        ),
    ] {
        let path = file(name, bytes);
        let output = run(DIVIDED, &[&path, &sound], false);
        assert_eq!(output.status.code(), Some(2), "{name}");
        let error = String::from_utf8(output.stderr).expect("text");
        assert!(error.contains(said) && error.contains(name), "{error}");
        // The others are told all the same.
        let text = String::from_utf8(output.stdout).expect("text");
        assert!(text.contains("1 file, 1 sound"), "{text}");
    }
    // A pipe might never end: what is no regular file is not opened.
    let output = run(DIVIDED, &[Path::new("front-ends")], false);
    assert_eq!(output.status.code(), Some(2));
    let error = String::from_utf8(output.stderr).expect("text");
    assert!(error.contains("only regular files are read"), "{error}");
    let output = run(DIVIDED, &[Path::new("nowhere.bin")], true);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stdout).contains("nowhere.bin"));
    let output = run("nowhere.toml", &[&sound], false);
    assert_eq!(output.status.code(), Some(2));
}

fn judged(bytes: &[u8], subject: impl Fn(&Conversion, u32) -> Outcome + Sync) -> Judged {
    let front_end = front_end(DIVIDED);
    let judge = Judge::new(&front_end).expect("shipped");
    judge.judge(bytes, &subject, &|_| {})
}

/// Negative control: a conversion that is wrong by one step at one count, and one that is exact about other constants.
#[test]
fn a_wrong_conversion_is_caught() {
    let bytes = record(DIVIDED, 1).encode();
    assert!(judged(&bytes, Conversion::outcome).is_sound());
    let wrong = judged(&bytes, |conversion, count| {
        match conversion.outcome(count) {
            Outcome::Units(units) if count == 3065 => Outcome::Units(units + 1),
            answer => answer,
        }
    });
    assert!(!wrong.is_sound());
    let said = wrong.reasons.join("\n");
    assert!(
        said.contains("1 of 4096 counts") && said.contains("count 3065 gives 3212 and not 3211"),
        "{said}"
    );

    let front_end = front_end(DIVIDED);
    let drawn = Firmware::describe(&front_end)
        .expect("shipped")
        .conversion()
        .expect("proven");
    assert!(!judged(&bytes, |_, count| drawn.outcome(count)).is_sound());
}
