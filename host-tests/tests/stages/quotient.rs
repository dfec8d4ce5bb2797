//! Quotients: whatever constants are taken, every count is their own rational, rounded to nearest, and no sum wraps.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt::{
    Acquisition, CellRange, Count, Fault, OutputUnit, QuotientConstants, SupplyDescription,
    SupplyReference, Voltage,
};

/// A reference sampled with `bits` bits.
pub fn reference(bits: u8) -> SupplyReference {
    SupplyReference::new(SupplyDescription {
        acquisition: Acquisition::single(bits),
        reference_uv: 1_200_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::Millivolt,
    })
    .expect("the hut's supply reference")
}

/// Constants of either form, a good part of them beyond what can be taken.
pub fn any_constants(bits: u32, random: &mut ChaCha8Rng) -> QuotientConstants {
    let first = random.random_range(1..1_u32 << (bits - 2));
    let counts = random.random_range(1..(1_u32 << bits) - first);
    let room: u32 = if random.random::<bool>() { 16 } else { 28 };
    let step_log2 = random.random_range(1..=(room - bits).clamp(1, 27));
    let at_first = random.random_range(1..1_u32 << (step_log2 + bits - 3)) * 2;
    // The value at the first count is the largest.
    let largest = u64::from(at_first) << 16;
    QuotientConstants {
        first,
        counts,
        numerator: largest / 1000 * random.random_range(1..1100),
        at_first,
        step_log2: u8::try_from(step_log2).expect("at most 27"),
    }
}

/// floor(K / D + 1/2).
pub fn exact(constants: &QuotientConstants, position: u32) -> u64 {
    let denominator = u64::from(constants.at_first) + (u64::from(position) << constants.step_log2);
    (2 * constants.numerator + denominator) / (2 * denominator)
}

#[test]
fn every_count_of_any_constants_is_their_own_rational() {
    for bits in [8_u8, 10, 12, 14] {
        let mut random = ChaCha8Rng::seed_from_u64(bits.into());
        let reference = reference(bits);
        let (mut taken, mut refused) = (0, 0);
        for _ in 0..60 {
            let constants = any_constants(bits.into(), &mut random);
            let Ok(module) = reference.module(constants) else {
                refused += 1;
                continue;
            };
            assert_eq!(module.constants(), constants);
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
        assert!(
            taken >= 20 && refused >= 3,
            "{bits} bits: {taken}, {refused}"
        );
    }
}
