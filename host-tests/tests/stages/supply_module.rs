//! The short form that a chip loads: it takes just the constants that are in that form, and converts as the whole type does.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyvolt::{Count, RecordError, SupplyConversion, SupplyModule};

use super::quotient::{any_constants, reference};

#[test]
fn it_converts_as_the_whole_type_at_every_count() {
    for bits in [8_u8, 10, 12, 14] {
        let mut random = ChaCha8Rng::seed_from_u64(u64::from(bits) + 100);
        let reference = reference(bits);
        let (mut short, mut others) = (0, 0);
        for _ in 0..60 {
            let constants = any_constants(bits.into(), &mut random);
            let Ok(whole) = reference.module(constants) else {
                continue;
            };
            let bytes = reference.record(&whole, 5).encode();
            let loaded: Result<SupplyModule, RecordError> = reference.load(&bytes);
            assert_eq!(loaded.ok(), whole.short());
            let Ok(module) = loaded else {
                assert_eq!(reference.load::<SupplyConversion>(&bytes), Ok(whole));
                others += 1;
                continue;
            };
            assert_eq!(module.constants(), constants);
            for count in (0..=1 << bits).chain([u32::MAX]).map(Count) {
                assert_eq!(module.voltage(count), whole.voltage(count), "{constants:?}");
            }
            short += 1;
        }
        assert!(short >= 8 && others >= 8, "{bits} bits: {short}, {others}");
    }
}
