//! Two slots for the calibration record, so that a power cut leaves the old record or the new one, never anything else.

use core::fmt;

use embedded_storage::nor_flash::{NorFlash, NorFlashError, NorFlashErrorKind};

use crate::describe::fingerprint::Fingerprint;
use crate::keep::record::{RECORD_BYTES, Record, RecordError, Recorded};

/// Widest word that is read or written at once, in bytes; the record and the padding behind it fit one.
const WORD_MAX: usize = 32;

/// Why a store cannot be placed or written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum StoreError {
    /// The store's address is not the start of an erase block.
    Misplaced {
        /// Address given.
        address: u32,
        /// Bytes of an erase block.
        erase_bytes: u32,
    },
    /// The memory ends before the second slot does.
    TooSmall {
        /// Bytes needed from the memory's start.
        needed: u64,
        /// Bytes there are.
        capacity: u64,
    },
    /// The memory refused to erase or to write.
    Memory(NorFlashErrorKind),
    /// What was read back is not what was written: the slot is worn. The old record still holds.
    NotWritten(RecordError),
}

/// A calibration store at a fixed place of a NOR-like memory.
///
/// Each slot has whole erase blocks of its own. Writing erases and fills the slot that does *not* hold the record in force; until
/// the last bit of the new record's CRC is in place, the old one is what [`Store::conversion`] finds. Nothing is written twice
/// without an erase, nothing but the record is needed, and no state is kept between calls.
///
/// | memory | [`Store::conversion`] |
/// |---|---|
/// | both slots sound | the newer, by sequence number |
/// | one sound | that one |
/// | none: erased, worn, damaged, unreadable, another front end's, constants that the type refuses | both reasons; the module converts as drawn |
///
/// Read and write with one type of conversion: a record that another type has written may be none for this one, and is then
/// written over.
///
/// ```
/// use embedded_storage::nor_flash::NorFlash;
/// use tallyvolt::{DividedInput, DividedModule, Store, StoreError};
///
/// /// The module's conversion, and whether it is the module's own.
/// fn start<F: NorFlash>(
///     memory: F,
///     input: &DividedInput,
///     as_drawn: DividedModule<12>,
/// ) -> Result<(DividedModule<12>, bool), StoreError> {
///     Ok(match Store::new(memory, 0)?.conversion(input) {
///         Ok((own, _record)) => (own, true),
///         Err(_reasons) => (as_drawn, false),
///     })
/// }
/// ```
///
/// What it cannot do: a cell that was cut off half written may read differently at every read. The CRC refuses what is
/// read wrong at load; a record that read well at load is held in RAM by the conversion derived from it.
#[derive(Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Store<F> {
    memory: F,
    first: u32,
}

impl<F: NorFlash> Store<F> {
    /// Bytes of one slot: the record in whole words, in whole erase blocks. The store takes twice this.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "an erase block is below 2^32 bytes wherever addresses are u32"
    )]
    pub const SLOT_BYTES: u32 = RECORD_BYTES
        .next_multiple_of(F::WRITE_SIZE)
        .next_multiple_of(F::ERASE_SIZE) as u32;

    /// A store whose first slot begins at `address`.
    ///
    /// A memory that is read or written in words wider than 32 bytes does not compile.
    ///
    /// # Errors
    /// [`StoreError::Misplaced`], [`StoreError::TooSmall`].
    #[expect(
        clippy::cast_possible_truncation,
        clippy::arithmetic_side_effects,
        reason = "an erase block is below 2^32 bytes and at least 1; 2^32 + 2 * 2^32 is below 2^64"
    )]
    pub fn new(memory: F, address: u32) -> Result<Self, StoreError> {
        const {
            assert!(
                RECORD_BYTES.next_multiple_of(F::WRITE_SIZE) <= WORD_MAX
                    && RECORD_BYTES.next_multiple_of(F::READ_SIZE) <= WORD_MAX,
                "the store reads and writes words of at most 32 bytes"
            );
        }
        let erase_bytes = F::ERASE_SIZE as u32;
        if !address.is_multiple_of(erase_bytes) {
            return Err(StoreError::Misplaced {
                address,
                erase_bytes,
            });
        }
        let needed = u64::from(address) + 2 * u64::from(Self::SLOT_BYTES);
        let capacity = memory.capacity() as u64;
        if needed > capacity {
            return Err(StoreError::TooSmall { needed, capacity });
        }
        Ok(Self {
            memory,
            first: address,
        })
    }

    /// The conversion of the newest record whose constants are sound, with that record, or why neither slot has one. Total: a memory
    /// that cannot be read is one reason.
    ///
    /// A record that was stored with constants which would make a count wrap leaves the one before it in force.
    ///
    /// # Errors
    /// The reason of the first slot, and that of the second. Go on as drawn then, and say so.
    pub fn conversion<I, C: Recorded<I>>(
        &mut self,
        input: &I,
    ) -> Result<(C, Record), [RecordError; 2]> {
        self.in_force(input).map(|(_, found)| found)
    }

    /// Writes a module's record, with the next sequence number, into the slot that does not hold the record in force.
    ///
    /// Cut off at any moment, the memory holds the old record or the new one. Returns what was written. A record that arrives as bytes
    /// becomes a conversion first ([`crate::DividedInput::load`]), so that nothing unsound is ever written.
    ///
    /// # Errors
    /// [`StoreError::Memory`], [`StoreError::NotWritten`]; the old record holds in either case.
    pub fn store<I, C: Recorded<I>>(
        &mut self,
        input: &I,
        module: &C,
    ) -> Result<Record, StoreError> {
        let (address, sequence) = match self.in_force::<I, C>(input) {
            Ok((in_force, (_, record))) => {
                let free = if in_force == self.first {
                    self.second()
                } else {
                    self.first
                };
                (free, record.sequence().wrapping_add(1))
            }
            Err(_) => (self.first, 1),
        };
        let record = Record::of(C::front_end(input), sequence, module.words());
        self.write(address, &record)?;
        match self.sound::<I, C>(address, input) {
            Ok((_, read)) if read == record => Ok(record),
            Ok(_) => Err(StoreError::NotWritten(RecordError::NotARecord)),
            Err(error) => Err(StoreError::NotWritten(error)),
        }
    }

    /// The memory, given back.
    #[must_use]
    pub fn release(self) -> F {
        self.memory
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "address + 2 * SLOT_BYTES is within the capacity, checked by new"
    )]
    const fn second(&self) -> u32 {
        self.first + Self::SLOT_BYTES
    }

    /// The newest record that is sound, with the address of its slot.
    fn in_force<I, C: Recorded<I>>(
        &mut self,
        input: &I,
    ) -> Result<(u32, (C, Record)), [RecordError; 2]> {
        let (first, second) = (self.first, self.second());
        match (self.sound(first, input), self.sound(second, input)) {
            (Ok(old), Ok(new)) if new.1.is_newer_than(&old.1) => Ok((second, new)),
            (Ok(found), _) => Ok((first, found)),
            (Err(_), Ok(found)) => Ok((second, found)),
            (Err(first), Err(second)) => Err([first, second]),
        }
    }

    /// The record of a slot, if a conversion can be made of it.
    fn sound<I, C: Recorded<I>>(
        &mut self,
        address: u32,
        input: &I,
    ) -> Result<(C, Record), RecordError> {
        let record = self.read(address, C::front_end(input))?;
        Ok((C::recorded(input, &record)?, record))
    }

    fn read(&mut self, address: u32, front_end: Fingerprint) -> Result<Record, RecordError> {
        let mut word = [0; WORD_MAX];
        let padded = word
            .get_mut(..RECORD_BYTES.next_multiple_of(F::READ_SIZE))
            .ok_or(RecordError::Unreadable)?;
        self.memory
            .read(address, padded)
            .map_err(|_| RecordError::Unreadable)?;
        let bytes = word
            .first_chunk::<RECORD_BYTES>()
            .ok_or(RecordError::Unreadable)?;
        Record::decode(bytes, front_end)
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "a slot's end is within the capacity, checked by new"
    )]
    fn write(&mut self, address: u32, record: &Record) -> Result<(), StoreError> {
        let mut word = [0xFF; WORD_MAX];
        if let Some(front) = word.first_chunk_mut::<RECORD_BYTES>() {
            *front = record.encode();
        }
        // Never shorter: the padded length is at most WORD_MAX, checked by new.
        let padded = word
            .get(..RECORD_BYTES.next_multiple_of(F::WRITE_SIZE))
            .unwrap_or(&word);
        self.memory
            .erase(address, address + Self::SLOT_BYTES)
            .and_then(|()| self.memory.write(address, padded))
            .map_err(|error| StoreError::Memory(error.kind()))
    }
}

impl fmt::Display for StoreError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Misplaced {
                address,
                erase_bytes,
            } => write!(
                f,
                "address {address:#x} is not the start of an erase block of {erase_bytes} bytes"
            ),
            Self::TooSmall { needed, capacity } => {
                write!(
                    f,
                    "the store ends at byte {needed}, the memory at {capacity}"
                )
            }
            Self::Memory(kind) => write!(f, "the memory refused: {kind}"),
            Self::NotWritten(error) => write!(f, "the slot is worn, it reads back as: {error}"),
        }
    }
}

impl core::error::Error for StoreError {}
