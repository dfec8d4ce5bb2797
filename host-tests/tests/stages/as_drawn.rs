//! A drawing as a type: at every count what its conversion answers.

use tallyvolt::{
    Acquisition, AsDrawn, CellRange, Count, DividedConversion, DividedDescription, DividedInput,
    Drawn, OutputUnit, proven,
};

const fn input(acquisition: Acquisition, unit: OutputUnit) -> DividedInput {
    match DividedInput::new(DividedDescription {
        acquisition,
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit,
    }) {
        Ok(input) => input,
        Err(_) => panic!(),
    }
}

const MV: OutputUnit = OutputUnit::Millivolt;

struct Ten;
impl Drawn<10> for Ten {
    const CONVERSION: DividedConversion<10> =
        proven!(input(Acquisition::single(10), MV).conversion());
}

struct Twelve;
impl Drawn<12> for Twelve {
    const CONVERSION: DividedConversion<12> =
        proven!(input(Acquisition::single(12), MV).conversion());
}

/// In steps that only the long form holds.
struct Fine;
impl Drawn<12> for Fine {
    const CONVERSION: DividedConversion<12> =
        proven!(input(Acquisition::single(12), OutputUnit::TenthMillivolt).conversion());
}

struct Sixteen;
impl Drawn<16> for Sixteen {
    const CONVERSION: DividedConversion<16> =
        proven!(input(Acquisition::summed(12, 16), MV).conversion());
}

/// Whose constants have digits in all three bytes behind the point.
struct Finest;
impl Drawn<16> for Finest {
    const CONVERSION: DividedConversion<16> =
        proven!(input(Acquisition::single(16), OutputUnit::TenthMillivolt).conversion());
}

struct Wide;
impl Drawn<26> for Wide {
    const CONVERSION: DividedConversion<26> =
        proven!(input(Acquisition::summed(16, 16), MV).conversion());
}

/// Counts compared: every one up to the rail and beyond.
fn compared<const BITS: u32, D: Drawn<BITS>>() -> u32 {
    let rail = D::CONVERSION.window().rail().0;
    let drawn = AsDrawn::<BITS, D>::NEW;
    for count in (0..=rail + 2).chain([u32::MAX - 1, u32::MAX]).map(Count) {
        assert_eq!(
            drawn.voltage(count),
            D::CONVERSION.voltage(count),
            "{count:?}"
        );
    }
    assert_eq!(drawn.window(), D::CONVERSION.window());
    rail
}

#[test]
fn every_count_is_that_of_the_constant() {
    assert_eq!(compared::<10, Ten>(), 1023);
    assert_eq!(compared::<12, Twelve>(), 4095);
    assert_eq!(compared::<12, Fine>(), 4095);
    assert_eq!(Fine::CONVERSION.short(), None);
    assert_eq!(compared::<16, Sixteen>(), 65_520);
    assert_eq!(compared::<16, Finest>(), 65_535);
    assert_eq!(Finest::CONVERSION.constants().shift, 24);
    assert_eq!(compared::<26, Wide>(), 1_048_560);
}
