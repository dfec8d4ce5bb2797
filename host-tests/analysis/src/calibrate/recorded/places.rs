//! Where records stand in what was read, and what lies behind each.
//!
//! A record stands where 32 bytes have a record's first byte and either their own CRC or this front end's fingerprint: the second way
//! finds a damaged one. The start of an area is a place as well where it is blank or nothing else was found.

use super::bytes::{Area, Image};
use super::layout::{BYTES, Fields};

/// A place to look at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place<'a> {
    /// Of its first byte.
    pub address: u64,
    /// 32 bytes, or fewer where the area ends.
    pub bytes: &'a [u8],
    /// What lies behind, up to the next place or the area's end.
    pub behind: &'a [u8],
}

/// Every place of an image, by address; at least one.
pub fn places(image: &Image, front_end: u32) -> Vec<Place<'_>> {
    let found: Vec<(&Area, Vec<usize>)> = image
        .areas
        .iter()
        .map(|area| (area, found(area, front_end)))
        .collect();
    let any = found.iter().any(|(_, starts)| !starts.is_empty());
    let mut places: Vec<Place<'_>> = found
        .into_iter()
        .flat_map(|(area, mut starts)| {
            // The first slot of a store, before its second one was found.
            let blank_start = starts
                .first()
                .is_some_and(|first| *first >= BYTES && is_blank(&area.bytes[..*first]));
            if blank_start || !any {
                starts.insert(0, 0);
            }
            cut(area, &starts)
        })
        .collect();
    if !any {
        places.truncate(1);
    }
    places
}

fn found(area: &Area, front_end: u32) -> Vec<usize> {
    let mut starts = Vec::new();
    let mut at = 0;
    while let Some(fields) = area.bytes.get(at..).and_then(Fields::of) {
        let sound = fields.has_mark() && fields.crc_is_right();
        if sound || fields.has_mark() && fields.front_end() == front_end {
            starts.push(at);
        }
        at += if sound { BYTES } else { 1 };
    }
    starts
}

fn cut<'a>(area: &'a Area, starts: &[usize]) -> Vec<Place<'a>> {
    let ends = starts.iter().skip(1).copied().chain([area.bytes.len()]);
    starts
        .iter()
        .zip(ends)
        .map(|(start, end)| {
            let all = &area.bytes[*start..end];
            let (bytes, behind) = all.split_at(all.len().min(BYTES));
            Place {
                address: area.address + *start as u64,
                bytes,
                behind,
            }
        })
        .collect()
}

fn is_blank(bytes: &[u8]) -> bool {
    bytes.iter().all(|byte| *byte == 0xFF) || bytes.iter().all(|byte| *byte == 0)
}

/// Bytes in words: erased, zero, or something.
pub fn words(bytes: &[u8]) -> String {
    let kind = if bytes.is_empty() {
        return "nothing".to_owned();
    } else if bytes.iter().all(|byte| *byte == 0xFF) {
        "erased bytes (0xff)"
    } else if is_blank(bytes) {
        "bytes of 0x00"
    } else {
        "other bytes"
    };
    format!("{} {kind}", bytes.len())
}
