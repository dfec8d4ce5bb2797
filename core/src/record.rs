//! The calibration record: one module's gain and offset as 24 bytes that are checked before they are believed.
//!
//! Little-endian:
//!
//! | bytes | value |
//! |---|---|
//! | 0..3 | `TvC`, what these bytes are |
//! | 3 | version of the layout, 1 |
//! | 4..8 | fingerprint of the front end's description ([`crate::fingerprint`]) |
//! | 8..12 | gain in steps of 2^-24 |
//! | 12..16 | offset in steps of 1/256 single-sample count, two's complement |
//! | 16..20 | sequence number: the newer of two records has the larger, modulo 2^32 |
//! | 20..24 | CRC-32C of bytes 0 to 19 |
//!
//! Decoding is total: every byte string gives a record or a named refusal. At 192 bits the CRC finds every change of up
//! to 5 bits, and every burst of up to 32; other changes pass with a chance of 1 in 2^32.

use core::fmt;

use fixed::types::{I24F8, U8F24};

use crate::calibration::Calibration;
use crate::error::ConfigError;
use crate::fingerprint::{CRC_32C, Fingerprint};

/// Bytes of a record: whole words of 1, 2, 4 and 8 bytes.
pub const RECORD_BYTES: usize = 24;
/// The layout's version.
pub const RECORD_VERSION: u8 = 1;

const MARK: [u8; 3] = *b"TvC";

/// A calibration with the front end it was made for and its place in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Record {
    /// The front end that was calibrated.
    pub front_end: Fingerprint,
    /// Gain and offset.
    pub calibration: Calibration,
    /// Counts up with every record of a module, and wraps.
    pub sequence: u32,
}

/// Why bytes are no record for this front end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum RecordError {
    /// The memory could not be read.
    Unreadable,
    /// Not [`RECORD_BYTES`] long.
    Length {
        /// Bytes given.
        bytes: usize,
    },
    /// Erased or never written: all bytes 0xFF, or all 0x00.
    Blank,
    /// Something else is stored there.
    NotARecord,
    /// A layout that this version does not know.
    Version {
        /// The version found.
        version: u8,
    },
    /// The bytes are not those that were written.
    Damaged {
        /// CRC-32C found.
        stored: u32,
        /// CRC-32C of the bytes found.
        computed: u32,
    },
    /// An undamaged record of another description.
    OtherFrontEnd {
        /// The front end it was made for.
        made_for: Fingerprint,
    },
    /// An undamaged record whose gain or offset is outside its limits.
    Calibration(ConfigError),
}

impl Record {
    /// The record as bytes.
    #[must_use]
    pub const fn encode(&self) -> [u8; RECORD_BYTES] {
        let [m0, m1, m2] = MARK;
        let [f0, f1, f2, f3] = self.front_end.0.to_le_bytes();
        let [g0, g1, g2, g3] = self.calibration.gain().to_bits().to_le_bytes();
        let [o0, o1, o2, o3] = self.calibration.offset().to_bits().to_le_bytes();
        let [s0, s1, s2, s3] = self.sequence.to_le_bytes();
        let [c0, c1, c2, c3] = CRC_32C
            .checksum(&[
                m0,
                m1,
                m2,
                RECORD_VERSION,
                f0,
                f1,
                f2,
                f3,
                g0,
                g1,
                g2,
                g3,
                o0,
                o1,
                o2,
                o3,
                s0,
                s1,
                s2,
                s3,
            ])
            .to_le_bytes();
        [
            m0,
            m1,
            m2,
            RECORD_VERSION,
            f0,
            f1,
            f2,
            f3,
            g0,
            g1,
            g2,
            g3,
            o0,
            o1,
            o2,
            o3,
            s0,
            s1,
            s2,
            s3,
            c0,
            c1,
            c2,
            c3,
        ]
    }

    /// Reads a record made for `front_end`.
    ///
    /// # Range
    /// Every byte string of every length is accepted.
    ///
    /// # Errors
    /// [`RecordError`]: the first of length, blank, mark, version, CRC, front end, limits that does not hold.
    pub fn decode(bytes: &[u8], front_end: Fingerprint) -> Result<Self, RecordError> {
        let wrong_length = RecordError::Length { bytes: bytes.len() };
        let (body, crc) = bytes.split_last_chunk::<4>().ok_or(wrong_length)?;
        let (words, []) = body.as_chunks::<4>() else {
            return Err(wrong_length);
        };
        let [head, made_for, gain, offset, sequence] = words else {
            return Err(wrong_length);
        };
        if bytes.iter().all(|byte| *byte == 0xFF) || bytes.iter().all(|byte| *byte == 0) {
            return Err(RecordError::Blank);
        }
        let [m0, m1, m2, version] = *head;
        if [m0, m1, m2] != MARK {
            return Err(RecordError::NotARecord);
        }
        if version != RECORD_VERSION {
            return Err(RecordError::Version { version });
        }
        let (stored, computed) = (u32::from_le_bytes(*crc), CRC_32C.checksum(body));
        if stored != computed {
            return Err(RecordError::Damaged { stored, computed });
        }
        let made_for = Fingerprint(u32::from_le_bytes(*made_for));
        if made_for != front_end {
            return Err(RecordError::OtherFrontEnd { made_for });
        }
        let calibration = Calibration::new(
            U8F24::from_bits(u32::from_le_bytes(*gain)),
            I24F8::from_bits(i32::from_le_bytes(*offset)),
        )
        .map_err(RecordError::Calibration)?;
        Ok(Self {
            front_end,
            calibration,
            sequence: u32::from_le_bytes(*sequence),
        })
    }

    /// Whether this record is newer than another: its sequence number is 1 to 2^31 - 1 steps ahead, modulo 2^32.
    #[must_use]
    pub const fn is_newer_than(&self, other: &Self) -> bool {
        let ahead = self.sequence.wrapping_sub(other.sequence);
        ahead != 0 && ahead < 1 << 31
    }
}

impl fmt::Display for RecordError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable => f.write_str("the memory cannot be read"),
            Self::Length { bytes } => write!(f, "{bytes} bytes, a record has {RECORD_BYTES}"),
            Self::Blank => f.write_str("erased, nothing was written"),
            Self::NotARecord => f.write_str("something other than a calibration record"),
            Self::Version { version } => {
                write!(f, "layout version {version}, known is {RECORD_VERSION}")
            }
            Self::Damaged { stored, computed } => write!(
                f,
                "damaged: CRC {stored:#010x} stored, {computed:#010x} computed"
            ),
            Self::OtherFrontEnd { made_for } => {
                write!(f, "made for another front end, {:#010x}", made_for.0)
            }
            Self::Calibration(error) => error.fmt(f),
        }
    }
}

impl core::error::Error for RecordError {}
