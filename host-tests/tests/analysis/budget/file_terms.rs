//! A front-end file's numbers in the circuit that a budget computes with.

use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::input::Correlation;
use tallyvolt_analysis::choose::budget::quantity::{Place, Quantity, SLOTS};
use tallyvolt_analysis::choose::budget::reading::{Circuit, Climate, Climates, State};
use tallyvolt_analysis::choose::budget::terms::Terms;
use tallyvolt_analysis::choose::budget::thresholds::{planned, thresholds};

use super::{CELL, FEW, described, divided, near};

const fn climate(reference_k: f64, resistor_k: f64) -> Climate {
    Climate {
        reference_k,
        resistor_k,
    }
}

/// Each quantity has a slot of its own, and every slot a quantity.
#[test]
fn no_two_quantities_share_a_slot() {
    let board = [
        Quantity::ReferenceTolerance,
        Quantity::ReferenceDrift,
        Quantity::ReferenceAgeing,
        Quantity::TopTolerance,
        Quantity::BottomTolerance,
        Quantity::TopDrift,
        Quantity::BottomDrift,
        Quantity::ConverterOffset,
        Quantity::ConverterGain,
        Quantity::Leakage,
        Quantity::OutputRounding,
        Quantity::Meter,
        Quantity::Constants,
    ];
    let places = [
        Place::Reading,
        Place::AtPoint,
        Place::LowPoint,
        Place::HighPoint,
    ];
    let readings = places.into_iter().flat_map(|place| {
        [
            Quantity::Nonlinearity(place),
            Quantity::Noise(place),
            Quantity::Quantisation(place),
            Quantity::Dither(place),
            Quantity::Shift(place),
        ]
    });
    let slots: Vec<usize> = board
        .into_iter()
        .chain(readings)
        .map(Quantity::slot)
        .collect();
    assert_eq!(slots, (0..SLOTS).collect::<Vec<_>>());
}

/// A module's constants lie within a twentieth of an output step of its curve: 0.05 mV of a millivolt.
#[test]
fn constants_are_a_twentieth_of_a_step() {
    let made = budget(
        &divided(
            12,
            "inl_lsb = 1",
            "microvolts = 1_200_000",
            "top_ohms = 30000; bottom_ohms = 10000",
        ),
        FEW,
        &|_| (),
    );
    let row = made.terms.iter().find(|row| row.term == "module constants");
    near(row.unwrap().value, 0.05, 1e-12);
}

#[test]
fn the_circuit_is_that_of_the_file() {
    for (full_scale, codes) in [("2^n", 4096.0), ("2^n-1", 4095.0)] {
        let front_end = described(
            "divided-input",
            &[
                CELL,
                (
                    "converter",
                    &format!("bits = 12; full_scale = \"{full_scale}\""),
                ),
                ("reference", "microvolts = 1_225_000"),
                (
                    "divider",
                    "top_ohms = 30000; bottom_ohms = 9900; tolerance_ppm = 1000; correlation = 0.5",
                ),
                (
                    "meter",
                    "reading_ppm = 500; range_ppm = 200; range_mv = 6000; digits = 2; resolution_mv = 0.1",
                ),
                (
                    "calibration",
                    "points = 2; at_mv = 3300; low_mv = 2700; high_mv = 4100",
                ),
            ],
        );
        let terms = Terms::of(&front_end, vec![2500.0, 4200.0]);
        let circuit = Circuit {
            meter: (terms.circuit.meter.0, terms.circuit.meter.1),
            ..terms.circuit.clone()
        };
        near(circuit.meter.0, 500e-6, 1e-12);
        // 200 ppm of 6 V and two digits of 0.1 mV.
        near(circuit.meter.1, 1.4, 1e-12);
        assert_eq!(
            circuit,
            Circuit {
                reference_mv: 1225.0,
                divider_ohms: Some((30_000.0, 9900.0)),
                full_scale: codes,
                meter: circuit.meter,
                calibration_mv: (3300.0, 2700.0, 4100.0),
                climates: Climates::default(),
                sites_mv: vec![2500.0, 4200.0],
            }
        );
        let pair = |one: Quantity, other: Quantity| Correlation {
            one: one.slot(),
            other: other.slot(),
            coefficient: 0.5,
        };
        assert_eq!(
            terms.correlations,
            [
                pair(Quantity::TopTolerance, Quantity::BottomTolerance),
                pair(Quantity::TopDrift, Quantity::BottomDrift),
            ]
        );
    }
    let alone = divided(
        12,
        "",
        "microvolts = 1_200_000",
        "top_ohms = 30000; bottom_ohms = 10000; correlation = 0",
    );
    assert_eq!(Terms::of(&alone, Vec::new()).correlations, []);
}

/// Kelvins of drift, counted by hand: from the data sheet's 25 degC, and after a calibration from the bench.
#[test]
fn kelvins_of_drift() {
    let of = |drift: &str, environment: &str| {
        let reference = format!("microvolts = 1_200_000; drift = \"{drift}\"");
        let front_end = described(
            "supply-reference",
            &[
                CELL,
                ("converter", "bits = 12"),
                ("reference", &reference),
                ("environment", environment),
            ],
        );
        Terms::of(&front_end, Vec::new()).circuit.climates
    };
    // Cold is farther from the bench and from 25 degC.
    let cold = "calibrated_at_c = 20; min_c = -20; max_c = 50";
    assert_eq!(
        of("slope", cold),
        Climates {
            bench: climate(-5.0, -5.0),
            uncalibrated_bench: climate(-5.0, -5.0),
            uncalibrated_range: climate(45.0, 45.0),
            calibrated_range: climate(-45.0, -45.0),
        }
    );
    assert_eq!(
        of("box", cold),
        Climates {
            bench: climate(0.0, -5.0),
            uncalibrated_bench: climate(70.0, -5.0),
            uncalibrated_range: climate(70.0, 45.0),
            calibrated_range: climate(70.0, -45.0),
        }
    );
    // Heat is farther; as far as the cold is.
    for (environment, bench, range, calibrated) in [
        (
            "calibrated_at_c = 20; min_c = -20; max_c = 80",
            -5.0,
            55.0,
            55.0,
        ),
        (
            "calibrated_at_c = 30; min_c = -20; max_c = 80",
            5.0,
            55.0,
            55.0,
        ),
        (
            "calibrated_at_c = 30; min_c = -10; max_c = 50",
            5.0,
            35.0,
            -35.0,
        ),
    ] {
        let found = of("slope", environment);
        assert_eq!(found.bench, climate(bench, bench));
        assert_eq!(found.uncalibrated_range, climate(range, range));
        assert_eq!(found.calibrated_range, climate(calibrated, calibrated));
    }
}

/// What a file leaves open is said, and nothing of what it states.
#[test]
fn what_is_left_open_is_noted() {
    let bare = divided(
        12,
        "",
        "microvolts = 1_200_000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let notes = budget(&bare, FEW, &|_| ()).notes;
    assert_eq!(
        notes[..3],
        [
            "no [environment]: no drift is counted, and \"over the range\" says nothing",
            "no [meter]: calibrated figures hold for a perfect meter",
            "counted as perfect, not in the file: reference.tolerance_ppm, reference.tempco_ppm_per_k, converter.offset_lsb, \
             converter.gain_lsb, converter.inl_lsb, converter.noise_rms_lsb, divider.tolerance_ppm, divider.tempco_ppm_per_k",
        ]
    );
    let stated = described(
        "divided-input",
        &[
            CELL,
            (
                "converter",
                "bits = 12; offset_lsb = 1; gain_lsb = 1; inl_lsb = 1; noise_rms_lsb = 0.5",
            ),
            (
                "reference",
                "microvolts = 1_200_000; tolerance_ppm = 0; tempco_ppm_per_k = 0",
            ),
            (
                "divider",
                "top_ohms = 30000; bottom_ohms = 10000; tolerance_ppm = 1; tempco_ppm_per_k = 1",
            ),
            ("meter", "reading_ppm = 500"),
            ("environment", "calibrated_at_c = 20; min_c = 0; max_c = 40"),
        ],
    );
    let notes = budget(&stated, FEW, &|_| ()).notes;
    assert_eq!(notes.len(), 1, "{notes:?}");
}

/// The plan by its points; a guard band by the quantile of what may be missed, 3.090 and 4.753 (from memory).
#[test]
fn thresholds_follow_the_plan_and_the_share_that_may_be_missed() {
    let with = |more: &str, points: u32| {
        described(
            "supply-reference",
            &[
                CELL,
                ("converter", "bits = 12"),
                ("reference", "microvolts = 1_200_000; tolerance_ppm = 5000"),
                (
                    "limits",
                    &format!("meaning = \"true-value\"; over_voltage_mv = 4100{more}"),
                ),
                ("calibration", &format!("points = {points}")),
            ],
        )
    };
    for (points, state) in [
        (0, State::Uncalibrated),
        (1, State::OnePoint),
        (2, State::TwoPoint),
    ] {
        assert_eq!(planned(&with("", points)), state);
    }
    let normal = |ppm: u32| {
        let front_end = with(&format!("; miss_ppm = {ppm}"), 0);
        thresholds(&front_end, State::Uncalibrated)[0].normal_mv
    };
    near(normal(1000) / normal(1), 3.090_2 / 4.753_4, 1e-4);
}

/// A band that the file states, where it is the wider one; firmware's last quiet value on either side, in its own steps.
#[test]
fn a_stated_guard_band_and_the_last_quiet_value() {
    for (unit_uv, per_mv) in [(1000, 1), (100, 10)] {
        let of = |meaning: &str| {
            let front_end = described(
                "supply-reference",
                &[
                    CELL,
                    ("converter", "bits = 12"),
                    ("reference", "microvolts = 1_200_000; tolerance_ppm = 1000"),
                    ("output", &format!("unit_uv = {unit_uv}")),
                    (
                        "limits",
                        &format!(
                            "over_voltage_mv = 4100; under_voltage_mv = 2600; meaning = \"{meaning}\""
                        ),
                    ),
                ],
            );
            thresholds(&front_end, State::Uncalibrated)
        };
        let found = of("reading")
            .into_iter()
            .map(|found| (found.guard_mv, found.quiet_units));
        assert_eq!(
            found.collect::<Vec<_>>(),
            [(0.0, 4100 * per_mv), (0.0, 2600 * per_mv)]
        );
        let stated =
            of("true-value\"\nover_voltage_guard_mv = 50\nunder_voltage_guard_mv = 40 # \"");
        let found = stated
            .into_iter()
            .map(|found| (found.guard_mv, found.quiet_units));
        assert_eq!(
            found.collect::<Vec<_>>(),
            [(50.0, 4050 * per_mv - 1), (40.0, 2640 * per_mv + 1)]
        );
        for found in of("true-value\"\nover_voltage_guard_mv = 1\nunder_voltage_guard_mv = 1 # \"")
        {
            assert!(
                found.guard_mv > 2.0 && found.guard_mv == found.worst_mv,
                "{found:?}"
            );
        }
    }
}
