//! The terms of a temperature: which are there, with what values, what a calibration's own reading adds, and how far a limit moves for them.

use std::path::Path;

use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::temperature::{TemperatureBudget, alarms};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_model::front_end::FrontEnd;

use super::{CELL, FEW, described, near};

const NTC: &str = "side = \"low\"; fixed_ohms = 10000; min_c = -15; max_c = 65; max_error_mc = 400; r25_ohms = 10000; \
                   b25_85_k = 3435";

fn sensing(thermistor: &str, more: &[(&str, &str)]) -> FrontEnd {
    let divider = "top_ohms = 30000; bottom_ohms = 10000";
    let mut tables = vec![CELL, ("divider", divider), ("thermistor", thermistor)];
    tables.extend(more);
    described("divided-input", &tables)
}

fn made(front_end: &FrontEnd) -> TemperatureBudget {
    budget(front_end, FEW, &|_| ()).temperature.unwrap()
}

/// A file that states everything has every term once, with the value that it states; noise and quantisation of four samples are halved
/// where noise dithers, and a shift by one drops half a sum of two.
#[test]
fn every_term_is_there_once() {
    let keys = format!(
        "{NTC}; samples = 4; right_shift = 1; excitation_mv = 1100; excitation_tolerance_ppm = 2000; r25_tolerance_ppm = 10000; \
         b_tolerance_ppm = 9000; tolerance_mk = 300; fixed_tolerance_ppm = 1000; fixed_tempco_ppm_per_k = 25; \
         calibrated_at_c = 20; thermometer_mk = 50; dissipation_uw_per_k = 1000; self_heating_max_mk = 90"
    );
    let front_end = sensing(
        &keys,
        &[
            (
                "converter",
                "bits = 12; offset_lsb = 2; gain_lsb = 3; inl_lsb = 1.5; noise_rms_lsb = 0.6; leakage_na = 10",
            ),
            (
                "reference",
                "microvolts = 1_200_000; tolerance_ppm = 5000; tempco_ppm_per_k = 50; ageing_ppm = 100",
            ),
            (
                "environment",
                "calibrated_at_c = 23; min_c = -20; max_c = 60",
            ),
        ],
    );
    let built = BuiltTable::build(&front_end, front_end.thermistor.as_ref().unwrap()).unwrap();
    let found = made(&front_end);
    let expected = [
        ("sensor's R25", 10_000.0, "ppm"),
        ("sensor's B", 9000.0, "ppm"),
        ("sensor's tolerance", 1.0, "of limit"),
        ("fixed resistor", 1000.0, "ppm"),
        ("fixed resistor's drift", 25.0, "ppm/K"),
        ("excitation", 2000.0, "ppm"),
        ("reference tolerance", 5000.0, "ppm"),
        ("reference drift", 50.0, "ppm/K"),
        ("reference ageing", 100.0, "ppm"),
        ("converter offset", 2.0, "steps"),
        ("converter gain error", 3.0, "steps"),
        ("input leakage", 10.0, "nA"),
        ("self-heating", 0.5, "of all"),
        ("calibration thermometer", 0.05, "K"),
        ("nonlinearity", 1.5, "steps"),
        ("noise", 0.3, "steps"),
        ("quantisation", 0.5 / 12_f64.sqrt(), "steps"),
        ("stairs left by dither", 0.000_261, "steps"),
        ("right shift", 0.25, "steps"),
        ("firmware's table", built.table_error_mc / 1000.0, "K"),
        ("output rounding", 0.05, "K"),
    ];
    let told: Vec<_> = found.terms.iter().map(|row| (row.term, row.unit)).collect();
    let mut named: Vec<_> = expected
        .iter()
        .map(|(term, _, unit)| (*term, *unit))
        .collect();
    let mut sorted = told.clone();
    named.sort_unstable();
    sorted.sort_unstable();
    assert_eq!(sorted, named);
    for (term, value, _) in expected {
        let row = found.terms.iter().find(|row| row.term == term).unwrap();
        near(row.value, value, 1e-3 * value);
    }
}

/// What a file does not state is no term: quantisation, table and rounding are left.
#[test]
fn a_perfect_circuit_has_three_terms() {
    let found = made(&sensing(
        NTC,
        &[
            ("converter", "bits = 12"),
            ("reference", "microvolts = 1_200_000"),
        ],
    ));
    let told: Vec<_> = found.terms.iter().map(|row| row.term).collect();
    assert_eq!(
        told,
        ["quantisation", "firmware's table", "output rounding"]
    );
}

/// A tolerance in kelvins alone, and one that grows with the temperature alone.
#[test]
fn tolerances_in_kelvins_stand_alone() {
    let platinum = "side = \"low\"; fixed_ohms = 2200; min_c = -40; max_c = 100; max_error_mc = 300; platinum_ohms = 1000";
    for (key, [coldest, _, hottest]) in [
        ("tolerance_mk = 300", [300.0; 3]),
        ("tolerance_mk_per_k = 5", [200.0, 150.0, 500.0]),
    ] {
        let found = made(&sensing(
            &format!("{platinum}; {key}"),
            &[
                ("converter", "bits = 16"),
                ("reference", "microvolts = 1_200_000"),
            ],
        ));
        let row = found
            .terms
            .iter()
            .find(|row| row.term == "sensor's tolerance");
        let row = row.unwrap_or_else(|| panic!("{key}"));
        near(row.contribution_mk[0], coldest / 3_f64.sqrt(), 0.1);
        near(row.contribution_mk[2], hottest / 3_f64.sqrt(), 0.1);
    }
}

/// What lies between a maker's points is a term in kelvin, as certified in millikelvins.
#[test]
fn a_makers_points_are_a_term() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../front-ends/hut-divided-thermistor.toml");
    let front_end = front_end_file::read(&path).unwrap();
    let built = BuiltTable::build(&front_end, front_end.thermistor.as_ref().unwrap()).unwrap();
    assert!(built.interpolation_mc > 0.1);
    let found = made(&front_end);
    let row = found
        .terms
        .iter()
        .find(|row| row.term == "between the maker's points");
    near(row.unwrap().value, built.interpolation_mc / 1000.0, 1e-9);
}

/// With one point, the calibration's own reading is off by its own steps. At 25 degC, 10 k over 10 k, a step of 4096 is 2 / 2048 of the
/// resistance, so T^2 / B of it in temperature: 25.27 mK. At that temperature, half a step of quantisation either way and 1.5 of
/// nonlinearity count twice, table and rounding once.
#[test]
fn the_calibrations_reading_has_steps_of_its_own() {
    let keys = format!("{NTC}; calibrated_at_c = 25");
    let front_end = sensing(
        &keys,
        &[
            ("converter", "bits = 12; inl_lsb = 1.5"),
            ("reference", "microvolts = 1_200_000"),
        ],
    );
    let built = BuiltTable::build(&front_end, front_end.thermistor.as_ref().unwrap()).unwrap();
    let found = made(&front_end);
    let step_mk = 298.15_f64.powi(2) / 3435.0 * 4.0 / 4096.0 * 1000.0;
    near(step_mk, 25.27, 0.01);
    let once = built.table_error_mc + 50.0;
    for (total, readings) in [(&found.totals[1], 1.0), (&found.totals[4], 2.0)] {
        assert_eq!(total.at_c, 25.0);
        near(total.worst_mk[1], readings * 2.0 * step_mk + once, 0.2);
        near(total.worst_mk[0], -total.worst_mk[1], 0.2);
    }
}

/// A limit on the true temperature moves in by its guard band in tenths, rounded up, and by one more for the rounding of a reading; two limits
/// in one file move as each does alone.
#[test]
fn limits_move_by_whole_tenths() {
    let keys = format!("{NTC}; r25_tolerance_ppm = 20000; fixed_tolerance_ppm = 10000");
    let moved = |limits: &str, meaning: &str| {
        let limits = format!("{limits}; meaning = \"{meaning}\"");
        let converter = ("converter", "bits = 12; offset_lsb = 3");
        let reference = ("reference", "microvolts = 1_200_000");
        alarms(&sensing(
            &keys,
            &[converter, reference, ("limits", &limits)],
        ))
    };
    let both = ["over_temperature_c = 55", "under_temperature_c = -5"];
    let together = moved(&both.join("; "), "true-value");
    assert_eq!(together.len(), 2);
    for (limit, together) in both.iter().zip(&together) {
        let [plain] = &moved(limit, "reading")[..] else {
            panic!("one limit, {limit}");
        };
        let [alone] = &moved(limit, "true-value")[..] else {
            panic!("one limit, {limit}");
        };
        assert!(alone.guard_k > 0.5 && plain.guard_k == 0.0);
        let steps = (10.0 * alone.guard_k).ceil() as i32 + 1;
        assert_eq!(
            (alone.quiet_tenths - plain.quiet_tenths).abs(),
            steps,
            "{limit}"
        );
        assert_eq!(
            (together.guard_k, together.quiet_tenths),
            (alone.guard_k, alone.quiet_tenths)
        );
    }
}
