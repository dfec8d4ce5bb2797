//! The statistics of a budget against published worked examples: GUM (JCGM 100), JCGM 101, JCGM 106.

use std::path::Path;

use statrs::distribution::{ContinuousCDF, Normal};
use tallyvolt_analysis::choose::budget::combine::{
    combine, coverage_factor, effective_dof, one_sided_factor,
};
use tallyvolt_analysis::choose::budget::distribution::Distribution;
use tallyvolt_analysis::choose::budget::input::{Correlation, Input};
use tallyvolt_analysis::choose::budget::monte_carlo::{Run, Summary};
use tallyvolt_analysis::choose::budget::thresholds::guard_band;

fn near(found: f64, published: f64, within: f64) {
    assert!(
        (found - published).abs() <= within,
        "found {found}, published {published} within {within}"
    );
}

fn input(estimate: f64, distribution: Distribution) -> Input {
    Input {
        estimate,
        distribution,
    }
}

fn normal(estimate: f64, sd: f64) -> Input {
    input(estimate, Distribution::Normal { sd })
}

fn rectangular(estimate: f64, half: f64) -> Input {
    input(estimate, Distribution::Rectangular { half })
}

fn known_from(estimate: f64, sd: f64, dof: f64) -> Input {
    input(estimate, Distribution::StudentT { sd, dof })
}

fn trials(inputs: &[Input], trials: usize, model: impl Fn(&[f64]) -> f64 + Sync) -> Summary {
    let run = Run { trials, seed: 20 };
    let model = |values: &[f64], out: &mut [f64]| out[0] = model(values);
    run.go(inputs, &[], 1, &model, &|_| ()).summaries(&[0])[0]
}

/// GUM 4.3.7 example 2 and 5.1.5: a digital voltmeter reads 0.928571 V with 12 uV of scatter and limits of error of 14 ppm
/// of the reading and 2 ppm of its range of 1 V.
#[test]
fn gum_digital_voltmeter() {
    let limit = 14e-6 * 0.928_571 + 2e-6 * 1.0;
    near(limit, 15e-6, 0.05e-6);
    let inputs = [normal(0.928_571, 12e-6), rectangular(0.0, limit)];
    let model = |x: &[f64], out: &mut [f64]| out[0] = x[0] + x[1];
    let voltage = &combine(&inputs, &[], 1, &model)[0];
    near(voltage.contributions[1], 8.7e-6, 0.05e-6);
    near(voltage.combined, 14.80e-6, 0.01e-6);
    near(voltage.combined / voltage.estimate, 16e-6, 0.5e-6);
}

/// GUM H.1: calibration of an end gauge, expanded uncertainty at 99 % with 16 effective degrees of freedom.
#[test]
fn gum_h1_end_gauge() {
    let inputs = [
        known_from(50_000_623.0, 25.0, 18.0),
        known_from(215.0, 5.8, 24.0),
        known_from(0.0, 3.9, 5.0),
        known_from(0.0, 6.7, 8.0),
        rectangular(11.5e-6, 2e-6),
        known_from(0.0, 1e-6 / 3.0_f64.sqrt(), 50.0),
        known_from(0.0, 0.05 / 3.0_f64.sqrt(), 2.0),
        normal(-0.1, 0.2),
        input(0.0, Distribution::Arcsine { half: 0.5 }),
    ];
    let model = |x: &[f64], out: &mut [f64]| {
        let (standard, difference) = (x[0], x[1] + x[2] + x[3]);
        let (alpha, delta_alpha, delta_theta, theta) = (x[4], x[5], x[6], x[7] + x[8]);
        out[0] = standard + difference - standard * (delta_alpha * theta + alpha * delta_theta);
    };
    let length = &combine(&inputs, &[], 1, &model)[0];
    near(length.estimate, 50_000_838.0, 0.5);
    near(length.combined, 31.66, 0.02);
    near(length.dof, 16.75, 0.05);
    let k99 = coverage_factor(0.99, length.dof);
    near(k99, 2.92, 0.005);
    near(k99 * length.combined, 93.0, 0.6);
}

/// GUM H.2: resistance and reactance from five simultaneous, correlated observations.
#[test]
fn gum_h2_correlated_inputs() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/published/gum_h2.csv");
    let mut columns: [Vec<f64>; 3] = Default::default();
    for row in csv::Reader::from_path(path)
        .expect("the published data is there")
        .deserialize()
    {
        let (_, volts, milliamperes, phase): (u32, f64, f64, f64) = row.expect("four columns");
        for (column, value) in columns
            .iter_mut()
            .zip([volts, milliamperes / 1000.0, phase])
        {
            column.push(value);
        }
    }
    let count = 5.0;
    let means = columns
        .each_ref()
        .map(|column| column.iter().sum::<f64>() / count);
    let covariance = |one: usize, other: usize| {
        let pairs = columns[one].iter().zip(&columns[other]);
        let products = pairs.map(|(a, b)| (a - means[one]) * (b - means[other]));
        products.sum::<f64>() / (count * (count - 1.0))
    };
    let sd = [0, 1, 2].map(|index| covariance(index, index).sqrt());
    let correlations = [(0, 1), (0, 2), (1, 2)].map(|(one, other)| Correlation {
        one,
        other,
        coefficient: covariance(one, other) / (sd[one] * sd[other]),
    });
    for (pair, published) in correlations.iter().zip([-0.36, 0.86, -0.65]) {
        near(pair.coefficient, published, 0.006);
    }
    let inputs = [0, 1, 2].map(|index| normal(means[index], sd[index]));
    let model = |x: &[f64], out: &mut [f64]| {
        let impedance = x[0] / x[1];
        out.copy_from_slice(&[impedance * x[2].cos(), impedance * x[2].sin(), impedance]);
    };
    let found = combine(&inputs, &correlations, 3, &model);
    for (quantity, (value, u)) in
        found
            .iter()
            .zip([(127.732, 0.071), (219.847, 0.295), (254.260, 0.236)])
    {
        near(quantity.estimate, value, 0.0006);
        near(quantity.combined, u, 0.0006);
    }
    // The control: without the correlations the resistance would look nearly three times as uncertain.
    let without = combine(&inputs, &[], 3, &model);
    assert!(without[0].combined > 2.0 * found[0].combined);
}

/// Suncal's published test of the Welch-Satterthwaite formula: 0.57 (9 degrees) and 0.25 (infinitely many) give 12.8.
#[test]
fn effective_degrees_of_freedom() {
    let combined = 0.57_f64.hypot(0.25);
    near(
        effective_dof(combined, [(0.57, 9.0), (0.25, f64::INFINITY)]),
        12.8,
        0.05,
    );
    assert!(effective_dof(1.0, [(1.0, f64::INFINITY)]).is_infinite());
}

/// GUM table G.2, t for 95 % and 99 %; and the way to normal without a jump.
#[test]
fn students_t() {
    for (dof, t95, t99) in [
        (1.0, 12.71, 63.66),
        (2.0, 4.30, 9.92),
        (5.0, 2.57, 4.03),
        (10.0, 2.23, 3.17),
        (20.0, 2.09, 2.85),
        (50.0, 2.01, 2.68),
        (100.0, 1.984, 2.626),
        (f64::INFINITY, 1.960, 2.576),
    ] {
        near(coverage_factor(0.95, dof), t95, 0.005);
        near(coverage_factor(0.99, dof), t99, 0.006);
    }
    for probability in [0.5, 0.9, 0.975, 0.999, 0.999_999] {
        let mut before = f64::INFINITY;
        let mut dof = 1.0;
        while dof < 1e15 {
            let factor = one_sided_factor(probability, dof);
            assert!(factor <= before + 1e-9, "{probability} {dof}");
            // Cornish-Fisher: t = z + (z^3 + z) / 4 nu + ..
            let z = one_sided_factor(probability, f64::INFINITY);
            if dof >= 1000.0 {
                let expected = z + (z.powi(3) + z) / (4.0 * dof.floor());
                near(factor, expected, 6.5e-4 * z + 1e-9);
            }
            before = factor;
            dof *= 1.7;
        }
    }
}

/// JCGM 101, 9.2.2: four standard normal quantities.
#[test]
fn jcgm_101_sum_of_normals() {
    let found = trials(&[normal(0.0, 1.0); 4], 1_000_000, |x| x.iter().sum());
    near(found.mean, 0.0, 0.01);
    near(found.sd, 2.00, 0.01);
    near(found.low, -3.92, 0.04);
    near(found.high, 3.92, 0.04);
    near(found.high - found.low, 2.0 * 3.92, 0.02);
}

/// JCGM 101, 9.2.3: four rectangular quantities of the same standard deviation; exactly 2 sqrt 3 (2 - 0.6^(1/4)) = 3.879.
#[test]
fn jcgm_101_sum_of_rectangulars() {
    let inputs = [rectangular(0.0, 3.0_f64.sqrt()); 4];
    let found = trials(&inputs, 1_000_000, |x| x.iter().sum());
    near(found.sd, 2.00, 0.01);
    near((found.high - found.low) / 2.0, 3.88, 0.012);
    let exact = 2.0 * 3.0_f64.sqrt() * (2.0 - 0.6_f64.powf(0.25));
    near(exact, 3.879_407, 1e-6);
    // The GUM's own way says 3.92, and here that is wrong.
    let model = |x: &[f64], out: &mut [f64]| out[0] = x.iter().sum();
    let first = &combine(&inputs, &[], 1, &model)[0];
    near(
        coverage_factor(0.95, first.dof) * first.combined,
        3.92,
        0.001,
    );
}

/// The interval's ends are the order statistics that a full sort finds, also for values that are all alike or few.
#[test]
fn shortest_interval_by_full_sort() {
    let shapes: [fn(f64) -> f64; 4] = [|x| x, |x| x.exp(), |x| x.round(), |_| 1.0];
    for shape in shapes {
        for trials in [5_000, 5_123] {
            let run = Run { trials, seed: 8 };
            let model = |x: &[f64], out: &mut [f64]| out[0] = shape(x[0]);
            let made = run.go(&[normal(0.0, 1.0)], &[], 1, &model, &|_| ());
            let ranked: Vec<f64> = (0..trials).map(|rank| made.ranked(0, rank)).collect();
            let inside = (0.95 * trials as f64).round() as usize;
            let width = |start: usize| ranked[start + inside] - ranked[start];
            let shortest = (0..trials - inside)
                .map(width)
                .fold(f64::INFINITY, f64::min);
            let found = made.summaries(&[0])[0];
            assert_eq!(found.high - found.low, shortest);
        }
    }
}

/// JCGM 101, 9.3: mass calibration, where the first order misses a third of the uncertainty.
#[test]
fn jcgm_101_mass_calibration() {
    let inputs = [
        normal(100_000.000, 0.050),
        normal(1.234, 0.020),
        rectangular(1.20, 0.10),
        rectangular(8000.0, 1000.0),
        rectangular(8000.0, 50.0),
    ];
    let model =
        |x: &[f64]| (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 100_000.0;
    let first = &combine(&inputs, &[], 1, &|x: &[f64], out: &mut [f64]| {
        out[0] = model(x)
    })[0];
    near(first.estimate, 1.2340, 5e-5);
    near(first.combined, 0.0539, 5e-5);
    let found = trials(&inputs, 1_000_000, model);
    near(found.mean, 1.2341, 4e-4);
    near(found.sd, 0.0754, 3e-4);
    near(found.low, 1.0834, 0.004);
    near(found.high, 1.3825, 0.004);
}

/// JCGM 106, table 1: one-sided factors for a conformance probability.
#[test]
fn jcgm_106_one_sided_factors() {
    for (probability, printed, digits) in [
        (0.80, 0.84, 0.841_621),
        (0.90, 1.28, 1.281_552),
        (0.95, 1.64, 1.644_854),
        (0.99, 2.33, 2.326_348),
        (0.999, 3.09, 3.090_232),
    ] {
        let factor = one_sided_factor(probability, f64::INFINITY);
        near(factor, printed, 0.0051);
        near(factor, digits, 1e-6);
    }
}

/// Probability that the true value lies at or below `limit` when `measured` was read with a normal standard uncertainty
/// (JCGM 106, 7.3.1); for a lower limit, exchange the first two.
fn conformance(measured: f64, limit: f64, uncertainty: f64) -> f64 {
    Normal::standard().cdf((limit - measured) / uncertainty)
}

/// JCGM 106, clause 7: conformance probabilities of a Zener diode, a container and an engine oil.
#[test]
fn jcgm_106_conformance_probabilities() {
    near(conformance(-5.47, -5.40, 0.05), 0.92, 0.005);
    near(conformance(490.0, 509.7, 8.6), 0.99, 0.005);
    let oil = conformance(13.6, 16.3, 1.8) - conformance(13.6, 12.5, 1.8);
    near(oil, 0.66, 0.005);
}

/// JCGM 106, 8.3: a guard band of one expanded uncertainty, speed limits, and nandrolone with 9 degrees of freedom.
#[test]
fn jcgm_106_guard_bands() {
    near(guard_band(1.0, f64::INFINITY, 0.022_750), 2.0, 1e-4);
    let factor = guard_band(0.02, f64::INFINITY, 0.001);
    near(100.0 / (1.0 - factor), 107.0, 0.5);
    near(100.0 / (1.0 - factor), 106.587, 0.001);
    near(one_sided_factor(0.95, 9.0), 1.833_113, 1e-5);
    near(guard_band(0.20, 9.0, 0.05), 0.37, 0.005);
    near(2.0 + guard_band(0.20, 9.0, 0.05), 2.37, 0.005);
}

/// JCGM 106, 9.5.3: resistors of 1500 ohm +-0.2, process 0.12, measured with 0.04, accepted within +-0.18: a consumer's
/// risk of 1 % (0.00988) and a producer's risk of 7 % (0.0690).
#[test]
fn jcgm_106_risks_of_resistors() {
    let inputs = [normal(1500.0, 0.12), normal(0.0, 0.04)];
    let model = |x: &[f64], out: &mut [f64]| {
        let good = (x[0] - 1500.0).abs() <= 0.2;
        let accepted = (x[0] + x[1] - 1500.0).abs() <= 0.18;
        let as_number = |is: bool| if is { 1.0 } else { 0.0 };
        out.copy_from_slice(&[
            as_number(good),
            as_number(!good && accepted),
            as_number(good && !accepted),
        ]);
    };
    let run = Run {
        trials: 1_000_000,
        seed: 5,
    };
    let shares = run
        .go(&inputs, &[], 3, &model, &|_| ())
        .summaries(&[0, 1, 2]);
    near(shares[0].mean, 0.904_42, 0.0012);
    near(shares[1].mean, 0.009_878, 0.0004);
    near(shares[2].mean, 0.069_027, 0.0010);
}

/// ILAC-G8:09/2019, guard bands in expanded uncertainties and the false acceptance at the limit that they leave.
#[test]
fn ilac_g8_guard_bands() {
    for (part_of_u, published, exact) in [
        (0.83, 0.05, 0.048_46),
        (1.0, 0.025, 0.022_75),
        (1.5, 0.0016, 0.001_35),
    ] {
        let miss = 1.0 - conformance(0.0, 2.0 * part_of_u, 1.0);
        assert!(miss < published);
        near(miss, exact, 1e-5);
    }
}

/// Two rectangular inputs drawn together have the coefficient that was asked for, and stay rectangular.
#[test]
fn correlated_trials_have_the_stated_coefficient() {
    let inputs = [rectangular(0.0, 2.0), rectangular(1.0, 3.0)];
    for coefficient in [0.25, 0.5, 0.9, 1.0] {
        let pair = [Correlation {
            one: 0,
            other: 1,
            coefficient,
        }];
        let run = Run {
            trials: 400_000,
            seed: 3,
        };
        let model = |x: &[f64], out: &mut [f64]| {
            out.copy_from_slice(&[
                x[0] / 2.0,
                (x[1] - 1.0) / 3.0,
                x[0] / 2.0 - (x[1] - 1.0) / 3.0,
            ]);
        };
        let made = run.go(&inputs, &pair, 3, &model, &|_| ());
        let found = made.summaries(&[0, 1, 2]);
        near(found[0].sd, 1.0 / 3.0_f64.sqrt(), 0.002);
        near(found[1].sd, 1.0 / 3.0_f64.sqrt(), 0.002);
        near(made.share_below(1, -0.5), 0.25, 0.003);
        let first = &combine(&inputs, &pair, 3, &model)[2];
        near(found[2].sd, first.combined, 0.003);
        near(
            first.combined,
            (2.0 / 3.0 * (1.0 - coefficient)).sqrt(),
            1e-6,
        );
    }
}
