//! The worst case against boards: no board within its limits errs more, whether its parts are drawn or stand in corners.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::choose::budget::combine::combine;
use tallyvolt_analysis::choose::budget::quantity::{Place, Quantity, SLOTS};
use tallyvolt_analysis::choose::budget::reading::{State, Temperature};
use tallyvolt_analysis::choose::budget::terms::Terms;
use tallyvolt_model::front_end::FrontEnd;

use super::{CELL, described, shipped};

/// Boards drawn for each front end.
const BOARDS: usize = 100_000;
/// What an end may be passed by, in millivolts: rounding of double precision.
const ROUNDING_MV: f64 = 1e-6;

/// Front ends with every term stated, in both topologies, with what pushes second-order terms: wide tolerances.
fn wide() -> [FrontEnd; 2] {
    let accuracy = "bits = 12; offset_lsb = 8; gain_lsb = 8; inl_lsb = 4; noise_rms_lsb = 1; leakage_na = 500; samples = 4; \
                    right_shift = 1";
    let bench = [
        (
            "environment",
            "calibrated_at_c = 15; min_c = -40; max_c = 85",
        ),
        (
            "meter",
            "reading_ppm = 2000; range_ppm = 500; range_mv = 6000",
        ),
        ("calibration", "points = 2; low_mv = 2700; high_mv = 4000"),
    ];
    let with = |topology: &str, own: &[(&str, &str)]| {
        let mut tables = vec![CELL, ("converter", accuracy)];
        tables.extend(own);
        tables.extend(bench);
        described(topology, &tables)
    };
    [
        with(
            "divided-input",
            &[
                (
                    "reference",
                    "microvolts = 1_100_000; tolerance_ppm = 50000; tempco_ppm_per_k = 300; ageing_ppm = 2000",
                ),
                (
                    "divider",
                    "top_ohms = 47000; bottom_ohms = 14700; tolerance_ppm = 50000; tempco_ppm_per_k = 200",
                ),
            ],
        ),
        with(
            "supply-reference",
            &[(
                "reference",
                "microvolts = 1_200_000; tolerance_ppm = 50000; tempco_ppm_per_k = 300; ageing_ppm = 2000",
            )],
        ),
    ]
}

fn every() -> Vec<FrontEnd> {
    let mut every = shipped();
    every.extend(wide());
    every
}

/// Ends of every output, as the budget states them.
fn stated(terms: &Terms) -> Vec<(f64, f64)> {
    let model = |values: &[f64], errors: &mut [f64]| terms.circuit.errors_mv(values, errors);
    let outputs = terms.circuit.outputs();
    combine(&terms.inputs, &terms.correlations, outputs, &model)
        .iter()
        .map(|first| first.worst)
        .collect()
}

fn inside(front_end: &FrontEnd, ends: &[(f64, f64)], errors: &[f64], how: &str) {
    for (output, ((low, high), error)) in ends.iter().zip(errors).enumerate() {
        assert!(
            low - ROUNDING_MV <= *error && *error <= high + ROUNDING_MV,
            "{}: {how} at output {output} errs by {error} mV, stated are {low} to {high}",
            front_end.name
        );
    }
}

fn terms(front_end: &FrontEnd) -> Terms {
    let cell = &front_end.cell;
    let sites = [cell.min_uv, cell.nominal_uv, cell.max_uv].map(|uv| f64::from(uv) / 1000.0);
    Terms::of(front_end, sites.to_vec())
}

#[test]
fn no_board_errs_more_than_the_worst_case() {
    for front_end in every() {
        let terms = terms(&front_end);
        let ends = stated(&terms);
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let mut errors = vec![0.0; terms.circuit.outputs()];
        let mut values = vec![0.0; SLOTS];
        for board in 0..BOARDS {
            for (value, input) in values.iter_mut().zip(&terms.inputs) {
                let drawn = 2.0 * rng.random::<f64>() - 1.0;
                // One board in two has its parts in corners of their limits.
                let part = if board % 2 == 0 {
                    drawn
                } else {
                    drawn.signum()
                };
                *value = part * input.distribution.worst();
            }
            terms.circuit.errors_mv(&values, &mut errors);
            inside(&front_end, &ends, &errors, "a board");
        }
    }
}

/// Every corner of the terms that do not simply add: what one reading adds in steps moves together, by its very formula.
#[test]
fn no_corner_errs_more_than_the_worst_case() {
    for front_end in every() {
        let terms = terms(&front_end);
        let ends = stated(&terms);
        let places = [
            Place::Reading,
            Place::AtPoint,
            Place::LowPoint,
            Place::HighPoint,
        ];
        let mut groups: Vec<Vec<usize>> = (0..Quantity::Nonlinearity(Place::Reading).slot())
            .map(|slot| vec![slot])
            .collect();
        groups.extend(places.map(|place| {
            [
                Quantity::Nonlinearity(place),
                Quantity::Noise(place),
                Quantity::Quantisation(place),
                Quantity::Dither(place),
                Quantity::Shift(place),
            ]
            .map(Quantity::slot)
            .to_vec()
        }));
        groups.retain(|group| {
            let moves = |slot: &usize| terms.inputs[*slot].distribution.worst() > 0.0;
            group.iter().any(moves)
        });
        assert!((8..=18).contains(&groups.len()));
        let mut errors = vec![0.0; terms.circuit.outputs()];
        let mut values = vec![0.0; SLOTS];
        for corner in 0..1_u32 << groups.len() {
            for (place, group) in groups.iter().enumerate() {
                let sign = if corner >> place & 1 == 1 { 1.0 } else { -1.0 };
                for slot in group {
                    values[*slot] = sign * terms.inputs[*slot].distribution.worst();
                }
            }
            terms.circuit.errors_mv(&values, &mut errors);
            inside(&front_end, &ends, &errors, "a corner");
        }
    }
}

/// Candidate B after two points, over the range, at 3650 mV: a board within its limits errs by +28.56 mV. First-order signs
/// alone gave +27.98.
#[test]
fn candidate_b_after_two_points() {
    let front_end = shipped().swap_remove(1);
    assert_eq!(front_end.name, "hut-b-supply-12bit");
    let terms = terms(&front_end);
    let output = terms.circuit.output(State::TwoPoint, Temperature::Range, 2);
    let (_, high) = stated(&terms)[output];
    assert!((28.56..28.7).contains(&high), "{high}");
}
