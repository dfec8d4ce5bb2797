//! A module with a table of reciprocals answers as the one without. Where a core has the table, simulators compare every count, and
//! `proof_tests/reciprocal.rs` of the library has the proof.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyvolt::{
    AlarmRule, CellConversion, ChannelLimits, ChannelSetup, Count, Fault, LimitSide, Microvolts,
    Plausibility, SupplyModule, TabledSupplyModule, Thermistor, VoltageLimits,
};

use super::quotient::{any_constants, reference};

/// Modules of any constants in the short form.
fn modules(bits: u8) -> Vec<SupplyModule> {
    let mut random = ChaCha8Rng::seed_from_u64(u64::from(bits) + 300);
    let reference = reference(bits);
    let constants = (0..60).map(|_| any_constants(bits.into(), &mut random));
    let wholes = constants.filter_map(|constants| reference.module(constants).ok());
    wholes.filter_map(|whole| whole.short()).collect()
}

#[test]
fn it_converts_as_the_plain_module_at_every_count() {
    for bits in [8_u8, 10, 12, 14] {
        let modules = modules(bits);
        assert!(modules.len() >= 8, "{bits} bits: {}", modules.len());
        for plain in modules {
            let tabled = plain.with_table();
            assert_eq!(tabled.plain(), plain);
            assert_eq!(
                (tabled.window(), tabled.summing(), tabled.unit()),
                (plain.window(), plain.summing(), plain.unit())
            );
            for count in (0..=1 << bits).chain([u32::MAX]) {
                let voltage = tabled.voltage(Count(count));
                assert_eq!(voltage, plain.voltage(Count(count)), "{plain:?}");
                let units = TabledSupplyModule::units(count, &tabled);
                assert_eq!(units, voltage.map_or(u32::MAX, |voltage| voltage.0.into()));
            }
        }
    }
}

/// What code over any conversion gets of it, in words.
fn told<C: CellConversion + VoltageLimits>(conversion: &C) -> String {
    let rule = AlarmRule {
        readings: 2,
        latching: false,
    };
    let [upper, lower] = [3650, 2500].map(Microvolts::from_mv);
    let faults = [
        Fault::ZeroCount,
        Fault::AboveRange,
        Fault::BelowRange,
        Fault::Rail,
    ];
    let voltages = (0..4100).map(|count| conversion.voltage(Count(count)));
    format!(
        "{:?} {:?} {:?} {:?} {:?} {:?}",
        conversion.window(),
        conversion.summing(),
        faults.map(|fault| conversion.reference_lost(fault, true)),
        conversion.count_limit(LimitSide::Under, lower),
        conversion.limit(LimitSide::Over, upper, Microvolts::from_mv(50), rule),
        voltages.collect::<Vec<_>>()
    )
}

#[test]
fn it_stands_where_a_plain_module_stands() {
    for plain in modules(12) {
        assert_eq!(told(&plain.with_table()), told(&plain));
    }
    let plain = *modules(12).first().expect("some are short");
    let setup: ChannelSetup<TabledSupplyModule, Thermistor<'static>> = ChannelSetup {
        conversion: plain.with_table(),
        thermistor: None,
        limits: ChannelLimits::NONE,
        plausibility: Plausibility::NONE,
        calibrated: true,
    };
    assert!(setup.for_window::<1>().is_ok());
    assert!(setup.for_window::<16>().is_err());
}
