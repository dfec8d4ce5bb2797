//! Constants and descriptions that are refused where they are made: each by the rule it breaks, at the first number beyond it.

use tallyvolt::{
    Acquisition, BlockSum, CellRange, Channel, ChannelLimits, ChannelSetup, CodeCentre,
    ConfigError, Count, DividedConversion, DividedDescription, DividedInput, DividedModule, Fault,
    FullScale, LineConstants, OutputUnit, Plausibility, QuotientConstants, RecordError,
    ShiftRounding, SupplyConversion, SupplyDescription, SupplyReference, Voltage,
};

const CELL: CellRange = CellRange {
    min_uv: 2_000_000,
    max_uv: 3_650_000,
};

fn divided(acquisition: Acquisition) -> DividedInput {
    DividedInput::new(DividedDescription {
        acquisition,
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CELL,
        unit: OutputUnit::Millivolt,
    })
    .expect("the hut's divider")
}

fn supply(acquisition: Acquisition, reference_uv: u32) -> SupplyReference {
    SupplyReference::new(SupplyDescription {
        acquisition,
        reference_uv,
        cell: CELL,
        unit: OutputUnit::Millivolt,
    })
    .expect("the hut's supply reference")
}

/// Counts of a type too narrow for them would be cut: drawn, chosen elsewhere or loaded.
#[test]
fn counts_wider_than_the_type_are_refused() {
    let input = divided(Acquisition::single(12));
    let wider = ConfigError::CountsWider {
        largest_count: 4095,
        bits: 11,
    };
    let drawn = input.conversion::<12>().expect("exact");
    assert_eq!(input.conversion::<11>(), Err(wider));
    assert_eq!(input.module::<11>(drawn.constants()), Err(wider));
    // In the long form S is the same for every width, so nothing but the rail tells.
    let long = LineConstants {
        first: 1,
        counts: 4094,
        factor: 4_480_000_001,
        addend: 1 << 31,
        shift: 32,
    };
    let module = input.module::<12>(long).expect("below 16 bits");
    let bytes = input.record(&module, 1).encode();
    assert_eq!(input.load::<DividedConversion<12>>(&bytes), Ok(module));
    let narrow: Result<DividedConversion<11>, _> = input.load(&bytes);
    assert_eq!(narrow, Err(RecordError::Constants));
}

/// A line of the long form at each of its limits, and one beyond.
#[test]
fn a_line_beyond_its_words_is_refused() {
    let input = divided(Acquisition::single(12));
    let of = |factor: u128, addend: u128, shift: u8, counts: u32| {
        let constants = LineConstants {
            first: 1,
            counts,
            factor,
            addend,
            shift,
        };
        input
            .module::<12>(constants)
            .map(|module| module.voltage(Count(1)))
    };
    let refused = Err(ConfigError::Constants);
    let top = Ok(Ok(Voltage(u16::MAX)));
    assert_eq!(of(0, (1 << 48) - 1, 32, 1), top);
    assert_eq!(of(0, 1 << 48, 32, 1), refused);
    assert_eq!(of((1 << 48) - 1, 1 << 47, 32, 1), Ok(Ok(Voltage(1 << 15))));
    assert_eq!(of(1 << 48, 0, 32, 1), refused);
    // Wider than any word: what is shifted out may not be dropped.
    assert_eq!(of(1 << 112, 0, 32, 1), refused);
    assert_eq!(of(0, 1, 33, 1), refused);
    assert_eq!(of(0, 1, u8::MAX, 1), refused);
    // The short form, S = 15: its sum has 31 bits for a value of 16, and more is refused whatever fits the word.
    assert_eq!(of(1, (1 << 31) - 1, 15, 1), top);
    assert_eq!(of(1, 1 << 31, 15, 1), refused);
    assert_eq!(of(1, 1 << 32, 15, 1), refused);
    // The last count alone is beyond.
    assert!(of(1 << 47, (1 << 47) - 1, 32, 2).is_ok());
    assert_eq!(of(1 << 47, 1 << 47, 32, 2), refused);
}

/// The wide form's lower 32 bits carry: its upper 48 bits alone would be sound.
#[test]
fn a_wide_line_is_refused_by_its_last_bit() {
    let input = divided(Acquisition::summed(16, 16));
    let of = |factor: u128, addend: u128, first: u32| {
        let constants = LineConstants {
            first,
            counts: 2,
            factor,
            addend,
            shift: 64,
        };
        let module = input.module::<26>(constants);
        module.map(|module| module.voltage(Count(first + 1)))
    };
    let (factor, addend) = ((1 << 79) + u128::from(u32::MAX), 1 << 79);
    let top = addend - u128::from(u32::MAX) - 1;
    assert_eq!(of(factor, top, 1), Ok(Ok(Voltage(u16::MAX))));
    assert_eq!(of(factor, top + 1, 1), Err(ConfigError::Constants));
    assert_eq!(of(factor, top, 0), Err(ConfigError::Constants));
    assert_eq!(of(1 << 80, 0, 1), Err(ConfigError::Constants));
}

/// A quotient at each limit of K and D, and one beyond.
#[test]
fn a_quotient_beyond_its_words_is_refused() {
    let input = supply(Acquisition::single(12), 1_200_000);
    let of = |constants: QuotientConstants| {
        let module = input.module(constants);
        module.map(|module| module.voltage(Count(constants.first)))
    };
    let refused = Err(ConfigError::Constants);
    let sound = QuotientConstants {
        first: 1,
        counts: 1,
        numerator: (1 << 28) - 1,
        at_first: (1 << 29) - 2,
        step_log2: 28,
    };
    assert_eq!(of(sound), Ok(Ok(Voltage(1))));
    let with = |change: fn(&mut QuotientConstants)| {
        let mut changed = sound;
        change(&mut changed);
        of(changed)
    };
    assert_eq!(with(|of| of.at_first = 1 << 29), refused);
    assert_eq!(with(|of| of.at_first -= 1), refused);
    assert_eq!(with(|of| of.at_first = 0), refused);
    assert_eq!(with(|of| of.step_log2 = 0), refused);
    assert_eq!(with(|of| of.step_log2 = 29), refused);
    assert_eq!(with(|of| of.first = 0), refused);
    assert_eq!(with(|of| of.counts = 0), refused);
    assert_eq!(with(|of| of.counts = 4095), refused);
    // K of 46 bits over the largest D is a voltage or is none; of 48 it is none, and of more not even a word.
    assert_eq!(
        with(|of| of.numerator = 65_535 * of.at_first as u64 + (of.at_first as u64 / 2) - 1),
        Ok(Ok(Voltage(u16::MAX)))
    );
    assert_eq!(
        with(|of| of.numerator = 65_535 * of.at_first as u64 + (of.at_first as u64 / 2)),
        refused
    );
    assert_eq!(with(|of| of.numerator = 1 << 46), refused);
    assert_eq!(with(|of| of.numerator = 1 << 48 | 1), refused);
    // D at the last count: one count more than there is room for.
    let growing = |counts: u32, at_first: u32| {
        of(QuotientConstants {
            counts,
            at_first,
            step_log2: 27,
            ..sound
        })
        .is_ok()
    };
    assert!(!growing(3, 1 << 28) && growing(2, 1 << 28) && growing(4, (1 << 27) - 2));
    assert!(!growing(4, 1 << 27) && !growing(5, 2));
}

/// What an undamaged record may hold beside what this version writes.
#[test]
fn a_quotient_with_a_word_that_must_be_zero_is_refused() {
    let input = supply(Acquisition::single(12), 1_200_000);
    let drawn = input.conversion().expect("exact");
    let sealed = |byte: usize, value: u8| {
        let mut bytes = input.record(&drawn, 1).encode();
        bytes[byte] = value;
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&bytes[..28]);
        bytes[28..].copy_from_slice(&crc.to_le_bytes());
        input.load::<SupplyConversion>(&bytes)
    };
    assert_eq!(sealed(26, 0), Ok(drawn));
    assert_eq!(sealed(26, 1), Err(RecordError::Constants));
    assert_eq!(sealed(27, 0x80), Err(RecordError::Constants));
}

/// A first count behind the rail: what is left to the rail wraps in 16 bits, and is no room for counts.
#[test]
fn a_window_behind_the_rail_is_refused() {
    let input = divided(Acquisition::single(12));
    let drawn = input.conversion::<12>().expect("exact");
    let load = |first: u16| {
        let mut bytes = input.record(&drawn, 1).encode();
        bytes[8..10].copy_from_slice(&first.to_le_bytes());
        bytes[12..14].copy_from_slice(&1_u16.to_le_bytes());
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI).checksum(&bytes[..28]);
        bytes[28..].copy_from_slice(&crc.to_le_bytes());
        let module: Result<DividedModule<12>, _> = input.load(&bytes);
        let whole: Result<DividedConversion<12>, _> = input.load(&bytes);
        assert_eq!(module.map(|of| of.window()), whole.map(|of| of.window()));
        module.map(|of| of.window().last())
    };
    assert_eq!(load(4094), Ok(Count(4094)));
    for first in [0, 4095, 4096, 5000, u16::MAX] {
        assert_eq!(load(first), Err(RecordError::Constants), "{first}");
    }
}

/// A channel makes its own sums, and shifts nothing off them.
#[test]
fn a_channel_of_shifted_sums_is_refused() {
    let of = |right_shift| {
        let acquisition = Acquisition {
            right_shift,
            ..Acquisition::summed(12, 16)
        };
        let setup = ChannelSetup::<_> {
            conversion: divided(acquisition).conversion::<16>().expect("exact"),
            calibrated: false,
            thermistor: None,
            limits: ChannelLimits::NONE,
            plausibility: Plausibility::NONE,
        };
        Channel::<_, 16>::new(&setup).map(|channel| channel.alarms().any())
    };
    assert_eq!(of(0), Ok(false));
    let refused = ConfigError::WindowMismatch {
        window: 16,
        samples: 16,
        right_shift: 2,
    };
    assert_eq!(of(2), Err(refused));
}

/// A record is its own front end's, whether decoded or at hand.
#[test]
fn a_record_at_hand_is_refused_by_another_front_end() {
    let acquisition = Acquisition::single(12);
    let (own, other) = (
        supply(acquisition, 1_200_000),
        supply(acquisition, 1_225_000),
    );
    let drawn = own.conversion().expect("exact");
    let record = own.record(&drawn, 3);
    assert_eq!(own.recorded(&record), Ok(drawn));
    let refused: Result<SupplyConversion, _> = other.recorded(&record);
    let made_for = own.fingerprint();
    assert_eq!(refused, Err(RecordError::OtherFrontEnd { made_for }));
}

/// Drawings that pass every rule and whose every count is beyond the output: no window is left.
#[test]
fn a_drawing_without_a_readable_count_is_refused() {
    let input = DividedInput::new(DividedDescription {
        acquisition: Acquisition::single(8),
        reference_uv: 8_000_000,
        top_ohms: 10_000_000,
        bottom_ohms: 1,
        cell: CELL,
        unit: OutputUnit::TenthMillivolt,
    });
    // One count is 312 kV.
    let input = input.expect("passes every rule");
    assert_eq!(input.conversion::<8>(), Err(ConfigError::Constants));
    // The last count below the rail is 6.553 V * 256 / 254, and 6.5535 V is the largest of the output.
    let reference = SupplyReference::new(SupplyDescription {
        acquisition: Acquisition {
            bits: 8,
            full_scale: FullScale::PowerOfTwo,
            code_centre: CodeCentre::Edge,
            samples: 1,
            right_shift: 0,
            shift_rounding: ShiftRounding::Truncate,
        },
        reference_uv: 6_553_000,
        cell: CellRange {
            min_uv: 6_553_100,
            max_uv: 6_553_500,
        },
        unit: OutputUnit::TenthMillivolt,
    });
    let reference = reference.expect("passes every rule");
    assert_eq!(reference.conversion(), Err(ConfigError::Constants));
}

#[test]
fn a_block_of_an_acquisition_takes_its_samples_and_no_shift() {
    let of = |samples, right_shift| {
        BlockSum::of(Acquisition {
            right_shift,
            ..Acquisition::summed(12, samples)
        })
    };
    assert_eq!(of(16, 0), BlockSum::new(16));
    assert_eq!(
        of(12, 0),
        Err(ConfigError::SamplesNotPowerOfTwo { samples: 12 })
    );
    let shifted = ConfigError::WindowMismatch {
        window: 16,
        samples: 16,
        right_shift: 2,
    };
    assert_eq!(of(16, 2), Err(shifted));
}

/// The faults of a line whose window starts late and ends early, at each of its ends.
#[test]
fn counts_beside_a_window_are_told_apart() {
    let constants = LineConstants {
        first: 100,
        counts: 50,
        factor: 1 << 32,
        addend: 0,
        shift: 32,
    };
    let module = divided(Acquisition::single(12))
        .module::<12>(constants)
        .expect("sound");
    let read = |count| module.voltage(Count(count));
    assert_eq!(read(0), Err(Fault::ZeroCount));
    assert_eq!([read(1), read(99)], [Err(Fault::BelowRange); 2]);
    assert_eq!([read(100), read(149)], [Ok(Voltage(0)), Ok(Voltage(49))]);
    assert_eq!([read(150), read(4094)], [Err(Fault::AboveRange); 2]);
    assert_eq!([read(4095), read(u32::MAX)], [Err(Fault::Rail); 2]);
}
