//! Worst case, standard uncertainty and trials together; drift.

use super::{RUN, at, described, divided, near, shipped};
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::reading::{State, Temperature};
use tallyvolt_analysis::choose::budget::{TRIALS, budget};

/// The same seed gives the same figures on any number of threads; another seed gives others.
#[test]
fn the_same_seed_on_any_number_of_threads() {
    let front_end = &shipped()[2];
    let on = |threads: usize, seed| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        let run = Run {
            trials: 30_001,
            seed,
        };
        serde_json::to_string(&pool.install(|| budget(front_end, run, &|_| ()))).unwrap()
    };
    let one = on(1, 4);
    assert_eq!(one, on(2, 4));
    assert_eq!(one, on(5, 4));
    assert_ne!(one, on(2, 5));
}

/// First order and trials agree on the standard uncertainty, and no trial lies outside the worst case of bounded terms.
#[test]
fn three_totals_agree_where_they_must() {
    for front_end in shipped() {
        let made = budget(
            &front_end,
            Run {
                trials: TRIALS,
                seed: 1,
            },
            &|_| (),
        );
        assert!(made.meets, "{}: {:?}", made.name, made.findings);
        for state in &made.states {
            for total in &state.totals {
                near(total.sd_mv / total.combined_mv, 1.0, 0.015);
                assert!(
                    total.worst_mv[0] < total.interval_mv[0]
                        && total.interval_mv[1] < total.worst_mv[1]
                );
                assert!(
                    total.agree == total.trust.starts_with("either"),
                    "{}",
                    total.trust
                );
            }
        }
        let contributions = |state: &tallyvolt_analysis::choose::budget::found::StateRow,
                             site: usize| {
            let squares = state
                .contributions
                .iter()
                .map(|part| part.contribution_mv[site].powi(2));
            squares.sum::<f64>().sqrt()
        };
        for state in &made.states {
            for (site, total) in state.totals.iter().enumerate() {
                near(contributions(state, site) / total.combined_mv, 1.0, 1e-9);
            }
        }
    }
}

/// Noise known from few readings: t with their degrees of freedom in the trials, and a coverage factor above 2.
#[test]
fn few_degrees_of_freedom() {
    let front_end = divided(
        12,
        "noise_rms_lsb = 8; noise_readings = 6",
        "microvolts = 1_200_000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let made = budget(&front_end, RUN, &|_| ());
    let total = at(&made, State::Uncalibrated, Temperature::Calibration, 1);
    near(total.effective_dof.unwrap(), 5.0, 0.1);
    // Student's t, 95 %, 5 degrees of freedom: 2.57 (GUM table G.2).
    near(total.coverage_factor, 2.57, 0.005);
    assert!(
        !total.agree && total.trust.contains("degrees of freedom"),
        "{}",
        total.trust
    );
    near(total.interval_mv[1] / total.expanded_mv, 1.0, 0.05);
}

/// A box says nothing about where the change happens: after a calibration the whole of it is still ahead.
#[test]
fn drift_by_box_and_by_slope() {
    let with = |drift: &str| {
        let reference =
            format!("microvolts = 2_500_000; tempco_ppm_per_k = 10; drift = \"{drift}\"");
        let front_end = described(
            "divided-input",
            &[
                (
                    "cell",
                    "chemistry = \"any\"; min_mv = 2000; nominal_mv = 2500; max_mv = 4200",
                ),
                ("converter", "bits = 16"),
                ("reference", &reference),
                ("divider", "top_ohms = 10000; bottom_ohms = 10000"),
                (
                    "environment",
                    "calibrated_at_c = 25; min_c = -40; max_c = 125",
                ),
            ],
        );
        let made = budget(&front_end, RUN, &|_| ());
        let worst = |state, temperature| {
            made.state(state, temperature).unwrap().contributions[0].worst_mv[1]
        };
        assert!(made.terms[0].term == "reference drift");
        (
            worst(State::TwoPoint, Temperature::Calibration),
            worst(State::TwoPoint, Temperature::Range),
        )
    };
    // 2.5 V, 10 ppm/K, -40 to 125 degC: a box of 4.125 mV; by slope 100 K from 25 degC, 2.5 mV. Worked out by hand.
    let (bench, range) = with("box");
    near(bench, 0.0, 1e-6);
    near(range, 4.125, 0.001);
    near(with("slope").1, 2.5, 0.001);
}
