//! The two-slot store in memories that are cut off at every byte and bit, worn, erased and foreign.

use crc::{CRC_32_ISCSI, Crc, NoTable};
use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{
    Acquisition, CellRange, DividedConversion, DividedDescription, DividedInput, DividedModule,
    Fingerprint, LineConstants, OutputUnit, RECORD_BYTES, Record, RecordError, Store, StoreError,
    SupplyConversion, SupplyDescription, SupplyReference,
};

const REFERENCE: SupplyReference = supply(1_225_000);
const FRONT_END: Fingerprint = REFERENCE.fingerprint();

const fn supply(reference_uv: u32) -> SupplyReference {
    match SupplyReference::new(SupplyDescription {
        acquisition: Acquisition::single(12),
        reference_uv,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::Millivolt,
    }) {
        Ok(reference) => reference,
        Err(_) => panic!("a front end"),
    }
}

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

/// A module's own conversion.
fn module(step: u32) -> SupplyConversion {
    let gain = U8F24::from_bits((1 << 24) + 997 * step);
    let offset = I24F8::from_bits(-31 * step as i32);
    let drawn = REFERENCE.conversion().expect("exact");
    drawn.scaled(gain, offset).expect("legal")
}

/// Its record, without its place in time.
fn recorded(step: u32) -> Record {
    REFERENCE.record(&module(step), 0)
}

/// The module of a record: the same whatever its sequence number.
fn content(record: Record) -> Record {
    record.with_sequence(0)
}

fn open<const W: usize, const E: usize>(memory: Memory<W, E>) -> Store<Memory<W, E>> {
    Store::new(memory, 0).expect("fits")
}

/// What is in force, or why nothing is.
type Found = Result<(SupplyConversion, Record), [RecordError; 2]>;

fn found<const W: usize, const E: usize>(store: &mut Store<Memory<W, E>>) -> Found {
    store.conversion(&REFERENCE)
}

fn in_force<const W: usize, const E: usize>(store: &mut Store<Memory<W, E>>) -> Option<Record> {
    found(store).ok().map(|(_, record)| content(record))
}

fn found_in<const W: usize, const E: usize>(memory: &Memory<W, E>) -> Found {
    let mut memory = memory.clone();
    memory.left = None;
    found(&mut open(memory))
}

/// A memory after `writes` whole writes.
fn written<const W: usize, const E: usize>(writes: u32) -> Memory<W, E> {
    let mut store = open(Memory::blank());
    for step in 0..writes {
        let record = store.store(&REFERENCE, &module(step)).expect("powered");
        assert_eq!(found(&mut store).map(|(_, record)| record), Ok(record));
        assert_eq!(u32::from(record.sequence()), step + 1);
    }
    store.release()
}

/// Cuts the power of one more write after every bit operation; returns the number of cuts and how many left anything
/// but the old or the new record, as `read` sees the memory.
fn cut_everywhere<const W: usize, const E: usize>(
    before: &Memory<W, E>,
    order: EraseOrder,
    read: impl Fn(&Memory<W, E>) -> Option<Record>,
) -> (u64, u64) {
    let old = by_the_store(before);
    let new = recorded(999);
    let mut whole = open(Memory {
        order,
        used: 0,
        ..before.clone()
    });
    whole.store(&REFERENCE, &module(999)).expect("powered");
    let operations = whole.release().used;
    let mut wrong = 0;
    for cut in 0..=operations {
        let mut store = open(Memory {
            order,
            left: Some(cut),
            ..before.clone()
        });
        let _ = store.store(&REFERENCE, &module(999));
        let found = read(&store.release());
        wrong += u64::from(found != old && found != Some(new));
        if cut == operations {
            assert_eq!(found, Some(new), "the uncut write");
        }
    }
    (operations + 1, wrong)
}

fn by_the_store<const W: usize, const E: usize>(memory: &Memory<W, E>) -> Option<Record> {
    found_in(memory).ok().map(|(_, record)| content(record))
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
    let slot_bits = 8 * E.max(RECORD_BYTES) as u64;
    assert!(
        cuts >= 16 * (slot_bits + 256),
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
    no_cut_harms::<2, 32>();
    // Blocks of which a slot needs two.
    no_cut_harms::<4, 16>();
}

/// A word program that leaves any pattern in the word that was being written, and every word before it done.
#[test]
fn a_cut_that_garbles_the_word_in_flight_is_refused() {
    let before = written::<8, 64>(2);
    let old = by_the_store(&before);
    let new = {
        let mut store = open(before.clone());
        store.store(&REFERENCE, &module(999)).expect("powered");
        store.release().bytes
    };
    let mut random = ChaCha8Rng::seed_from_u64(3);
    for word in 0..4 {
        for _ in 0..20_000 {
            let mut memory = before.clone();
            memory.bytes[..64].fill(0xFF);
            memory.bytes[..8 * word].copy_from_slice(&new[..8 * word]);
            // Any mixture of bits that are programmed and bits that are not yet.
            let mask = random.random::<u64>().to_le_bytes();
            for (byte, kept) in (8 * word..8 * word + 8).zip(mask) {
                memory.bytes[byte] = new[byte] | kept;
            }
            let complete = memory.bytes[..32] == new[..32];
            let wanted = if complete { Some(recorded(999)) } else { old };
            assert_eq!(by_the_store(&memory), wanted);
        }
    }
}

/// Negative control: a reader that looks at mark and sequence and forgets the CRC takes half-written records.
#[test]
fn a_reader_without_the_crc_is_caught_by_the_same_cuts() {
    fn careless<const W: usize, const E: usize>(memory: &Memory<W, E>) -> Option<Record> {
        let slot = |slot: usize| &memory.bytes[slot * E.max(RECORD_BYTES)..][..RECORD_BYTES];
        let newest = (0..2)
            .map(slot)
            .filter(|bytes| bytes[0] == 0xB2)
            .max_by_key(|bytes| u16::from_le_bytes([bytes[2], bytes[3]]))?;
        // What a decoder without the check would make of it.
        let mut bytes = newest.to_vec();
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&bytes[..28]);
        bytes[28..].copy_from_slice(&crc.to_le_bytes());
        Record::decode(&bytes, FRONT_END).ok().map(content)
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
        store.store(&REFERENCE, &module(step)).expect("powered");
        memory = store.release();
        assert_eq!(memory.erased_blocks, [step as usize % 2]);
    }
}

#[test]
fn erased_cleared_foreign_and_unreadable_memories_read_as_no_calibration() {
    let missing = |memory: &Memory<4, 64>| found_in(memory).expect_err("no calibration");
    let mut memory = Memory::blank();
    assert_eq!(missing(&memory), [RecordError::Blank; 2]);
    memory.bytes.fill(0);
    assert_eq!(missing(&memory), [RecordError::Blank; 2]);
    memory.bytes.fill(0x5A);
    assert_eq!(missing(&memory), [RecordError::NotARecord; 2]);
    let mut unreadable = written::<4, 64>(2);
    unreadable.unreadable = true;
    assert_eq!(missing(&unreadable), [RecordError::Unreadable; 2]);
    let other = supply(1_200_000);
    let mut store = open(Memory::<4, 64>::blank());
    let foreign = other.conversion().expect("exact");
    store.store(&other, &foreign).expect("powered");
    let made_for = other.fingerprint();
    assert_eq!(
        missing(&store.release()),
        [RecordError::OtherFrontEnd { made_for }, RecordError::Blank]
    );
}

/// A bit that is stuck in the slot to be written: the write says so and the old record holds, again and again.
#[test]
fn a_worn_slot_is_reported_and_the_old_record_holds() {
    let before = written::<4, 64>(1);
    for bit in 0..8 * RECORD_BYTES {
        let (byte, mask) = (64 + bit / 8, 1_u8 << (bit % 8));
        for stuck in [0, mask] {
            let mut store = open(Memory {
                worn: vec![(byte, mask, stuck)],
                ..before.clone()
            });
            let outcome = store.store(&REFERENCE, &module(9));
            let held = in_force(&mut store);
            match outcome {
                Ok(_) => assert_eq!(held, Some(recorded(9))),
                Err(error) => {
                    assert!(matches!(error, StoreError::NotWritten(_)), "{error}");
                    assert_eq!(held, Some(recorded(0)));
                }
            }
        }
    }
}

#[test]
fn the_sequence_goes_on_past_its_end() {
    let at_end = recorded(1).with_sequence(u16::MAX);
    let mut memory = Memory::<4, 64>::blank();
    memory.bytes[..RECORD_BYTES].copy_from_slice(&at_end.encode());
    let mut store = open(memory);
    for (step, sequence) in [(2, 0), (3, 1)] {
        let record = store.store(&REFERENCE, &module(step)).expect("powered");
        assert_eq!(record.sequence(), sequence);
        assert_eq!(found(&mut store).map(|(_, record)| record), Ok(record));
    }
}

/// After a cut at any bit operation of a write, the next write is cut at every one of its own, and the one after that is whole: at no
/// moment is there nothing to load, and whole is whole.
///
/// The only valid record is overwritten by a write that takes the wrong slot, which a first write never shows: before it both slots are
/// valid, or the wrong one is empty.
fn no_second_cut_harms<const W: usize, const E: usize>(before: &Memory<W, E>) -> u64 {
    let operations = |memory: &Memory<W, E>, step| {
        let mut store = open(Memory {
            left: None,
            used: 0,
            ..memory.clone()
        });
        store.store(&REFERENCE, &module(step)).expect("powered");
        store.release().used
    };
    let held = by_the_store(before);
    let mut cuts = 0;
    let whole = operations(before, 500);
    for cut in (0..=whole).step_by(8 * W) {
        let mut store = open(Memory {
            left: Some(cut),
            ..before.clone()
        });
        let _ = store.store(&REFERENCE, &module(500));
        let after = store.release();
        let between = by_the_store(&after);
        assert!(
            between == held || between == Some(recorded(500)),
            "cut {cut}"
        );
        for again in (0..=operations(&after, 501)).step_by(8 * W) {
            let mut store = open(Memory {
                left: Some(again),
                ..after.clone()
            });
            let _ = store.store(&REFERENCE, &module(501));
            let last = by_the_store(&store.release());
            assert!(
                last == between || last == Some(recorded(501)),
                "cut {cut}, then {again}: {between:?} became {last:?}"
            );
            cuts += 1;
        }
        let mut store = open(Memory {
            left: None,
            ..after
        });
        store.store(&REFERENCE, &module(502)).expect("powered");
        assert_eq!(by_the_store(&store.release()), Some(recorded(502)));
    }
    cuts
}

#[test]
fn writing_again_after_a_cut_never_overwrites_the_only_valid_record() {
    let mut cuts = 0;
    // Nothing, the first slot, both with the second newer, both with the first newer.
    for writes in 0..=3 {
        cuts += no_second_cut_harms(&written::<4, 64>(writes));
        cuts += no_second_cut_harms(&written::<8, 32>(writes));
    }
    // Only the second slot valid, the first erased, damaged or foreign.
    for spoiled in [[0xFF; RECORD_BYTES], [0x5A; RECORD_BYTES]] {
        let mut before = written::<4, 64>(2);
        before.bytes[..RECORD_BYTES].copy_from_slice(&spoiled);
        cuts += no_second_cut_harms(&before);
    }
    // 24 words of erase and write in blocks of 64 bytes: every pair of words, seen from six memories at least.
    assert!(cuts >= 6 * 24 * 24, "{cuts}");
}

/// A worn bit in either slot, both stuck ways: what a failed write leaves is written again, and again.
#[test]
fn writing_again_into_worn_memory_keeps_what_holds() {
    for writes in 1..=3 {
        let before = written::<4, 64>(writes);
        let held = by_the_store(&before);
        let newest = (writes as usize + 1) % 2;
        for slot in 0..2 {
            for bit in 0..8 * RECORD_BYTES {
                let (byte, mask) = (64 * slot + bit / 8, 1_u8 << (bit % 8));
                // A bit that wears in the slot that holds the record wears to what it is.
                let stuck = if slot == newest {
                    vec![before.bytes[byte] & mask]
                } else {
                    vec![0, mask]
                };
                for stuck in stuck {
                    let mut store = open(Memory {
                        worn: vec![(byte, mask, stuck)],
                        ..before.clone()
                    });
                    let mut now = held;
                    for step in 600..604 {
                        if store.store(&REFERENCE, &module(step)).is_ok() {
                            now = Some(recorded(step));
                        }
                        assert_eq!(
                            in_force(&mut store),
                            now,
                            "{writes} writes, slot {slot}, bit {bit}"
                        );
                    }
                }
            }
        }
    }
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
    assert_eq!(Store::<Memory<8, 8>>::SLOT_BYTES, 32);
    assert_eq!(Store::<Memory<32, 32>>::SLOT_BYTES, 32);
}

/// A record with its CRC, as something else wrote it.
fn sealed(mut bytes: [u8; RECORD_BYTES]) -> [u8; RECORD_BYTES] {
    let crc = Crc::<u32, NoTable>::new(&CRC_32_ISCSI).checksum(&bytes[..28]);
    bytes[28..].copy_from_slice(&crc.to_le_bytes());
    bytes
}

/// A record whose CRC is right and whose constants are refused, in the slot of the newest, in both, and in neither.
#[test]
fn a_record_with_refused_constants_leaves_the_one_before_it_in_force() {
    let mut memory = written::<4, 64>(2);
    let of = |step: u32| {
        let record = recorded(step).with_sequence(step as u16 + 1);
        (module(step), record)
    };
    assert_eq!(found_in(&memory), Ok(of(1)));
    // t = 0, sealed again.
    let spoil = |memory: &mut Memory<4, 64>, slot: usize| {
        let mut bytes = [0; RECORD_BYTES];
        bytes.copy_from_slice(&memory.bytes[slot..][..RECORD_BYTES]);
        bytes[1] = 0;
        memory.bytes[slot..][..RECORD_BYTES].copy_from_slice(&sealed(bytes));
    };
    spoil(&mut memory, 64);
    let newest = Record::decode(&memory.bytes[64..96], FRONT_END).expect("a right CRC");
    assert_eq!(newest.sequence(), 2);
    let refused: Result<SupplyConversion, _> = REFERENCE.recorded(&newest);
    assert_eq!(refused, Err(RecordError::Constants));
    assert_eq!(found_in(&memory), Ok(of(0)));
    // What is in force is spared by the next write, cut anywhere, and by the one after that.
    for order in [EraseOrder::Forward, EraseOrder::Backward] {
        assert_eq!(cut_everywhere(&memory, order, by_the_store).1, 0);
    }
    assert!(no_second_cut_harms(&memory) > 24 * 24);
    spoil(&mut memory, 0);
    assert_eq!(found_in(&memory), Err([RecordError::Constants; 2]));
    let blank = Memory::<4, 64>::blank();
    assert_eq!(found_in(&blank), Err([RecordError::Blank; 2]));
}

/// Firmware with the small type finds a newer record of the long form, which it cannot load: the older one is in force, and a write
/// spares it.
#[test]
fn a_record_of_a_form_that_the_type_lacks_is_written_over() {
    const INPUT: DividedInput = match DividedInput::new(DividedDescription {
        acquisition: Acquisition::single(12),
        top_ohms: 30_000,
        bottom_ohms: 10_000,
        reference_uv: 1_100_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::Millivolt,
    }) {
        Ok(input) => input,
        Err(_) => panic!("a front end"),
    };
    let constants = |shift: u8| -> DividedConversion<12> {
        let constants = LineConstants {
            first: 1,
            counts: 4000,
            factor: 35_200 << (shift - 15),
            addend: (1 << (shift - 1)),
            shift,
        };
        INPUT.module(constants).expect("sound")
    };
    let small = constants(15).short().expect("the short form");
    let mut store = open(Memory::<4, 64>::blank());
    let first = store.store(&INPUT, &small).expect("powered");
    // As `fit` writes it where the short form is not near enough.
    let long = INPUT.record(&constants(32), 2);
    let mut memory = store.release();
    memory.bytes[64..96].copy_from_slice(&long.encode());
    let mut store = open(memory);
    assert!(
        store
            .conversion::<_, DividedConversion<12>>(&INPUT)
            .is_ok_and(|(_, record)| record.sequence() == 2)
    );
    let found = |store: &mut Store<_>| store.conversion::<_, DividedModule<12>>(&INPUT);
    assert_eq!(found(&mut store), Ok((small, first)));
    let second = store.store(&INPUT, &small).expect("powered");
    assert_eq!(second.sequence(), 2);
    let memory = store.release();
    assert_eq!(memory.erased_blocks, [0, 1]);
    assert_eq!(found(&mut open(memory)), Ok((small, second)));
}

/// Both slots hold a sound record, and the first is the newer one: what every second write leaves.
#[test]
fn the_conversion_is_of_the_newer_record_in_either_slot() {
    for writes in 2..=5 {
        let memory = written::<4, 64>(writes);
        let newest = recorded(writes - 1).with_sequence(writes as u16);
        let wanted = Ok((module(writes - 1), newest));
        assert_eq!(found_in(&memory), wanted, "{writes} writes");
    }
}

/// A slot that takes nothing any more and still holds an older sound record reads back well, and is not what was written.
#[test]
fn a_slot_that_keeps_its_old_record_is_reported() {
    let before = written::<4, 64>(2);
    let kept = |byte: usize| (byte, 0xFF, before.bytes[byte]);
    let mut store = open(Memory {
        worn: (0..RECORD_BYTES).map(kept).collect(),
        ..before.clone()
    });
    let refused = StoreError::NotWritten(RecordError::NotARecord);
    assert_eq!(store.store(&REFERENCE, &module(9)), Err(refused));
    assert_eq!(in_force(&mut store), Some(recorded(1)));
}
