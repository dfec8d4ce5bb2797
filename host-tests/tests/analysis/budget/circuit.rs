//! Dividers, references and converters: what a deviation of each does.

use super::{CELL, RUN, at, described, divided, near, shipped};
use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::distribution::Distribution;
use tallyvolt_analysis::choose::budget::input::Input;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::quantity::{Quantity, SLOTS};
use tallyvolt_analysis::choose::budget::reading::{State, Temperature};
use tallyvolt_analysis::choose::budget::terms::Terms;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::whole;

/// A published worked divider: 3.3 V over 20k/10k with 1 % parts, 1.1 V nominal, corners 1.1147 V and 1.0854 V (one guide
/// to dividers, which rounds them to 1.115 and 1.086).
#[test]
fn corners_of_a_divider() {
    let front_end = described(
        "divided-input",
        &[
            (
                "cell",
                "chemistry = \"any\"; min_mv = 3000; nominal_mv = 3300; max_mv = 3600",
            ),
            ("converter", "bits = 16"),
            ("reference", "microvolts = 1_300_000"),
            (
                "divider",
                "top_ohms = 20000; bottom_ohms = 10000; tolerance_ppm = 10000",
            ),
        ],
    );
    let terms = Terms::of(&front_end, vec![3300.0]);
    let corner = |top: f64, bottom: f64| {
        let mut values = [0.0; SLOTS];
        values[Quantity::TopTolerance.slot()] = top;
        values[Quantity::BottomTolerance.slot()] = bottom;
        let mut errors = vec![0.0; terms.circuit.outputs()];
        terms.circuit.errors_mv(&values, &mut errors);
        // Firmware multiplies the pin's voltage by 3.
        (3300.0 + errors[0]) / 3.0
    };
    near(corner(-10_000.0, 10_000.0), 1114.7, 0.05);
    near(corner(10_000.0, -10_000.0), 1085.4, 0.15);
    let made = budget(&front_end, RUN, &|_| ());
    let total = at(&made, State::Uncalibrated, Temperature::Calibration, 1);
    let half_step = 0.5 * 3.0 * 1300.0 / 65_536.0 + 0.5;
    near(
        (3300.0 + total.worst_mv[1] - half_step) / 3.0,
        corner(-10_000.0, 10_000.0),
        0.001,
    );
}

/// Worst case of the ratio, exact corners for 1 % parts by k = bottom / (top + bottom): worked out by hand.
#[test]
fn ratio_error_by_ratio() {
    for (top, bottom, high, low) in [
        (30_000, 10_000, 1.5075, -1.4925),
        (20_000, 10_000, 1.3378, -1.3289),
        (20_000, 30_000, 0.7984, -0.8016),
        (10_000, 20_000, 0.6645, -0.6689),
    ] {
        let divider = format!("top_ohms = {top}; bottom_ohms = {bottom}; tolerance_ppm = 10000");
        let front_end = divided(16, "", "microvolts = 5_000_000", &divider);
        let terms = Terms::of(&front_end, vec![1000.0]);
        let mut errors = vec![0.0; terms.circuit.outputs()];
        let mut values = [0.0; SLOTS];
        for (sign, percent) in [(1.0, high), (-1.0, low)] {
            values[Quantity::TopTolerance.slot()] = -sign * 10_000.0;
            values[Quantity::BottomTolerance.slot()] = sign * 10_000.0;
            terms.circuit.errors_mv(&values, &mut errors);
            near(errors[0] / 10.0, percent, 0.0002);
        }
    }
}

/// Two uniform tolerances give a triangle: 75 % of units within half of its peak, half of them within 29.29 % (theory;
/// Circuit Cellar EQ 159, answer 8).
#[test]
fn two_tolerances_make_a_triangle() {
    let half = Input::around_zero(Distribution::rectangular(0.5));
    let run = Run {
        trials: 1_000_000,
        seed: 2,
    };
    let model = |x: &[f64], out: &mut [f64]| out[0] = (x[0] + x[1]).abs();
    let made = run.go(&[half, half], &[], 1, &model, &|_| ());
    near(made.share_below(0, 0.5), 0.75, 0.002);
    near(made.share_below(0, 1.0 - 0.5_f64.sqrt()), 0.5, 0.002);
}

/// Fully correlated resistors leave the ratio alone; half correlated ones halve its variance.
#[test]
fn correlated_resistors() {
    let ratio_alone = |correlation: &str| {
        let divider = format!(
            "top_ohms = 30000; bottom_ohms = 10000; tolerance_ppm = 5000; correlation = {correlation}"
        );
        let made = budget(
            &divided(16, "", "microvolts = 1_200_000", &divider),
            RUN,
            &|_| (),
        );
        let total = at(&made, State::Uncalibrated, Temperature::Calibration, 1).clone();
        let rest = 0.5_f64.powi(2) / 3.0 + (4.8e3 / 65_536.0 / 2.0_f64).powi(2) / 3.0;
        near(total.sd_mv, total.combined_mv, 0.02 * total.combined_mv);
        ((total.combined_mv.powi(2) - rest).max(0.0), total.worst())
    };
    let (apart, half, together) = (ratio_alone("0"), ratio_alone("0.5"), ratio_alone("1"));
    // sqrt(2) (1 - k) t / sqrt(3) of 3.5 V with k = 1/4.
    near(
        apart.0.sqrt(),
        3500.0 * 2.0_f64.sqrt() * 0.75 * 0.005 / 3.0_f64.sqrt(),
        0.01,
    );
    near(half.0 / apart.0, 0.5, 1e-3);
    near(together.0, 0.0, 1e-3);
    assert!(together.1 < 1.0 && half.1 > 25.0);
}

/// With every deviation at zero nothing is off; with any deviations of the board, a two-point calibration takes out all of
/// it at the bench's temperature, in both topologies.
#[test]
fn calibration_takes_out_the_board() {
    for front_end in shipped() {
        let sites = vec![1900.0, 2500.0, 3200.0, 3650.0];
        let terms = Terms::of(&front_end, sites.clone());
        let mut errors = vec![f64::NAN; terms.circuit.outputs()];
        terms.circuit.errors_mv(&[0.0; SLOTS], &mut errors);
        assert!(errors.iter().all(|error| error.abs() < 1e-9), "{errors:?}");
        let mut values = [0.0; SLOTS];
        for (quantity, value) in [
            (Quantity::ReferenceTolerance, 9000.0),
            (Quantity::ReferenceDrift, -80.0),
            (Quantity::TopTolerance, -900.0),
            (Quantity::BottomTolerance, 700.0),
            (Quantity::TopDrift, 20.0),
            (Quantity::ConverterOffset, 1.7),
            (Quantity::ConverterGain, -1.3),
        ] {
            values[quantity.slot()] = value;
        }
        terms.circuit.errors_mv(&values, &mut errors);
        let error =
            |state, temperature, site| errors[terms.circuit.output(state, temperature, site)];
        for site in 0..sites.len() {
            assert!(error(State::Uncalibrated, Temperature::Calibration, site).abs() > 5.0);
            assert!(error(State::TwoPoint, Temperature::Calibration, site).abs() < 1e-9);
            assert!(error(State::TwoPoint, Temperature::Range, site).abs() > 1.0);
        }
        // One point is right where it was taken, and only there.
        assert!(error(State::OnePoint, Temperature::Calibration, 2).abs() < 1e-9);
        assert!(error(State::OnePoint, Temperature::Calibration, 0).abs() > 0.1);
    }
}

/// Common practice, no source: a 0.5 % reference alone moves a 3.5 V reading by 17.5 mV, in either topology.
#[test]
fn half_a_percent_of_reference() {
    let reference = "microvolts = 1_200_000; tolerance_ppm = 5000";
    let front_ends = [
        divided(12, "", reference, "top_ohms = 30000; bottom_ohms = 10000"),
        described(
            "supply-reference",
            &[CELL, ("converter", "bits = 12"), ("reference", reference)],
        ),
    ];
    for front_end in front_ends {
        let made = budget(&front_end, RUN, &|_| ());
        assert_eq!(made.terms[0].term, "reference tolerance");
        let state = made
            .state(State::Uncalibrated, Temperature::Calibration)
            .unwrap();
        near(state.contributions[0].worst_mv[1], 17.5, 0.01);
    }
}

/// Common practice, no source: what the usual front ends step.
#[test]
fn steps_of_usual_front_ends() {
    let ten_bit = divided(
        10,
        "",
        "microvolts = 1_100_000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let step = |front_end: &FrontEnd, mv: u32| {
        let model = Model::new(front_end, CalibrationModel::identity());
        tallyvolt_model::rational::float(&model.step_uv(&whole(mv * 1000))) / 1000.0
    };
    near(step(&ten_bit, 3500), 4.0, 0.5);
    let supply = described(
        "supply-reference",
        &[
            CELL,
            ("converter", "bits = 12"),
            ("reference", "microvolts = 1_250_000"),
        ],
    );
    assert!((2.0..3.0).contains(&step(&supply, 3500)));
    // In this topology quantisation grows with the square of the voltage.
    let made = budget(&supply, RUN, &|_| ());
    let index = made
        .terms
        .iter()
        .position(|term| term.term == "quantisation")
        .unwrap();
    let state = made
        .state(State::Uncalibrated, Temperature::Calibration)
        .unwrap();
    let [low, _, high] = state.contributions[index].contribution_mv;
    near(high / low, (4200.0_f64 / 2500.0).powi(2), 1e-3);
}
