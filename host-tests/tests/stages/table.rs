//! Interpolation in tables of any shape, against the exact fraction.

use proptest::prelude::*;
use tallyvolt::{ConfigError, Table};
use tallyvolt_model::table::{nearest_ties_up, tenths};

/// Entries that fall or rise, of any size and fineness.
pub fn tables() -> impl Strategy<Value = (Vec<i16>, u8, u8)> {
    let steep = prop::collection::vec(0_i32..=2000, 16..=64);
    let flat = prop::collection::vec(0_i32..=2, 16..=64);
    let entries = (prop_oneof![steep, flat], -30_000_i32..30_000, any::<bool>()).prop_map(
        |(steps, start, falls)| {
            let mut entry = start;
            let mut entries: Vec<i16> = steps
                .iter()
                .map(|step| {
                    entry = (entry + step).clamp(i16::MIN.into(), i16::MAX.into());
                    i16::try_from(entry).expect("clamped")
                })
                .collect();
            if falls {
                entries.reverse();
            }
            entries
        },
    );
    (entries, 0_u8..=14, 0_u8..=6)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// The core's interpolation is the exactly rounded fraction, monotonic, and takes any position.
    #[test]
    fn interpolation_equals_the_exact_fraction(
        (entries, step_log2, fraction_bits) in tables(),
        positions in prop::collection::vec(any::<u32>(), 40),
    ) {
        let table = match Table::new(&entries, step_log2, fraction_bits) {
            Ok(table) => table,
            Err(error) => {
                prop_assert_eq!(error, ConfigError::TableTurnsBack { index: 0 });
                prop_assert_eq!(entries.first(), entries.last());
                return Ok(());
            }
        };
        let mut inside: Vec<u32> = positions.iter().map(|position| position % table.positions()).collect();
        inside.sort_unstable();
        let answers: Vec<i16> = inside.iter().map(|position| table.at(*position).0).collect();
        for (position, answer) in inside.iter().zip(&answers) {
            let exact = tenths(&entries, 1 << step_log2, 1 << fraction_bits, *position).expect("inside");
            prop_assert_eq!(nearest_ties_up(exact), i64::from(*answer), "position {}", position);
        }
        let keeps_order = if table.rises() {
            answers.is_sorted()
        } else {
            answers.iter().rev().is_sorted()
        };
        prop_assert!(keeps_order);
        let beyond = table.at(table.positions());
        for position in positions {
            let answer = table.at(position);
            prop_assert!(position < table.positions() || answer == beyond);
        }
    }
}

#[test]
fn a_table_tells_what_it_was_made_of() {
    let rising: Vec<i16> = (0..20).map(|place| place * 7 - 30).collect();
    let table = Table::new(&rising, 9, 3).expect("rises");
    assert_eq!(
        (table.entries(), table.step_log2(), table.fraction_bits()),
        (&rising[..], 9, 3)
    );
    assert_eq!((table.positions(), table.rises()), (19 << 9, true));
    // All alike is no direction; neither is one that turns.
    assert_eq!(
        Table::new(&[5; 16], 9, 3),
        Err(ConfigError::TableTurnsBack { index: 0 })
    );
    let mut turned = rising.clone();
    turned[7] = turned[6] - 1;
    assert_eq!(
        Table::new(&turned, 9, 3),
        Err(ConfigError::TableTurnsBack { index: 7 })
    );
}
