//! What every refusal and every fault says: its values, its unit, and how to put it right.

use std::fmt::Display;

use embedded_storage::nor_flash::NorFlashErrorKind;
use tallyvolt::fixed::types::U8F24;
use tallyvolt::{
    AsDrawn, ConfigError, DividedConversion, Drawn, DrawnSensor, Fault, Field, Fingerprint,
    RecordError, SensorAsDrawn, StoreError, TemperatureFault, Thermistor,
};

/// Each quantity, its name, and the fix of a value beyond its limits.
const FIELDS: [(Field, &str, &str); 16] = [
    (
        Field::Bits,
        "converter bits",
        "give the converter's resolution",
    ),
    (
        Field::Samples,
        "samples in a count",
        "sum fewer, or decimate twice",
    ),
    (
        Field::ExtraBits,
        "extra bits",
        "must be 0 to 5 (4^5 = 1024 samples)",
    ),
    (
        Field::RightShift,
        "right shift",
        "shift less, the bits are wanted",
    ),
    (
        Field::ReferenceUv,
        "reference voltage in microvolts",
        "100 000 to 8 000 000 microvolts: check the unit",
    ),
    (
        Field::Resistance,
        "divider resistance",
        "give both in ohms, or both in a coarser unit",
    ),
    (
        Field::CellUv,
        "cell voltage in microvolts",
        "100 000 to 65 535 000 microvolts: check the unit",
    ),
    (
        Field::CountBits,
        "count bits",
        "8 to 26 bits: give the width of the largest count",
    ),
    (
        Field::Gain,
        "gain",
        "the gain must be 0.5 to 2: measure again",
    ),
    (
        Field::Offset,
        "offset in counts",
        "-4096 to 4096 counts: measure again",
    ),
    (
        Field::TableEntries,
        "entries of the temperature table",
        "16 to 64 entries: build it again",
    ),
    (
        Field::TableStep,
        "base-2 logarithm of the counts between table entries",
        "sum fewer samples for the temperature",
    ),
    (
        Field::TableFraction,
        "fraction bits of the table entries",
        "0 to 6 bits finer than 0.1 degC: build it again",
    ),
    (
        Field::TableCount,
        "count of the first table entry",
        "starts at count 1 or above: build it for this converter",
    ),
    (
        Field::DebounceReadings,
        "consecutive readings of a debounce",
        "1 to 127 readings: 1 reacts at once",
    ),
    (
        Field::LowPass,
        "base-2 logarithm of the low-pass time constant",
        "must be 2^1 to 2^6 readings",
    ),
];

#[test]
fn a_value_beyond_its_limits_is_told_with_quantity_limits_and_fix() {
    for (place, (field, name, fix)) in FIELDS.into_iter().enumerate() {
        let value = 1_000_000 + place as i64;
        // Gains are kept in steps of 2^-24 and offsets in steps of 1/256; a person thinks in neither.
        let step = match field {
            Field::Gain => 1 << 24,
            Field::Offset => 1 << 8,
            _ => 1,
        };
        let error = ConfigError::OutOfBounds {
            field,
            value: value * step,
            min: -7 * step,
            max: 21 * step,
        };
        assert_eq!(
            error.to_string(),
            format!("{name} is {value}, allowed are -7 to 21")
        );
        assert!(error.fix().ends_with(fix), "{name}: {}", error.fix());
    }
    let gain = ConfigError::OutOfBounds {
        field: Field::Gain,
        value: U8F24::lit("0.3").to_bits().into(),
        min: 1 << 23,
        max: 1 << 25,
    };
    assert_eq!(gain.to_string(), "gain is 0.3, allowed are 0.5 to 2");
}

/// Every other refusal: text with its values, and the last words of its fix.
#[test]
fn a_refusal_is_told_with_its_values_and_its_fix() {
    let refusals = [
        (
            ConfigError::SamplesNotPowerOfTwo { samples: 12 },
            "samples in a count is 12, not a power of two",
            "sum to the next power of two",
        ),
        (
            ConfigError::ShiftTooLarge {
                right_shift: 8,
                largest_count: 1,
            },
            "right shift 8 leaves 1 as the largest count, at least 2 is needed",
            "shift less or sum more samples",
        ),
        (
            ConfigError::CellRangeEmpty {
                min_uv: 3_650_000,
                max_uv: 2_000_000,
            },
            "the cell's lowest voltage, 3650000 uV, is not below its highest, 2000000 uV",
            "swap or correct them",
        ),
        (
            ConfigError::CellAboveOutput {
                max_uv: 7_000_000,
                limit_uv: 6_553_500,
            },
            "the fullest cell, 7000000 uV, is above the largest output, 6553500 uV",
            "use the 1 mV output unit",
        ),
        (
            ConfigError::DividerAboveReference {
                pin_uv: 1_300_000,
                reference_uv: 1_225_000,
            },
            "the fullest cell puts 1300000 uV on the converter's pin, above the reference of 1225000 uV",
            "raise the top or lower the bottom resistance",
        ),
        (
            ConfigError::ReferenceNotBelowCell {
                reference_uv: 2_500_000,
                min_uv: 2_000_000,
            },
            "the supply reference, 2500000 uV, is not below the emptiest cell's 2000000 uV",
            "choose a lower reference",
        ),
        (
            ConfigError::TableTurnsBack { index: 5 },
            "the temperature table turns back at entry 5",
            "build the table again",
        ),
        (
            ConfigError::TableCounts {
                first: 512,
                counts: 4000,
                positions: 3840,
            },
            "4000 counts from 512 on do not fit a table over 3840 counts and its wire limits",
            "not pass its last entry: build it again",
        ),
        (
            ConfigError::LimitNotReadable { limit: -5 },
            "no readable value lies on each side of the limit -5 (in steps of the value)",
            "move it, or widen the input's range",
        ),
        (
            ConfigError::WindowMismatch {
                window: 8,
                samples: 16,
                right_shift: 2,
            },
            "a window of 8 samples is not a sum of 16 samples shifted right by 2",
            "describe the sum that is taken",
        ),
        (
            ConfigError::CountsWider {
                largest_count: 4095,
                bits: 10,
            },
            "the largest count, 4095, has more than 10 bits",
            "write DividedConversion<BITS> with the width of the largest count",
        ),
        (
            ConfigError::HysteresisTooLong {
                limit_uv: 4_000_000,
                hysteresis_uv: 5_000_000,
            },
            "with a hysteresis of 5000000 uV no voltage comes back inside the limit of 4000000 uV",
            "shorten the hysteresis, and check its unit",
        ),
        (
            ConfigError::Unproven { shift: 64 },
            "no line with a shift up to 64 is exact",
            "sum fewer samples or change the last digit of a resistance",
        ),
        (
            ConfigError::Constants,
            "module constants that leave no count a voltage, or one beyond the output's range",
            "or draw a circuit in which the output can hold some count",
        ),
    ];
    for (error, text, fix) in refusals {
        assert_eq!(error.to_string(), text);
        assert!(error.fix().ends_with(fix), "{}", error.fix());
    }
}

/// Texts of values that are told apart, so no two may say the same.
fn told(values: &[(&dyn Display, &str)]) {
    for (value, text) in values {
        assert_eq!(value.to_string(), *text);
    }
}

#[test]
fn faults_are_told_apart() {
    told(&[
        (&Fault::ZeroCount, "count zero"),
        (&Fault::Rail, "count at the rail"),
        (&Fault::BelowRange, "voltage below the output range"),
        (&Fault::AboveRange, "voltage above the output range"),
        (&TemperatureFault::OpenCircuit, "sensor open"),
        (&TemperatureFault::ShortCircuit, "sensor shorted"),
        (&TemperatureFault::BelowTable, "colder than the table"),
        (&TemperatureFault::AboveTable, "hotter than the table"),
    ]);
}

#[test]
fn what_is_wrong_with_a_record_or_its_memory_is_told_with_its_values() {
    let made_for = Fingerprint(0x12AB);
    told(&[
        (&RecordError::Unreadable, "the memory cannot be read"),
        (
            &RecordError::Length { bytes: 31 },
            "31 bytes, a record has 32",
        ),
        (&RecordError::Blank, "erased, nothing was written"),
        (
            &RecordError::NotARecord,
            "something other than a calibration record",
        ),
        (
            &RecordError::Version { version: 1 },
            "layout version 1, known is 2",
        ),
        (
            &RecordError::Damaged,
            "damaged: the CRC is not that of the bytes",
        ),
        (
            &RecordError::OtherFrontEnd { made_for },
            "made for another front end, 0x000012ab",
        ),
        (
            &RecordError::Constants,
            "constants that the type of conversion refuses",
        ),
        (
            &StoreError::Misplaced {
                address: 4,
                erase_bytes: 64,
            },
            "address 0x4 is not the start of an erase block of 64 bytes",
        ),
        (
            &StoreError::TooSmall {
                needed: 320,
                capacity: 256,
            },
            "the store ends at byte 320, the memory at 256",
        ),
        (
            &StoreError::NotWritten(RecordError::Blank),
            "the slot is worn, it reads back as: erased, nothing was written",
        ),
    ]);
    let refused = StoreError::Memory(NorFlashErrorKind::Other).to_string();
    assert!(refused.starts_with("the memory refused: "), "{refused}");
}

/// A conversion and a sensor that are types have no memory to show, and ask nothing of the type that draws them: each is its name.
#[test]
fn what_is_a_type_is_shown_by_its_name() {
    struct Neither;
    impl Drawn<12> for Neither {
        const CONVERSION: DividedConversion<12> = unreachable!();
    }
    impl DrawnSensor for Neither {
        const THERMISTOR: Thermistor<'static> = unreachable!();
    }
    let conversion = AsDrawn::<12, Neither>::NEW;
    let sensor = SensorAsDrawn::<Neither>::NEW;
    assert_eq!(
        format!("{conversion:?} {sensor:?}"),
        "AsDrawn SensorAsDrawn"
    );
    assert_eq!(kept(&sensor), sensor);
}

/// What whoever keeps a set-up asks of its parts.
fn kept<T: Clone>(value: &T) -> T {
    value.clone()
}
