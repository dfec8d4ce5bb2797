//! The trials alone: draws with the moments of their distributions, summaries worked out from few values, shares of known laws.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::distribution::Distribution;
use tallyvolt_analysis::choose::budget::input::{Correlation, Input};
use tallyvolt_analysis::choose::budget::monte_carlo::{Run, Trials};
use tallyvolt_analysis::choose::budget::reading::State;

use super::{FEW, RUN, described, divided, near};

fn trials(distribution: Distribution, run: Run) -> Trials {
    let model = |values: &[f64], out: &mut [f64]| out.copy_from_slice(&[values[0], 7.0]);
    run.go(&[Input::around_zero(distribution)], &[], 2, &model, &|_| ())
}

/// Standard deviation and the share within one half-width or standard deviation, of 200,000 draws: GUM 4.3 and 4.4, JCGM 101, 6.4; t by
/// the table of NIST/SEMATECH e-Handbook, 1.3.6.7.2 (5 degrees of freedom: 1.476 is the 90 % point).
#[test]
fn draws_have_the_moments_of_their_distributions() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    for (distribution, variance, bound, share) in [
        (Distribution::Rectangular { half: 3.0 }, 3.0, 1.5, 0.5),
        (Distribution::Arcsine { half: 3.0 }, 4.5, 1.5, 1.0 / 3.0),
        (Distribution::Normal { sd: 3.0 }, 9.0, 3.0, 0.6827),
        (
            Distribution::StudentT { sd: 3.0, dof: 5.0 },
            15.0,
            4.428,
            0.8,
        ),
    ] {
        let draws: Vec<f64> = (0..200_000).map(|_| distribution.draw(&mut rng)).collect();
        let count = draws.len() as f64;
        let found = draws.iter().map(|draw| draw * draw).sum::<f64>() / count;
        near(found / variance, 1.0, 0.03);
        let within = draws.iter().filter(|draw| draw.abs() <= bound).count();
        near(within as f64 / count, share, 0.005);
    }
}

/// A term in words, with the standard uncertainty of its distribution.
#[test]
fn terms_are_told_with_their_distributions() {
    let front_end = divided(
        12,
        "samples = 16; noise_rms_lsb = 0.6; noise_readings = 6",
        "microvolts = 1_200_000; tolerance_ppm = 9000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let made = budget(&front_end, FEW, &|_| ());
    // exp(-2 pi^2 0.6^2) / pi, worked out by hand.
    let stairs = 2.611e-4;
    for (label, value, distribution, standard) in [
        (
            "reference tolerance",
            9000.0,
            "rectangular",
            9000.0 / 3.0_f64.sqrt(),
        ),
        ("noise", 0.15, "t, 5 dof", 0.15),
        ("quantisation", 0.072_17, "normal", 0.072_17),
        (
            "stairs left by dither",
            stairs,
            "arcsine",
            stairs / 2.0_f64.sqrt(),
        ),
    ] {
        let term = made.terms.iter().find(|term| term.term == label).unwrap();
        near(term.value / value, 1.0, 1e-3);
        assert_eq!(term.distribution, distribution);
        near(term.standard_uncertainty / standard, 1.0, 1e-3);
    }
    let without = divided(
        12,
        "noise_rms_lsb = 0",
        "microvolts = 1_200_000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let labels = budget(&without, FEW, &|_| ())
        .terms
        .into_iter()
        .map(|term| term.term);
    assert_eq!(
        labels
            .filter(|label| !label.contains("calibration"))
            .collect::<Vec<_>>(),
        ["quantisation", "output rounding", "module constants"]
    );
}

/// Two trials: mean, standard deviation and interval by hand. A value that never varies is neither below itself nor beside itself.
#[test]
fn a_summary_of_two_values() {
    let two = trials(Distribution::Normal { sd: 1.0 }, Run { trials: 2, seed: 3 });
    let (low, high) = (two.ranked(0, 0), two.ranked(0, 1));
    assert!(low < high && two.ranked(0, 99) == high && two.trials() == 2);
    let [found, constant] = two.summaries(&[0, 1])[..] else {
        panic!("two")
    };
    near(found.mean, (low + high) / 2.0, 1e-12);
    near(found.sd, (high - low) / 2.0_f64.sqrt(), 1e-12);
    assert_eq!((constant.mean, constant.sd), (7.0, 0.0));
    assert_eq!(
        (two.share_below(1, 7.0), two.share_below(1, 7.1)),
        (0.0, 1.0)
    );
    assert_eq!(two.share_below(0, high), 0.5);
    assert!(
        Trials::ranked(
            &trials(Distribution::Constant, Run { trials: 0, seed: 3 }),
            0,
            0
        )
        .is_nan()
    );
}

/// What chance alone moves an interval's end by, against the ends of forty runs.
#[test]
fn the_error_of_an_end_is_what_chance_moves_it_by() {
    let runs: Vec<_> = (0..40)
        .map(|seed| {
            let run = Run { trials: 8000, seed };
            trials(Distribution::Normal { sd: 1.0 }, run).summaries(&[0])[0]
        })
        .collect();
    let ends: Vec<f64> = runs.iter().map(|run| run.low.abs().max(run.high)).collect();
    let count = ends.len() as f64;
    let mean = ends.iter().sum::<f64>() / count;
    let spread = (ends.iter().map(|end| (end - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
    let stated = runs.iter().map(|run| run.end_error).sum::<f64>() / count;
    // A part of a run is smaller than the run, so the two agree only roughly.
    near(stated / spread, 1.0, 0.35);
}

/// A reference off by up to 1 %, all alike, and nothing else: the share of boards within an error at the fullest cell, 42 mV wide.
#[test]
fn shares_of_boards_of_a_known_law() {
    let made = |asks: &str| {
        let cell =
            format!("chemistry = \"NMC\"; min_mv = 2500; nominal_mv = 3500; max_mv = 4200; {asks}");
        let front_end = described(
            "supply-reference",
            &[
                ("cell", &cell),
                ("converter", "bits = 16"),
                ("reference", "microvolts = 1_200_000; tolerance_ppm = 10000"),
            ],
        );
        budget(&front_end, RUN, &|_| ()).yields
    };
    let yields = made("max_error_mv = 7");
    assert_eq!(
        yields.errors_mv,
        [1.0, 2.0, 5.0, 7.0, 10.0, 20.0, 50.0, 100.0]
    );
    for error_mv in [5.0, 7.0, 10.0, 20.0, 50.0, 100.0] {
        let (share, error) = yields.share(State::Uncalibrated, error_mv).unwrap();
        let expected = (error_mv / 42.0_f64).min(1.0);
        near(share, expected, 0.01);
        near(error, (share * (1.0 - share) / 50_000.0).sqrt(), 1e-9);
        assert_eq!(yields.share(State::TwoPoint, error_mv), Some((1.0, 0.0)));
    }
    assert_eq!(yields.share(State::Uncalibrated, 3.0), None);
    assert_eq!(yields.rows.len(), 3);
    assert!(
        yields
            .rows
            .iter()
            .all(|row| row.trials == 50_000 && row.shares.len() == 8)
    );
    assert_eq!(
        made("max_error_mv = 10").errors_mv,
        [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0]
    );
}

/// A divider of equal resistors, off by up to 5 % or 0.1 %: a class of its own for each tolerance but the file's.
#[test]
fn shares_of_boards_by_class_of_resistor() {
    let front_end = divided(
        16,
        "",
        "microvolts = 2_400_000",
        "top_ohms = 10000; bottom_ohms = 10000; tolerance_ppm = 5000",
    );
    let yields = budget(&front_end, RUN, &|_| ()).yields;
    let classes: Vec<_> = yields
        .rows
        .iter()
        .step_by(3)
        .map(|row| row.resistors_ppm)
        .collect();
    assert_eq!(classes, [None, Some(1000), Some(10_000), Some(50_000)]);
    // The difference of two rectangles is a triangle: within e of 2 a / 2 = 4200 a with the share 1 - (1 - e / 4200 a)^2.
    for (row, part) in [(0, 0.005), (3, 0.001), (6, 0.01), (9, 0.05)] {
        let row = &yields.rows[row];
        assert_eq!(
            row.trials,
            if row.resistors_ppm.is_none() {
                50_000
            } else {
                20_000
            }
        );
        for (error_mv, share) in yields.errors_mv.iter().zip(&row.shares).skip(2) {
            let beyond = (1.0 - error_mv / (4200.0 * part)).max(0.0);
            near(*share, 1.0 - beyond * beyond, 0.03);
        }
    }
}

/// Two resistors that go together: each keeps its own limits, estimate and variance, and their product has the mean of the coefficient.
#[test]
fn draws_that_go_together() {
    let input = |estimate: f64, half: f64| Input {
        estimate,
        distribution: Distribution::Rectangular { half },
    };
    let inputs = [input(10.0, 3.0), input(-20.0, 2.0)];
    let model = |values: &[f64], out: &mut [f64]| {
        let (one, other) = (values[0] - 10.0, values[1] + 20.0);
        out.copy_from_slice(&[one, other, one * other]);
    };
    for coefficient in [0.8, -0.5, 1.0] {
        let together = Correlation {
            one: 0,
            other: 1,
            coefficient,
        };
        let trials = RUN.go(&inputs, &[together], 3, &model, &|_| ());
        for (output, half) in [(0, 3.0), (1, 2.0)] {
            let found = trials.summaries(&[output])[0];
            near(found.mean, 0.0, 0.03);
            near(found.sd / (half / 3.0_f64.sqrt()), 1.0, 0.01);
            let (least, most) = (trials.ranked(output, 0), trials.ranked(output, 49_999));
            assert!((-half..-0.99 * half).contains(&least) && (0.99 * half..=half).contains(&most));
        }
        // Covariance of rectangles: the coefficient times 3 * 2 / 3.
        near(trials.summaries(&[2])[0].mean, 2.0 * coefficient, 0.04);
    }
}

/// What samples do to noise and quantisation, said in a note, and what a shift drops.
#[test]
fn samples_are_told_as_they_are_counted() {
    let note = |converter: &str| {
        let front_end = divided(
            12,
            converter,
            "microvolts = 1_200_000",
            "top_ohms = 30000; bottom_ohms = 10000",
        );
        let made = budget(&front_end, FEW, &|_| ());
        let shift = made.terms.iter().find(|term| term.term == "right shift");
        (
            made.notes.last().unwrap().clone(),
            shift.map(|term| term.value),
            made.dithers,
        )
    };
    let (said, shift, dithers) = note("noise_rms_lsb = 0.6");
    assert!(
        said.starts_with("one sample a count:") && shift.is_none() && dithers,
        "{said}"
    );
    let (said, shift, _) = note("samples = 16; right_shift = 4");
    assert!(
        said.starts_with("16 samples gain nothing that can be promised"),
        "{said}"
    );
    // 2^4 / 16 steps of a sample, half of that either way.
    assert_eq!(shift, Some(0.5));
    let (said, shift, dithers) = note("samples = 16; right_shift = 2; noise_rms_lsb = 0.5");
    assert!(
        said.ends_with("16 samples divide it and the quantisation by 4.000"),
        "{said}"
    );
    assert_eq!((shift, dithers), (Some(0.125), true));
    let (said, _, dithers) = note("samples = 16; noise_rms_lsb = 0.49");
    assert!(
        said.ends_with("16 samples are counted as one") && !dithers,
        "{said}"
    );
}
