//! Exact data, order of rows, and any rows at all.

use super::truths::exact_mv;
use super::{DIVIDED, SUPPLY, fit_of, fitted, parsed};
use proptest::prelude::*;
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::calibrate::fit::mode::Mode;
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_analysis::calibrate::fit::{Settings, fit};
use tallyvolt_harness::simulated::{self, Truth, front_end};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Exact readings give back gain and offset, and constants within a twentieth of a step of that curve.
    #[test]
    fn exact_data_gives_the_exact_calibration(gain in 16_700_000_u32..16_850_000, offset in -500_i32..500, which in 0..4_usize) {
        let (name, counts) = [
            (DIVIDED, [1930_u32, 2600, 3430]),
            ("hut-divided-16bit", [30_000, 40_000, 55_000]),
            (SUPPLY, [1400, 2000, 2440]),
            ("hut-supply-12bit-x16", [22_000, 30_000, 39_000]),
        ][which];
        let front_end = front_end(name);
        let transfer = Transfer::new(&front_end).expect("legal");
        let truth = Truth { gain: f64::from(gain) / 16_777_216.0, offset: f64::from(offset) / 256.0, noise: 0.0 };
        let mut text = String::from("module,meter_mv,count\n");
        for count in counts {
            text.push_str(&format!("a,{:.12},{count}\n", exact_mv(&transfer, &truth, count)));
        }
        let batch = fitted(&text, &front_end);
        let fit = fit_of(&batch.modules[0]);
        prop_assert!((fit.gain - truth.gain).abs() < 2e-9, "{}", fit.gain);
        prop_assert!((fit.offset - truth.offset).abs() < 1e-4, "{}", fit.offset);
        let stored = fit.stored.expect("storable");
        prop_assert!(stored.distance_mv <= transfer.unit_mv / 20.0);
        prop_assert_eq!(stored.swept, u64::from(transfer.largest) + 1);
    }

    /// The order of rows changes nothing, to the last bit.
    #[test]
    fn the_order_of_rows_does_not_matter(seed: u64, repeats in 1..4_u32) {
        let front_end = front_end(DIVIDED);
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let text = simulated::batch(&front_end, 1, repeats, seed);
        let (header, rows) = text.split_once('\n').expect("a header");
        let mut rows: Vec<&str> = rows.lines().collect();
        let first = fitted(&text, &front_end);
        rows.shuffle(&mut random);
        let second = fitted(&format!("{header}\n{}\n", rows.join("\n")), &front_end);
        let (first, second) = (fit_of(&first.modules[0]), fit_of(&second.modules[0]));
        prop_assert_eq!(first.gain.to_bits(), second.gain.to_bits());
        prop_assert_eq!(first.offset.to_bits(), second.offset.to_bits());
        prop_assert_eq!(first.reading, second.reading);
        prop_assert_eq!(first.uncertainty, second.uncertainty);
    }

    /// Any text is a batch, bad rows, or a refused header; nothing panics.
    #[test]
    fn any_rows_are_taken_or_refused(rows in prop::collection::vec("[a-c],(0|1|2000|3200|3.3e3|-1|nan|)?,(0|1|2000|3065|4095|4096|x)?", 0..30)) {
        let text = format!("module,meter_mv,count\n{}\n", rows.join("\n"));
        for name in [DIVIDED, SUPPLY] {
            let front_end = front_end(name);
            let readings = parsed(&text, &front_end);
            for mode in [None, Some(Mode::GainOnly), Some(Mode::GainAndOffset)] {
                let batch = fit(&front_end, &readings, &Settings { mode, ..Settings::default() }, &|_| {}).expect("legal");
                prop_assert_eq!(batch.modules.len(), readings.modules.len());
            }
        }
    }
}
