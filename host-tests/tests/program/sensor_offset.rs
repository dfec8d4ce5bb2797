//! One sensor calibrated at one temperature: its offset, what firmware answers with it, and every command that follows.

#![expect(clippy::unwrap_used, reason = "a test may end this way")]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use tallyvolt::Count;
use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::temperature::{alarms, offset_bounds};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check::thermistor::check;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::whole;

/// 16 bits, 10 k against 10 k; limits on the true value.
fn text(more: &str) -> String {
    format!(
        "name = \"hut-sensor\"\ntopology = \"supply-reference\"\n[cell]\nchemistry = \"LFP\"\nmin_mv = 2000\nnominal_mv = 3200\n\
         max_mv = 3650\n[converter]\nbits = 16\noffset_lsb = 4\nnoise_rms_lsb = 2\n[reference]\nmicrovolts = 1_200_000\n[limits]\n\
         over_temperature_c = 55\nmeaning = \"true-value\"\n[thermistor]\nside = \"low\"\nfixed_ohms = 10000\nmin_c = -15\nmax_c = 65\n\
         max_error_mc = 150\nr25_ohms = 10000\nb25_85_k = 3435\nr25_tolerance_ppm = 20000\nb_tolerance_ppm = 10000\n\
         fixed_tolerance_ppm = 10000\nthermometer_mk = 50\n{more}"
    )
}

fn parsed(more: &str) -> FrontEnd {
    front_end_file::parse(Path::new("sensor.toml"), &text(more)).unwrap()
}

fn built(front_end: &FrontEnd) -> BuiltTable {
    BuiltTable::build(front_end, front_end.thermistor.as_ref().unwrap()).unwrap()
}

/// Written out here: the count's middle to ohms, ohms to degC by the B equation.
fn law(count: f64) -> f64 {
    let ratio = (count + 0.5) / 65_536.0;
    let ohms = 10_000.0 * ratio / (1.0 - ratio);
    1.0 / (1.0 / 298.15 + (ohms / 10_000.0_f64).ln() / 3435.0) - 273.15
}

/// The step that a sensor of this resistance at 25 degC and this B gives against a fixed resistor.
fn steps(celsius: f64, r25: f64, b: f64, fixed: f64) -> f64 {
    let ohms = r25 * (b * (1.0 / (celsius + 273.15) - 1.0 / 298.15)).exp();
    65_536.0 * ohms / (ohms + fixed)
}

/// A sensor 1.5 % high in resistance, read at 24.6 degC.
const AT_C: f64 = 24.6;
const CALIBRATED: &str = "calibrated_at_c = 24.6\ncalibrated_count = 33265\n";

#[test]
fn the_count_is_that_of_the_sensor_described_here() {
    assert_eq!(steps(AT_C, 10_150.0, 3435.0, 10_000.0).floor(), 33_265.0);
}

/// Every count: firmware answers the law less the offset, within the certified error; without the count it answers the law.
#[test]
fn firmware_takes_the_offset_off_at_every_count() {
    let offset = law(33_265.0) - AT_C;
    assert!((-0.4..-0.3).contains(&offset), "{offset}");
    for (more, offset) in [(CALIBRATED, offset), ("calibrated_at_c = 24.6\n", 0.0)] {
        let front_end = parsed(more);
        let table = built(&front_end);
        let told = table.offset.map_or(0.0, |told| told.offset_k);
        assert!((told - offset).abs() < 1e-9, "{told} {offset}");
        let firmware = table.firmware().unwrap();
        let mut largest: f64 = 0.0;
        for count in table.table.first..table.table.first + table.table.counts {
            let answer = firmware.temperature(Count(count)).unwrap();
            let exact = law(f64::from(count)) - offset;
            largest = largest.max(1000.0 * (f64::from(answer.0) / 10.0 - exact).abs());
        }
        assert!((largest - table.answer_error_mc).abs() < 1e-6, "{largest}");
        assert!(largest <= 150.0);
        let drawn = front_end.thermistor.as_ref().unwrap();
        let checked = check(&front_end, drawn, &table, &|count| {
            firmware.temperature(count)
        });
        assert!(checked.holds() && checked.offset == table.offset);
    }
    // The control: the table without the offset is not within the error of the corrected law.
    let plain = built(&parsed(""));
    let answer = plain
        .firmware()
        .unwrap()
        .temperature(Count(33_265))
        .unwrap();
    assert!((f64::from(answer.0) / 10.0 - AT_C).abs() > 0.25);
}

/// A mean of several counts may lie between two.
#[test]
fn a_mean_count_is_taken_as_it_is() {
    let more = "calibrated_at_c = 24.6\ncalibrated_count = 33265.25\n";
    let told = built(&parsed(more)).offset.unwrap();
    assert!((told.offset_k - (law(33_265.25) - AT_C)).abs() < 1e-9);
}

/// Boards drawn here, calibrated by a count at 25 degC and read at the hottest: the interval stated for one point holds for 95 %.
#[test]
fn the_interval_of_one_point_holds() {
    let run = Run {
        trials: 40_000,
        seed: 5,
    };
    let plan = parsed("calibrated_at_c = 25\n");
    let found = budget(&plan, run, &|_| ()).temperature.unwrap();
    let stated = found
        .totals
        .iter()
        .find(|total| total.calibration == "one-point" && total.at_c == 65.0)
        .unwrap();
    let mut rng = ChaCha8Rng::seed_from_u64(14);
    let mut spread = ChaCha8Rng::seed_from_u64(15);
    let mut part = || 2.0 * rng.random::<f64>() - 1.0;
    let boards = 20_000;
    let (mut held, mut without) = (0, 0);
    let [low, high] = stated.interval_mk;
    for _ in 0..boards {
        let (r25, b) = (
            10_000.0 * (1.0 + 0.02 * part()),
            3435.0 * (1.0 + 0.01 * part()),
        );
        let (fixed, shift) = (10_000.0 * (1.0 + 0.01 * part()), 4.0 * part());
        let mut count = |celsius: f64| {
            // The sum of twelve flat numbers is as good as normal; its variance is 4 here.
            let noise: f64 = (0..12).map(|_| part()).sum();
            (steps(celsius, r25, b, fixed) + shift + noise).floor()
        };
        // Anywhere between two tenths, so that rounding is one error among others.
        let truth = 64.9 + 0.1 * spread.random::<f64>();
        let (bench, hot) = (count(25.0), count(truth));
        let offset = law(bench) - (25.0 + 0.05 * part());
        let error = |celsius: f64| 1000.0 * ((10.0 * celsius).round() / 10.0 - truth);
        let within = |error: f64| u32::from((low..=high).contains(&error));
        held += within(error(law(hot) - offset));
        without += within(error(law(hot)));
    }
    let share = f64::from(held) / f64::from(boards);
    assert!((0.935..=0.975).contains(&share), "{share} {stated:?}");
    // The control: uncalibrated readings do not keep within it.
    assert!(f64::from(without) / f64::from(boards) < 0.9);
}

/// Boards with parts anywhere within their limits, every second one in corners, wide limits and fine ones: none errs more than the
/// worst case, read as drawn or after one point.
#[test]
fn no_board_errs_more_than_the_worst_temperature() {
    let run = Run {
        trials: 10_000,
        seed: 5,
    };
    for wide in [1.0, 8.0] {
        let mut front_end = parsed("calibrated_at_c = 25\n");
        let accuracy = &mut front_end.thermistor.as_mut().unwrap().accuracy;
        for ppm in [
            &mut accuracy.r25_ppm,
            &mut accuracy.b_ppm,
            &mut accuracy.fixed_ppm,
        ] {
            *ppm = ppm.take().map(|ppm| ppm * whole(wide as u32));
        }
        let found = budget(&front_end, run, &|_| ()).temperature.unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(16);
        let mut furthest: f64 = 0.0;
        for board in 0..50_000 {
            let mut part = || {
                let part = 2.0 * rng.random::<f64>() - 1.0;
                if board % 2 == 0 { part } else { part.signum() }
            };
            let b = 3435.0 * (1.0 + 0.01 * wide * part());
            let r25 = 10_000.0 * (1.0 + 0.02 * wide * part());
            let fixed = 10_000.0 * (1.0 + 0.01 * wide * part());
            let (shift, thermometer) = (4.0 * part(), 0.05 * part());
            let count = |celsius: f64| (steps(celsius, r25, b, fixed) + shift).floor();
            let offset = law(count(25.0)) - (25.0 + thermometer);
            for total in &found.totals {
                let off = if total.calibration == "one-point" {
                    offset
                } else {
                    0.0
                };
                let read = (10.0 * (law(count(total.at_c)) - off)).round() / 10.0;
                let error = 1000.0 * (read - total.at_c);
                let [low, high] = total.worst_mk;
                assert!((low..=high).contains(&error), "{wide}: {error} {total:?}");
                furthest = furthest.max(error / high);
            }
        }
        // Ends that are far too wide would pass as well.
        assert!(furthest > 0.85, "{wide}: {furthest}");
    }
}

/// A guard band counts on a calibration that was made, not on one that is planned.
#[test]
fn guard_bands_count_on_what_was_read() {
    let guard = |more: &str| alarms(&parsed(more))[0].guard_k;
    let (none, planned, made) = (
        guard(""),
        guard("calibrated_at_c = 24.6\n"),
        guard(CALIBRATED),
    );
    assert_eq!(none, planned);
    assert!(made < 0.8 * planned, "{made} {planned}");
}

/// What the parts allow: 2 % of R25 and 1 % of the fixed resistor are 3 % of 24.6 degC's 25.8 K a unit, and 50 mK.
#[test]
fn the_offset_is_held_against_the_parts() {
    let bounds = offset_bounds(&parsed(CALIBRATED)).unwrap();
    let (low, high) = bounds.worst_k;
    assert!(
        bounds.known && (-0.9..-0.8).contains(&low) && (0.8..0.9).contains(&high),
        "{bounds:?}"
    );
    assert_eq!(offset_bounds(&parsed("calibrated_at_c = 24.6\n")), None);
    assert_eq!(offset_bounds(&parsed("")), None);
}

fn written(name: &str, content: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, content).unwrap();
    path
}

fn said(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .output()
        .unwrap();
    assert_eq!(
        output.status.code(),
        Some(0),
        "{arguments:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Check, budget, page, and emitted text tell the offset; what is emitted has the corrected table.
#[test]
fn every_command_tells_it() {
    let path = written("sensor-offset.toml", &text(CALIBRATED));
    let file = path.to_str().unwrap();
    let words = "K, taken off every temperature: count 33265 was read at 24.6";
    for arguments in [
        &["check", file][..],
        &["budget", file, "--trials", "10000"],
        &["emit", file, "--lang", "c", "--out", "-"],
        &["emit", file, "--lang", "rust", "--out", "-"],
        &["report", file, "--trials", "10000", "--out", "-"],
    ] {
        let said = flat(&said(arguments).replace("\n//", " ").replace("\n *", " "));
        assert!(said.contains(words), "{arguments:?}");
        assert!(said.contains("offset -0.38"), "{arguments:?}");
    }
    let json: Value = serde_json::from_str(&said(&["check", file, "--json"])).unwrap();
    let told = &json["front_ends"][0]["thermistor"]["offset"];
    assert_eq!(
        (told["count"].as_f64(), told["at_c"].as_f64()),
        (Some(33_265.0), Some(24.6))
    );
    let json: Value =
        serde_json::from_str(&said(&["budget", file, "--trials", "10000", "--json"])).unwrap();
    assert_eq!(&json["temperature"]["offset"], told);
    let [corrected, plain] = [CALIBRATED, ""].map(|more| {
        let entries = built(&parsed(more)).table.entries;
        entries
            .iter()
            .map(i16::to_string)
            .collect::<Vec<_>>()
            .join(", ")
    });
    for lang in ["c", "rust"] {
        let emitted = flat(&said(&["emit", file, "--lang", lang, "--out", "-"]));
        assert!(
            emitted.contains(&corrected) && !emitted.contains(&plain),
            "{lang}"
        );
    }
}

/// A log of that sensor beside a thermometer: its mean distance is gone with the offset.
#[test]
fn a_log_agrees_with_the_thermometer() {
    let mut log = "time,module,count,sensor_count,meter_c\n".to_owned();
    for minute in 0..200 {
        let celsius = 20.0 + 10.0 * f64::from(minute) / 200.0;
        let sensor = steps(celsius, 10_150.0, 3435.0, 10_000.0) as u32;
        let _ = writeln!(
            log,
            "{},a,{},{sensor},{celsius:.3}",
            60 * minute,
            24_000 + minute
        );
    }
    let log = written("sensor-offset.csv", &log);
    let bias = |name: &str, more: &str| {
        let path = written(name, &text(more));
        let output = said(&[
            "replay",
            path.to_str().unwrap(),
            log.to_str().unwrap(),
            "--json",
        ]);
        let json: Value = serde_json::from_str(&output).unwrap();
        json["modules"][0]["temperatures"]["bias_k"]
            .as_f64()
            .unwrap()
    };
    assert!((bias("sensor-plain.toml", "") + 0.385).abs() < 0.03);
    assert!(bias("sensor-corrected.toml", CALIBRATED).abs() < 0.03);
}
