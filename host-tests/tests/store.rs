//! The two-slot store in memories that are cut off at every byte and bit, worn, erased and foreign.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{Calibration, Fingerprint, Loaded, Record, RecordError, Store, StoreError};

const FRONT_END: Fingerprint = Fingerprint(0xCAFE_0001);

/// In which order an interrupted erase gets the bits back to 1.
#[derive(Clone, Copy, Debug)]
enum EraseOrder {
    Forward,
    Backward,
    Scattered(u64),
}

/// A NOR memory of four erase blocks that counts down bit operations and then does nothing more.
#[derive(Clone)]
struct Memory<const WRITE: usize, const ERASE: usize> {
    bytes: Vec<u8>,
    /// Bit operations left before the power fails; none to fail never.
    left: Option<u64>,
    used: u64,
    order: EraseOrder,
    /// Bits that can no longer be set back to 1 or cleared: (byte, mask, value).
    worn: Vec<(usize, u8, u8)>,
    unreadable: bool,
    erased_blocks: Vec<usize>,
}

impl<const WRITE: usize, const ERASE: usize> Memory<WRITE, ERASE> {
    fn blank() -> Self {
        Self {
            bytes: vec![0xFF; 4 * ERASE],
            left: None,
            used: 0,
            order: EraseOrder::Forward,
            worn: Vec::new(),
            unreadable: false,
            erased_blocks: Vec::new(),
        }
    }

    /// Takes one bit operation, if there is power for it.
    fn powered(&mut self) -> bool {
        match &mut self.left {
            Some(0) => false,
            Some(left) => {
                *left -= 1;
                self.used += 1;
                true
            }
            None => {
                self.used += 1;
                true
            }
        }
    }

    fn settle(&mut self) -> Result<(), NorFlashErrorKind> {
        for (byte, mask, value) in self.worn.clone() {
            self.bytes[byte] = self.bytes[byte] & !mask | value & mask;
        }
        match self.left {
            Some(0) => Err(NorFlashErrorKind::Other),
            _ => Ok(()),
        }
    }
}

impl<const WRITE: usize, const ERASE: usize> ErrorType for Memory<WRITE, ERASE> {
    type Error = NorFlashErrorKind;
}

impl<const WRITE: usize, const ERASE: usize> ReadNorFlash for Memory<WRITE, ERASE> {
    const READ_SIZE: usize = WRITE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        check_read(self, offset, bytes.len())?;
        if self.unreadable {
            return Err(NorFlashErrorKind::Other);
        }
        let from = offset as usize;
        bytes.copy_from_slice(&self.bytes[from..from + bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const WRITE: usize, const ERASE: usize> NorFlash for Memory<WRITE, ERASE> {
    const WRITE_SIZE: usize = WRITE;
    const ERASE_SIZE: usize = ERASE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to)?;
        self.erased_blocks.extend(
            (from as usize..to as usize)
                .step_by(ERASE)
                .map(|at| at / ERASE),
        );
        let mut bits: Vec<usize> = (8 * from as usize..8 * to as usize).collect();
        match self.order {
            EraseOrder::Forward => {}
            EraseOrder::Backward => bits.reverse(),
            EraseOrder::Scattered(seed) => {
                let mut random = ChaCha8Rng::seed_from_u64(seed);
                for i in (1..bits.len()).rev() {
                    bits.swap(i, random.random_range(0..=i));
                }
            }
        }
        for bit in bits {
            if !self.powered() {
                break;
            }
            self.bytes[bit / 8] |= 1 << (bit % 8);
        }
        self.settle()
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len())?;
        let from = offset as usize;
        assert!(
            self.left.is_some()
                || !self.worn.is_empty()
                || self.bytes[from..from + bytes.len()]
                    .iter()
                    .all(|b| *b == 0xFF),
            "written twice without an erase"
        );
        for bit in 0..8 * bytes.len() {
            if !self.powered() {
                break;
            }
            self.bytes[from + bit / 8] &= bytes[bit / 8] | !(1 << (bit % 8));
        }
        self.settle()
    }
}

fn calibration(step: u32) -> Calibration {
    Calibration::new(
        U8F24::from_bits((1 << 24) + 997 * step),
        I24F8::from_bits(-31 * step as i32),
    )
    .expect("legal")
}

fn open<const W: usize, const E: usize>(memory: Memory<W, E>) -> Store<Memory<W, E>> {
    Store::new(memory, 0).expect("fits")
}

fn loaded<const W: usize, const E: usize>(memory: &Memory<W, E>) -> Loaded {
    let mut memory = memory.clone();
    memory.left = None;
    open(memory).load(FRONT_END)
}

/// A memory after `writes` whole writes.
fn written<const W: usize, const E: usize>(writes: u32) -> Memory<W, E> {
    let mut store = open(Memory::blank());
    for step in 0..writes {
        let record = store.store(FRONT_END, calibration(step)).expect("powered");
        assert_eq!(store.load(FRONT_END), Loaded::Stored(record));
        assert_eq!(record.sequence, step + 1);
    }
    store.release()
}

/// Cuts the power of one more write after every bit operation; returns the number of cuts and how many left anything
/// but the old or the new record, as `read` sees the memory.
fn cut_everywhere<const W: usize, const E: usize>(
    before: &Memory<W, E>,
    order: EraseOrder,
    read: impl Fn(&Memory<W, E>) -> Option<Calibration>,
) -> (u64, u64) {
    let old = loaded(before);
    let old = old.is_calibrated().then(|| old.calibration());
    let new = calibration(999);
    let mut whole = open(Memory {
        order,
        used: 0,
        ..before.clone()
    });
    whole.store(FRONT_END, new).expect("powered");
    let operations = whole.release().used;
    let mut wrong = 0;
    for cut in 0..=operations {
        let mut store = open(Memory {
            order,
            left: Some(cut),
            ..before.clone()
        });
        let _ = store.store(FRONT_END, new);
        let found = read(&store.release());
        wrong += u64::from(found != old && found != Some(new));
        if cut == operations {
            assert_eq!(found, Some(new), "the uncut write");
        }
    }
    (operations + 1, wrong)
}

fn by_the_store<const W: usize, const E: usize>(memory: &Memory<W, E>) -> Option<Calibration> {
    let loaded = loaded(memory);
    loaded.is_calibrated().then(|| loaded.calibration())
}

fn no_cut_harms<const W: usize, const E: usize>() {
    let mut cuts = 0;
    // None, one and two records before; then a write that erases a valid older record.
    for writes in 0..=3 {
        let before = written::<W, E>(writes);
        for order in [
            EraseOrder::Forward,
            EraseOrder::Backward,
            EraseOrder::Scattered(1),
            EraseOrder::Scattered(2),
        ] {
            let (done, wrong) = cut_everywhere(&before, order, by_the_store);
            assert_eq!(wrong, 0, "{writes} writes, {order:?}");
            cuts += done;
        }
    }
    let slot_bits = 8 * E.max(24) as u64;
    assert!(
        cuts >= 16 * (slot_bits + 192),
        "every bit of erase and write was a place to cut: {cuts}"
    );
}

#[test]
fn a_cut_after_any_bit_leaves_the_old_or_the_new_record() {
    no_cut_harms::<1, 32>();
    no_cut_harms::<4, 64>();
    no_cut_harms::<8, 128>();
    no_cut_harms::<32, 256>();
    // Blocks just as long as a record.
    no_cut_harms::<2, 24>();
}

/// A word program that leaves any pattern in the word that was being written, and every word before it done.
#[test]
fn a_cut_that_garbles_the_word_in_flight_is_refused() {
    let before = written::<8, 64>(2);
    let old = loaded(&before).calibration();
    let new = {
        let mut store = open(before.clone());
        store.store(FRONT_END, calibration(999)).expect("powered");
        store.release().bytes
    };
    let mut random = ChaCha8Rng::seed_from_u64(3);
    for word in 0..3 {
        for _ in 0..20_000 {
            let mut memory = before.clone();
            memory.bytes[..64].fill(0xFF);
            memory.bytes[..8 * word].copy_from_slice(&new[..8 * word]);
            // Any mixture of bits that are programmed and bits that are not yet.
            let mask = random.random::<u64>().to_le_bytes();
            for (byte, kept) in (8 * word..8 * word + 8).zip(mask) {
                memory.bytes[byte] = new[byte] | kept;
            }
            let found = loaded(&memory).calibration();
            let complete = memory.bytes[..24] == new[..24];
            assert_eq!(found, if complete { calibration(999) } else { old });
        }
    }
}

/// Negative control: a reader that looks at mark and sequence and forgets the CRC takes half-written records.
#[test]
fn a_reader_without_the_crc_is_caught_by_the_same_cuts() {
    fn careless<const W: usize, const E: usize>(memory: &Memory<W, E>) -> Option<Calibration> {
        let word = |slot: usize, at: usize| {
            let from = slot * E.max(24) + at;
            u32::from_le_bytes(memory.bytes[from..from + 4].try_into().expect("four bytes"))
        };
        (0..2)
            .filter(|slot| word(*slot, 0).to_le_bytes() == *b"TvC\x01")
            .max_by_key(|slot| word(*slot, 16))
            .and_then(|slot| {
                let offset = i32::from_le_bytes(word(slot, 12).to_le_bytes());
                Calibration::new(U8F24::from_bits(word(slot, 8)), I24F8::from_bits(offset)).ok()
            })
    }
    let before = written::<4, 64>(2);
    assert_eq!(
        careless(&before),
        by_the_store(&before),
        "it reads a sound memory well"
    );
    let (_, wrong) = cut_everywhere(&before, EraseOrder::Forward, careless);
    assert!(wrong > 0);
}

#[test]
fn a_write_never_touches_the_slot_that_holds_the_newest_record() {
    let mut memory = Memory::<4, 64>::blank();
    for step in 0..6 {
        memory.erased_blocks.clear();
        let mut store = open(memory);
        store.store(FRONT_END, calibration(step)).expect("powered");
        memory = store.release();
        assert_eq!(memory.erased_blocks, [step as usize % 2]);
    }
}

#[test]
fn erased_cleared_foreign_and_unreadable_memories_read_as_no_calibration() {
    let missing = |memory: &Memory<4, 64>| {
        let loaded = loaded(memory);
        assert!(!loaded.is_calibrated());
        assert_eq!(loaded.calibration(), Calibration::IDENTITY);
        loaded
    };
    let both = |error| Loaded::Missing {
        first: error,
        second: error,
    };
    let mut memory = Memory::blank();
    assert_eq!(missing(&memory), both(RecordError::Blank));
    memory.bytes.fill(0);
    assert_eq!(missing(&memory), both(RecordError::Blank));
    memory.bytes.fill(0x5A);
    assert_eq!(missing(&memory), both(RecordError::NotARecord));
    let mut unreadable = written::<4, 64>(2);
    unreadable.unreadable = true;
    assert_eq!(missing(&unreadable), both(RecordError::Unreadable));
    let other = Fingerprint(2);
    let mut store = open(Memory::<4, 64>::blank());
    store.store(other, calibration(1)).expect("powered");
    assert_eq!(
        missing(&store.release()),
        Loaded::Missing {
            first: RecordError::OtherFrontEnd { made_for: other },
            second: RecordError::Blank
        }
    );
}

/// A bit that is stuck in the slot to be written: the write says so and the old record holds, again and again.
#[test]
fn a_worn_slot_is_reported_and_the_old_record_holds() {
    let before = written::<4, 64>(1);
    for bit in 0..192 {
        let (byte, mask) = (64 + bit / 8, 1_u8 << (bit % 8));
        for stuck in [0, mask] {
            let mut store = open(Memory {
                worn: vec![(byte, mask, stuck)],
                ..before.clone()
            });
            match store.store(FRONT_END, calibration(9)) {
                Ok(_) => assert_eq!(store.load(FRONT_END).calibration(), calibration(9)),
                Err(error) => {
                    assert!(matches!(error, StoreError::NotWritten(_)), "{error}");
                    assert_eq!(store.load(FRONT_END).calibration(), calibration(0));
                }
            }
        }
    }
}

#[test]
fn the_sequence_goes_on_past_its_end() {
    let at_end = Record {
        front_end: FRONT_END,
        calibration: calibration(1),
        sequence: u32::MAX,
    };
    let mut memory = Memory::<4, 64>::blank();
    memory.bytes[..24].copy_from_slice(&at_end.encode());
    let mut store = open(memory);
    let record = store.store(FRONT_END, calibration(2)).expect("powered");
    assert_eq!(record.sequence, 0);
    assert_eq!(store.load(FRONT_END), Loaded::Stored(record));
    let record = store.store(FRONT_END, calibration(3)).expect("powered");
    assert_eq!(record.sequence, 1);
    assert_eq!(store.load(FRONT_END), Loaded::Stored(record));
}

#[test]
fn a_store_is_placed_on_erase_blocks_and_inside_the_memory() {
    let at = |address| Store::new(Memory::<4, 64>::blank(), address).err();
    assert_eq!(at(0), None);
    assert_eq!(at(128), None);
    assert_eq!(
        at(4),
        Some(StoreError::Misplaced {
            address: 4,
            erase_bytes: 64
        })
    );
    assert_eq!(
        at(192),
        Some(StoreError::TooSmall {
            needed: 320,
            capacity: 256
        })
    );
    assert!(matches!(
        at(u32::MAX - 63),
        Some(StoreError::TooSmall { .. })
    ));
    assert_eq!(Store::<Memory<4, 64>>::SLOT_BYTES, 64);
    assert_eq!(Store::<Memory<8, 8>>::SLOT_BYTES, 24);
    assert_eq!(Store::<Memory<32, 32>>::SLOT_BYTES, 32);
}
