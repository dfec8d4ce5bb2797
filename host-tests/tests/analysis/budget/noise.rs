//! Noise, dither, and what averaging buys.

use super::{divided, near};
use tallyvolt_analysis::choose::budget::distribution::Distribution;
use tallyvolt_analysis::choose::budget::input::Input;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::noise::{
    averaged, effective_bits, ideal_snr_db, quantisation_rms, stairs_left,
};

/// Signal-to-noise ratio of an ideal converter: 6.02 N + 1.76 dB (ADI MT-001), and the same formula backwards.
#[test]
fn signal_to_noise_ratio() {
    for (bits, decibels) in [
        (8.0, 49.926),
        (10.0, 61.967),
        (12.0, 74.008),
        (14.0, 86.049),
        (16.0, 98.091),
    ] {
        near(ideal_snr_db(bits), decibels, 0.0006);
        near(
            effective_bits(2.0_f64.powf(bits), quantisation_rms()),
            bits,
            1e-9,
        );
    }
    near(quantisation_rms(), 0.288_675, 1e-6);
}

/// Noise of ten steps leaves no stairs at all, and 16 samples a quarter of it: 2.5 steps, and a quarter of 0.2887 beside them. A shift by one
/// drops half of one of 16, evenly.
#[test]
fn uncertainties_of_a_count_add_by_their_squares() {
    let front_end = divided(
        12,
        "noise_rms_lsb = 10; samples = 16; right_shift = 1",
        "microvolts = 1_200_000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let averaged = averaged(&front_end.converter, 1);
    assert_eq!(averaged.stairs, Distribution::Constant);
    let parts: [f64; 3] = [2.5, 0.288_675 / 4.0, 1.0 / 16.0 / 3_f64.sqrt()];
    near(
        averaged.total(),
        parts.map(|part| part * part).iter().sum::<f64>().sqrt(),
        1e-6,
    );
}

/// What dither leaves of the stairs, worked out here by quadrature and by the formula (good from 0.25 steps up).
#[test]
fn stairs_under_noise() {
    for (rms, published) in [
        (0.3, 0.053_866),
        (0.4, 0.013_528),
        (0.5, 0.002_289_2),
        (0.6, 0.000_261_04),
    ] {
        near(stairs_left(rms), published, 0.001 * published);
        let mean_error = |input: f64| {
            let (mut sum, mut weight) = (0.0, 0.0);
            for index in -4000..=4000 {
                let noise = f64::from(index) / 400.0 * rms;
                let density = (-0.5 * (noise / rms).powi(2)).exp();
                sum += density * ((input + noise).round() - input);
                weight += density;
            }
            sum / weight
        };
        let most = (0..100)
            .map(|index| mean_error(f64::from(index) / 100.0).abs())
            .fold(0.0, f64::max);
        near(most, published, 0.003);
    }
}

/// White noise falls by sqrt(samples) where it dithers (Microchip AVR121, ADI MT-001's quantiser noise): a quantiser is
/// simulated sample by sample and held against the rule, and the rule against what it must not promise.
#[test]
fn averaging_law() {
    const SAMPLES: usize = 16;
    let mean_of = |rms: f64| {
        let mut inputs = vec![Input::around_zero(Distribution::Normal { sd: rms }); SAMPLES];
        inputs.push(Input::around_zero(Distribution::rectangular(0.5)));
        let run = Run {
            trials: 200_000,
            seed: 11,
        };
        let model = |x: &[f64], out: &mut [f64]| {
            let (noise, input) = (&x[..SAMPLES], x[SAMPLES]);
            let sum: f64 = noise.iter().map(|noise| (input + noise).round()).sum();
            out[0] = sum / SAMPLES as f64 - input;
        };
        run.go(&inputs, &[], 1, &model, &|_| ()).summaries(&[0])[0].sd
    };
    let rule = |rms: &str, samples: usize| {
        let converter = format!("samples = {samples}; noise_rms_lsb = {rms}");
        let front_end = divided(
            12,
            &converter,
            "microvolts = 1_200_000",
            "top_ohms = 30000; bottom_ohms = 10000",
        );
        tallyvolt_analysis::choose::budget::noise::averaged(&front_end.converter, 1)
    };
    for (rms, value) in [("0.6", 0.6), ("0.8", 0.8), ("1.5", 1.5)] {
        assert!(rule(rms, SAMPLES).dithers);
        near(rule(rms, SAMPLES).total() / mean_of(value), 1.0, 0.01);
        near(rule(rms, 1).total() / rule(rms, SAMPLES).total(), 4.0, 0.01);
    }
    // A noiseless input between two codes gains nothing; dividing by 4 would promise 0.072 steps, truth is 0.289.
    let quiet = rule("0.05", SAMPLES);
    assert!(!quiet.dithers && quiet.said.contains("NOT"));
    assert!(quiet.total() >= mean_of(0.05));
    assert!(mean_of(0.05) > 3.0 * quantisation_rms() / 4.0);
    // Between, the rule may be cautious and must never be hopeful.
    for (rms, value) in [("0.1", 0.1), ("0.3", 0.3), ("0.45", 0.45)] {
        assert!(rule(rms, SAMPLES).total() > mean_of(value));
    }
}
