//! A file as bytes at addresses: binary, Intel HEX or hexadecimal text, told apart by what is in it.
//!
//! A record begins with 0xB2, which is no character of a text, so a file of text characters alone is text.

use std::io::Read;
use std::path::Path;

use ihex::Record as Line;
use serde::Serialize;

use crate::files::input_file;

/// Largest file: the Intel HEX of a megabyte of flash.
pub const FILE_BYTES_MAX: u64 = 4 << 20;
/// Bytes that the upper address of an Intel HEX file leaves to a line.
const SEGMENT: u64 = 1 << 16;

/// How a file holds its bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    /// Byte by byte.
    Binary,
    /// Lines with addresses and checksums.
    IntelHex,
    /// Two digits a byte.
    Hexadecimal,
}

impl Format {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Binary => "binary",
            Self::IntelHex => "Intel HEX",
            Self::Hexadecimal => "hexadecimal text",
        }
    }
}

/// Bytes without a gap between them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Area {
    /// Of the first byte; 0 where the file has no addresses.
    pub address: u64,
    /// At least one.
    pub bytes: Vec<u8>,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Image {
    /// How it was written.
    pub format: Format,
    /// By address; at least one.
    pub areas: Vec<Area>,
}

impl Image {
    /// Reads a file of at most [`FILE_BYTES_MAX`] bytes.
    ///
    /// # Errors
    /// Line, rule and fix, as text.
    pub fn read(path: &Path) -> Result<Self, String> {
        let file = input_file::open(path).map_err(|error| error.to_string())?;
        let mut bytes = Vec::new();
        file.take(FILE_BYTES_MAX + 1)
            .read_to_end(&mut bytes)
            .map_err(|error| error.to_string())?;
        if bytes.len() as u64 > FILE_BYTES_MAX {
            return Err(format!(
                "more than {FILE_BYTES_MAX} bytes: give the part of the memory that holds the record"
            ));
        }
        Self::of(bytes)
    }

    /// The same of bytes that were read.
    ///
    /// # Errors
    /// As [`Image::read`].
    pub fn of(bytes: Vec<u8>) -> Result<Self, String> {
        if bytes.is_empty() {
            return Err("no bytes: read the memory again".to_owned());
        }
        let text = std::str::from_utf8(&bytes).ok().filter(|text| {
            text.bytes()
                .all(|byte| byte.is_ascii_graphic() || byte.is_ascii_whitespace())
        });
        let (format, areas) = match text {
            Some(text) if text.trim_start().starts_with(':') => {
                (Format::IntelHex, intel_hex(text)?)
            }
            Some(text) => (Format::Hexadecimal, at_zero(hexadecimal(text)?)),
            None => (Format::Binary, at_zero(bytes)),
        };
        if areas.is_empty() {
            return Err("no data in it: read the memory again".to_owned());
        }
        Ok(Self { format, areas })
    }

    /// All bytes.
    pub fn length(&self) -> usize {
        self.areas.iter().map(|area| area.bytes.len()).sum()
    }
}

fn at_zero(bytes: Vec<u8>) -> Vec<Area> {
    if bytes.is_empty() {
        return Vec::new();
    }
    vec![Area { address: 0, bytes }]
}

/// Digits with blanks and commas between them, `0x` in front of any.
fn hexadecimal(text: &str) -> Result<Vec<u8>, String> {
    let mut bytes = Vec::new();
    for (number, line) in (1..).zip(text.lines()) {
        for word in line
            .split(|character: char| character.is_ascii_whitespace() || character == ',')
            .filter(|word| !word.is_empty())
        {
            let digits = word.strip_prefix("0x").unwrap_or(word);
            if !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
                let shown: String = word.chars().take(20).collect();
                return Err(format!(
                    "line {number}: {shown:?} is no byte: give hexadecimal digits, two a byte, or a binary or Intel HEX file"
                ));
            }
            // Of an odd number of digits, none.
            let values = hex::decode(digits).unwrap_or_default();
            if values.is_empty() {
                return Err(format!(
                    "line {number}: {} digits, a byte has two: give every byte with both",
                    digits.len()
                ));
            }
            bytes.extend(values);
        }
    }
    Ok(bytes)
}

fn intel_hex(text: &str) -> Result<Vec<Area>, String> {
    let mut pieces: Vec<(u64, usize, Vec<u8>)> = Vec::new();
    let (mut upper, mut ended) = (0, false);
    for (number, line) in (1..).zip(text.lines()) {
        let line = line.trim();
        if line.is_empty() {
            continue;
        }
        let bad = |rule: String, fix: &str| format!("line {number}: {rule}: {fix}");
        if ended {
            return Err(bad(
                "behind the end of the file".to_owned(),
                "give one memory a file",
            ));
        }
        let line = Line::from_record_string(line)
            .map_err(|error| bad(error.to_string(), "read the memory again"))?;
        match line {
            Line::Data { offset, value } => {
                if u64::from(offset) + value.len() as u64 > SEGMENT {
                    return Err(bad(
                        format!("{} bytes at {offset:#06x} pass 64 KiB", value.len()),
                        "write shorter lines",
                    ));
                }
                if !value.is_empty() {
                    pieces.push((upper + u64::from(offset), number, value));
                }
            }
            Line::ExtendedLinearAddress(high) => upper = u64::from(high) << 16,
            Line::ExtendedSegmentAddress(segment) => upper = u64::from(segment) << 4,
            Line::EndOfFile => ended = true,
            Line::StartSegmentAddress { .. } | Line::StartLinearAddress(_) => {}
        }
    }
    if !ended {
        return Err("no end-of-file line: the file is cut off, read the memory again".to_owned());
    }
    pieces.sort_by_key(|(address, ..)| *address);
    let mut areas: Vec<Area> = Vec::new();
    for (address, number, value) in pieces {
        match areas.last_mut() {
            Some(area) if area.address + area.bytes.len() as u64 > address => {
                return Err(format!(
                    "line {number}: address {address:#x} stands twice: give one memory a file"
                ));
            }
            Some(area) if area.address + area.bytes.len() as u64 == address => {
                area.bytes.extend(value);
            }
            _ => areas.push(Area {
                address,
                bytes: value,
            }),
        }
    }
    Ok(areas)
}

#[cfg(test)]
mod tests {
    use super::{Area, Format, Image};

    fn read(text: &str) -> Result<Image, String> {
        Image::of(text.as_bytes().to_vec())
    }

    fn one(format: Format, address: u64, bytes: &[u8]) -> Image {
        let bytes = bytes.to_vec();
        Image {
            format,
            areas: vec![Area { address, bytes }],
        }
    }

    #[test]
    fn the_same_bytes_in_three_formats() {
        let wanted = [0xB2, 0x0F, 0x00];
        assert_eq!(
            Image::of(wanted.to_vec()),
            Ok(one(Format::Binary, 0, &wanted))
        );
        for text in ["b20f00", "0xB2, 0x0F,\r\n0x00\n", "B2 0f 00"] {
            assert_eq!(read(text), Ok(one(Format::Hexadecimal, 0, &wanted)));
        }
        // Two lines out of order make one area; the segment form of the upper address stands for sixteen times its number.
        let hex =
            ":020000021000EC\n:01000200 00FD\n".replace(' ', "") + ":02000000B20F3D\n:00000001FF\n";
        assert_eq!(read(&hex), Ok(one(Format::IntelHex, 0x1_0000, &wanted)));
    }

    #[test]
    fn what_cannot_be_read_is_told_with_its_line() {
        for (text, said) in [
            ("", "no bytes"),
            ("  \n", "no data"),
            ("b2\nb2 0", "line 2: 1 digits"),
            ("b2 0x", "line 1: 0 digits"),
            ("module 7", "line 1: \"module\" is no byte"),
            (":00000001FF\n", "no data"),
            (":01000000B24D\n", "no end-of-file line"),
            (":01000000B24E\n:00000001FF\n", "line 1: invalid checksum"),
            (
                ":01000000B24D\n:01000000B24D\n:00000001FF\n",
                "line 2: address 0x0 stands twice",
            ),
            (
                ":02FFFF00B20F3F\n:00000001FF\n",
                "line 1: 2 bytes at 0xffff pass 64 KiB",
            ),
            (":00000001FF\n:00000001FF\n", "line 2: behind the end"),
        ] {
            let error = read(text).expect_err(text);
            assert!(error.contains(said), "{text:?}: {error}");
        }
    }
}
