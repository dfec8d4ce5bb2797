//! The noise that is found, against the noise that was simulated.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::calibrate::fit::Settings;
use tallyvolt_analysis::calibrate::fit::meter::Meter;
use tallyvolt_analysis::calibrate::fit::noise::NoiseSource;
use tallyvolt_harness::simulated::{self, Truth, even, front_end};
use tallyvolt_model::front_end::FrontEnd;

use super::{DIVIDED, fitted, fitted_with};

/// Readings of modules at voltages that do not repeat from one to the next; a place for each figure of the meter.
fn readings(front_end: &FrontEnd, noise: f64, modules: u32, repeats: u32) -> String {
    let mut random = ChaCha8Rng::seed_from_u64(u64::from(modules) + noise.to_bits());
    let mut text = String::from("module,meter_mv,count\n");
    for module in 0..modules {
        let truth = Truth {
            noise,
            ..simulated::truth(&mut random)
        };
        for voltage in [2000.0, 2400.0, 2800.0, 3200.0, 3600.0] {
            let voltage = voltage + 20.0 * even(&mut random);
            for _ in 0..repeats {
                let mv = voltage + 2.0 * even(&mut random);
                let count = simulated::count(front_end, &truth, mv, &mut random);
                text.push_str(&format!("m{module:05},{mv:.4},{count}\n"));
            }
        }
    }
    text
}

/// A front end whose file states no nonlinearity, which what is left about a line would be taken for.
fn straight(samples: u32) -> FrontEnd {
    let mut front_end = front_end(DIVIDED);
    front_end.converter.accuracy.inl_lsb = None;
    front_end.converter.samples = samples;
    front_end
}

/// Within four standard uncertainties of the figure itself, each 1 / sqrt(2 nu) of it, and twice that where most of the scatter is rounding.
#[test]
fn the_noise_found_is_the_noise_simulated() {
    for (samples, noises) in [(1, &[0.2, 0.5, 3.0][..]), (4, &[0.5, 3.0])] {
        for noise in noises {
            for (modules, repeats, source, degrees) in [
                (150, 3, NoiseSource::Repeats, 150.0 * 10.0),
                (300, 1, NoiseSource::Residuals, 300.0 * 3.0),
            ] {
                let front_end = straight(samples);
                let found =
                    fitted(&readings(&front_end, *noise, modules, repeats), &front_end).noise;
                assert_eq!((found.source, found.degrees), (source, Some(degrees)));
                let ratio = found.steps / noise;
                let allowed = 4.0 / (2.0 * degrees).sqrt() * if *noise < 0.5 { 2.0 } else { 1.0 };
                assert!(
                    (ratio - 1.0).abs() < allowed,
                    "{samples} {noise} {repeats}: {ratio}"
                );
            }
        }
    }
}

/// A coarse meter at a supply that is steady at three voltages of five. What its display rounds is told from noise only where its figure
/// moves, so from a fifth of the scatter on those voltages alone tell the noise; below, all do. The noise is the same.
#[test]
fn a_display_that_rounds_coarsely_is_told_from_noise() {
    const MODULES: u32 = 150;
    let front_end = straight(1);
    // A count is 1.0438 mV: of noise of 2 counts and two fifths of what a figure rounds, the figure makes 16 and 30 %.
    for (resolution_mv, matters) in [(3.0, false), (4.2, true)] {
        let mut random = ChaCha8Rng::seed_from_u64(23);
        let mut text = String::from("module,meter_mv,count\n");
        for module in 0..MODULES {
            let truth = Truth {
                noise: 2.0,
                ..simulated::truth(&mut random)
            };
            for (place, voltage) in [2000.0, 2400.0, 2800.0, 3200.0, 3600.0]
                .into_iter()
                .enumerate()
            {
                let voltage = voltage + 20.0 * even(&mut random);
                for _ in 0..4 {
                    let moved = if place < 2 {
                        7.0 * even(&mut random)
                    } else {
                        0.0
                    };
                    let mv = voltage + moved;
                    let count = simulated::count(&front_end, &truth, mv, &mut random);
                    let shown = (mv / resolution_mv).round() * resolution_mv;
                    text.push_str(&format!("m{module:05},{shown:.4},{count}\n"));
                }
            }
        }
        let settings = Settings {
            meter: Meter {
                resolution_mv,
                ..Settings::default().meter
            },
            ..Settings::default()
        };
        let found = fitted_with(&text, &front_end, &settings).noise;
        let (degrees, all) = (found.degrees.expect("repeats"), f64::from(MODULES) * 15.0);
        if matters {
            assert!((0.35..=0.4).contains(&(degrees / all)), "{degrees}");
        } else {
            assert_eq!(degrees, all);
        }
        let ratio = found.steps / 2.0;
        assert!(
            (ratio - 1.0).abs() < 4.0 / (2.0 * degrees).sqrt(),
            "{resolution_mv}: {ratio}"
        );
    }
}
