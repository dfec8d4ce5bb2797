//! Arbitrary bytes as a record, and arbitrary constants under a right CRC: loading and converting never panic or wrap, what is loaded is
//! what plain 128-bit arithmetic accepts, and it answers as that does at every edge.

#![no_main]

use std::sync::LazyLock;

use arbitrary::Arbitrary;
use crc::{CRC_32_ISCSI, Crc};
use libfuzzer_sys::fuzz_target;
use num_rational::BigRational;
use tallyvolt::{LimitSide, Microvolts, RECORD_BYTES, Record};
use tallyvolt_analysis::describe::firmware::Firmware;
use tallyvolt_fuzz::wrong_on_purpose;
use tallyvolt_model::front_end::{Cell, Converter, Divider, FrontEnd, Reference, Topology};
use tallyvolt_model::outcome::{FaultName, Outcome};

/// Most counts taken from one input.
const COUNTS: usize = 16;

#[derive(Debug, Arbitrary)]
struct Case {
    /// Which front end.
    front_end: u8,
    /// Fields as they are, or folded to where a chip may take them.
    folded: bool,
    shift: u8,
    sequence: u16,
    first: u32,
    counts: u32,
    words: [u32; 2],
    low: [u16; 2],
    limit_uv: u32,
    at: [u32; COUNTS],
    bytes: Vec<u8>,
}

/// What a record says, in 128 bits.
#[derive(Debug, Clone, Copy)]
struct Plain {
    divided: bool,
    rail: i128,
    bits: u32,
    shift: u8,
    first: i128,
    counts: i128,
    words: [u32; 2],
    low: [u16; 2],
}

/// Every width of counts in both topologies.
static FRONT_ENDS: LazyLock<Vec<Firmware>> = LazyLock::new(|| {
    let ohms = |value: u32| BigRational::from_integer(value.into());
    let mut all = Vec::new();
    for topology in [
        Topology::SupplyReference,
        Topology::DividedInput(Divider::nominal(ohms(24_900), ohms(10_000))),
    ] {
        for (bits, samples, right_shift) in [
            (8, 1, 0),
            (9, 1, 0),
            (10, 1, 0),
            (10, 16, 3),
            (12, 1, 0),
            (12, 4, 0),
            (12, 16, 1),
            (12, 16, 0),
            (16, 1, 0),
            (12, 64, 0),
            (16, 1024, 0),
            (16, 1024, 8),
        ] {
            let front_end = FrontEnd::bare(
                "fuzzed".to_owned(),
                topology.clone(),
                Cell {
                    chemistry: "LFP".to_owned(),
                    min_uv: 2_000_000,
                    nominal_uv: 3_200_000,
                    max_uv: 3_650_000,
                },
                Converter {
                    samples,
                    right_shift,
                    ..Converter::single(bits)
                },
                Reference::nominal(1_225_000),
                1000,
            );
            all.push(Firmware::describe(&front_end).expect("a front end"));
        }
    }
    all
});

impl Plain {
    fn of(case: &Case, firmware: &Firmware) -> Self {
        let divided = matches!(firmware, Firmware::Divided(_));
        let rail = i128::from(firmware.summing().rail().0);
        let mut plain = Self {
            divided,
            rail,
            bits: firmware.count_bits(),
            shift: case.shift,
            first: case.first.into(),
            counts: case.counts.into(),
            words: case.words,
            low: case.low,
        };
        if case.folded {
            plain.fold();
        }
        plain
    }

    /// Most of the way to constants that a chip takes, and now and then a little beyond.
    fn fold(&mut self) {
        self.first = 1 + self.first % self.rail;
        self.counts = 1 + self.counts % (self.rail - self.first + 1);
        let [left, right] = self.words;
        if self.divided {
            let short = self.bits as u8 + 3;
            self.shift = if self.shift.is_multiple_of(2) || self.bits > 16 {
                32
            } else {
                short
            };
            let positions = u32::try_from(self.counts).unwrap_or(u32::MAX);
            let most = if self.shift == 32 {
                u32::MAX / positions
            } else {
                0xFFFF
            };
            self.words = [left % most.saturating_add(2), right >> (self.low[0] % 4)];
            if self.shift != 32 && !self.low[1].is_multiple_of(16) {
                self.low = [0, 0];
            }
        } else {
            self.shift = 1 + self.shift % 12;
            self.words = [left, (right >> (4 + left % 12)) & !1];
            self.low = [self.low[0] & 0xFF, 0];
        }
    }

    fn bytes(&self, firmware: &Firmware, sequence: u16) -> [u8; RECORD_BYTES] {
        let narrow = |value: i128| u32::try_from(value).expect("from 32 bits");
        let mut bytes = vec![0xB2, self.shift];
        bytes.extend(sequence.to_le_bytes());
        bytes.extend(firmware.fingerprint().0.to_le_bytes());
        for word in [narrow(self.first), narrow(self.counts)]
            .into_iter()
            .chain(self.words)
        {
            bytes.extend(word.to_le_bytes());
        }
        bytes.extend(self.low.into_iter().flat_map(u16::to_le_bytes));
        bytes.extend(
            Crc::<u32>::new(&CRC_32_ISCSI)
                .checksum(&bytes)
                .to_le_bytes(),
        );
        bytes.try_into().expect("32 bytes")
    }

    /// M and B, or K and D at the first count.
    fn wide(&self) -> (i128, i128) {
        let ([left, right], [low, lower]) = (self.words.map(i128::from), self.low.map(i128::from));
        if !self.divided {
            (low << 32 | left, right)
        } else if self.shift == 32 {
            (left << 16 | low, right << 16 | lower)
        } else {
            (left, right)
        }
    }

    fn is_accepted(&self) -> bool {
        let window = self.first >= 1 && self.counts >= 1 && self.first + self.counts <= self.rail;
        let last = self.counts - 1;
        let (left, right) = self.wide();
        let constants = if self.divided {
            let sum = left * last + right;
            match self.shift {
                32 => sum < 1 << 48,
                shift if self.bits <= 16 && u32::from(shift) == self.bits + 3 => {
                    left < 1 << 16 && sum < 1 << 32 && sum >> shift < 1 << 16 && self.low == [0, 0]
                }
                _ => false,
            }
        } else {
            (1..=28).contains(&self.shift)
                && left < 1 << 46
                && right >= 2
                && right % 2 == 0
                && (last << self.shift) + right < 1 << 29
                && left + right / 2 < right << 16
                && self.low[1] == 0
        };
        window && constants
    }

    fn outcome(&self, count: u32) -> Outcome {
        let count = i128::from(count);
        let (before, behind) = if self.divided {
            (FaultName::BelowRange, FaultName::AboveRange)
        } else {
            (FaultName::AboveRange, FaultName::BelowRange)
        };
        if count == 0 {
            return Outcome::Fault(FaultName::ZeroCount);
        } else if count >= self.rail {
            return Outcome::Fault(FaultName::Rail);
        } else if count < self.first {
            return Outcome::Fault(before);
        } else if count >= self.first + self.counts {
            return Outcome::Fault(behind);
        }
        let position = count - self.first;
        let (left, right) = self.wide();
        let units = if self.divided {
            (left * position + right) >> self.shift
        } else {
            let denominator = (position << self.shift) + right;
            (left + denominator / 2) / denominator
        };
        Outcome::Units(u32::try_from(units).expect("an accepted value"))
    }
}

fuzz_target!(|case: Case| {
    let all = &*FRONT_ENDS;
    let firmware = &all[usize::from(case.front_end) % all.len()];
    // Whatever it is: a record or a reason.
    if let Ok(record) = Record::decode(&case.bytes, firmware.fingerprint()) {
        let _ = firmware.recorded(&record);
    }

    let plain = Plain::of(&case, firmware);
    let bytes = plain.bytes(firmware, case.sequence);
    let record = Record::decode(&bytes, firmware.fingerprint()).expect("a right CRC");
    assert_eq!(record.encode(), bytes);
    let loaded = firmware.recorded(&record);
    assert_eq!(loaded.is_ok(), plain.is_accepted(), "{plain:?}");
    let Ok(conversion) = loaded else { return };
    let ends = [
        0,
        1,
        plain.first - 1,
        plain.first,
        plain.first + plain.counts - 1,
        plain.first + plain.counts,
        plain.rail - 1,
        plain.rail,
    ];
    let ends = ends.map(|count| u32::try_from(count).expect("a count"));
    let rail = firmware.summing().rail().0;
    let within = case.at.iter().map(|count| count % (rail + 2));
    let off = u32::from(wrong_on_purpose());
    for count in ends.into_iter().chain(within).chain([u32::MAX]) {
        let answer = conversion.outcome(count.saturating_add(off));
        assert_eq!(answer, plain.outcome(count), "count {count}, {plain:?}");
    }
    for side in [LimitSide::Over, LimitSide::Under] {
        let _ = conversion.count_limit(side, Microvolts(case.limit_uv));
    }
});
