//! The calibration record: one module's constants as 32 bytes that are checked before they are believed.

use core::fmt;

use crate::convert::cell_conversion::{CellConversion, sealed::Stored};
use crate::convert::constants::Words;
use crate::convert::divided_module::DividedModule;
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::supply_module::SupplyModule;
use crate::convert::window::Summing;
use crate::describe::divided_input::DividedInput;
use crate::describe::fingerprint::{Fingerprint, crc_32c};
use crate::describe::supply_reference::SupplyReference;

/// Bytes of a record: whole words of 1, 2, 4, 8, 16 and 32 bytes.
pub const RECORD_BYTES: usize = 32;
/// The layout's version.
pub const RECORD_VERSION: u8 = 2;

/// Upper half of the first byte.
const MARK: u8 = 0xB0;
/// A record in words of bytes.
type Body = [[u8; 4]; RECORD_BYTES / 4];

/// A module's constants with the front end they were made for and their place in time.
///
/// Little-endian:
///
/// | bytes | divided input | supply reference |
/// |---|---|---|
/// | 0 | 0xB2: a record, layout 2 | the same |
/// | 1 | S: `BITS` + 3, or 32 | t |
/// | 2..4 | sequence number: the newer of two records has the larger, modulo 2^16 | the same |
/// | 4..8 | fingerprint of the front end's description ([`Fingerprint`]) | the same |
/// | 8..12 | first count | the same |
/// | 12..16 | number of counts | the same |
/// | 16..20 | M, at S = 32 its bits 16 to 47 | K, bits 0 to 31 |
/// | 20..24 | B, at S = 32 its bits 16 to 47 | D at the first count |
/// | 24..26 | M's bits 0 to 15 at S = 32, else 0 | K, bits 32 to 47 |
/// | 26..28 | B's bits 0 to 15 at S = 32, else 0 | 0 |
/// | 28..32 | CRC-32C of bytes 0 to 27 | the same |
///
/// Decoding is total: every byte string gives a record or a named refusal, and a record whose constants would make any count wrap or
/// leave the output's range is refused too, whatever its CRC says. At 256 bits the CRC finds every change of up to 5 bits, and every
/// burst of up to 32; other changes pass with a chance of 1 in 2^32.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Record {
    front_end: Fingerprint,
    sequence: u16,
    /// S, or t.
    shift: u8,
    words: Words,
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
    Damaged,
    /// An undamaged record of another description.
    OtherFrontEnd {
        /// The front end it was made for.
        made_for: Fingerprint,
    },
    /// Constants that the type of conversion refuses: a count would wrap or leave the output's range, or their form is not the type's.
    Constants,
}

/// The bytes of a record for a front end, or the first of length, blank, mark, version, CRC, front end that does not hold.
#[inline(always)]
#[expect(
    clippy::inline_always,
    reason = "a call would pass a refusal on once more"
)]
fn checked(bytes: &[u8], front_end: Fingerprint) -> Result<&Body, RecordError> {
    let (body, rest) = bytes.as_chunks::<4>();
    let (Ok(body), [], [mark, ..]) = (<&Body>::try_from(body), rest, bytes) else {
        return Err(RecordError::Length { bytes: bytes.len() });
    };
    if *mark != MARK | RECORD_VERSION {
        return Err(no_record(*mark, bytes));
    }
    let [constants @ .., _] = body;
    if crc_32c(constants.as_flattened()) != word(body, 7) {
        return Err(RecordError::Damaged);
    }
    let made_for = Fingerprint(word(body, 1));
    if made_for != front_end {
        return Err(RecordError::OtherFrontEnd { made_for });
    }
    Ok(body)
}

/// A word at any address: out of line where a core must put it together of bytes.
#[cfg_attr(not(target_arch = "avr"), inline(never))]
#[expect(clippy::indexing_slicing, reason = "a body has eight words")]
const fn word(body: &Body, index: usize) -> u32 {
    u32::from_le_bytes(body[index & 7])
}

/// S or t, and the constants.
#[inline(always)]
#[expect(
    clippy::inline_always,
    reason = "the words are looked at where they lie"
)]
const fn constants(body: &Body) -> (u8, Words) {
    let [[_, shift, ..], ..] = body;
    let words = [
        word(body, 2),
        word(body, 3),
        word(body, 4),
        word(body, 5),
        word(body, 6),
    ];
    (*shift, words)
}

/// What bytes are that do not begin as a record does.
#[cold]
fn no_record(mark: u8, bytes: &[u8]) -> RecordError {
    if matches!(mark, 0 | 0xFF) && bytes.iter().all(|byte| *byte == mark) {
        RecordError::Blank
    } else if mark & 0xF0 != MARK {
        RecordError::NotARecord
    } else {
        RecordError::Version {
            version: mark & 0x0F,
        }
    }
}

impl Record {
    pub(super) const fn of(front_end: Fingerprint, sequence: u16, constants: (u8, Words)) -> Self {
        let (shift, words) = constants;
        Self {
            front_end,
            sequence,
            shift,
            words,
        }
    }

    /// The record as bytes.
    #[must_use]
    pub fn encode(&self) -> [u8; RECORD_BYTES] {
        let [s0, s1] = self.sequence.to_le_bytes();
        let [first, counts, factor, addend, low] = self.words.map(u32::to_le_bytes);
        let mut body: Body = [
            [MARK | RECORD_VERSION, self.shift, s0, s1],
            self.front_end.0.to_le_bytes(),
            first,
            counts,
            factor,
            addend,
            low,
            [0; 4],
        ];
        let [constants @ .., crc] = &mut body;
        *crc = crc_32c(constants.as_flattened()).to_le_bytes();
        let mut bytes = [0; RECORD_BYTES];
        bytes.copy_from_slice(body.as_flattened());
        bytes
    }

    /// Reads a record made for `front_end`.
    ///
    /// # Range
    /// Every byte string of every length is accepted.
    ///
    /// # Errors
    /// [`RecordError`]: the first of length, blank, mark, version, CRC, front end that does not hold. The constants are checked
    /// where a conversion is made of them.
    pub fn decode(bytes: &[u8], front_end: Fingerprint) -> Result<Self, RecordError> {
        let body = checked(bytes, front_end)?;
        let [[_, _, s0, s1], ..] = *body;
        let sequence = u16::from_le_bytes([s0, s1]);
        Ok(Self::of(front_end, sequence, constants(body)))
    }

    /// The front end that was calibrated.
    #[must_use]
    pub const fn front_end(&self) -> Fingerprint {
        self.front_end
    }

    /// Counts up with every record of a module, and wraps.
    #[must_use]
    pub const fn sequence(&self) -> u16 {
        self.sequence
    }

    /// The same record at another place in time.
    #[must_use]
    pub const fn with_sequence(self, sequence: u16) -> Self {
        Self { sequence, ..self }
    }

    /// Whether this record is newer than another: its sequence number is 1 to 2^15 - 1 steps ahead, modulo 2^16.
    #[must_use]
    pub const fn is_newer_than(&self, other: &Self) -> bool {
        let ahead = self.sequence().wrapping_sub(other.sequence());
        ahead != 0 && ahead < 1 << 15
    }
}

/// A conversion that a record can hold, made for an input: a [`DividedInput`] or a [`SupplyReference`]. Sealed.
///
/// | topology | loaded on a small chip | with all forms |
/// |---|---|---|
/// | divided input | [`DividedModule`] | [`DividedConversion`] |
/// | supply reference | [`SupplyModule`] | [`SupplyConversion`] |
pub trait Recorded<Input>: CellConversion + Stored {
    /// Bytes, as read from memory, to the module's conversion: [`DividedInput::load`] for code of either topology.
    ///
    /// # Errors
    /// [`RecordError`]. Go on as drawn then, and say so.
    fn load(input: &Input, bytes: &[u8]) -> Result<Self, RecordError>;

    /// The conversion of a record.
    ///
    /// # Errors
    /// [`RecordError::OtherFrontEnd`] and [`RecordError::Constants`].
    fn recorded(input: &Input, record: &Record) -> Result<Self, RecordError>;

    /// The identity of an input's description.
    fn front_end(input: &Input) -> Fingerprint;
}

/// Bytes to a conversion.
#[inline(always)]
#[expect(
    clippy::inline_always,
    reason = "what is loaded goes to its place without a copy"
)]
fn loaded<C: Stored>(
    bytes: &[u8],
    front_end: Fingerprint,
    summing: Summing,
) -> Result<C, RecordError> {
    let (shift, words) = constants(checked(bytes, front_end)?);
    C::from_words(shift, &words, summing).ok_or(RecordError::Constants)
}

/// A record to a conversion.
fn recorded<C: Stored>(
    record: &Record,
    front_end: Fingerprint,
    summing: Summing,
) -> Result<C, RecordError> {
    if record.front_end != front_end {
        return Err(RecordError::OtherFrontEnd {
            made_for: record.front_end,
        });
    }
    C::from_words(record.shift, &record.words, summing).ok_or(RecordError::Constants)
}

macro_rules! inputs {
    ($($input:ident: $([$($bits:tt)*] $conversion:ty),+;)+) => {$(
        $(impl<$($bits)*> Recorded<$input> for $conversion {
            #[inline(always)]
            fn load(input: &$input, bytes: &[u8]) -> Result<Self, RecordError> {
                loaded(bytes, input.fingerprint(), input.summing())
            }

            fn recorded(input: &$input, record: &Record) -> Result<Self, RecordError> {
                recorded(record, input.fingerprint(), input.summing())
            }

            fn front_end(input: &$input) -> Fingerprint {
                input.fingerprint()
            }
        })+

        impl $input {
            /// The record of a module's conversion.
            ///
            /// Of a conversion of counts wider than 16 bits M and B are rounded down to S = 32, which moves no voltage by more than
            /// 2^-7 of an output step ([`DividedConversion`]).
            #[must_use]
            pub fn record<C: Recorded<Self>>(&self, module: &C, sequence: u16) -> Record {
                Record::of(self.fingerprint(), sequence, module.words())
            }

            /// The conversion of a record.
            ///
            /// # Errors
            /// [`RecordError::OtherFrontEnd`] and [`RecordError::Constants`].
            pub fn recorded<C: Recorded<Self>>(&self, record: &Record) -> Result<C, RecordError> {
                C::recorded(self, record)
            }

            /// Bytes, as read from memory, to the module's conversion, of the type that is asked for ([`Recorded`]).
            ///
            /// # Errors
            /// [`RecordError`], as [`Record::decode`] and [`Self::recorded`]. Go on as drawn then, and say so.
            #[inline(always)]
            pub fn load<C: Recorded<Self>>(&self, bytes: &[u8]) -> Result<C, RecordError> {
                C::load(self, bytes)
            }
        }
    )+};
}

inputs! {
    DividedInput: [const BITS: u32] DividedConversion<BITS>, [const BITS: u32] DividedModule<BITS>;
    SupplyReference: [] SupplyConversion, [] SupplyModule;
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
            Self::Damaged => f.write_str("damaged: the CRC is not that of the bytes"),
            Self::OtherFrontEnd { made_for } => {
                write!(f, "made for another front end, {:#010x}", made_for.0)
            }
            Self::Constants => f.write_str("constants that the type of conversion refuses"),
        }
    }
}

impl core::error::Error for RecordError {}
