//! The short form that a chip loads: it takes just the constants that are in that form, and converts as the whole type does.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyvolt::{Count, DividedConversion, DividedModule, RecordError};

use super::line::{any_constants, input};

fn compared<const BITS: u32>(seed: u64) -> (u32, u32) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let input = input(u8::try_from(BITS).expect("at most 16"));
    let (mut short, mut others) = (0, 0);
    for _ in 0..60 {
        let constants = any_constants(BITS, &mut random);
        let Ok(whole) = input.module::<BITS>(constants) else {
            continue;
        };
        let bytes = input.record(&whole, 5).encode();
        let loaded: Result<DividedModule<BITS>, RecordError> = input.load(&bytes);
        assert_eq!(loaded.ok(), whole.short());
        let Ok(module) = loaded else {
            // Constants of the long form are not for it, and the whole type takes them.
            assert_eq!(u32::from(constants.shift), 32, "{constants:?}");
            assert_eq!(input.load::<DividedConversion<BITS>>(&bytes), Ok(whole));
            others += 1;
            continue;
        };
        assert_eq!(module.constants(), constants);
        for count in (0..=1 << BITS).chain([u32::MAX]).map(Count) {
            assert_eq!(module.voltage(count), whole.voltage(count), "{constants:?}");
        }
        short += 1;
    }
    (short, others)
}

#[test]
fn it_converts_as_the_whole_type_at_every_count() {
    let of = [
        compared::<8>(108),
        compared::<10>(110),
        compared::<12>(112),
        compared::<16>(116),
    ];
    for (short, others) in of {
        assert!(short >= 8 && others >= 8, "{of:?}");
    }
}
