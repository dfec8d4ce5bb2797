//! What a budget says of its own totals: which of k = 2 and the trials to trust, which terms belong to the bench, which cell
//! is a healthy one.

use super::{CELL, FEW, RUN, at, described, divided, near};
use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::found::Total;
use tallyvolt_analysis::choose::budget::reading::{State, Temperature};

/// Nominal cell, uncalibrated, at the bench; `low_side` of 40 kOhm is below the tap.
fn uncalibrated(low_side: u32, noise: &str, reference: &str, divider: &str) -> Total {
    // Full scale at 4.8 V.
    let reference = format!("microvolts = {}; {reference}", low_side * 120);
    let top = 40_000 - low_side;
    let divider = format!("top_ohms = {top}; bottom_ohms = {low_side}; {divider}");
    let made = budget(&divided(12, noise, &reference, &divider), RUN, &|_| ());
    at(&made, State::Uncalibrated, Temperature::Calibration, 1).clone()
}

/// An end further from k = 2 than a twentieth is a disagreement, whichever end it is. A divider bends upwards where its lower
/// resistor is the smaller one, else downwards; noise draws both ends to where k = 2 has them, a flat term draws both in.
#[test]
fn both_ends_of_an_interval_are_compared() {
    let mut seen = [0; 4];
    for (low_side, noise, ppm, reference) in [
        (10_000, 32, 1000, 0),
        (10_000, 1, 1000, 20_000),
        (10_000, 100, 200_000, 0),
        (30_000, 100, 200_000, 0),
    ] {
        let total = uncalibrated(
            low_side,
            &format!("noise_rms_lsb = {noise}"),
            &format!("tolerance_ppm = {reference}"),
            &format!("tolerance_ppm = {ppm}"),
        );
        let twice = total.twice_combined_mv;
        assert_eq!(twice, 2.0 * total.combined_mv);
        let [low, high] = total.interval_mv;
        let near = [low / twice + 1.0, high / twice - 1.0].map(|off| off.abs() <= 0.05);
        assert_eq!(total.agree, near == [true; 2], "{total:?}");
        seen[usize::from(near[0]) + 2 * usize::from(near[1])] += 1;
    }
    assert_eq!(seen, [1; 4]);
}

/// Why they differ: a flat term that is the largest, noise known from few readings, a model that bends.
#[test]
fn each_reason_is_said_where_it_holds() {
    let resistors = "tolerance_ppm = 1000";
    let flat = uncalibrated(
        10_000,
        "noise_rms_lsb = 1",
        "tolerance_ppm = 20000",
        resistors,
    );
    // 95 % of a rectangle are 1.645 standard deviations.
    let half = (flat.interval_mv[1] - flat.interval_mv[0]) / 2.0;
    near(half / flat.combined_mv, 1.645, 0.03);
    assert_eq!(
        flat.trust,
        "Monte Carlo: the largest term, reference tolerance, is rectangular, and k = 2 counts tails that it does not have"
    );
    let noise = "noise_rms_lsb = 8; noise_readings = 6";
    let few = uncalibrated(10_000, noise, "", "");
    // Student's t, 95 %, 5 degrees of freedom: 2.57 (GUM table G.2).
    assert_eq!(
        few.trust,
        "Monte Carlo, or k = 2.57: 5 degrees of freedom are too few for k = 2"
    );
    // Noise is the largest; or a tolerance is, of resistors so far off that the interval is the longer one.
    for (low_side, noise, ppm) in [(30_000, 100, 200_000), (2_000, 1, 500_000)] {
        let noise = format!("noise_rms_lsb = {noise}");
        let resistors = format!("tolerance_ppm = {ppm}");
        let bent = uncalibrated(low_side, &noise, "tolerance_ppm = 0", &resistors);
        assert!(
            bent.trust.starts_with("Monte Carlo: the model bends"),
            "{}",
            bent.trust
        );
    }
}

/// Terms of a calibration's own readings are told from those of a reading in use.
#[test]
fn terms_of_the_bench_are_marked() {
    let front_end = divided(
        12,
        "noise_rms_lsb = 1; inl_lsb = 1",
        "microvolts = 1_200_000; tolerance_ppm = 5000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let terms = budget(&front_end, FEW, &|_| ()).terms;
    for term in &terms {
        assert_eq!(
            term.on_bench,
            term.term.contains(", calibration at "),
            "{}",
            term.term
        );
    }
    assert_eq!(terms.iter().filter(|term| term.on_bench).count(), 9);
}

/// A healthy cell stands at the end of its own range where a limit lies beyond that end, else at its nominal voltage; how often it
/// alarms is counted there.
#[test]
fn a_healthy_cell_is_within_its_limits() {
    let healthy = |over: u32, under: u32| {
        let limits =
            format!("meaning = \"reading\"; over_voltage_mv = {over}; under_voltage_mv = {under}");
        let front_end = described(
            "supply-reference",
            &[
                CELL,
                ("converter", "bits = 12"),
                ("reference", "microvolts = 1_200_000; tolerance_ppm = 10000"),
                ("limits", &limits),
            ],
        );
        let made = budget(&front_end, RUN, &|_| ());
        made.guard_bands[0]
            .alarms
            .iter()
            .map(|alarm| (alarm.healthy_mv, alarm.false_alarms))
            .collect::<Vec<_>>()
    };
    let inside = healthy(4200, 2500);
    assert_eq!(inside, [(3500.0, 0.0); 2]);
    let [(upper, above), (lower, below)] = healthy(4201, 2499)[..] else {
        panic!("two limits")
    };
    assert_eq!((upper, lower), (4200.0, 2500.0));
    // A reading 1 mV off, of errors of up to 42 and 25 mV either way and alike: nearly half.
    near(above, 0.5 - 1.0 / 84.0, 0.02);
    near(below, 0.5 - 1.0 / 50.0, 0.02);
}

/// The row of each state is its own; the largest error is that of the larger end.
#[test]
fn rows_are_found_by_their_state() {
    let made = budget(
        &divided(
            12,
            "offset_lsb = 3",
            "microvolts = 1_200_000; tolerance_ppm = 5000",
            "top_ohms = 30000; bottom_ohms = 10000; tolerance_ppm = 200000",
        ),
        FEW,
        &|_| (),
    );
    assert_eq!(
        State::ALL.map(State::word),
        ["uncalibrated", "one-point", "two-point"]
    );
    assert_eq!(
        Temperature::ALL.map(Temperature::word),
        ["at calibration temperature", "over the range"]
    );
    for state in State::ALL {
        for temperature in Temperature::ALL {
            let row = made.state(state, temperature).unwrap();
            assert_eq!(
                (row.calibration, row.temperature),
                (state.word(), temperature.word())
            );
            for total in &row.totals {
                let ([low, high], [lowest, highest]) = (total.interval_mv, total.worst_mv);
                assert_eq!(total.within_95(), high.max(-low));
                assert_eq!(total.worst(), highest.max(-lowest));
            }
        }
    }
}
