//! What is written in a record's bytes, read by the table of layout 2 alone: no code of the crate, so it can be compared with what the
//! crate loads.

use crc::{CRC_32_ISCSI, Crc};
use tallyvolt::{LineConstants, QuotientConstants};
use tallyvolt_model::front_end::Topology;

use crate::describe::firmware::Constants;

/// Bytes of a record.
pub const BYTES: usize = 32;
/// Upper half of the first byte; the lower half is the version.
const MARK: u8 = 0xB0;
/// S of a divided input's long and wide form.
const LONG_SHIFT: u8 = 32;

/// The fields of 32 bytes, whether or not they are a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fields {
    bytes: [u8; BYTES],
}

impl Fields {
    /// The fields at the start of `bytes`; none where 32 are not left.
    pub fn of(bytes: &[u8]) -> Option<Self> {
        bytes.first_chunk().map(|bytes| Self { bytes: *bytes })
    }

    /// Whether the first byte is a record's, of any version.
    pub fn has_mark(&self) -> bool {
        self.bytes[0] & 0xF0 == MARK
    }

    /// The fingerprint of the front end.
    pub fn front_end(&self) -> u32 {
        self.word(4)
    }

    /// The sequence number.
    pub fn sequence(&self) -> u16 {
        self.half(2)
    }

    /// The CRC as stored, and that of the bytes before it.
    pub fn crc(&self) -> (u32, u32) {
        let body = &self.bytes[..28];
        (self.word(28), Crc::<u32>::new(&CRC_32_ISCSI).checksum(body))
    }

    /// Whether both are the same.
    pub fn crc_is_right(&self) -> bool {
        let (stored, computed) = self.crc();
        stored == computed
    }

    /// The constants as stored.
    pub fn constants(&self, topology: &Topology) -> Constants {
        let (first, counts) = (self.word(8), self.word(12));
        let shift = self.bytes[1];
        match topology {
            Topology::DividedInput(_) => {
                // At S = 32 sixteen more bits stand behind.
                let joined = |high: u32, low: u16| match shift {
                    LONG_SHIFT => u128::from(high) << 16 | u128::from(low),
                    _ => u128::from(high),
                };
                Constants::Line(LineConstants {
                    first,
                    counts,
                    factor: joined(self.word(16), self.half(24)),
                    addend: joined(self.word(20), self.half(26)),
                    shift,
                })
            }
            Topology::SupplyReference => Constants::Quotient(QuotientConstants {
                first,
                counts,
                numerator: u64::from(self.half(24)) << 32 | u64::from(self.word(16)),
                at_first: self.word(20),
                step_log2: shift,
            }),
        }
    }

    fn word(&self, at: usize) -> u32 {
        let bytes = self.bytes;
        u32::from_le_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]])
    }

    fn half(&self, at: usize) -> u16 {
        u16::from_le_bytes([self.bytes[at], self.bytes[at + 1]])
    }
}
