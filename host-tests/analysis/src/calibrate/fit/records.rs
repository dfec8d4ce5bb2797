//! Records for the programmer: hex text, binary, and Intel HEX at an address.

use std::io;

use ihex::Record as Line;
use tallyvolt::Record;

use super::module::ModuleFit;
use crate::files::output_file::{OutputError, Place, Staged};

/// Lines of an Intel HEX file address 64 KiB at a time.
const SEGMENT: u32 = 1 << 16;

/// Two hexadecimal digits a byte, in the record's order.
pub fn hex_text(record: &Record) -> String {
    hex::encode(record.encode())
}

/// An Intel HEX file of one record at an address; none where it would pass the end of 32-bit addresses.
pub fn intel_hex(record: &Record, address: u32) -> Option<String> {
    let bytes = record.encode();
    let last = address.checked_add(u32::try_from(bytes.len()).ok()? - 1)?;
    let mut lines = Vec::new();
    // Split where a record lies across a 64 KiB border.
    let in_first = (SEGMENT - address % SEGMENT).min(last - address + 1) as usize;
    let (front, back) = bytes.split_at(in_first.min(bytes.len()));
    for (part, from) in [(front, address), (back, last - (last % SEGMENT))] {
        if part.is_empty() {
            continue;
        }
        lines.push(Line::ExtendedLinearAddress((from / SEGMENT) as u16));
        lines.push(Line::Data {
            offset: (from % SEGMENT) as u16,
            value: part.to_vec(),
        });
    }
    lines.push(Line::EndOfFile);
    ihex::create_object_file_representation(&lines)
        .ok()
        .map(|text| text + "\n")
}

/// Stages a new folder with `NAME.bin` and `NAME.hex` for every module that gets a record.
///
/// # Errors
/// [`OutputError`]; an address beyond 32 bits is one of the system's.
pub fn stage(
    place: &Place<'_>,
    modules: &[ModuleFit],
    address: u32,
) -> Result<Staged, OutputError> {
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    for module in modules.iter().filter(|module| module.gets_record()) {
        let Some(record) = module.record() else {
            continue;
        };
        let hex = intel_hex(record, address).ok_or_else(|| OutputError::System {
            path: place.path.to_owned(),
            error: io::Error::new(
                io::ErrorKind::InvalidInput,
                "the record would pass the last 32-bit address",
            ),
        })?;
        files.push((format!("{}.bin", module.module), record.encode().to_vec()));
        files.push((format!("{}.hex", module.module), hex.into_bytes()));
    }
    place.folder(&files)
}

#[cfg(test)]
mod tests {
    use tallyvolt::{Acquisition, CellRange, OutputUnit, SupplyDescription, SupplyReference};

    use super::*;

    fn record() -> Record {
        let reference = SupplyReference::new(SupplyDescription {
            acquisition: Acquisition::single(12),
            reference_uv: 1_200_000,
            cell: CellRange {
                min_uv: 2_000_000,
                max_uv: 3_650_000,
            },
            unit: OutputUnit::Millivolt,
        })
        .expect("a front end");
        reference.record(&reference.conversion().expect("proven"), 1)
    }

    /// Read back by the same library, byte by byte, at and across a 64 KiB border and at the last address.
    #[test]
    fn the_bytes_stand_at_the_address() {
        for address in [
            0,
            0x1F00,
            0xFFF4,
            0xFFFF,
            0x1_0000,
            0x0800_FFE0,
            0x0800_FFE1,
            u32::MAX - 31,
        ] {
            let text = intel_hex(&record(), address).expect("fits");
            let mut found = Vec::new();
            let mut upper = 0;
            for line in ihex::Reader::new(&text) {
                match line.expect("legal") {
                    Line::ExtendedLinearAddress(high) => upper = u64::from(high) << 16,
                    Line::Data { offset, value } => {
                        // Past the border a programmer would begin its 64 KiB again.
                        assert!(usize::from(offset) + value.len() <= 1 << 16, "{address:#x}");
                        let from = upper + u64::from(offset);
                        found.extend((from..).zip(value));
                    }
                    _ => {}
                }
            }
            let wanted = (u64::from(address)..).zip(record().encode());
            assert!(found.into_iter().eq(wanted), "{address:#x}");
        }
        assert_eq!(intel_hex(&record(), u32::MAX - 30), None);
    }
}
