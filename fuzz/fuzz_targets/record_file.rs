//! Any bytes as the file that `record` is given: read, searched for records and judged without a panic.
//!
//! What was read, written again as Intel HEX, reads the same. A place that is judged sound has a record's first byte, the CRC that the
//! crc crate gives, and answers at every count as its constants' exact rational. A record with any fields but a right CRC, between
//! other bytes, is found in all three formats at its address.

#![no_main]

use std::path::Path;
use std::sync::LazyLock;

use arbitrary::Arbitrary;
use crc::{CRC_32_ISCSI, Crc};
use ihex::Record as Line;
use libfuzzer_sys::fuzz_target;
use tallyvolt_analysis::calibrate::recorded::bytes::{Area, Format, Image};
use tallyvolt_analysis::calibrate::recorded::judge::Judge;
use tallyvolt_analysis::calibrate::recorded::places::{Place, places};
use tallyvolt_analysis::describe::front_end_file::parse;
use tallyvolt_fuzz::wrong_on_purpose;

/// Places of one file that are swept.
const SWEPT: usize = 2;

#[derive(Debug, Arbitrary)]
struct Written {
    shift: u8,
    sequence: u16,
    fields: [u8; 20],
    address: u32,
    before: Vec<u8>,
    behind: Vec<u8>,
}

#[derive(Debug, Arbitrary)]
enum Case<'a> {
    File(&'a [u8]),
    Record(Written),
}

/// The smallest shipped front end of each topology: a sweep has 1024 counts.
static JUDGES: LazyLock<[Judge<'static>; 2]> = LazyLock::new(|| {
    let texts = [
        include_str!("../../host-tests/front-ends/hut-divided-10bit.toml"),
        include_str!("../../host-tests/front-ends/hut-supply-10bit-thermistor.toml"),
    ];
    texts.map(|text| {
        let front_end = parse(Path::new("shipped.toml"), text).expect("a shipped front end");
        Judge::new(Box::leak(Box::new(front_end))).expect("a front end")
    })
});

fuzz_target!(|case: (bool, Case<'_>)| {
    let judge = &JUDGES[usize::from(case.0)];
    match case.1 {
        Case::File(bytes) => match Image::of(bytes.to_vec()) {
            Ok(image) => {
                reads_again(&image);
                for place in places(&image, judge.fingerprint()).iter().take(SWEPT) {
                    judged(judge, place);
                }
            }
            Err(reason) => assert!(!reason.is_empty() && reason.len() < 500, "{reason:?}"),
        },
        Case::Record(written) => found(judge, &written),
    }
});

/// The areas, written as Intel HEX, read as the same areas. No format has an address beyond 32 bits.
fn reads_again(image: &Image) {
    let again = Image::of(intel_hex(&image.areas).into_bytes()).expect("what was written");
    assert_eq!(again.format, Format::IntelHex);
    assert_eq!(again.areas, image.areas);
}

fn intel_hex(areas: &[Area]) -> String {
    let mut lines = Vec::new();
    for area in areas {
        for (at, byte) in (area.address..).zip(&area.bytes) {
            let offset = at as u16;
            // A line has at most 255 bytes, and none crosses 64 KiB.
            match lines.last_mut() {
                Some(Line::Data { value, .. })
                    if offset != 0 && value.len() < 255 && at != area.address =>
                {
                    value.push(*byte);
                }
                _ => {
                    lines.push(Line::ExtendedLinearAddress((at >> 16) as u16));
                    lines.push(Line::Data {
                        offset,
                        value: vec![*byte],
                    });
                }
            }
        }
    }
    lines.push(Line::EndOfFile);
    ihex::create_object_file_representation(&lines).expect("legal lines")
}

fn judged(judge: &Judge<'_>, place: &Place<'_>) {
    let off = u32::from(wrong_on_purpose());
    let judged = judge.judge(
        place.bytes,
        &|conversion, count| conversion.outcome(count.saturating_add(off)),
        &|_| (),
    );
    if let Some(module) = &judged.module {
        assert_eq!(module.sweep.wrong, 0, "{judged:?}");
        assert_eq!(module.sweep.counts, judge.counts());
    }
    if judged.is_sound() {
        let (body, crc) = place.bytes.split_last_chunk().expect("32 bytes");
        assert_eq!((place.bytes.len(), body[0]), (32, 0xB2));
        assert_eq!(
            u32::from_le_bytes(*crc),
            Crc::<u32>::new(&CRC_32_ISCSI).checksum(body)
        );
        assert!(judged.module.is_some());
    }
}

/// A record between other bytes stands where it was put.
fn found(judge: &Judge<'_>, written: &Written) {
    let mut record = vec![0xB2, written.shift];
    record.extend(written.sequence.to_le_bytes());
    record.extend(judge.fingerprint().to_le_bytes());
    record.extend(written.fields);
    let crc = Crc::<u32>::new(&CRC_32_ISCSI).checksum(&record);
    record.extend(crc.to_le_bytes());

    // Bytes below 0x80 around it begin no other record.
    let quiet = |bytes: &[u8]| bytes.iter().map(|byte| byte & 0x7F).collect::<Vec<u8>>();
    let (before, behind) = (quiet(&written.before), quiet(&written.behind));
    let bytes = [&before[..], &record, &behind].concat();
    let address = u64::from(written.address >> 1);
    let area = Area {
        address,
        bytes: bytes.clone(),
    };
    let hexadecimal: String = bytes.iter().map(|byte| format!("{byte:02x} ")).collect();
    for (file, format, address) in [
        (bytes, Format::Binary, 0),
        (hexadecimal.into_bytes(), Format::Hexadecimal, 0),
        (intel_hex(&[area]).into_bytes(), Format::IntelHex, address),
    ] {
        let image = Image::of(file).expect("what was written");
        assert_eq!(image.format, format);
        let places = places(&image, judge.fingerprint());
        let wanted = address + before.len() as u64;
        let place = places.iter().find(|place| place.address == wanted);
        let place = place.expect("the record's place");
        assert_eq!(place.bytes, record);
        if format == Format::IntelHex {
            judged(judge, place);
        }
    }
}
