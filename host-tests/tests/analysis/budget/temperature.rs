//! The budget of a temperature: terms by hand, boards drawn by a model of their own, and a maker's table of wide steps.

use std::fmt::Write as _;
use std::path::Path;

use num_traits::ToPrimitive;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt::Count;
use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::temperature::{TemperatureBudget, alarms, offset_bounds};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::thermistor::{Law, ThermistorModel};

use super::{CELL, described, near};

const RUN: Run = Run {
    trials: 20_000,
    seed: 3,
};

fn sensing(converter: &str, thermistor: &str, more: &[(&str, &str)]) -> FrontEnd {
    let mut tables = vec![
        CELL,
        ("converter", converter),
        ("reference", "microvolts = 1_200_000"),
        ("thermistor", thermistor),
    ];
    tables.extend(more);
    described("supply-reference", &tables)
}

fn made(front_end: &FrontEnd) -> TemperatureBudget {
    budget(front_end, RUN, &|_| ()).temperature.unwrap()
}

fn contribution(budget: &TemperatureBudget, term: &str) -> [f64; 3] {
    let found = budget.terms.iter().find(|row| row.term == term);
    found.unwrap_or_else(|| panic!("{term}")).contribution_mk
}

const NTC: &str = "side = \"low\"; fixed_ohms = 10000; min_c = -15; max_c = 65; max_error_mc = 400; r25_ohms = 10000; \
                   b25_85_k = 3435";

/// dT = T^2 / B * dR / R, and dT = (T - T^2 / T25) * dB / B, worked out by hand: 1 % of R25 is 0.2588 K at 25 degC, 1 % of B is
/// nothing there and 0.4537 K at 65 degC. The fixed resistor acts as the sensor's own resistance does.
#[test]
fn terms_by_hand() {
    let keys = format!(
        "{NTC}; r25_tolerance_ppm = 10000; b_tolerance_ppm = 10000; fixed_tolerance_ppm = 10000"
    );
    let found = made(&sensing("bits = 12", &keys, &[]));
    assert_eq!(found.sites_c, [-15.0, 25.0, 65.0]);
    let half = |mk: f64| mk / 3_f64.sqrt();
    near(contribution(&found, "sensor's R25")[1], half(258.8), 0.1);
    near(contribution(&found, "fixed resistor")[1], half(258.8), 0.1);
    near(contribution(&found, "sensor's B")[1], 0.0, 1e-3);
    near(contribution(&found, "sensor's B")[2], half(453.7), 0.1);
    near(contribution(&found, "output rounding")[0], half(50.0), 1e-3);
    for total in &found.totals {
        near(
            total.combined_mk,
            total.combined_mk.clamp(half(258.8), 700.0),
            0.0,
        );
        assert!(
            total.worst_mk[0] < total.interval_mk[0] && total.interval_mk[1] < total.worst_mk[1]
        );
    }
    // One reading with the sensor at 25 degC takes R25 and the fixed resistor out there, and leaves B's part elsewhere.
    let keys = format!("{keys}; calibrated_at_c = 25; thermometer_mk = 50");
    let found = made(&sensing("bits = 12", &keys, &[]));
    assert_eq!(found.totals.len(), 6);
    let (before, after) = (&found.totals[1], &found.totals[4]);
    assert_eq!((after.calibration, after.at_c), ("one-point", 25.0));
    assert!(after.combined_mk < 0.5 * before.combined_mk, "{after:?}");
    assert!(found.totals[5].combined_mk > half(453.7) * 0.9);
}

/// Class B of IEC 60751, 0.3 K and 0.005 K for each degree away from 0 degC (from memory): 0.8 K at 100 degC.
#[test]
fn platinum_class_b() {
    let keys = "side = \"low\"; fixed_ohms = 2200; min_c = 0; max_c = 100; max_error_mc = 300; platinum_ohms = 1000; \
                tolerance_mk = 300; tolerance_mk_per_k = 5";
    let found = made(&sensing("bits = 16", keys, &[]));
    let tolerance = contribution(&found, "sensor's tolerance");
    near(tolerance[0], 300.0 / 3_f64.sqrt(), 0.1);
    near(tolerance[2], 800.0 / 3_f64.sqrt(), 0.1);
}

/// A converter of 8 bits that may be off by 60 steps reads 0 at 60 degC on some boards: worst, mean and interval say how far off that is.
#[test]
fn a_board_at_a_rail_leaves_every_figure_a_number() {
    let keys = "side = \"low\"; fixed_ohms = 10000; min_c = 0; max_c = 60; max_error_mc = 4000; r25_ohms = 10000; b25_85_k = 3435";
    let found = made(&sensing("bits = 8; offset_lsb = 60", keys, &[]));
    let [_, middle, hottest] = &found.totals[..] else {
        panic!("three temperatures: {:?}", found.totals);
    };
    near(hottest.worst_mk[1], 940_000.0, 1_000.0);
    assert!(middle.worst_mk[1] < 100_000.0 && middle.mean_mk.abs() < 5_000.0);
    assert!(hottest.mean_mk > 20_000.0 && hottest.interval_mk[1] > 100_000.0);
}

/// Self-heating only warms: its mean is half of it. 10 k and 10 k at 25 degC on the fullest cell, 4.2 V: 441 uW over 1 mW/K.
#[test]
fn self_heating_only_warms() {
    let keys = format!("{NTC}; dissipation_uw_per_k = 1000; self_heating_max_mk = 900");
    let found = made(&sensing("bits = 12", &keys, &[]));
    near(found.totals[1].mean_mk, 220.5, 3.0);
    near(
        contribution(&found, "self-heating")[1],
        220.5 / 3_f64.sqrt(),
        0.1,
    );
}

/// Boards at a limit, drawn by a model of its own: with the guard band no more are missed than stated; with the limit on the
/// reading, about half.
#[test]
fn alarms_keep_a_limit_on_the_true_temperature() {
    let keys = format!(
        "{NTC}; r25_tolerance_ppm = 20000; b_tolerance_ppm = 10000; fixed_tolerance_ppm = 10000"
    );
    let converter = "bits = 12; offset_lsb = 3; noise_rms_lsb = 0.5";
    for (limit, limit_k, over) in [("over", 328.15, true), ("under", 268.15, false)] {
        let with = |meaning: &str| {
            let limits = format!(
                "{limit}_temperature_c = {}; meaning = \"{meaning}\"",
                limit_k - 273.15
            );
            sensing(converter, &keys, &[("limits", &limits)])
        };
        let missed = |front_end: &FrontEnd| {
            let quiet = alarms(front_end)[0].quiet_tenths;
            let built = BuiltTable::build(front_end, front_end.thermistor.as_ref().unwrap());
            let built = built.unwrap();
            let firmware = built.firmware().unwrap();
            let mut rng = ChaCha8Rng::seed_from_u64(9);
            let boards = 200_000;
            let mut missed = 0;
            let mut part = || 2.0 * rng.random::<f64>() - 1.0;
            for _ in 0..boards {
                let b = 3435.0 * (1.0 + 0.01 * part());
                let sensor = 10_000.0
                    * (1.0 + 0.02 * part())
                    * (b * (1.0 / limit_k - 1.0 / 298.15_f64)).exp();
                let fixed = 10_000.0 * (1.0 + 0.01 * part());
                // The sum of twelve flat numbers, less their mean, is as good as normal.
                let noise: f64 = (0..12).map(|_| part() / 2.0).sum();
                let steps = 4096.0 * sensor / (sensor + fixed) + 3.0 * part() + 0.5 * noise;
                let read = i32::from(firmware.temperature(Count(steps as u32)).unwrap().0);
                missed += u32::from(if over { read <= quiet } else { read >= quiet });
            }
            f64::from(missed) / f64::from(boards)
        };
        let (kept, read) = (missed(&with("true-value")), missed(&with("reading")));
        assert!(kept <= 0.001, "{limit} {kept}");
        assert!((0.3..0.7).contains(&read), "{limit} {read}");
        let guard = alarms(&with("true-value"))[0].guard_k;
        assert!((0.5..2.0).contains(&guard), "{limit} {guard}");
        // More missed allowed, a narrower band: the quantiles of a normal distribution, 2.326 and 3.090 (from memory).
        let rare = |ppm: u32| {
            let limits = format!(
                "{limit}_temperature_c = {}; meaning = \"true-value\"; miss_ppm = {ppm}",
                limit_k - 273.15
            );
            let quiet = "bits = 16; noise_rms_lsb = 60";
            alarms(&sensing(quiet, NTC, &[("limits", &limits)]))[0].guard_k
        };
        near(rare(10_000) / rare(1000), 2.326 / 3.090, 0.02);
        // A reading of the sensor at 25 degC leaves B alone.
        let calibrated = format!("{keys}; calibrated_at_c = 25; calibrated_count = 2048");
        let limits = format!(
            "{limit}_temperature_c = {}; meaning = \"true-value\"",
            limit_k - 273.15
        );
        let known = alarms(&sensing(converter, &calibrated, &[("limits", &limits)]))[0].guard_k;
        assert!(
            (0.2..guard - 0.3).contains(&known),
            "{limit} {known} {guard}"
        );
    }
}

/// Self-heating warms a sensor at its limit, so an upper alarm may come later by its mean, and a lower one must come earlier.
#[test]
fn the_mean_of_self_heating_moves_an_alarm() {
    let guard = |limits: &str, heating: &str| {
        let keys = format!("{NTC}; r25_tolerance_ppm = 20000{heating}");
        // Few of them: more is bounded by the worst case, which self-heating leaves where it is.
        let limits = format!("{limits}; meaning = \"true-value\"; miss_ppm = 200_000");
        alarms(&sensing("bits = 12", &keys, &[("limits", &limits)]))[0].guard_k
    };
    // 4.2 V on 10 k and 10 k at most: 441 uW over 4 mW/K, 0.11 K.
    let heating = "; dissipation_uw_per_k = 4000; self_heating_max_mk = 900";
    let over = "over_temperature_c = 30";
    let under = "under_temperature_c = 20";
    assert!(guard(over, heating) < guard(over, "") - 0.02);
    assert!(guard(under, heating) > guard(under, "") + 0.02);
}

/// The offset of a calibrated reading may be what R25, B and the fixed resistor allow.
#[test]
fn an_offset_is_bounded_by_the_parts() {
    let with = |tolerances: &str, count: f64| {
        let keys = format!(
            "{NTC}; fixed_tolerance_ppm = 10000{tolerances}; calibrated_at_c = 25; calibrated_count = {count}"
        );
        offset_bounds(&sensing("bits = 16", &keys, &[])).unwrap()
    };
    // At 25 degC 1 % of either resistance is 0.2588 K; the centre of 25.0 degC is half of the scale.
    let stated = with("; r25_tolerance_ppm = 20000", 32_767.5);
    near(stated.offset.offset_k, 0.0, 1e-3);
    near(stated.worst_k.0, -0.7764, 0.02);
    near(stated.worst_k.1, 0.7764, 0.02);
    assert!(stated.known && !with("", 32_767.5).known);
    // A count lower by 1 % of the scale is a resistance 4 % lower: warmer by 1.03 K.
    near(with("", 32_767.5 - 655.36).offset.offset_k, 1.04, 0.02);
    assert_eq!(offset_bounds(&sensing("bits = 16", NTC, &[])), None);
}

/// Three totals, each twice where a reading calibrates the sensor: of their own site and state, with their terms' sum and bounds.
#[test]
fn totals_are_those_of_their_terms() {
    let keys = format!(
        "{NTC}; r25_tolerance_ppm = 20000; b_tolerance_ppm = 10000; fixed_tolerance_ppm = 10000"
    );
    for (calibration, states) in [
        ("", vec!["uncalibrated"; 3]),
        (
            "; calibrated_at_c = 25",
            [["uncalibrated"; 3], ["one-point"; 3]].concat(),
        ),
    ] {
        let found = made(&sensing(
            "bits = 12; offset_lsb = 2",
            &format!("{keys}{calibration}"),
            &[],
        ));
        let told = found.totals.iter().map(|total| total.calibration);
        assert_eq!(told.collect::<Vec<_>>(), states);
        for (total, site_c) in found.totals.iter().zip(found.sites_c.iter().cycle()) {
            assert_eq!(total.at_c, *site_c);
        }
        for (site, total) in found.totals.iter().take(3).enumerate() {
            let parts = found.terms.iter().map(|term| term.contribution_mk[site]);
            let squares: f64 = parts.clone().map(|part| part * part).sum();
            near(total.combined_mk / squares.sqrt(), 1.0, 1e-6);
            near(total.expanded_mk / total.combined_mk, 1.96, 0.001);
            // Every term is a rectangle: its limit is sqrt(3) standard uncertainties.
            let limits: f64 = parts.sum::<f64>() * 3_f64.sqrt();
            near(total.worst_mk[0] / -limits, 1.0, 0.05);
            near(total.worst_mk[1] / limits, 1.0, 0.05);
            near(total.mean_mk / total.combined_mk, 0.0, 0.05);
            for end in total.interval_mk {
                near(end.abs() / total.combined_mk, 1.9, 0.15);
            }
        }
    }
}

/// A maker's table in steps of 20 K: what is certified holds against the formula that it was made by, and the distance
/// from the table alone would not.
#[test]
fn a_table_of_wide_steps_is_certified_against_its_formula() {
    // 10K3A, Steinhart-Hart, as in the shipped front end.
    let formula = Law::SteinhartHart(1.129_241e-3, 2.341_077e-4, 8.775_468e-8);
    let mut csv = "degC,ohms\n".to_owned();
    for celsius in (-40..=100).step_by(20) {
        let _ = writeln!(
            csv,
            "{celsius},{:.4}",
            formula.ohms(f64::from(celsius)).unwrap()
        );
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    std::fs::write(folder.join("wide.csv"), csv).unwrap();
    let with = |max_error_mc: u32| {
        let text = format!(
            "name = \"wide\"\ntopology = \"supply-reference\"\n[cell]\nchemistry = \"LFP\"\nmin_mv = 2000\nnominal_mv = 3200\n\
             max_mv = 3650\n[converter]\nbits = 12\n[reference]\nmicrovolts = 1_200_000\n[thermistor]\nside = \"high\"\n\
             fixed_ohms = 10000\nsamples = 4\ntable_csv = \"wide.csv\"\nmin_c = -30\nmax_c = 80\nmax_error_mc = {max_error_mc}\n"
        );
        front_end_file::parse(&folder.join("wide.toml"), &text)
    };
    let front_end = with(300).unwrap();
    let thermistor = front_end.thermistor.as_ref().unwrap();
    let built = BuiltTable::build(&front_end, thermistor).unwrap();
    let model = ThermistorModel::new(&front_end, thermistor);
    let mut largest: f64 = 0.0;
    let mut between: f64 = 0.0;
    for count in built.table.first..built.table.first + built.table.counts {
        let truth = formula.celsius(model.ohms(count).unwrap()).unwrap();
        let answer = (built.table.tenths(count).unwrap().to_f64().unwrap() + 0.5).floor() / 10.0;
        largest = largest.max(1000.0 * (answer - truth).abs());
        between = between.max(1000.0 * (model.celsius(count).unwrap() - truth).abs());
    }
    assert!(built.interpolation_mc > 5.0, "{}", built.interpolation_mc);
    near(built.interpolation_mc, between, 0.1);
    assert!(largest <= built.certified_mc(), "{largest} {built:?}");
    assert!(
        largest > built.answer_error_mc,
        "{largest} {}",
        built.answer_error_mc
    );
    let found = made(&front_end);
    assert!(contribution(&found, "between the maker's points")[1] > 1.0);
    // A formula has nothing between its points.
    assert_eq!(
        Law::SteinhartHart(1e-3, 2e-4, 1e-7).interpolation_k(5000.0),
        Some(0.0)
    );
}
