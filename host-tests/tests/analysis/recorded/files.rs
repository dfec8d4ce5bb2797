//! A file as bytes at addresses, the places in it, and the fields of 32 bytes.

use std::path::Path;

use tallyvolt::{LineConstants, QuotientConstants};
use tallyvolt_analysis::calibrate::recorded::bytes::{Area, FILE_BYTES_MAX, Format, Image};
use tallyvolt_analysis::calibrate::recorded::layout::Fields;
use tallyvolt_analysis::calibrate::recorded::places::{Place, places, words};
use tallyvolt_analysis::describe::firmware::Constants;
use tallyvolt_harness::simulated::front_end;

/// A record of the long form, written by hand; its front end is 0x12345678.
const LONG: [u8; 28] = [
    0xB2, 32, 0x34, 0x12, 0x78, 0x56, 0x34, 0x12, 5, 0, 0, 0, 0x07, 0x10, 0, 0, 4, 3, 2, 1, 8, 7,
    6, 5, 0x0A, 0x09, 0x0C, 0x0B,
];
/// CRC-32C of [`LONG`], computed bit by bit.
const CRC: u32 = 0xc37086c1;
const FRONT_END: u32 = 0x1234_5678;

fn long() -> [u8; 32] {
    let mut bytes = [0; 32];
    bytes[..28].copy_from_slice(&LONG);
    bytes[28..].copy_from_slice(&CRC.to_le_bytes());
    bytes
}

fn area(address: u64, bytes: &[u8]) -> Area {
    let bytes = bytes.to_vec();
    Area { address, bytes }
}

fn binary(bytes: &[u8]) -> Image {
    Image::of(bytes.to_vec()).expect("bytes")
}

fn data(offset: u16, value: &[u8]) -> ihex::Record {
    let value = value.to_vec();
    ihex::Record::Data { offset, value }
}

/// An Intel HEX file with its last line.
fn hex(lines: &[ihex::Record]) -> Result<Image, String> {
    let lines = [lines, &[ihex::Record::EndOfFile]].concat();
    let text = ihex::create_object_file_representation(&lines).expect("legal");
    Image::of(text.into_bytes())
}

fn hex_areas(lines: &[ihex::Record], areas: &[Area]) {
    let format = Format::IntelHex;
    let areas = areas.to_vec();
    assert_eq!(hex(lines), Ok(Image { format, areas }));
}

#[test]
fn a_file_of_the_largest_size_is_read_and_one_byte_more_is_not() {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("recorded-size.bin");
    let mut bytes = vec![0xB2; 4 << 20];
    assert_eq!(FILE_BYTES_MAX, 4_194_304);
    std::fs::write(&path, &bytes).expect("temporary");
    let image = Image::read(&path).expect("at the limit");
    assert_eq!((image.format, image.length()), (Format::Binary, 4_194_304));
    bytes.push(0xB2);
    std::fs::write(&path, &bytes).expect("temporary");
    assert_eq!(
        Image::read(&path),
        Err("more than 4194304 bytes: give the part of the memory that holds the record".into())
    );
}

#[test]
fn lines_become_areas_and_an_address_stands_once() {
    use ihex::Record::{ExtendedLinearAddress, ExtendedSegmentAddress};
    hex_areas(
        &[
            data(0xFFFE, &[1, 2]),
            ExtendedSegmentAddress(0x1002),
            data(0, &[5]),
            ExtendedLinearAddress(0x0001),
            data(0, &[3]),
            ExtendedLinearAddress(0x0800),
            data(4, &[6, 7]),
        ],
        &[
            area(0xFFFE, &[1, 2, 3]),
            area(0x1_0020, &[5]),
            area(0x800_0004, &[6, 7]),
        ],
    );
    for value in [&[1, 2][..], &[1, 2, 3]] {
        assert_eq!(
            hex(&[data(0xFFFF, value)]),
            Err(format!(
                "line 1: {} bytes at 0xffff pass 64 KiB: write shorter lines",
                value.len()
            ))
        );
    }
    for second in [data(3, &[9]), data(4, &[9])] {
        let ihex::Record::Data { offset, .. } = second else {
            continue;
        };
        assert_eq!(
            hex(&[data(3, &[1, 2]), second]),
            Err(format!(
                "line 2: address {offset:#x} stands twice: give one memory a file"
            ))
        );
    }
}

#[test]
fn the_formats_are_told_apart_and_named() {
    for (bytes, format, name, wanted) in [
        (&[0xB2, 0x0F][..], Format::Binary, "binary", [0xB2, 0x0F]),
        (
            b"b2, 0x0F",
            Format::Hexadecimal,
            "hexadecimal text",
            [0xB2, 0x0F],
        ),
        (
            b":02000000B20F3D\n:00000001FF\n",
            Format::IntelHex,
            "Intel HEX",
            [0xB2, 0x0F],
        ),
    ] {
        let areas = vec![area(0, &wanted)];
        assert_eq!(Image::of(bytes.to_vec()), Ok(Image { format, areas }));
        assert_eq!(format.words(), name);
    }
}

#[test]
fn the_fields_are_those_written_by_hand() {
    let divided = front_end("hut-divided-12bit").topology;
    let supply = front_end("hut-supply-12bit-x16").topology;
    let mut bytes = long();
    let fields = Fields::of(&bytes).expect("32 bytes");
    assert!(fields.has_mark() && fields.crc_is_right());
    assert_eq!((fields.front_end(), fields.sequence()), (FRONT_END, 0x1234));
    assert_eq!(fields.crc(), (CRC, CRC));
    let line = |factor, addend, shift| {
        Constants::Line(LineConstants {
            first: 5,
            counts: 0x1007,
            factor,
            addend,
            shift,
        })
    };
    assert_eq!(
        fields.constants(&divided),
        line(0x0102_0304_090A, 0x0506_0708_0B0C, 32)
    );
    assert_eq!(
        fields.constants(&supply),
        Constants::Quotient(QuotientConstants {
            first: 5,
            counts: 0x1007,
            numerator: 0x090A_0102_0304,
            at_first: 0x0506_0708,
            step_log2: 32,
        })
    );
    bytes[1] = 15;
    bytes[28] ^= 1;
    let short = Fields::of(&bytes).expect("32 bytes");
    assert_eq!(
        short.constants(&divided),
        line(0x0102_0304, 0x0506_0708, 15)
    );
    assert_eq!(short.crc().0, CRC ^ 1);
    assert!(short.has_mark() && !short.crc_is_right());
    bytes[0] = 0xA2;
    assert!(!Fields::of(&bytes).expect("32 bytes").has_mark());
    assert_eq!(Fields::of(&bytes[..31]), None);
}

#[test]
fn places_are_sound_records_and_damaged_ones_of_this_front_end() {
    let sound = long();
    let mut damaged = sound;
    damaged[20] ^= 1;
    let mut no_mark = damaged;
    no_mark[0] = 0x12;
    // Blank, sound, other bytes; one that is damaged; one without its mark.
    let memory = [&[0xFF; 32][..], &sound, &[0x3C; 5], &damaged, &no_mark].concat();
    let image = binary(&memory);
    let place = |start: usize, end: usize| Place {
        address: start as u64,
        bytes: &memory[start..start + 32],
        behind: &memory[start + 32..end],
    };
    let own = places(&image, FRONT_END);
    assert_eq!(own, [place(0, 32), place(32, 69), place(69, 133)]);
    // Another front end's damaged record is nobody's.
    assert_eq!(places(&image, 1), [place(0, 32), place(32, 133)]);
    // What stands before the first record is a place only where it is an erased slot.
    for before in [&[0x3C; 32][..], &[0xFF; 31]] {
        let image = binary(&[before, &sound].concat());
        let found = places(&image, FRONT_END);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].address, before.len() as u64);
    }
    let nothing = binary(&no_mark);
    assert_eq!(places(&nothing, FRONT_END).len(), 1);
    for (bytes, said) in [
        (&[][..], "nothing"),
        (&[0xFF, 0xFF], "2 erased bytes (0xff)"),
        (&[0], "1 bytes of 0x00"),
        (&[0, 0xFF], "2 other bytes"),
    ] {
        assert_eq!(words(bytes), said);
    }
}
