//! Budgets of front ends: the circuit's model, the noise rule, alarms, reproducibility; facts of the trade.

#![expect(clippy::unwrap_used, reason = "a test may end this way")]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use tallyvolt_host::budget::combine::Input;
use tallyvolt_host::budget::distribution::Distribution;
use tallyvolt_host::budget::guard_band::Direction;
use tallyvolt_host::budget::monte_carlo::Run;
use tallyvolt_host::budget::noise::{effective_bits, ideal_snr_db, quantisation_rms, stairs_left};
use tallyvolt_host::budget::reading::{State, Temperature};
use tallyvolt_host::budget::terms::{Quantity, SLOTS, Terms};
use tallyvolt_host::budget::{Budget, TRIALS, Total, budget, dynamic};
use tallyvolt_host::check;
use tallyvolt_host::front_end::{FrontEnd, Topology};
use tallyvolt_host::front_end_file;
use tallyvolt_host::model::Model;
use tallyvolt_host::model::calibration::CalibrationModel;
use tallyvolt_host::model::rational::whole;
use tallyvolt_host::outcome::{FaultName, Outcome};

const RUN: Run = Run {
    trials: 50_000,
    seed: 7,
};

fn near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "found {found}, expected {expected} within {within}"
    );
}

/// A file's text: what every test shares, and extra keys by table.
fn described(topology: &str, tables: &[(&str, &str)]) -> FrontEnd {
    let mut text = format!("name = \"test\"\ntopology = \"{topology}\"\n");
    for (table, keys) in tables {
        let _ = write!(text, "\n[{table}]\n{}\n", keys.replace("; ", "\n"));
    }
    front_end_file::parse(Path::new("test.toml"), &text)
        .unwrap_or_else(|error| panic!("{:?}", error.lines()))
}

const CELL: (&str, &str) = (
    "cell",
    "chemistry = \"NMC\"; min_mv = 2500; nominal_mv = 3500; max_mv = 4200",
);

fn divided(bits: u32, converter: &str, reference: &str, divider: &str) -> FrontEnd {
    let converter = format!("bits = {bits}; {converter}");
    described(
        "divided-input",
        &[
            CELL,
            ("converter", &converter),
            ("reference", reference),
            ("divider", divider),
        ],
    )
}

fn at(made: &Budget, state: State, temperature: Temperature, site: usize) -> &Total {
    &made.state(state, temperature).unwrap().totals[site]
}

fn shipped() -> Vec<FrontEnd> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends/candidates");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    assert_eq!(paths.len(), 5);
    let serving: Vec<FrontEnd> = paths
        .iter()
        .filter_map(|path| front_end_file::read(path).ok())
        .collect();
    assert_eq!(serving.len(), 4, "one candidate breaks a rule on purpose");
    serving
}

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
    let made = budget(&front_end, RUN, |_| ());
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
    let made = run.go(&[half, half], &[], 1, &model, |_| ());
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
            |_| (),
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
        let made = budget(&front_end, RUN, |_| ());
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
        tallyvolt_host::budget::terms::float(&model.step_uv(&whole(mv * 1000))) / 1000.0
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
    let made = budget(&supply, RUN, |_| ());
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
        run.go(&inputs, &[], 1, &model, |_| ()).summaries(&[0])[0].sd
    };
    let rule = |rms: &str, samples: usize| {
        let converter = format!("samples = {samples}; noise_rms_lsb = {rms}");
        let front_end = divided(
            12,
            &converter,
            "microvolts = 1_200_000",
            "top_ohms = 30000; bottom_ohms = 10000",
        );
        tallyvolt_host::budget::noise::averaged(&front_end.converter, 1)
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

/// (N + 1) ln 2 time constants to half a step (Microchip, Minimum Sampling Time; ST AN2834 rev 3, 3.2.6); N ln 2 to a whole
/// one (TI SLYW038D); 12 bits to 1/8 step with 100 k and 10 pF: 10.4 us.
#[test]
fn settling_constants() {
    for (bits, constants) in [
        (8, 6.238),
        (10, 7.625),
        (12, 9.011),
        (14, 10.397),
        (16, 11.784),
    ] {
        near(dynamic::time_constants(bits, 1), constants, 0.0005);
    }
    for (bits, constants) in [(8, 5.55), (12, 8.32), (16, 11.09)] {
        near(dynamic::time_constants(bits, 0), constants, 0.006);
    }
    near(
        dynamic::time_constants(12, 3) * 100e3 * 10e-12 * 1e6,
        10.4,
        0.005,
    );
}

/// Source resistances of an STM32F103x4/6 (data sheet 15060 rev 6, table of RAIN max), settled to a quarter of a step.
#[test]
fn published_source_resistances() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/stm32f1_rain.csv");
    let mut compared = 0;
    for row in csv::Reader::from_path(path).unwrap().deserialize() {
        let (cycles, megahertz, _, published, _): (f64, f64, f64, String, f64) = row.unwrap();
        let Ok(published) = published.parse::<f64>() else {
            continue;
        };
        let kilohms =
            dynamic::source_max_ohms(1000.0 * cycles / megahertz, 8.0, 1000.0, (12, 2)) / 1000.0;
        near(kilohms, published, 0.07);
        compared += 1;
    }
    assert_eq!(compared, 6);
}

/// A divider of 100k over 50k is 33.3 k to a converter, and breaks the 10 k that AVR and PIC data sheets state.
#[test]
fn dynamic_checks_say_yes_and_no() {
    let weak = divided(
        10,
        "source_max_ohms = 10000; sampling_pf = 14; sampling_ns = 2000; supply_min_mv = 2700",
        "microvolts = 1_500_000; settling_us = 70; wait_us = 20; supply_min_mv = 2600",
        "top_ohms = 100000; bottom_ohms = 50000; drain_max_ua = 20",
    );
    near(dynamic::source_ohms(100e3, 50e3), 33_333.3, 0.1);
    let failing = |front_end: &FrontEnd| -> Vec<&'static str> {
        dynamic::checks(front_end)
            .iter()
            .filter(|check| check.holds == Some(false))
            .map(|check| check.what)
            .collect()
    };
    assert_eq!(
        failing(&weak),
        [
            "source resistance",
            "source resistance, stated",
            "divider drain",
            "reference settling",
            "converter's supply, emptiest cell",
            "reference's supply, emptiest cell",
        ]
    );
    assert!(!budget(&weak, RUN, |_| ()).holds);
    let strong = divided(
        10,
        "source_max_ohms = 10000; sampling_pf = 14; sampling_ns = 2000; supply_min_mv = 1800",
        "microvolts = 1_500_000; settling_us = 70; wait_us = 100; supply_min_mv = 2400",
        "top_ohms = 20000; bottom_ohms = 10000; drain_max_ua = 200",
    );
    assert!(failing(&strong).is_empty());
    // 100 nF behind the weak divider settles the sampling, 2^11 * 14 pF = 28.7 nF are needed, and slows the input.
    let mut filtered = weak.clone();
    if let Topology::DividedInput(divider) = &mut filtered.topology {
        divider.filter_nf = Some(whole(100));
    }
    assert!(!failing(&filtered).contains(&"source resistance, stated"));
    near(
        dynamic::settling_us(&filtered).unwrap(),
        7.6246 * 33.333e3 * 100e-9 * 1e6,
        2.0,
    );
}

/// 10 kOhm against 10 kOhm on 3.3 V: 3.3^2 / 40k = 272 uW, at 1.5 mW/K 0.18 K; a tenth of the time, a tenth of it.
#[test]
fn self_heating() {
    let heated = |topology: &str, reference: &str, more: &[(&str, &str)], keys: &str| {
        let keys = format!(
            "side = \"low\"; fixed_ohms = 10000; min_c = -20; max_c = 60; max_error_mc = 500; r25_ohms = 10000; b25_85_k = 3434; \
             dissipation_uw_per_k = 1500; self_heating_max_mk = 100{keys}"
        );
        let mut tables = vec![
            CELL,
            ("converter", "bits = 12"),
            ("reference", reference),
            ("thermistor", &keys),
        ];
        tables.extend(more);
        let front_end = described(topology, &tables);
        let found = dynamic::self_heating_mk(&front_end).unwrap();
        let checks = dynamic::checks(&front_end);
        let check = checks
            .iter()
            .find(|check| check.what.starts_with("thermistor"))
            .unwrap();
        (found, check.holds)
    };
    let divider = [("divider", "top_ohms = 10000; bottom_ohms = 20000")];
    let fixed = "microvolts = 3_300_000";
    let always = heated("divided-input", fixed, &divider, "");
    let tenth = heated("divided-input", fixed, &divider, "; on_permille = 100");
    near(always.0, 181.5, 0.1);
    near(tenth.0, 18.15, 0.01);
    assert_eq!((always.1, tenth.1), (Some(false), Some(true)));
    // Fed by the cell itself, where the fullest one, 4.2 V, heats most.
    near(
        heated("supply-reference", "microvolts = 1_200_000", &[], "").0,
        294.0,
        0.1,
    );
}

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
        serde_json::to_string(&pool.install(|| budget(front_end, run, |_| ()))).unwrap()
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
            |_| (),
        );
        assert!(made.holds, "{}", made.name);
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
        let contributions = |state: &tallyvolt_host::budget::StateRow, site: usize| {
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
    let made = budget(&front_end, RUN, |_| ());
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

/// Counts compared with a threshold give the verdict of converted voltages, at every count; and alarms miss no more than
/// stated, while an alarm at the limit itself would miss half.
#[test]
fn alarms_at_every_count() {
    for front_end in shipped() {
        let made = budget(
            &front_end,
            Run {
                trials: TRIALS,
                seed: 3,
            },
            |_| (),
        );
        // Equal to the exact model at every count, by `check`.
        let conversion = check::conversion(&front_end).unwrap();
        let largest = Model::new(&front_end, CalibrationModel::identity()).largest_count();
        assert_eq!(made.guard_bands.len(), 3);
        for bands in &made.guard_bands {
            assert_eq!(bands.planned, bands.calibration == "two-point");
            assert!(bands.problem.is_none());
            for alarm in &bands.alarms {
                assert!(
                    alarm.missed <= 0.001,
                    "{} missed {}",
                    made.name,
                    alarm.missed
                );
                assert!(alarm.given_up_mv >= alarm.guard_monte_carlo_mv.unwrap());
                let threshold = (alarm.threshold_mv.unwrap() * 1000.0
                    / f64::from(front_end.unit_uv))
                .round() as u32;
                let counts = alarm.counts.unwrap();
                for count in 1..largest {
                    let value = match conversion.outcome(count) {
                        Outcome::Units(units) => units,
                        Outcome::Fault(FaultName::AboveRange) => u32::MAX,
                        Outcome::Fault(_) => 0,
                    };
                    let by_voltage = match alarm.direction {
                        Direction::Over => value >= threshold,
                        Direction::Under => value <= threshold,
                    };
                    let by_count = match counts.comparison {
                        ">=" => count >= counts.count,
                        _ => count <= counts.count,
                    };
                    assert_eq!(by_voltage, by_count, "{} count {count}", made.name);
                }
            }
        }
    }
    let front_end = divided(
        12,
        "noise_rms_lsb = 2",
        "microvolts = 1_200_000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let terms = Terms::of(&front_end, vec![3500.0]);
    let model = |values: &[f64], errors: &mut [f64]| terms.circuit.errors_mv(values, errors);
    let trials = RUN.go(&terms.inputs, &[], terms.circuit.outputs(), &model, |_| ());
    near(trials.share_below(0, 0.0), 0.5, 0.01);
}

/// Guard bands that meet leave no zone: an error, and no thresholds.
#[test]
fn no_acceptance_zone_left() {
    let limits = |over: u32, under: u32| {
        let keys = format!("over_voltage_mv = {over}; under_voltage_mv = {under}");
        let front_end = described(
            "supply-reference",
            &[
                CELL,
                ("converter", "bits = 12; offset_lsb = 2; inl_lsb = 2"),
                ("reference", "microvolts = 1_200_000; tolerance_ppm = 20000"),
                ("limits", &keys),
            ],
        );
        budget(&front_end, RUN, |_| ())
    };
    let apart = limits(4200, 2700);
    assert!(apart.holds && apart.guard_bands[0].alarms[0].threshold_mv.is_some());
    let close = limits(3600, 3500);
    let uncalibrated = &close.guard_bands[0];
    assert!(uncalibrated.planned && !close.holds);
    assert!(
        uncalibrated
            .problem
            .as_ref()
            .unwrap()
            .starts_with("no acceptance zone left")
    );
    assert!(
        uncalibrated
            .alarms
            .iter()
            .all(|alarm| alarm.threshold_mv.is_none() && alarm.counts.is_none())
    );
    // A calibration makes room again.
    assert!(close.guard_bands[2].problem.is_none());
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
        let made = budget(&front_end, RUN, |_| ());
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
