//! Lines: whatever constants are taken, every count is their own rational, rounded down after B's half, and no sum wraps.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt::{
    Acquisition, CellRange, Count, DividedConversion, DividedDescription, DividedInput, Fault,
    LineConstants, OutputUnit, Voltage,
};

/// An input whose largest count is `2^bits - 1`.
pub fn input(bits: u8) -> DividedInput {
    DividedInput::new(DividedDescription {
        acquisition: Acquisition::single(bits),
        reference_uv: 1_225_000,
        top_ohms: 24_900,
        bottom_ohms: 10_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::Millivolt,
    })
    .expect("the hut's divider")
}

/// Constants of any form of `bits` bits, a good part of them beyond what can be taken.
pub fn any_constants(bits: u32, random: &mut ChaCha8Rng) -> LineConstants {
    let (shift, width) = if random.random::<bool>() {
        (bits + 3, 16)
    } else {
        (32, 48)
    };
    let first = random.random_range(1..1_u32 << (bits - 2));
    let counts = random.random_range(1..(1_u32 << bits) - first);
    // Near the largest factor that leaves the last value in 16 bits, on either side.
    let largest = (65_536_u128 << shift) / u128::from(counts);
    let factor =
        (largest * u128::from(random.random_range(1..1400_u32)) / 1000).min((1 << width) - 1);
    let addend = random.random_range(0..1_u128 << (shift + 12)) % (1 << (width + 16));
    LineConstants {
        first,
        counts,
        factor,
        addend,
        shift: u8::try_from(shift).expect("at most 32"),
    }
}

/// The exact value of constants, rounded as firmware promises.
pub fn exact(constants: &LineConstants, position: u32) -> u128 {
    (constants.factor * u128::from(position) + constants.addend) >> constants.shift
}

/// Compares every count of random constants; how many were taken and refused.
fn swept<const BITS: u32>(seed: u64) -> (u32, u32) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let input = input(u8::try_from(BITS).expect("at most 16"));
    let (mut taken, mut refused) = (0, 0);
    for _ in 0..60 {
        let constants = any_constants(BITS, &mut random);
        let module: DividedConversion<BITS> = match input.module(constants) {
            Ok(module) => module,
            Err(_) => {
                // A value of 16 bits or a word is what is lacking.
                refused += 1;
                continue;
            }
        };
        assert_eq!(module.constants(), constants);
        assert!(exact(&constants, constants.counts - 1) < 1 << 16);
        for position in 0..constants.counts {
            let units = u16::try_from(exact(&constants, position)).expect("16 bits");
            let count = Count(constants.first + position);
            assert_eq!(module.voltage(count), Ok(Voltage(units)), "{constants:?}");
        }
        for count in [0, constants.first - 1, constants.first + constants.counts] {
            assert!(
                module.voltage(Count(count)).is_err(),
                "{count} {constants:?}"
            );
        }
        assert_eq!(module.voltage(Count(u32::MAX)), Err(Fault::Rail));
        taken += 1;
    }
    (taken, refused)
}

#[test]
fn every_count_of_any_constants_is_their_own_rational() {
    let of = [
        swept::<8>(8),
        swept::<10>(10),
        swept::<12>(12),
        swept::<14>(14),
        swept::<16>(16),
    ];
    for (taken, refused) in of {
        assert!(taken >= 20 && refused >= 3, "{of:?}");
    }
}
